"""Choked and dead strokes on a font that has no sounds for them.

A General MIDI font answers a bank it does not have with its plain sound, whose ring after the note
ends lasts half a second and more. For rendering (not in the MIDI file that is delivered) the
release of such notes is shortened on their channel, and a dead stroke is dulled too.

Conventions: SoundFont generators are reached by NRPN 120 * 128 + generator (SoundFont 2.04, 9.6.3);
release in timecents (1200 halve or double the time) and filter in cents, both scaled by 2, so that
a data value of 1 is 2 of them.
"""

from __future__ import annotations

import io
from collections.abc import Set

import mido

_FILTER, _RELEASE = 8, 38  # generators initialFilterFc, releaseVolEnv
_SCALE = 2
_CENTRE = 8192
_BANK = 0  # controller
# Generators by bank: the release of a choked stroke is 13 times as quick (2^(4400/1200)).
_SOUNDS = {
    0: ((_RELEASE, 0), (_FILTER, 0)),
    1: ((_RELEASE, -4400), (_FILTER, 0)),
    2: ((_RELEASE, -4400), (_FILTER, -2400)),
}


def shortened(midi: bytes, channels: Set[int]) -> bytes:
    """The same file with shorter releases where `channels` choose bank 1 or 2."""
    file = mido.MidiFile(file=io.BytesIO(midi))
    for track in file.tracks:
        messages = list(track)
        track.clear()
        for message in messages:
            track.append(message)
            if (
                message.type == "control_change"
                and message.control == _BANK
                and message.channel in channels
            ):
                track.extend(_generators(message.channel, message.value))
    buffer = io.BytesIO()
    file.save(file=buffer)
    return buffer.getvalue()


def _generators(channel: int, bank: int) -> list[mido.Message]:
    made = []
    for generator, value in _SOUNDS.get(bank, _SOUNDS[0]):
        data = value // _SCALE + _CENTRE
        for controller, number in (
            (99, 120),
            (98, generator),
            (38, data % 128),
            (6, data // 128),  # the coarse half last: it sets the value
        ):
            made.append(
                mido.Message(
                    "control_change", channel=channel, control=controller, value=number, time=0
                )
            )
    return made
