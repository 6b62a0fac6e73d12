"""The player's hands at the synthesiser: what a voice can do and a MIDI file cannot say.

A voice has sounds for each string, for up-strokes, and two takes of each, told apart by odd and
even velocity. Strings also stand a little apart from left to right. None of this is in the
delivered MIDI file, which any General MIDI player must play rightly.

Conventions: a strummed track has one channel a string, the highest-numbered string first; pan 0 is
left and 127 right.
"""

from __future__ import annotations

from dataclasses import replace

from accomp.score.performance import Note, Role, Track
from accomp.write.soundfont import SoundFont

_APART = 5  # steps of pan between neighbouring strings
_EDGES = (0, 127)


def strings_apart(track: Track) -> tuple[Track, ...]:
    """One track a string, placed side by side; a track at one edge, or of one channel, as it is."""
    count = len(track.channels)
    if track.role != Role.PLAYER or count == 1 or track.pan in _EDGES:
        return (track,)
    return tuple(
        replace(
            track,
            channels=(channel,),
            notes=tuple(note for note in track.notes if note.channel == channel),
            pan=round(min(127, max(0, track.pan + _APART * (place - (count - 1) / 2)))),
        )
        for place, channel in enumerate(track.channels)
    )


def by_hand(track: Track, font: SoundFont) -> Track:
    """The track on the voice's own banks, takes in turn; unchanged on a font without them."""
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
