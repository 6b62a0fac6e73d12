"""Every drum sound of the kit in its velocity layers: of equal loudness, brighter for harder blows.

The synthesiser scales loudness with velocity; the layers differ only in their spectrum and decay.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from accomp.voice.kit.parameters import Cymbal, Kit, KitSound, Skin, WoodBlock
from accomp.voice.kit.plate import block_sound, cymbal_sound
from accomp.voice.kit.skin import skin_sound
from accomp.voice.laplace import Floats
from accomp.voice.measure import loudness
from accomp.voice.numerics import finer, low_pass, thinned

FADE = 0.25  # share of a sound's length that is faded out
PEAK, KNEE = 0.98, 0.6
BETWEEN = 0.8  # share of the knee: between samples the wave may be higher
MARGIN = 64  # samples over which bending acts
FINER = 4
BENT_MOST_DB = 7.0  # the mix limits peaks of drums by 6 dB
_KERNEL = low_pass(20 * FINER + 1, 1.0 / FINER, 5.0)


@dataclass(frozen=True)
class LayeredSound:
    """One sound: a sample for each velocity layer."""

    struck: KitSound
    layers: tuple[Floats, ...]


def layered(kit: Kit) -> Iterator[LayeredSound]:
    """All sounds of the kit, in the file's order."""
    for number, struck in enumerate(kit.sounds):
        yield LayeredSound(
            struck,
            tuple(
                levelled(faded(blow(struck, force, (number,))), struck.rate_hz, struck.level_db)
                for _, force in kit.layers
            ),
        )


def blow(struck: KitSound, force: float, seed: tuple[int, ...]) -> Floats:
    """The sound of one blow, as its model computes it."""
    made_of, length_s, rate_hz = struck.made_of, struck.length_s, struck.rate_hz
    if isinstance(made_of, Skin):
        return skin_sound(made_of, force, length_s, rate_hz, seed)
    if isinstance(made_of, Cymbal):
        return cymbal_sound(made_of, force, length_s, rate_hz, seed)
    assert isinstance(made_of, WoodBlock)
    return block_sound(made_of, force, length_s, rate_hz, seed)


def faded(sound: Floats) -> Floats:
    """The sound with its last part faded out and its first sample zero."""
    sound = sound.copy()
    fade = int(FADE * sound.size)
    sound[sound.size - fade :] *= 0.5 + 0.5 * np.cos(np.pi * np.arange(1, fade + 1) / fade)
    sound[0] = 0.0
    return sound


def levelled(sound: Floats, rate_hz: int, level_db: float) -> Floats:
    """The sound at a K-weighted loudness. Peaks above PEAK are soft-clipped, by `BENT_MOST_DB` at
    most; if that is not enough, the sound stays softer.
    """
    highest = float(np.abs(sound).max())
    gain = math.sqrt(10.0 ** (level_db / 10.0) / loudness(sound, rate_hz))
    highest_gain = PEAK * 10.0 ** (BENT_MOST_DB / 20.0) / highest
    for _ in range(3):  # bending lowers the loudness a little
        clipped = _soft_clipped(sound * min(gain, highest_gain))
        gain *= math.sqrt(10.0 ** (level_db / 10.0) / loudness(clipped, rate_hz))
    return clipped


def _soft_clipped(sound: Floats) -> Floats:
    """The sound with values above KNEE soft-clipped towards PEAK, at `FINER` times the rate."""
    tops = np.flatnonzero(np.abs(sound) > BETWEEN * KNEE)
    if not tops.size:
        return sound
    end = min(int(tops[-1]) + MARGIN, sound.size)
    fine = finer(sound[:end], _KERNEL, FINER)
    over = np.maximum(np.abs(fine) - KNEE, 0.0)
    room = PEAK - KNEE
    taken = thinned(np.sign(fine) * (over - room * np.tanh(over / room)), _KERNEL, FINER)
    bent = sound.copy()
    bent[:end] -= taken
    return np.asarray(np.clip(bent, -1.0, 1.0))
