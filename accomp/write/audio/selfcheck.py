"""The renderer's self-check: whether a stem sounds as its notes ask.

A synth can be wrong without an error (`accomp.write.synth` says how). It is then wrong from its
first note on: ten decibels off, deaf to velocity, in the middle instead of at one side. So the
opening of every stem is played a second time in another way: the MIDI file is read anew, and each
note is struck by a direct call, on a second synth with the same fonts. Both ways are the same
synthesis, so that they do not differ by font, style, instrument, force or length. Nothing rings
before the first note, so the second playing lacks nothing.

Conventions: levels are energies of windows of `_WINDOW_S`, each side by itself; the distance is the
sum of their differences, divided by the sum of the expected energies. Measured: at most 0.003 over
all styles, and 0.26 when every onset is a step off. A level 10 dB off gives 0.9 (too quiet) or 9
(too loud), a level 1 dB off 0.26, and accents of 2 dB that are lost 0.4 to 0.5.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from accomp.write.audio.fontsynth import STEP, FontSynth
from accomp.write.audio.opening import Opening
from accomp.write.audio.spool import Samples
from accomp.write.soundfont import SoundFont

SECONDS = 2.0  # of the opening; more would not find more, since a wrong synth is wrong at once
ALLOWED = 0.25

_WINDOW_S = 0.05
_LATER = 1  # steps by which the player's events are heard later than direct calls


def opening_frames(opening: Opening, sample_rate: int) -> tuple[int, int]:
    """The frames of the stem in which the opening sounds, half-open."""
    start = (opening.start + _LATER) * STEP
    return start, start + round(SECONDS * sample_rate)


def compare(
    played: Samples, opening: Opening, fonts: Sequence[SoundFont], sample_rate: int
) -> tuple[float, Samples]:
    """The distance of a stem's opening from the expected sound, and that sound. Raises
    `SoundError`."""
    with FontSynth(fonts, sample_rate) as synth:
        asked = asked_sound(synth, opening, sample_rate)
    return distance(played, asked, sample_rate), asked


def asked_sound(synth: FontSynth, opening: Opening, sample_rate: int) -> Samples:
    """The expected sound of the opening from its first note on, by direct calls on a new synth."""
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


def distance(sound: Samples, asked: Samples, sample_rate: int) -> float:
    """How far `sound` is from `asked`: 0 for equal levels; infinite if only `asked` is silent."""
    window = round(_WINDOW_S * sample_rate)
    found, wanted = (_energies(each, window, len(asked)) for each in (sound, asked))
    difference = float(np.abs(found - wanted).sum())
    total = float(wanted.sum())
    if total == 0.0:
        return 0.0 if difference == 0.0 else float("inf")
    return difference / total


def level_db(sound: Samples) -> float:
    """The level of a sound against full scale, for an error's text."""
    power = float(np.square(sound, dtype=np.float64).mean()) if len(sound) else 0.0
    return 10 * float(np.log10(power + 1e-20))


def _energies(sound: Samples, window: int, frames: int) -> npt.NDArray[np.float64]:
    """Energies of `frames` frames, shape (side, window); silence follows a shorter sound."""
    count = -(-frames // window)
    padded = np.zeros((2, count * window))
    padded[:, : min(frames, len(sound))] = sound[:frames].T
    windows = padded.reshape(2, count, window)
    energies: npt.NDArray[np.float64] = np.einsum("swf,swf->sw", windows, windows)
    return energies
