"""Perform: an arrangement becomes timed notes, as a band would play them.

Conventions: score time in fractions of a whole note, played time in float seconds from the start of
the file, where the count-in begins; see `accomp.score.clock`. The first string of a stroke sounds
on its written time and the others follow.
"""

from __future__ import annotations

from accomp.harmony import NO_CHORD
from accomp.score.arrangement import Arrangement
from accomp.score.band import band_tracks
from accomp.score.clock import Clock, CountIn, counted_in
from accomp.score.performance import (
    DRUM_CHANNEL,
    KeyMark,
    MeterMark,
    Note,
    Performance,
    Role,
    TextMark,
    Track,
)
from accomp.score.strings import string_channels, string_notes
from accomp.tune import Stage

# Pan of the player (MIDI, 64 the middle): 5 dB stronger on the left, so that they are heard at one
# side of a band and neither ear is left alone (common practice, no source).
PLAYERS_SIDE = 41


def perform(arrangement: Arrangement, *, count_in: int = 1) -> Performance:
    """Everything in seconds, after `count_in` bars of clicks."""
    lead = counted_in(arrangement.bars[0].bar.meter, arrangement.pickup, count_in)
    clock = Clock(arrangement, lead.length)
    return Performance(
        title=arrangement.title,
        tracks=_tracks(arrangement, clock, lead),
        tempos=clock.tempos(),
        meters=_meters(arrangement, clock),
        keys=_keys(arrangement, clock),
        markers=_markers(arrangement, clock, count_in),
        chords=_chords(arrangement, clock),
        end_s=clock(arrangement.bars[-1].span.end),
    )


def _tracks(arrangement: Arrangement, clock: Clock, lead: CountIn) -> tuple[Track, ...]:
    instrument = arrangement.instrument
    channels = string_channels(len(instrument.strings))
    tracks = [
        Track(
            name=instrument.title.split(",")[0],
            role=Role.PLAYER,
            program=instrument.program - 1,
            channels=channels,
            notes=string_notes(arrangement, clock, channels, clock.whole_s),
            level=78,
            pan=PLAYERS_SIDE,
        ),
        *band_tracks(arrangement, clock, lead),
    ]
    if lead.clicks:
        clicks = tuple(
            Note(
                start_s=float(start) * clock.whole_s,
                end_s=float(start) * clock.whole_s + 0.05,
                pitch=76 if accented else 77,
                velocity=115 if accented else 100,
                channel=DRUM_CHANNEL,
            )
            for start, accented in lead.clicks
        )
        tracks.append(Track("Count-in", Role.CLICK, 0, (DRUM_CHANNEL,), clicks, level=120))
    return tuple(tracks)


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
            chorus = bar.bar.spot.stage == Stage.CHORUS
            text = f"Chorus {bar.bar.chorus}: {bar.bar.section}" if chorus else bar.bar.section
            marks.append(TextMark(clock(bar.span.start), text))
    return tuple(marks)


def _chords(arrangement: Arrangement, clock: Clock) -> tuple[TextMark, ...]:
    return tuple(
        TextMark(clock(change.span.start), str(change.chord) if change.chord else NO_CHORD)
        for bar in arrangement.bars
        for change in bar.changes
        if change.written
    )
