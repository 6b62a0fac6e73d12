"""Cymbals and wood blocks: plates with many modes, and blocks with few.

A cymbal is a thin plate. Its modal density √3·A/(c·h) does not depend on frequency, for an area A,
a thickness h and a longitudinal wave speed c (Cremer, Heckl & Ungar, "Structure-Borne Sound"): the
modes stand in nearly even steps. Frequencies and amplitudes come from a seeded random generator:
they have the statistics of a plate and copy no real cymbal. In a hard blow the deflection exceeds
the thickness, and energy moves from low to high modes within some tens of milliseconds, the more
the harder the blow: the rush of a cymbal (Rossing & Fletcher, "The Physics of Musical Instruments",
chapter 20; Touzé, Bilbao & Cadot, J. Sound Vib. 331, 2012, 172).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from accomp.voice.kit.parameters import Cymbal, WoodBlock
from accomp.voice.kit.struck import T60, band, clicked, decaying, pulsed
from accomp.voice.laplace import Floats

BRONZE = 3500.0  # m/s, longitudinal waves in bell bronze (handbooks; from memory)


def cymbal_sound(
    cymbal: Cymbal, force: float, length_s: float, rate_hz: int, seed: Sequence[int]
) -> Floats:
    """The sound of one blow on a cymbal, `length_s` long."""
    at_once, later = _impulse_responses(cymbal, round(length_s * rate_hz), rate_hz)
    struck = pulsed(at_once, cymbal.striker.contact_s(force), rate_hz)
    # The harder the blow, the higher are the modes that the energy reaches.
    late = band(later, cymbal.low_hz, cymbal.high_hz * (0.3 + 0.7 * force), rate_hz)
    share = cymbal.rush * force * math.sqrt(np.mean(struck**2) / np.mean(late**2))
    return clicked(cymbal.striker, force, struck + share * late, rate_hz, seed)


@lru_cache(maxsize=2)
def _impulse_responses(cymbal: Cymbal, count: int, rate_hz: int) -> tuple[Floats, Floats]:
    """The impulse response of modes excited at once, and of modes that energy reaches later."""
    hz, weights = modes(cymbal)
    fall_s = cymbal.fall_s * (hz / 1000.0) ** -cymbal.slope
    weights = weights * (hz / 1000.0) ** cymbal.tilt
    rush_s = cymbal.rush_ms / 1000.0
    rising_s = 1.0 / (1.0 / fall_s + 1.0 / (rush_s * T60))
    at_once, missing = (decaying(hz, each, weights, count, rate_hz) for each in (fall_s, rising_s))
    return at_once, at_once - missing


def modes(cymbal: Cymbal) -> tuple[Floats, Floats]:
    """Frequencies of the modes in hertz, and their signed amplitudes before `tilt`."""
    area = math.pi * (cymbal.radius_mm / 1000.0) ** 2
    apart = BRONZE * cymbal.thick_mm / 1000.0 / (math.sqrt(3.0) * area)
    count = int((cymbal.high_hz - cymbal.low_hz) / apart)
    random = np.random.default_rng(cymbal.pattern)
    hz = cymbal.low_hz + apart * (np.arange(count) + random.uniform(-0.5, 0.5, count))
    return np.maximum(hz, 20.0), random.normal(0.0, 1.0, count)


def block_sound(
    block: WoodBlock, force: float, length_s: float, rate_hz: int, seed: Sequence[int]
) -> Floats:
    """The sound of one blow on a wood block, `length_s` long."""
    hz, fall_s, level = (np.array(each) for each in (block.hz, block.fall_s, block.level))
    rings = decaying(hz, fall_s, level, round(length_s * rate_hz), rate_hz)
    rings = pulsed(rings, block.striker.contact_s(force), rate_hz)
    return clicked(block.striker, force, rings, rate_hz, seed)
