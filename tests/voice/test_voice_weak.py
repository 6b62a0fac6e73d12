"""The figures of what was weak in a first model stay better than they were."""

from __future__ import annotations

import re

import pytest

from benchmarks import voice_weak

pytestmark = pytest.mark.long


def test_each_weak_point_is_better() -> None:
    found = {
        figure: (before, after) for _, figure, before, after in voice_weak.rows(voice_weak.tenor())
    }

    def numbers(figure: str) -> tuple[float, float]:
        before, after = (float(re.findall(r"-?[\d.]+", text)[0]) for text in found[figure])
        return before, after

    assert numbers("correlation of down and up")[1] < 0.9
    assert numbers("greatest correlation of two in a row")[1] < 0.98
    assert numbers("fall of pitch from 30 to 500 ms, open fourth, hardest")[1] > 2.0
    ring = re.findall(
        r"-?\d+", found["what tension adds, 1-12 kHz, to the rest, hardest stroke"][1]
    )
    assert int(ring[0]) > -30
    assert int(ring[1]) > -12
