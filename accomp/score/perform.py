"""Perform: an arrangement becomes timed notes, as a band would play them.

Conventions: score time in fractions of a whole note, played time in float seconds from the start of
the file, where the count-in begins. The whole note keeps its length through the tune, so that a
quarter stays a quarter where the meter changes. The first string of a stroke sounds on its written
time and the others follow.
"""

from __future__ import annotations

import bisect
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

from accomp.rhythm.feel import swung_time
from accomp.rhythm.force import velocity
from accomp.score.arrangement import Arrangement, BandStroke
from accomp.score.lead_in import LeadIn, lead_in
from accomp.score.performance import (
    KeyMark,
    MeterMark,
    Note,
    Performance,
    TempoMark,
    TextMark,
    Track,
)
from accomp.score.strings import string_channels, string_notes

DRUMS = 9
BASS = 10

Clock = Callable[[Fraction], float]


def perform(arrangement: Arrangement, *, count_in: int = 1) -> Performance:
    """Everything in seconds, after `count_in` bars of clicks."""
    whole_s = 60.0 / arrangement.tempo / float(arrangement.beat)
    lead = lead_in(arrangement.bars[0].bar.meter, arrangement.pickup, count_in)
    clock = _clock(arrangement, whole_s, lead)
    end_s = clock(arrangement.bars[-1].span.end)
    return Performance(
        title=arrangement.title,
        tracks=_tracks(arrangement, clock, lead, whole_s),
        tempos=(TempoMark(0.0, whole_s / 4),),
        meters=_meters(arrangement, clock),
        keys=_keys(arrangement, clock),
        markers=_markers(arrangement, clock, count_in),
        chords=_chords(arrangement, clock),
        end_s=end_s,
    )


def _clock(arrangement: Arrangement, whole_s: float, lead: LeadIn) -> Clock:
    """Seconds at a score time: swing is applied here, to all players alike."""
    bars = arrangement.bars
    swings = [bar.style.swing_at(arrangement.tempo) for bar in bars]
    starts = [bar.span.start for bar in bars]

    def at(moment: Fraction) -> float:
        index = max(0, bisect.bisect_right(starts, moment) - 1)
        bar = bars[index]
        inside = moment - bar.span.start
        swing = swings[index]
        if swing != 1.0 and moment < bar.span.end:
            position = float(bar.span.start) + swung_time(inside, swing, bar.style.swing_pair)
        else:
            position = float(moment)
        return (float(lead.length) + position) * whole_s

    return at


def _tracks(
    arrangement: Arrangement, clock: Clock, lead: LeadIn, whole_s: float
) -> tuple[Track, ...]:
    instrument = arrangement.instrument
    tracks = [
        Track(
            name=instrument.title.split(",")[0],
            role="player",
            program=instrument.program - 1,
            channels=string_channels(len(instrument.strings)),
            notes=string_notes(
                arrangement, clock, string_channels(len(instrument.strings)), whole_s
            ),
            level=100,
            pan=44,
        )
    ]
    bass = _band(arrangement, clock, BASS, [bar.bass for bar in arrangement.bars])
    if bass:
        tracks.append(Track("Bass", "band", 32, (BASS,), bass, level=96, pan=64))
    drums = _band(arrangement, clock, DRUMS, [bar.drums for bar in arrangement.bars])
    if drums:
        tracks.append(Track("Drums", "band", 0, (DRUMS,), drums, level=84, pan=78))
    if lead.clicks:
        clicks = tuple(
            Note(
                start_s=float(start) * whole_s,
                end_s=float(start) * whole_s + 0.05,
                pitch=76 if accented else 77,
                velocity=110 if accented else 90,
                channel=DRUMS,
            )
            for start, accented in lead.clicks
        )
        tracks.append(Track("Count-in", "click", 0, (DRUMS,), clicks, level=84, pan=78))
    return tuple(tracks)


def _band(
    arrangement: Arrangement, clock: Clock, channel: int, bars: list[tuple[BandStroke, ...]]
) -> tuple[Note, ...]:
    """A band player's notes; a note of the same pitch still sounding ends where the next begins."""
    strokes = [stroke for bar in bars for stroke in bar]
    notes: list[Note] = []
    for stroke in strokes:
        start_s, end_s = clock(stroke.span.start), clock(stroke.span.end)
        notes.append(Note(start_s, end_s, stroke.pitch, velocity(stroke.force), channel))
    return _without_overlap(notes)


def _without_overlap(notes: list[Note]) -> tuple[Note, ...]:
    """On one channel no two notes of one pitch overlap: the earlier one gives way."""
    notes = sorted(notes, key=lambda note: (note.start_s, note.pitch))
    done: list[Note] = []
    sounding: dict[tuple[int, int], int] = {}
    for note in notes:
        place = (note.channel, note.pitch)
        before = sounding.get(place)
        if before is not None and done[before].end_s > note.start_s:
            done[before] = replace(done[before], end_s=note.start_s)
        sounding[place] = len(done)
        done.append(note)
    return tuple(note for note in done if note.end_s > note.start_s)


def _meters(arrangement: Arrangement, clock: Clock) -> tuple[MeterMark, ...]:
    marks: list[MeterMark] = []
    for bar in arrangement.bars:
        meter = bar.bar.meter
        start_s = clock(bar.span.start) if marks else 0.0
        if not marks or (marks[-1].count, marks[-1].unit) != (meter.count, meter.unit.denominator):
            marks.append(MeterMark(start_s, meter.count, meter.unit.denominator))
    return tuple(marks)


def _keys(arrangement: Arrangement, clock: Clock) -> tuple[KeyMark, ...]:
    marks: list[KeyMark] = []
    for bar in arrangement.bars:
        start_s = clock(bar.span.start) if marks else 0.0
        if not marks or marks[-1].key != str(bar.bar.key):
            marks.append(KeyMark(start_s, str(bar.bar.key)))
    return tuple(marks)


def _markers(arrangement: Arrangement, clock: Clock, count_in: int) -> tuple[TextMark, ...]:
    marks = [TextMark(0.0, "Count-in")] if count_in else []
    for bar in arrangement.bars:
        if bar.bar.opens:
            text = f"Chorus {bar.bar.chorus}: {bar.bar.section}"
            marks.append(TextMark(clock(bar.span.start), text))
    return tuple(marks)


def _chords(arrangement: Arrangement, clock: Clock) -> tuple[TextMark, ...]:
    return tuple(
        TextMark(clock(change.span.start), str(change.chord) if change.chord else "N.C.")
        for bar in arrangement.bars
        for change in bar.changes
        if change.written
    )
