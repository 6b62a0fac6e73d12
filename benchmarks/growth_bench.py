"""Growth: bars of a tune, tunes of a book, strings of an instrument; each in a process of its own.

What can be linear is held against so many times the smallest: bars of a tune (planned, arranged,
written as MIDI and MusicXML), tunes of a book (planned, engraved, set). Shapes are not: every
string multiplies them, until the search says that they are too many. Time and the most memory are
of the whole process with all that it starts (memory: Linux).
"""

from __future__ import annotations

import random
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from benchmarks.measure import Measure
from benchmarks.memory import peak_bytes

BARS = (125, 250, 500, 1000, 2000)
TUNES = (25, 50, 100, 300)
STRINGS = ("A4", "E4", "B3", "F#3", "C#3", "G#2", "D#2", "A#1")  # from the first string down
LINEAR = 1.3  # so much more than linear is put down to noise
BOOK_MB = 700.0
_EIGHT = (
    "| C | C7 | F | Fm | C/G | A7 | Dm7 / G7 / | C |",
    "| Am | E7 | Am | D7 | Em7b5 A7 | Dm7 G7 | C6 | C6 |",
    "| F | F#dim7 | C/G | A7 | D7 | D7 | G7 | G7 |",
    "| C | E7 | A7 | Dm7 G7 | Fmaj7 | Bb7 | Am7 | D9 |",
)
_WORDS = "Quay Lamp Tub Kettle Barge Crane Peg Lane Mill Gate Rope Lock Tar Bell Plank".split()


@dataclass(frozen=True)
class Taken:
    """What a command took."""

    seconds: float
    megabytes: float


def run() -> list[Measure]:
    """Every size against the smallest."""
    return [*_bars(), *_tunes(), *_strings()]


def _taken(words: Sequence[str], folder: Path) -> Taken:
    began = time.perf_counter()
    peak = peak_bytes(
        lambda: subprocess.Popen(
            [sys.executable, "-m", "accomp", *words],
            cwd=folder,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
    )
    return Taken(time.perf_counter() - began, peak / 1e6)


def _bars() -> Iterator[Measure]:
    """One section of 125 bars, once to 16 times."""
    bars = " ".join(_EIGHT * 4).replace("| |", "|").split("|")[1 : BARS[0] + 1]
    first: Taken | None = None
    with tempfile.TemporaryDirectory() as place:
        for count in BARS:
            form = ", ".join(['"A"'] * (count // BARS[0]))
            text = f'title = "Mile"\nkey = "C"\nmeter = "4/4"\ntempo = 168\nform = [{form}]\n'
            text += f'[sections]\nA = "|{"|".join(bars)}|"\n'
            Path(place, "mile.toml").write_text(text, encoding="utf-8")
            words = ["make", "mile.toml", "--choruses", "1", "--again", "--only", "midi"]
            taken = _taken([*words, "--only", "musicxml", "--out", f"o{count}"], Path(place))
            first = first or taken
            yield from _against(f"{count} bars", taken, first, count / BARS[0], f"{BARS[0]} bars")


def _tunes() -> Iterator[Measure]:
    """Tunes of 32 bars, no two alike, for the player of the strummed part."""
    first: Taken | None = None
    for count in TUNES:
        with tempfile.TemporaryDirectory() as place:
            invented(Path(place, "tunes"), count)
            taken = _taken(["book", "tunes", "--player", "own", "--out", "o"], Path(place))
        first = first or taken
        yield from _against(f"{count} tunes", taken, first, count / TUNES[0], f"{TUNES[0]} tunes")
    yield Measure(
        f"book of {TUNES[-1]} tunes, memory",
        taken.megabytes,
        "MB",
        "goal",
        BOOK_MB,
        taken.megabytes / BOOK_MB,
        at_most=1.0,
    )


def invented(folder: Path, count: int) -> None:
    """A folder of invented tunes; every machine invents the same."""
    folder.mkdir()
    for number in range(count):
        draw = random.Random(number)
        title = " ".join(draw.sample(_WORDS, 2))
        sections = "".join(
            f'{name} = "{draw.choice(_EIGHT)[:-1]}{draw.choice(_EIGHT)}"\n' for name in "AB"
        )
        (folder / f"t{number:03}.toml").write_text(
            f'title = "{title} {number}"\nkey = "C"\nmeter = "4/4"\n'
            f"tempo = {draw.randint(90, 200)}\n[sections]\n{sections}",
            encoding="utf-8",
        )


def _strings() -> Iterator[Measure]:
    """Four to eight strings in fourths, sounding together: every shape of a seventh chord."""
    with tempfile.TemporaryDirectory() as place:
        for count in range(4, len(STRINGS) + 1):
            names = ", ".join(f'"{name}"' for name in STRINGS[:count][::-1])
            text = f'title = "Fan"\nstrings = [{names}]\nfrets = 17\nscale = 533.0\noctave = 1\n'
            Path(place, "fan.toml").write_text(text + "program = 26\n", encoding="utf-8")
            taken = _taken_or_told(["shapes", "C7", "--instrument", "fan.toml"], Path(place))
            yield Measure(f"shapes of C7, {count} strings", taken.seconds, "s")
            yield Measure(f"shapes of C7, {count} strings, memory", taken.megabytes, "MB")


def _taken_or_told(words: Sequence[str], folder: Path) -> Taken:
    """As `_taken`, where to be told that there are too many is an answer as well."""
    began = time.perf_counter()
    try:
        return _taken(words, folder)
    except RuntimeError:
        return Taken(time.perf_counter() - began, 0.0)


def _against(what: str, taken: Taken, first: Taken, times: float, small: str) -> Iterator[Measure]:
    """Seconds and memory, as many times the smallest as it is larger."""
    for name, unit, value, least in (
        (what, "s", taken.seconds, first.seconds),
        (f"{what}, memory", "MB", taken.megabytes, first.megabytes),
    ):
        if times == 1:
            yield Measure(name, value, unit)
        else:
            share = value / (least * times) if least else 0.0
            reference = f"{times:g} times {small}"
            yield Measure(name, value, unit, reference, least * times, share, at_most=LINEAR)
