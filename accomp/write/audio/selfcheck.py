"""Whether a rendered stem sounds as its notes ask: the renderer's check on itself.

A synth can come out wrong without a word (see `accomp.write.synth` for how), and is then wrong
from its first note on: ten decibels off, deaf to velocity, in the middle instead of at one side.
So the opening of every stem is played a second time by another way: the MIDI file read anew, each
note struck by a direct call, on a synth of its own with the same fonts. Both ways are the same
synthesis, so that no font, style, instrument, force or length makes a difference by itself, and
nothing rings before a first note that the second playing would lack.

Conventions: levels are energies of windows of `_WINDOW_S`, each side by itself; the distance is the
sum of their differences over the sum of what was asked. Measured: at most 0.003 over all styles,
and 0.26 were every onset a step off. A level 10 dB off gives 0.9 (too quiet) or 9 (too loud), 1 dB
0.26, accents 2 dB up and down made flat 0.4 to 0.5.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from accomp.write.audio.fontsynth import STEP, FontSynth
from accomp.write.audio.opening import Opening
from accomp.write.audio.spool import Sound
from accomp.write.soundfont import SoundFont

SECONDS = 2.0  # of the opening; more would find no more, since a wrong synth is wrong at once
ALLOWED = 0.25

_WINDOW_S = 0.05
_LATER = 1  # steps that the player's events are heard later than direct calls


def opening_frames(opening: Opening, sample_rate: int) -> tuple[int, int]:
    """From where to where in the stem the opening sounds."""
    start = (opening.start + _LATER) * STEP
    return start, start + round(SECONDS * sample_rate)


def compare(
    played: Sound, opening: Opening, fonts: Sequence[SoundFont], sample_rate: int
) -> tuple[float, Sound]:
    """The distance of a stem's opening from what was asked, and that. Raises `SoundError`."""
    with FontSynth(fonts, sample_rate) as synth:
        asked = asked_sound(synth, opening, sample_rate)
    return distance(played, asked, sample_rate), asked


def asked_sound(synth: FontSynth, opening: Opening, sample_rate: int) -> Sound:
    """The opening from its first note on, by direct calls on a synth as just made."""
    made = [np.zeros((0, 2), np.float32)]
    now = opening.start
    for step, status, data in opening.messages:
        if step > now:
            made.append(synth.sound((step - now) * STEP))
            now = step
        synth.tell(status, data)
    left = opening.start + round(SECONDS * sample_rate) // STEP - now
    if left > 0:
        made.append(synth.sound(left * STEP))
    return np.concatenate(made)


def distance(sound: Sound, asked: Sound, sample_rate: int) -> float:
    """How far `sound` is from `asked`: 0 for equal levels; infinite where silence was asked."""
    window = round(_WINDOW_S * sample_rate)
    found, wanted = (_energies(each, window, len(asked)) for each in (sound, asked))
    difference = float(np.abs(found - wanted).sum())
    total = float(wanted.sum())
    if total == 0.0:
        return 0.0 if difference == 0.0 else float("inf")
    return difference / total


def level_db(sound: Sound) -> float:
    """The level of a sound against full scale, for an error's text."""
    power = float(np.square(sound, dtype=np.float64).mean()) if len(sound) else 0.0
    return 10 * float(np.log10(power + 1e-20))


def _energies(sound: Sound, window: int, frames: int) -> npt.NDArray[np.float64]:
    """Energy by side and window, of `frames` frames; silence follows a shorter sound."""
    count = -(-frames // window)
    padded = np.zeros((2, count * window))
    padded[:, : min(frames, len(sound))] = sound[:frames].T
    windows = padded.reshape(2, count, window)
    energies: npt.NDArray[np.float64] = np.einsum("swf,swf->sw", windows, windows)
    return energies
