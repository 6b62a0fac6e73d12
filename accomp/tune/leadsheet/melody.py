"""The melody of a lead sheet in the order played.

Conventions: one measure for each bar of a time through the form, so that measure n goes with
played bar n; a pickup is measure 0. Times count whole notes from the first full bar. Pitches sound.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from accomp.harmony import Key, Pitch
from accomp.time import Meter
from accomp.tune.leadsheet.layout import FormLayout
from accomp.tune.leadsheet.written import WrittenTune

_MOST_NOTES = 100_000


@dataclass(frozen=True, slots=True)
class MelodySound:
    """A stretch of the melody: `pitch` None is a rest; `tied` goes on from what was before."""

    start: Fraction
    end: Fraction
    pitch: Pitch | None
    tied: bool = False


@dataclass(frozen=True, slots=True)
class MelodyMeasure:
    """A measure and its `row` of sounds, which follow one another without a gap and fill it."""

    number: int
    start: Fraction
    length: Fraction
    meter: Meter
    key: Key
    row: tuple[MelodySound, ...] = ()


def melody_measures(written: WrittenTune, played: Sequence[FormLayout]) -> list[MelodyMeasure]:
    """The melody in measures, from the pickup on; empty when the lead sheet has no notes."""
    count = sum(len(written.bars[at].notes) for layout in played for at in layout.positions)
    if count > _MOST_NOTES:
        written.notices.append(f"the melody has {count} notes, too many to be taken over")
        return []
    sounds = _sounds(written, played)
    if not sounds:
        return []
    measures = []
    at = 0
    for empty in _empty_measures(written, played):
        while at < len(sounds) and sounds[at].end <= empty.start:
            at += 1
        measures.append(replace(empty, row=tuple(_within(sounds, at, empty))))
    return measures


def _sounds(written: WrittenTune, played: Sequence[FormLayout]) -> list[MelodySound]:
    """All notes in played order, on one line of time from the first full bar; none overlap."""
    sounds: list[MelodySound] = []
    time = Fraction(0)
    for layout in played:
        for index, position in layout.positions.items():
            for note in written.bars[index].notes:
                start = time + position + note.onset
                if sounds and sounds[-1].end > start:
                    cut = sounds.pop()
                    if cut.start < start:
                        sounds.append(MelodySound(cut.start, start, cut.pitch, cut.tied))
                tied = bool(
                    note.tied
                    and sounds
                    and sounds[-1].end == start
                    and sounds[-1].pitch == note.pitch
                )
                sounds.append(MelodySound(start, start + note.length, note.pitch, tied))
        time += layout.length
    return sounds


def _empty_measures(written: WrittenTune, played: Sequence[FormLayout]) -> Iterator[MelodyMeasure]:
    time = Fraction(0)
    number = 0
    if played[0].pickup:
        opening = next(layout for layout in played if layout.bars)
        key = written.bars[opening.first].key
        yield MelodyMeasure(0, -played[0].pickup, played[0].pickup, opening.meter, key)
    for layout in played:
        for _ in layout.bars:
            number += 1
            key = written.bars[layout.first].key
            yield MelodyMeasure(number, time, layout.meter.bar, layout.meter, key)
            time += layout.meter.bar


def _within(
    sounds: Sequence[MelodySound], at: int, measure: MelodyMeasure
) -> Iterator[MelodySound]:
    """What sounds in a measure, from `sounds[at]` on; rests between, notes cut at bar lines."""
    end = measure.start + measure.length
    time = measure.start
    while at < len(sounds) and sounds[at].start < end:
        sound = sounds[at]
        start, stop = max(sound.start, measure.start), min(sound.end, end)
        if start > time:
            yield MelodySound(time, start, None)
        yield MelodySound(start, stop, sound.pitch, sound.tied or start > sound.start)
        time = stop
        at += 1
    if time < end:
        yield MelodySound(time, end, None)
