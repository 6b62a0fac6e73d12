"""The bars that a MIDI file plays, and the bars that a MusicXML file leads through.

Nothing here comes from the package: mido reads the MIDI file, music21 and partitura follow the
repeats, endings and jumps of the MusicXML file, each by its own rules.

Conventions: a bar is told by the roots of the chord symbols that stand in it, as "Bb" or "F/C".
"""

from __future__ import annotations

import re
import warnings
from itertools import groupby
from pathlib import Path
from xml.etree import ElementTree

import mido
import music21

SIGNS = {"-2": "bb", "-1": "b", "1": "#", "2": "##"}


def midi_bars(path: Path, count_in: int = 1) -> list[tuple[str, ...]]:
    """The bars of a MIDI file after its count-in, without a pickup's."""
    file = mido.MidiFile(path, charset="utf-8")
    texts, meters, tick = [], [], 0
    for message in file.tracks[0]:
        tick += message.time
        if message.type == "text":
            texts.append((tick, root_of(message.text)))
        if message.type == "time_signature":
            meters.append(
                (tick, 4 * file.ticks_per_beat * message.numerator // message.denominator)
            )
    end = max(sum(message.time for message in track) for track in file.tracks)
    lines = [0]
    while lines[-1] < end:
        length = [ticks for start, ticks in meters if start <= lines[-1] + 2][-1]
        lines.append(lines[-1] + length)
    starts = lines[count_in:-1]
    return [
        tuple(
            root
            for at, root in texts
            if start - 2 <= at < start + (lines[number + count_in + 1] - start) - 2
        )
        for number, start in enumerate(starts)
    ]


def root_of(symbol: str) -> str:
    """ "Bb" of "Bbmaj7", "F/C" of "F7/C", "-" of N.C."""
    if symbol == "N.C.":
        return "-"
    found = re.fullmatch(r"([A-G][b#]*)(?:.*?)(/[A-G][b#]*)?", symbol)
    return found[1] + (found[2] or "")


def written_bars(path: Path) -> dict[str, tuple[str, ...]]:
    """The chords of each measure of the first part, by the measure's number."""
    part = ElementTree.parse(path).getroot().find("part")
    return {
        measure.get("number"): tuple(map(_harmony, measure.findall("harmony")))
        for measure in part.findall("measure")
    }


def _harmony(element: ElementTree.Element) -> str:
    if element.findtext("kind") == "none":
        return "-"
    name = element.findtext("root/root-step") + SIGNS.get(element.findtext("root/root-alter"), "")
    bass = element.findtext("bass/bass-step")
    sign = SIGNS.get(element.findtext("bass/bass-alter"), "")
    return f"{name}/{bass}{sign}" if bass else name


def music21_order(path: Path) -> list[str]:
    """Numbers of the measures as music21 plays them."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        score = music21.converter.parse(path, format="musicxml", forceSource=True)
        played = score.parts[0].expandRepeats()
    return [str(m.number) for m in played.getElementsByClass("Measure")]


def partitura_orders(partitura, path: Path) -> list[list[str]]:
    """Numbers of the measures in every order that partitura can think of, its longest one first.

    It goes on where a D.S. stands in the middle of a piece, unless asked for all ways; it knows no
    number of times but that of brackets.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        part = partitura.load_musicxml(path).parts[0]
        partitura.score.add_segments(part)
        longest = partitura.score.get_paths(part, False, True, False)
        every = [] if len(longest[0].path) > 12 else partitura.score.get_paths(part)
    measures = [(m.start.t, str(m.number)) for m in part.iter_all(partitura.score.Measure)]
    names = written_bars(path)
    numbers = [(at, name) for (at, _), name in zip(measures, names, strict=True)]
    return [
        [
            name
            for segment in path.path
            for at, name in numbers
            if path.segments[segment].start.t <= at < path.segments[segment].end.t
        ]
        for path in (*longest, *every)
    ]


def without_doubles(order: list[str]) -> list[str]:
    """An order without what stands twice running."""
    return [name for name, _ in groupby(order)]
