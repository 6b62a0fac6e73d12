"""Drums: a head over the air in its shell, snare wires, brushes.

The head is the model of a banjo head (`accomp.voice.head`): modes of a round membrane, with the air
that moves along and the radiation. The air in the shell couples it to the lower head, whose lowest
mode is modelled as the opening of a pot. So the lowest mode splits into a pair, as on real drums
(Rossing, Bork, Zhao & Fystrom, JASA 92, 1992, 84). A hard blow tightens the head, and the pitch
falls during the decay.

Snare wires lie on the lower head. Above a threshold of its motion they leave the head and hit it
again and again (the same authors; harder blows rattle longer). Here this is noise whose level
follows the head's motion above the threshold, and whose upper band edge rises with the force.

A brush is about a hundred wires that hit the same head one after another.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from accomp.voice.body import Face
from accomp.voice.head import head_face
from accomp.voice.kit.parameters import Bristles, Skin, Wires
from accomp.voice.kit.struck import T60, band, clicked, pulsed
from accomp.voice.laplace import Floats, Grid
from accomp.voice.measure import envelope
from accomp.voice.parameters import Head, Microphone
from accomp.voice.stretch import warp

WINDOW_S = 0.74
COARSE = 2  # the head is computed at every second frequency (`Face.between`)
BODY_HZ = 500.0  # motion of the lower head lies below
GLIDE_S = 0.06  # time constant of the amplitude of the lowest mode; no source
BRISTLE_S = 0.00012  # contact time of one wire; no source


def skin_sound(
    skin: Skin, force: float, length_s: float, rate_hz: int, seed: Sequence[int]
) -> Floats:
    """The sound of one blow on a drum, `length_s` long."""
    grid = _grid(rate_hz)
    start = round(grid.lead_s * rate_hz)
    response = grid.sound(_face(skin.head, skin.microphone, rate_hz).knock_sound)[start:]
    response = response[: grid.count // 2]  # errors of the inversion grow at its end, see `laplace`
    response = np.pad(response, (0, max(round(length_s * rate_hz) - response.size, 0)))
    if skin.bristles is None:
        sound = pulsed(response, skin.striker.contact_s(force), rate_hz)
    else:
        sound = _brushed(response, skin.bristles, force, rate_hz, seed)
    if skin.glide:
        fall = np.exp(-2.0 * np.arange(sound.size) / (GLIDE_S * rate_hz))
        sound = warp(sound, skin.glide * force**2 * fall, 0)
    sound = sound[: round(length_s * rate_hz)]
    if skin.wires is not None:
        sound = sound + _rattle(sound, skin.wires, force, rate_hz, seed)
    return clicked(skin.striker, force, sound, rate_hz, seed)


@lru_cache(maxsize=4)
def _face(head: Head, microphone: Microphone, rate_hz: int) -> Face:
    s = _grid(rate_hz).s
    return head_face(s[::COARSE], head, microphone).between(s[::COARSE], s).lifted(s, microphone)


@lru_cache(maxsize=4)
def _grid(rate_hz: int) -> Grid:
    return Grid(rate_hz, 2 ** round(math.log2(WINDOW_S * rate_hz)))


def _brushed(
    response: Floats, bristles: Bristles, force: float, rate_hz: int, seed: Sequence[int]
) -> Floats:
    """The head struck by all wires of a brush, one after another."""
    random = np.random.default_rng(seed)
    spread_s = bristles.spread_ms / 1000.0
    if bristles.swept:  # in a circle: most blows in the middle of the turn
        times = (
            spread_s
            * (random.uniform(0, 1, bristles.count) + random.uniform(0, 1, bristles.count))
            / 2
        )
    else:
        times = spread_s * random.exponential(0.35, bristles.count)
    strengths = random.uniform(0.3, 1.0, bristles.count)
    shower = np.zeros(response.size)
    places = np.round(times * rate_hz).astype(int)
    inside = places < response.size
    np.add.at(shower, places[inside], strengths[inside])
    size = 2 ** math.ceil(math.log2(2 * response.size))
    both = np.fft.rfft(response, size) * np.fft.rfft(shower, size)
    sound = np.fft.irfft(both, size)[: response.size]
    return pulsed(sound, BRISTLE_S * force**-0.4, rate_hz)


def _rattle(sound: Floats, wires: Wires, force: float, rate_hz: int, seed: Sequence[int]) -> Floats:
    """The noise of the snare wires under a head with this sound."""
    motion = envelope(band(sound, 1.0, BODY_HZ, rate_hz), rate_hz, 0.006)
    # Wires that left the head go on bouncing after it has come to rest.
    growth = np.exp(T60 / wires.bounce_s * np.arange(sound.size) / rate_hz)
    bouncing = np.maximum.accumulate(motion * growth) / growth
    excess = np.maximum(bouncing / bouncing.max() - wires.lift / force, 0.0)
    delay = round(wires.late_ms / 1000.0 * rate_hz)
    excess = np.concatenate([np.zeros(delay), excess])[: sound.size]
    random = np.random.default_rng((*seed, 1))
    noise = band(
        random.uniform(-1.0, 1.0, sound.size), wires.low_hz, wires.high_hz * force**0.35, rate_hz
    )
    noise *= math.sqrt(np.mean(np.square(band(sound, 1.0, BODY_HZ, rate_hz))) / np.mean(noise**2))
    scale = math.sqrt(sound.size / (0.08 * rate_hz))
    return np.asarray(wires.level * scale * excess * noise)
