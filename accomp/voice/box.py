"""A wooden body: the first resonances of top and air one by one, the rest by their statistics.

The lowest modes of a guitar or mandolin (air in the sound hole against the top, top against the
air, the first that rocks) are given with their frequency, loss, mass at the bridge and the area of
top that moves with the bridge. Above them the modal density of a plate does not depend on
frequency: modes stand in nearly even steps. This fixes the mean mobility, 1/(4·M·Δf) for a plate
of mass M with a mode every Δf (Skudrzyk's mean value; Cremer, Heckl & Ungar, "Structure-Borne
Sound"). Heave, rock and sign of each such mode come from a seeded random generator: they have the
statistics of a plate and copy no real guitar. A mode radiates through its volume velocity U,
p = ρ·s·U/(2πR); the higher the mode, the more its parts cancel.

Conventions: SI units; heave and rock as in `accomp.voice.body`; sound at 1 m before the top.
"""

from __future__ import annotations

import math

import numpy as np

from accomp.voice.body import Face, modal
from accomp.voice.laplace import Complexes
from accomp.voice.parameters import BodyMode, Box


def box_face(s: Complexes, box: Box) -> Face:
    """Mobilities and radiated sound of the body, over s."""
    return Face(*modal(s, (*box.mode, *plate_modes(box)), box.foot_mm))


def plate_modes(box: Box) -> list[BodyMode]:
    """The modes from `from_hz` up to `highest_hz`, on average `spacing_hz` apart."""
    random = np.random.default_rng(box.pattern)
    modes = []
    hz = box.from_hz
    while hz < box.highest_hz:
        heave, rock, sign = random.uniform(-1.0, 1.0, 3)
        # A mode shape has a mean square of 1/4 over the plate: at an antinode its mass is M/4.
        area = box.area_cm2 * math.copysign(0.3, sign) * math.sqrt(box.from_hz / hz)
        modes.append(BodyMode(hz, box.loss, box.plate_g / 4.0, heave, rock, area))
        hz += box.spacing_hz * random.uniform(0.6, 1.4)
    return modes
