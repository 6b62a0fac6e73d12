"""The opening of a MIDI file: its messages up to the end of the first seconds that sound.

It is read without the library that writes the file, so that the self-check does not depend on that
library. Only the opening is read: reading a whole stem would take up to a tenth of the time that
rendering it takes.

Conventions: time is counted in steps of the synth (`STEP` frames), rounded as FluidSynth's player
rounds it, so that both sound the same: at each step the player takes the whole milliseconds gone
by, and plays all messages that are due by then, to the nearest tick. Messages other than channel
messages and tempos are skipped.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from heapq import merge
from math import ceil

from accomp.write.audio.fontsynth import STEP

_META, _TEMPO = 0xFF, 0x51
_SYSTEM = 0xF0  # a status from here on belongs to no channel


@dataclass(frozen=True, slots=True)
class Opening:
    """Messages (step, status, data) from the file's first to the end of the opening.

    `start` is the step of the first note; messages before it only set up channels.
    """

    start: int
    messages: tuple[tuple[int, int, bytes], ...]


def read_opening(midi: bytes, seconds: float, sample_rate: int) -> Opening | None:
    """The first `seconds` from the first note on; None when there is no note."""
    division = int.from_bytes(midi[12:14], "big")
    tick_ms = 500 / division  # until a tempo comes: 120 quarters a minute
    since_tick, since_ms = 0, 0.0
    messages = []
    start = None
    # At one tick the lower-numbered track comes first, as in FluidSynth's player.
    for tick, status, data in merge(*_tracks(midi), key=lambda message: message[0]):
        due_ms = since_ms + (tick - since_tick) * tick_ms
        if status == _META:
            tick_ms = int.from_bytes(data[1:], "big") / 1000 / division
            since_tick, since_ms = tick, due_ms
            continue
        step = _step(due_ms - tick_ms / 2, sample_rate)
        if start is None and status >> 4 == 9 and data[1]:
            start = step
        if start is not None and step >= start + seconds * sample_rate / STEP:
            break
        messages.append((step, status, data))
    return None if start is None else Opening(start, tuple(messages))


def _step(due_ms: float, sample_rate: int) -> int:
    """The first step at whose start `due_ms` of whole milliseconds have gone by."""
    step = max(0, ceil(due_ms * sample_rate / (1000 * STEP)))
    while step * STEP * 1000 // sample_rate < due_ms:
        step += 1
    return step


_Message = tuple[int, int, bytes]  # tick, status, data


def _tracks(midi: bytes) -> list[Iterator[_Message]]:
    tracks = []
    at = 8 + int.from_bytes(midi[4:8], "big")
    while at + 8 <= len(midi):
        end = at + 8 + int.from_bytes(midi[at + 4 : at + 8], "big")
        if midi[at : at + 4] == b"MTrk":
            tracks.append(_track(midi, at + 8, end))
        at = end
    return tracks


def _track(midi: bytes, at: int, end: int) -> Iterator[_Message]:
    """Channel messages and tempos of one track (Standard MIDI Files 1.0, RP-001)."""
    tick = status = 0
    while at < end:
        wait, at = _number(midi, at)
        tick += wait
        if midi[at] >= 0x80:  # else the last status goes on running
            status = midi[at]
            at += 1
        if status < _SYSTEM:
            size = 1 if status >> 4 in (12, 13) else 2
            yield tick, status, midi[at : at + size]
        else:
            kind_at = at
            at += status == _META
            size, at = _number(midi, at)
            if status == _META and midi[kind_at] == _TEMPO:
                yield tick, status, midi[kind_at : kind_at + 1] + midi[at : at + size]
        at += size


def _number(midi: bytes, at: int) -> tuple[int, int]:
    """A number of variable length, and the place after it."""
    value = 0
    while True:
        value = value << 7 | midi[at] & 0x7F
        at += 1
        if midi[at - 1] < 0x80:
            return value, at
