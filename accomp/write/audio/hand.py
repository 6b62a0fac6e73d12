"""Changes to the player's track for our synthesiser, which a MIDI file or a font cannot express.

A voice has sounds for each string, for up-strokes, and two takes of each, told apart by odd and
even velocity. Strings also stand a little apart from left to right. A General MIDI font plays its
plain sound for a bank that it lacks, and that sound rings for half a second and more after its
note: there the release of choked and dead notes is shortened on their channel, and a dead stroke is
dulled too. None of this is in the delivered MIDI file, which has to sound right in every program.

Conventions: a strummed track has one channel a string, the highest-numbered string first; pan 0 is
left and 127 right. SoundFont generators are reached by NRPN 120 * 128 + generator (SoundFont 2.04,
9.6.3); release in timecents (1200 halve or double the time) and filter in cents, both scaled by 2,
so that a data value of 1 is 2 of them.
"""

from __future__ import annotations

import io
from collections.abc import Set
from dataclasses import replace

import mido

from accomp.score.performance import Note, Role, Track
from accomp.write.soundfont import SoundFont

_APART = 5  # steps of pan between neighbouring strings
_EDGES = (0, 127)


def strings_apart(track: Track) -> tuple[Track, ...]:
    """One track a string, placed side by side; a track at one edge, or of one channel, stays as it
    is."""
    count = len(track.channels)
    if track.role != Role.PLAYER or count == 1 or track.pan in _EDGES:
        return (track,)
    return tuple(
        replace(
            track,
            channels=(channel,),
            notes=tuple(note for note in track.notes if note.channel == channel),
            pan=round(min(127, max(0, track.pan + _APART * (index - (count - 1) / 2)))),
        )
        for index, channel in enumerate(track.channels)
    )


def by_hand(track: Track, font: SoundFont) -> Track:
    """The track on the voice's own banks, with its takes in turn; unchanged for a font that has no
    such banks."""
    from accomp.voice import voice_bank  # late: plain fonts need nothing of it

    if not font.has(voice_bank(0, 1), track.program):
        return track
    numbers = {channel: len(track.channels) - n for n, channel in enumerate(track.channels)}
    turns = dict.fromkeys(track.channels, 0)
    notes: list[Note] = []
    for note in sorted(track.notes, key=lambda note: (note.start_s, note.channel)):
        bank = voice_bank(note.bank, numbers[note.channel], up=note.up)
        if not font.has(bank, track.program):
            bank = note.bank
        turns[note.channel] += 1
        velocity = _take(note.velocity, turns[note.channel])
        notes.append(replace(note, bank=bank, velocity=velocity))
    return replace(track, notes=tuple(notes))


def _take(velocity: int, turn: int) -> int:
    """A velocity at most one step away: odd for the first stroke on a string, then in turn."""
    return velocity | 1 if turn % 2 else max(2, velocity & ~1)


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
