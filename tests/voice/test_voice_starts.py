"""How a mixture begins, from its parts, against the mixture itself; and what frets are given."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from accomp.voice.laplace import Floats
from accomp.voice.measure import centroid_hz
from accomp.voice.parameters import Voice
from accomp.voice.starts import heard
from accomp.voice.uneven import unevenness_db
from benchmarks import voice_ear as ear
from benchmarks import voice_recorded as vr

RATE_HZ = ear.RATE_HZ
HZ = 220.0


def _sound(hz: float, rise_s: float, fall_s: float, at_s: float) -> Floats:
    since = np.maximum(np.arange(2 * RATE_HZ) / RATE_HZ - at_s, 0.0)
    level = np.exp(-since / fall_s) * (1.0 - np.exp(-since / rise_s))
    return np.asarray(0.2 * level * np.sin(2.0 * np.pi * hz * since))


PARTS = (_sound(HZ, 0.004, 0.2, 0.005), _sound(3 * HZ, 0.001, 0.1, 0.005))
TAP = _sound(350.0, 0.002, 0.02, 0.01)


@pytest.mark.parametrize("weights", [(1.0, 0.5, 0.0), (0.7, -0.4, 2.0)])
def test_a_mixture_begins_as_its_parts_say(weights: tuple[float, ...]) -> None:
    sounds = (*PARTS, TAP)
    whole = sum(weight * sound for weight, sound in zip(weights, sounds, strict=True))
    assert isinstance(whole, np.ndarray)
    said = heard(sounds, RATE_HZ, HZ).start(weights)
    found = vr.heard(whole, 57)
    assert said.attacks_s[0] * 1000.0 - 0.15 <= found.attack_ms <= said.attacks_s[1] * 1000.0 + 0.15
    assert said.peaks_s[0] * 1000.0 - 0.15 <= found.peak_ms <= said.peaks_s[1] * 1000.0 + 0.15
    assert said.crest_db == pytest.approx(found.crest_db, abs=0.1)
    assert said.centroid_hz == pytest.approx(centroid_hz(whole, RATE_HZ), rel=0.01)


def test_a_glance_at_many_mixtures_never_says_that_one_is_worse_than_it_is() -> None:
    """What is passed over for a glance would not have been chosen; here the parts are in two."""
    ear_ = heard((*PARTS, TAP, np.roll(TAP, 500)), RATE_HZ, HZ)
    parts_sum, shares = ear_.parts_sum((0.7, -0.4)), np.array((0.3, 1.0, 2.0, 4.0))
    tight = 0
    for number in range(2):
        crests_db, centroids_hz = parts_sum.glance(number, shares)
        for share, crest_db, centroid in zip(shares, crests_db, centroids_hz, strict=True):
            knocks = [float(share) if each == number else 0.0 for each in range(2)]
            start = parts_sum.start(knocks)
            assert start == ear_.start((0.7, -0.4, *knocks))
            assert crest_db <= start.crest_db + 1e-9
            assert centroid == pytest.approx(start.centroid_hz, rel=1e-9)
            tight += crest_db == pytest.approx(start.crest_db, abs=1e-9)
    assert tight >= 6, "else a glance is of no use"


def test_played_for_a_higher_and_a_lower_fret_it_begins_sooner_and_later() -> None:
    one, higher = (heard(PARTS, RATE_HZ * speed, HZ * speed) for speed in (1.0, 1.1))
    both = heard(PARTS, RATE_HZ * 1.1, HZ * 1.1, slowest=0.9 / 1.1).start((1.0, 1.0))
    own, sooner = one.start((1.0, 1.0)), higher.start((1.0, 1.0))
    assert sooner.attacks_s[0] == pytest.approx(own.attacks_s[0] / 1.1, rel=0.1)
    assert both.attacks_s[0] == pytest.approx(sooner.attacks_s[0])
    assert both.peaks_s[1] == pytest.approx(sooner.peaks_s[1] * 1.1 / 0.9)


def test_notes_are_uneven_but_no_semitones_are_far_apart(banjo: Voice) -> None:
    rows = unevenness_db(banjo)
    levels: dict[int, list[float]] = {}
    for string, row in zip(banjo.strings, rows, strict=True):
        assert len(row) == banjo.neck.frets + 1
        assert np.abs(np.diff(row)).max() <= 2.3
        levels[string.pitch] = list(row)
    for low, high in ((48, 55), (55, 62), (62, 69)):  # from the last fret below to the open string
        assert abs(levels[low][high - 1 - low] - levels[high][0]) <= 2.3
    assert 1.0 < np.std(rows) < 2.0
    assert rows == unevenness_db(banjo)
    flat = replace(banjo, plectrum=replace(banjo.plectrum, spread_db=0.0))
    assert np.abs(unevenness_db(flat)).max() == 0.0
