"""What is done with each kind of input, as the commands do it.

Conventions: a target draws an input, writes it into an empty folder and tries it; `try_` says what
is wrong with the program, an empty text when nothing is. An answer or an `AccompError` with a place
is right; any other exception, and a broken promise, is wrong.
"""

from __future__ import annotations

import random
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

from fuzz_mutate import archive, mutated, symbol

from accomp.errors import AccompError, ChordError, InputError, Problem
from accomp.harmony import Interval, parse_chord, transpose_chord
from accomp.harmony.table import chord_table
from accomp.intake import read_leadsheet
from accomp.job.book_read import read_book
from accomp.job.check import problems_in
from accomp.job.make import make_tune
from accomp.job.options import Options
from accomp.neck import find_hand, find_instrument, playable_shapes
from accomp.tune import read_tune
from accomp.tune.read import parse_tune

HOME = Path(__file__).parents[2]
MADE = "made"
TUNE = b"""title = "Kettle Lane"
key = "C"
meter = "4/4"
tempo = 120
form = ["A", "B"]
[sections]
A = "| C | F / G7 / | C7 | C |"
B = { bars = "| Am | D7 | G | G7 |", key = "G", meter = "4/4", style = "two-beat" }
[[chorus]]
position = "root-top"
[shapes]
"C7" = "0 0 2 1"
[top]
3 = "E"
"""
ROAD = b"""title = "Nine Bends"
key = "Dm"
meter = "3/4"
tempo = 150
intro = "last 2"
verse = ["Verse"]
form = ["A", "2 x B", "A"]
coda = "Coda"
choruses = 2
pickup = 1
begin = "roll-off"
end = "ritard"
dim = "seventh"
vocabulary = "first"
[sections]
Verse = "| Gm | A7 |"
B = "| F |: C7 :| / F C7 |"
Coda = "| Dm A7 / | Dm |"
[sections.A]
bars = "|: Dm | % :| x 3 | Gm Adim Gm |"
first = "| A7 |"
second = "| Bb |"
last = "| Dm |"
to_coda = 2
"""
BOOK = b"""title = "Quay Band"
paper = "a4"
players = ["own", "Bb", "ukulele"]
pages = ["chart"]
order = ["kettle", "tub"]
[keys]
kettle = ["F", "Bb"]
tub = "all"
"""
ABC = (
    b"X:1\nT:Kettle &eacute; Lane\nM:4/4\nL:1/8\nQ:1/4=120\nK:C\n"
    b'|:"C"C2E2 G2c2|"F"A2(3cBA "G7"G2F2|[1"C"E4 z4:|[2"C"C8|]\n"Am"A,/2B,/2C3/2 z2|Z4|"G7"G8|\n',
    b'X:2\nT:Tub\nT:Second\nM:6/8\nL:1/8\nK:Gmix\nP:A\n|:"G"GAB "D7"d2c|"G"B3-B3:|\nP:B\n'
    b'V:1\n"Em"e>f g2|]\n\nX:3\nT:Mug\nM:C|\nL:1/16\nK:Dm\n"Dm"D16|"A7"A,16|\n',
)
_PITCH = b"<pitch><step>C</step><alter>1</alter><octave>4</octave></pitch>"
_NOTE = b"<note>" + _PITCH + b"<duration>4</duration><voice>1</voice><type>whole</type></note>"
_HARMONY = (
    b"<harmony><root><root-step>F</root-step><root-alter>1</root-alter></root>"
    b'<kind text="7">dominant</kind><bass><bass-step>A</bass-step></bass><degree>'
    b"<degree-value>9</degree-value><degree-alter>-1</degree-alter><degree-type>add</degree-type>"
    b"</degree><offset>1</offset></harmony>"
)
MUSICXML = (
    b'<?xml version="1.0" encoding="UTF-8"?>\n<score-partwise version="4.0"><work>'
    b'<work-title>Kettle</work-title></work><part-list><score-part id="P1">'
    b"<part-name>A</part-name></score-part>"
    b'</part-list>\n<part id="P1">\n<measure number="1"><attributes><divisions>1</divisions><key>'
    b"<fifths>-1</fifths><mode>minor</mode></key><time><beats>4</beats><beat-type>4</beat-type></time>"
    b"</attributes><direction><direction-type><metronome><beat-unit>quarter</beat-unit><per-minute>"
    b'120</per-minute></metronome></direction-type><sound tempo="120"/></direction>'
    b'<barline location="left"><repeat direction="forward"/></barline>'
    + _HARMONY
    + _NOTE
    + b'</measure>\n<measure number="2"><barline location="left"><ending number="1" type="start"/>'
    b"</barline>" + _HARMONY + _NOTE + b'<barline location="right"><ending number="1" type="stop"/>'
    b'<repeat direction="backward" times="2"/></barline></measure>\n<measure number="3"><direction>'
    b"<direction-type><words>D.C. al Fine</words></direction-type></direction>"
    + _NOTE
    + b"</measure>\n</part></score-partwise>\n",
)


@dataclass(frozen=True)
class Target:
    """A kind of input: how one is drawn and named, and how it is tried."""

    name: str
    file: str
    draw: Callable[[random.Random], bytes]
    try_: Callable[[Path], str]


def read(*patterns: str) -> tuple[bytes, ...]:
    """Good files of the program's own."""
    return tuple(path.read_bytes() for one in patterns for path in sorted(HOME.glob(one)))


def placed(problems: Iterable[Problem]) -> str:
    """What is wrong with what is told: each problem has its file, and its line where it has any."""
    for problem in problems:
        if not problem.file and not problem.setting:
            return f"told without a place: {problem.message}"
        if len(str(problem)) > 6000:
            return f"told in {len(str(problem))} characters"
    return ""


def told(error: AccompError) -> str:
    return placed(error.problems) if isinstance(error, InputError) else ""


def made_or_told(path: Path) -> str:
    """`check` and `make` have one verdict on a tune, and what they say has a place."""
    checked = problems_in(path)
    wrong = placed(checked)
    try:
        tune = read_tune(path)
        options = Options(only=("midi", "musicxml"), melody=tune.melody is not None)
        make_tune(tune, options, path.parent / MADE)
    except AccompError as error:
        return wrong or told(error) or ("" if checked else f"only `make` refuses: {error}")
    return wrong or (f"only `check` refuses: {checked[0]}" if checked else "")


def a_tune(path: Path) -> str:
    return made_or_told(path)


def beside_a_tune(name: str) -> Callable[[Path], str]:
    """A data file that a tune beside it names."""

    def try_(path: Path) -> str:
        wrong = placed(problems_in(path))
        tune = path.parent / "tune.toml"
        tune.write_bytes(TUNE.replace(b"tempo", f'{name} = "{path.name}"\ntempo'.encode(), 1))
        return wrong or made_or_told(tune)

    return try_


def other_data(path: Path) -> str:
    return placed(problems_in(path))


def a_book(path: Path) -> str:
    for name in ("kettle", "tub"):
        (path.parent / f"{name}.toml").write_bytes(TUNE)
    wrong = placed(problems_in(path))
    try:
        return wrong or placed(read_book(path.parent).problems)
    except AccompError as error:
        return told(error)


def a_lead_sheet(path: Path) -> str:
    """What the reader writes is what the other commands take."""
    try:
        imported = read_leadsheet(path)
    except AccompError as error:
        return told(error)
    for one in imported:
        wrong = placed(one.problems)
        if one.tune is not None:
            try:
                parse_tune(one.toml, one.toml_name)
            except AccompError as error:
                wrong = wrong or f"what is read is refused: {error}"
        elif not one.problems:
            wrong = "no tune, and no word about it"
        if wrong:
            return wrong
    return ""


def a_chord(path: Path) -> str:
    text = path.read_bytes().decode("utf-8", "surrogatepass")
    try:
        chord = parse_chord(text)
    except ChordError:
        return ""
    for steps, semitones in ((1, 1), (3, 6), (4, 7), (6, 11)):
        moved = transpose_chord(chord, Interval(steps, semitones))
        again = parse_chord(str(moved))
        if {(pc + semitones) % 12 for pc in chord.by_pc} != set(again.by_pc):
            return f"{text!r} becomes {str(moved)!r}, which is another chord"
    playable_shapes(chord, find_instrument("tenor-banjo"), find_hand("medium"))
    return ""


def _symbol(draw: random.Random) -> bytes:
    pieces = tuple({*chord_table().by_spelling, *re.findall(r"\w|\W", "b#♭♯°øΔ+-/()., 0123456789")})
    return symbol(draw, pieces).encode("utf-8", "surrogatepass")


def _from(*seeds: bytes) -> Callable[[random.Random], bytes]:
    return lambda draw: mutated(draw, seeds)


_DATA = "accomp/data"
TARGETS = (
    Target("tune", "tune.toml", _from(TUNE, ROAD, TUNE, ROAD, *read("examples/*.toml")), a_tune),
    Target("style", "style.toml", _from(*read("styles/*.toml")), beside_a_tune("style")),
    Target(
        "instrument",
        "instrument.toml",
        _from(*read(f"{_DATA}/instruments/*.toml")),
        beside_a_tune("instrument"),
    ),
    Target(
        "data",
        "data.toml",
        _from(
            *read(f"{_DATA}/hands/*.toml", f"{_DATA}/repertoires/*.toml", f"{_DATA}/costs.toml"),
            *read("soundfonts/*.toml"),
        ),
        other_data,
    ),
    Target("book", "book.toml", _from(BOOK), a_book),
    Target("musicxml", "sheet.musicxml", _from(*MUSICXML), a_lead_sheet),
    Target("abc", "sheet.abc", _from(*ABC), a_lead_sheet),
    Target(
        "mxl",
        "sheet.mxl",
        lambda draw: archive(draw, MUSICXML[0] if draw.random() < 0.7 else mutated(draw, MUSICXML)),
        a_lead_sheet,
    ),
    Target("chord", "chord.txt", _symbol, a_chord),
)
