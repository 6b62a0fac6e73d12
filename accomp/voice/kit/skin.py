"""Drums: a head over the air in its shell, snare wires, brushes.

The head is the banjo's (`accomp.voice.head`): a round membrane's modes with the air they move and
radiate. The air in the shell ties it to the lower head, whose lowest mode stands for the opening of
a pot: so the lowest mode comes as a pair, as on real drums (Rossing, Bork, Zhao & Fystrom, JASA 92,
1992, 84). A hard blow tightens the head, and the pitch falls as it dies away.

Wires lie on the lower head. While it moves less than they can follow they stay there; thrown off,
they come back as so many small blows (the same authors: they rattle above a threshold, the harder
the longer). Here that is noise whose level follows what the head's motion has over the threshold,
and whose upper end rises with the speed of the blows.

A brush is a hundred wires that arrive one after another: the same head, struck by a shower.
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
COARSE = 2  # see Face.between
BODY_HZ = 500.0  # what moves the lower head lies below
GLIDE_S = 0.06  # no source: as the lowest mode dies away
BRISTLE_S = 0.00012  # how long one wire touches; no source


def skin_sound(
    skin: Skin, force: float, length_s: float, rate_hz: int, seed: Sequence[int]
) -> Floats:
    """One blow."""
    grid = _grid(rate_hz)
    start = round(grid.lead_s * rate_hz)
    answer = grid.sound(_face(skin.head, skin.microphone, rate_hz).knock_sound)[start:]
    answer = answer[: grid.count // 2]  # what comes later is of no use, see `Grid`
    answer = np.pad(answer, (0, max(round(length_s * rate_hz) - answer.size, 0)))
    if skin.bristles is None:
        sound = pulsed(answer, skin.striker.contact_s(force), rate_hz)
    else:
        sound = _brushed(answer, skin.bristles, force, rate_hz, seed)
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
    answer: Floats, bristles: Bristles, force: float, rate_hz: int, seed: Sequence[int]
) -> Floats:
    """The head under a shower of wires, the denser the harder."""
    random = np.random.default_rng(seed)
    spread_s = bristles.spread_ms / 1000.0
    if bristles.swept:  # round and round: most in the middle of the turn
        times = (
            spread_s
            * (random.uniform(0, 1, bristles.count) + random.uniform(0, 1, bristles.count))
            / 2
        )
    else:
        times = spread_s * random.exponential(0.35, bristles.count)
    strengths = random.uniform(0.3, 1.0, bristles.count)
    shower = np.zeros(answer.size)
    places = np.round(times * rate_hz).astype(int)
    inside = places < answer.size
    np.add.at(shower, places[inside], strengths[inside])
    size = 2 ** math.ceil(math.log2(2 * answer.size))
    both = np.fft.rfft(answer, size) * np.fft.rfft(shower, size)
    sound = np.fft.irfft(both, size)[: answer.size]
    return pulsed(sound, BRISTLE_S * force**-0.4, rate_hz)


def _rattle(sound: Floats, wires: Wires, force: float, rate_hz: int, seed: Sequence[int]) -> Floats:
    """The wires under a head that sounds like this."""
    moved = envelope(band(sound, 1.0, BODY_HZ, rate_hz), rate_hz, 0.006)
    # Once thrown off, wires go on bouncing while the head is at rest again.
    growth = np.exp(T60 / wires.bounce_s * np.arange(sound.size) / rate_hz)
    bouncing = np.maximum.accumulate(moved * growth) / growth
    over = np.maximum(bouncing / bouncing.max() - wires.lift / force, 0.0)
    late = round(wires.late_ms / 1000.0 * rate_hz)
    over = np.concatenate([np.zeros(late), over])[: sound.size]
    random = np.random.default_rng((*seed, 1))
    noise = band(
        random.uniform(-1.0, 1.0, sound.size), wires.low_hz, wires.high_hz * force**0.35, rate_hz
    )
    noise *= math.sqrt(np.mean(np.square(band(sound, 1.0, BODY_HZ, rate_hz))) / np.mean(noise**2))
    scale = math.sqrt(sound.size / (0.08 * rate_hz))
    return np.asarray(wires.level * scale * over * noise)
