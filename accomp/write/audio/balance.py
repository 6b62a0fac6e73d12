"""The gain that makes a voice as loud as the same instrument in the band's own font.

Fonts differ by ten decibels and more in how loud they make one velocity. A few strokes are rendered
with both fonts, and the voice's stem gets the difference.
"""

from __future__ import annotations

from functools import cache
from math import isfinite

from accomp.score.performance import Note, Performance, Role, TempoMark, Track
from accomp.write.audio.loudness import loudness_lufs
from accomp.write.audio.render import SAMPLE_RATE, render
from accomp.write.audio.spool import InMemory
from accomp.write.midi import midi_bytes
from accomp.write.soundfont import SoundFont

_CHORDS = ((48, 55, 64, 72), (55, 62, 67, 71))  # low and high on the neck
_STROKE_S = 0.35
_VELOCITY = 90
_MOST_DB = 18.0  # a font further off than that is not helped by loudness


@cache
def voice_gain_db(voice: SoundFont, band: SoundFont, program: int) -> float:
    """The gain of the voice in dB, rounded to tenths; 0 where the band's font lacks the program.

    Raises `SoundError` when a font does not load.
    """
    if not band.has(0, program):
        return 0.0
    midi = midi_bytes(_strokes(program))
    ours, theirs = (
        loudness_lufs(InMemory(render(midi, [font])), SAMPLE_RATE) for font in (voice, band)
    )
    if not (isfinite(ours) and isfinite(theirs)):
        return 0.0
    return round(min(_MOST_DB, max(-_MOST_DB, theirs - ours)), 1)


def _strokes(program: int) -> Performance:
    notes = tuple(
        Note(_STROKE_S * beat, _STROKE_S * (beat + 1), pitch, _VELOCITY, string)
        for beat in range(4)
        for string, pitch in enumerate(_CHORDS[beat % 2])
    )
    track = Track("", Role.PLAYER, program, (0, 1, 2, 3), notes)
    return Performance(
        title="",
        tracks=(track,),
        tempos=(TempoMark(0.0, _STROKE_S),),
        meters=(),
        keys=(),
        markers=(),
        chords=(),
        end_s=4 * _STROKE_S,
    )
