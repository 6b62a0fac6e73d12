"""A performance as a Standard MIDI File.

Conventions: format 1, 480 ticks a quarter. Track 0 is the conductor's (title, tempo, meter, key,
markers, chord symbols as text events), then one named track a player. Seconds become ticks in one
place, rounded once from absolute time. They are reckoned with the exact tempo and not as the file
rounds it (to whole microseconds a quarter), so that bar lines fall on their ticks; the sound is
then early or late by less than half a microsecond for each quarter played. At one tick, notes end
first; then come bank and program for a note that needs other ones, then the note. Text is UTF-8
(the standard asks for ASCII "or any other", and a title may hold anything).

Source: "Standard MIDI Files 1.0", RP-001, MIDI Manufacturers Association; controllers 0, 7 and 10
of MIDI 1.0. Both from memory, checked by reading back with three other programs in the tests.
"""

from __future__ import annotations

import io
from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import mido

from accomp.files.text import one_line
from accomp.score.performance import DRUM_CHANNEL, MeterMark, Note, Performance, TempoMark, Track
from accomp.time import METERS, Meter

TICKS = 480  # a quarter
_BANK, _LEVEL, _PAN = 0, 7, 10  # controllers
_OFF, _ON = 0, 1  # order at one tick: ends come before beginnings


class TempoMap:
    """Seconds to ticks. The first mark's tempo also holds before it; without marks the tempo is
    120 quarters a minute."""

    def __init__(self, marks: Iterable[TempoMark]) -> None:
        ordered = sorted(marks, key=lambda mark: mark.start_s) or [TempoMark(0.0, 0.5)]
        self._starts_s = [0.0]
        self._quarters_s = [ordered[0].quarter_s]
        self._start_ticks = [0.0]
        for mark in ordered[1:]:
            self._start_ticks.append(self._exact(mark.start_s))
            self._starts_s.append(mark.start_s)
            self._quarters_s.append(mark.quarter_s)

    def _exact(self, time_s: float) -> float:
        index = bisect_right(self._starts_s, time_s) - 1
        since_s = time_s - self._starts_s[index]
        return self._start_ticks[index] + since_s / self._quarters_s[index] * TICKS

    def tick(self, time_s: float) -> int:
        """The tick nearest to a moment (seconds from the start, not negative)."""
        return round(self._exact(time_s))

    def marks(self) -> list[tuple[int, int]]:
        """(tick, microseconds a quarter) of every tempo."""
        return [
            (round(tick), round(quarter_s * 1_000_000))
            for tick, quarter_s in zip(self._start_ticks, self._quarters_s, strict=True)
        ]


@dataclass(frozen=True, slots=True)
class _Placed:
    """A note in ticks, with the track that holds it and the one that holds its end."""

    start: int
    end: int
    track: int
    ends_in: int
    note: Note


def midi_bytes(performance: Performance) -> bytes:
    """The bytes of the file; equal performances give equal bytes."""
    tempo = TempoMap(performance.tempos)
    placed = _separated(_placed_notes(performance.tracks, tempo))
    tracks = [_conductor(performance, tempo), *_players(performance.tracks, placed)]
    ends = [tempo.tick(performance.end_s), *(tick for track in tracks for tick, *_ in track)]
    file = mido.MidiFile(type=1, ticks_per_beat=TICKS, charset="utf-8")
    file.tracks.extend(_in_file(events, max(ends)) for events in tracks)
    buffer = io.BytesIO()
    file.save(file=buffer)
    return buffer.getvalue()


def _placed_notes(tracks: Sequence[Track], tempo: TempoMap) -> list[_Placed]:
    placed = []
    for index, track in enumerate(tracks):
        for note in track.notes:
            start = tempo.tick(note.start_s)
            end = max(start + 1, tempo.tick(note.end_s))
            placed.append(_Placed(start, end, index, index, note))
    return placed


def _separated(placed: list[_Placed]) -> list[_Placed]:
    """The notes in playing order, each ended where its channel sounds its pitch again.

    Of two that begin at one tick only the longer remains. At one tick, programs read the
    lower-numbered track first. Where the earlier note is in a higher-numbered track, it therefore
    ends a tick sooner; if it is only a tick long, its end is written in the later note's track,
    before that note.
    """
    by_sound: dict[tuple[int, int], list[_Placed]] = {}
    for note in sorted(placed, key=lambda note: (note.start, note.end, note.track)):
        line = by_sound.setdefault((note.note.channel, note.note.pitch), [])
        while line and line[-1].end > (limit := note.start - (line[-1].track > note.track)):
            before = line.pop()
            if limit > before.start:
                line.append(replace(before, end=limit, ends_in=before.track))
            elif note.start > before.start:
                line.append(replace(before, end=note.start, ends_in=note.track))
                break
        line.append(note)
    notes = [note for line in by_sound.values() for note in line]
    return sorted(notes, key=lambda note: (note.start, note.track, note.note.channel, note.end))


_Event = tuple[int, int, mido.Message | mido.MetaMessage]  # tick, order at it, message


def _conductor(performance: Performance, tempo: TempoMap) -> list[_Event]:
    events: list[_Event] = []

    def meta(tick: int, kind: str, **fields: object) -> None:
        events.append((tick, _ON, mido.MetaMessage(kind, **fields)))

    if title := one_line(performance.title):
        meta(0, "track_name", name=title)
    for tick, quarter_us in tempo.marks():
        meta(tick, "set_tempo", tempo=quarter_us)
    for meter in performance.meters:
        meta(tempo.tick(meter.start_s), "time_signature", **_time_signature(meter))
    for key in performance.keys:
        meta(tempo.tick(key.start_s), "key_signature", key=key.key)
    for kind, marks in (("marker", performance.markers), ("text", performance.chords)):
        for mark in marks:
            meta(tempo.tick(mark.start_s), kind, text=one_line(mark.text))
    return events


def _time_signature(meter: MeterMark) -> dict[str, int]:
    name = f"{meter.count}/{meter.unit}"
    clocks = int(Meter.parse(name).beat * 96) if name in METERS else 96 // meter.unit
    return {
        "numerator": meter.count,
        "denominator": meter.unit,
        "clocks_per_click": clocks,  # 24 a quarter; a click each beat
        "notated_32nd_notes_per_beat": 8,
    }


def _players(tracks: Sequence[Track], placed: Sequence[_Placed]) -> list[list[_Event]]:
    players: list[list[_Event]] = [[] for _ in tracks]
    sounds: dict[int, tuple[int, int]] = {}  # channel: bank and program it is set to

    def control(index: int, tick: int, channel: int, number: int, value: int) -> None:
        message = mido.Message("control_change", channel=channel, control=number, value=value)
        players[index].append((tick, _ON, message))

    def choose(index: int, tick: int, channel: int, bank: int) -> None:
        """Set bank and program where the channel has other ones."""
        program = tracks[index].program
        now = sounds.get(channel)
        if now == (bank, program):
            return
        if (
            channel != DRUM_CHANNEL or bank or (now and now[0])
        ):  # the drum channel has a bank of its own
            control(index, tick, channel, _BANK, bank)
        message = mido.Message("program_change", channel=channel, program=program)
        players[index].append((tick, _ON, message))
        sounds[channel] = (bank, program)

    for index, track in enumerate(tracks):
        if name := one_line(track.name):
            players[index].append((0, _OFF, mido.MetaMessage("track_name", name=name)))
        for channel in track.channels:
            if channel not in sounds:
                choose(index, 0, channel, 0)
                control(index, 0, channel, _LEVEL, track.level)
                control(index, 0, channel, _PAN, track.pan)
    for played in placed:
        note = played.note
        choose(played.track, played.start, note.channel, note.bank)
        same = {"channel": note.channel, "note": note.pitch}
        on = mido.Message("note_on", velocity=note.velocity, **same)
        players[played.track].append((played.start, _ON, on))
        off = mido.Message("note_off", velocity=64, **same)
        players[played.ends_in].append((played.end, _OFF, off))
    return players


def _in_file(events: list[_Event], last: int) -> mido.MidiTrack:
    """Events with absolute ticks as a track of differences that ends at tick `last`."""
    track = mido.MidiTrack()
    now = 0
    for tick, _, message in sorted(events, key=lambda event: event[:2]):
        message.time, now = tick - now, tick
        track.append(message)
    track.append(mido.MetaMessage("end_of_track", time=last - now))
    return track
