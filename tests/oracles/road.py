"""The bars that a MIDI file plays, and the bars that a MusicXML file leads through.

Nothing here comes from the package: mido reads the MIDI file, music21 and partitura follow the
repeats, endings and jumps of the MusicXML file, each by its own rules.

Conventions: a bar is told by the roots of the chord symbols that stand in it, as "Bb" or "F/C".
"""

from __future__ import annotations

import re
import warnings
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
    """Numbers of the measures as music21 plays them.

    It numbers measures anew where a jump leads, so that it is given the signs with two notes in
    each measure, whose pitches say which measure it is.
    """
    root = ElementTree.parse(path).getroot()
    part = root.find("part")
    parts = root.find("part-list")
    for other in [*parts.findall("part-group"), *parts.findall("score-part")[1:]]:
        parts.remove(other)
    for other in root.findall("part")[1:]:
        root.remove(other)
    names = [measure.get("number") for measure in part.findall("measure")]
    for place, measure in enumerate(part.findall("measure")):
        _instead_of_notes(measure, divmod(place, 100))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        text = ElementTree.tostring(root, encoding="unicode")
        score = music21.converter.parse(text, format="musicxml")
        played = score.parts[0].expandRepeats()
        pitches = [note.pitch.midi - 12 for note in played.recurse().notes]
    return [names[100 * high + low] for high, low in zip(pitches[::2], pitches[1::2], strict=True)]


def _instead_of_notes(measure: ElementTree.Element, numbers: tuple[int, int]) -> None:
    """Take the notes and chord symbols of a measure out and put two in that are numbers."""
    first = next(at for at, child in enumerate(measure) if child.tag == "note")
    for child in [c for c in measure if c.tag in ("note", "harmony", "backup", "forward")]:
        first -= child.tag != "note" and list(measure).index(child) < first
        measure.remove(child)
    for number in reversed(numbers):
        octave, pitch = divmod(number, 12)
        step = "C D EF G A B"[pitch - (pitch in (1, 3, 6, 8, 10))]
        note = ElementTree.fromstring(
            f"<note><pitch><step>{step}</step><alter>{int(pitch in (1, 3, 6, 8, 10))}</alter>"
            f"<octave>{octave}</octave></pitch><duration>1</duration></note>"
        )
        measure.insert(first, note)


def partitura_order(partitura, path: Path) -> list[str]:
    """Numbers of the measures as partitura plays them.

    It knows no number of times but that of brackets. Where music follows a jump it goes on without
    jumping (its ways share what a jump changes in them): there its own places of the signs are
    followed here.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        part = partitura.load_musicxml(path).parts[0]
        partitura.score.add_segments(part)
        (way,) = partitura.score.get_paths(part, False, True, False)
    measures = [m.start.t for m in part.iter_all(partitura.score.Measure)]
    numbers = list(zip(measures, written_bars(path), strict=True))
    order = [
        (at, name)
        for segment in way.path
        for at, name in numbers
        if way.segments[segment].start.t <= at < way.segments[segment].end.t
    ]

    def sign(kind: str) -> int | None:
        return next((one.start.t for one in part.iter_all(getattr(partitura.score, kind))), None)

    coda, leave = sign("Coda"), sign("ToCoda")
    if leave is not None and coda is not None:
        back = (sign("Segno") or 0) if sign("DalSegno") is not None else 0
        before = [(at, name) for at, name in order if at < coda]
        again = [(at, name) for at, name in numbers if back <= at < leave]
        order = before + again + [(at, name) for at, name in numbers if at >= coda]
    return [name for _, name in order]
