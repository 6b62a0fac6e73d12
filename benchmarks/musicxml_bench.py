"""Writing MusicXML, against music21 writing the same score.

Both start from measures in memory, ours from `Score`, music21's from streams built from that
`Score` (spelled pitches, which is its fastest way). Building the streams is not counted; music21
is spared the frames, tunings, swing and ids that our file holds besides.
"""

from __future__ import annotations

import tempfile
import time
from fractions import Fraction
from pathlib import Path

from benchmarks.measure import Measure, faster, in_turns
from benchmarks.pieces import arrangement


def run() -> list[Measure]:
    """96 bars of notation, TAB and bass."""
    import music21

    from accomp.score.notate import notate
    from accomp.write.musicxml import musicxml_bytes

    score = notate(arrangement(32, 3))
    start = time.perf_counter()
    stream = streams(score, music21)
    built = time.perf_counter() - start
    with tempfile.TemporaryDirectory() as folder:
        ours, theirs = Path(folder) / "ours.musicxml", Path(folder) / "theirs.musicxml"
        written, slow = in_turns(
            [
                lambda: ours.write_bytes(musicxml_bytes(score)),
                lambda: stream.write("musicxml", fp=theirs),
            ],
            5,
        )
        check(ours, theirs, music21)
        sizes = f"{ours.stat().st_size / 1e6:.1f} MB against {theirs.stat().st_size / 1e6:.1f} MB"
    return [
        faster("writing MusicXML, 96 bars, 3 parts", written, "music21", slow, 15, note=sizes),
        Measure("building music21's streams for it", built, "s"),
    ]


def streams(score, music21):
    """Our `Score` as music21 streams: notes, rests, ties, strokes, accents, strings, chords."""
    whole = music21.stream.Score()
    for part in score.parts:
        line = music21.stream.Part()
        line.partName = part.name
        for measure in part.measures:
            bar = music21.stream.Measure(number=measure.number)
            if measure is part.measures[0] or measure.new_meter:
                bar.timeSignature = music21.meter.TimeSignature(str(measure.meter))
            if measure is part.measures[0] or measure.new_key:
                bar.keySignature = music21.key.KeySignature(measure.key.fifths)
            for mark in measure.chords:
                if mark.chord is not None:
                    symbol = music21.harmony.ChordSymbol(
                        root=name(mark.chord.root), kind=mark.chord.kind, kindStr=mark.chord.suffix
                    )
                    bar.insert(quarters(mark.start), symbol)
            for event in measure.events:
                bar.insert(quarters(event.start), element(event, music21))
            line.append(bar)
        whole.insert(0, line)
    return whole


def element(event, music21):
    """One event as a note, chord or rest."""
    length = quarters(event.value.duration)
    if not event.notes:
        return music21.note.Rest(quarterLength=length)
    notes = []
    for note in event.notes:
        one = music21.note.Note(name(note.pitch.spelling) + str(note.pitch.octave))
        if note.string is not None:
            one.articulations = [
                music21.articulations.StringIndication(note.string),
                music21.articulations.FretIndication(note.fret),
            ]
        notes.append(one)
    made = music21.chord.Chord(notes) if len(notes) > 1 else notes[0]
    made.quarterLength = length
    if event.tied_from or event.tied_to:
        kind = "continue" if event.tied_from and event.tied_to else "start"
        made.tie = music21.tie.Tie("stop" if event.tied_from and not event.tied_to else kind)
    bows = {"down": music21.articulations.DownBow, "up": music21.articulations.UpBow}
    if event.direction:
        made.articulations.append(bows[event.direction]())
    if "accent" in event.marks:
        made.articulations.append(music21.articulations.Accent())
    if "choked" in event.marks:
        made.articulations.append(music21.articulations.Staccato())
    return made


def name(spelling) -> str:
    """music21's way of writing a note name: flats are `-`."""
    return str(spelling).replace("b", "-")


def quarters(length: Fraction) -> Fraction:
    """Fractions of a whole note as music21's quarter lengths."""
    return length * 4


def check(ours: Path, theirs: Path, music21) -> None:
    """Both files must hold the same notes, or the comparison means nothing."""
    read = [music21.converter.parse(path, forceSource=True) for path in (ours, theirs)]
    sounds = [
        [
            (part_number, round(float(note.getOffsetInHierarchy(whole)), 4), pitch.midi)
            for part_number, part in enumerate(whole.parts)
            for note in part.recurse().notes
            if "ChordSymbol" not in note.classes
            for pitch in note.pitches
        ]
        for whole in read
    ]
    if sorted(sounds[0]) != sorted(sounds[1]):
        raise AssertionError("music21 was given other notes than we wrote")
