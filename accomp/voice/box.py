"""A wooden body: the first resonances of top and air one by one, the rest by their statistics.

The lowest modes of a guitar or mandolin (air in the sound hole against the top, top against the
air, the first that rocks) are given with their frequency, loss, mass at the bridge and the area of
top that moves with the bridge. Above them a plate has modes in nearly even steps: its modal density
does not change with frequency, which fixes the mean mobility, 1/(4·M·Δf) for a plate of mass M with
a mode every Δf (Skudrzyk's mean value; Cremer, Heckl & Ungar, "Structure-Borne Sound"). Their
masses, places and signs are drawn once from a fixed row of random numbers: the statistics of a
plate, nobody's guitar. A mode radiates as the volume it moves, p = ρ·s·U/(2πR); the higher it is,
the more its parts cancel.

Conventions: SI units; heave and rock as in `accomp.voice.body`; sound at 1 m before the top.
"""

from __future__ import annotations

import math

import numpy as np

from accomp.voice.body import Face, modal
from accomp.voice.laplace import Complexes
from accomp.voice.parameters import BodyMode, Box


def box_face(s: Complexes, box: Box) -> Face:
    """The body as bridge and microphone know it."""
    return Face(*modal(s, (*box.mode, *plate_modes(box)), box.foot_mm))


def plate_modes(box: Box) -> list[BodyMode]:
    """The modes above the given ones, every `spacing_hz` or so up to `highest_hz`."""
    random = np.random.default_rng(box.pattern)
    modes = []
    hz = box.from_hz
    while hz < box.highest_hz:
        heave, rock, sign = random.uniform(-1.0, 1.0, 3)
        # A wave's mean square over the plate is a quarter: a mode weighs M/4 at a crest.
        area = box.area_cm2 * math.copysign(0.3, sign) * math.sqrt(box.from_hz / hz)
        modes.append(BodyMode(hz, box.loss, box.plate_g / 4.0, heave, rock, area))
        hz += box.spacing_hz * random.uniform(0.6, 1.4)
    return modes
