"""Mixes of whole styles in figures, by the report that DEVELOPERS.md's figures come from."""

from __future__ import annotations

import pytest

from benchmarks.mix_report import SOME, figures

BALLADS = {"tremolo-ballad", "slow-twelve-eight", "bolero", "slow-drag"}


@pytest.mark.long
@pytest.mark.parametrize("style", SOME)
def test_a_style_s_mix(style: str) -> None:
    found = figures(style)
    assert abs(found.balance_db) < 1
    assert 4 <= found.player_db <= 6
    assert abs(found.count_in_lu) < 3
    assert found.comping_db is None or found.comping_db >= -8
    assert found.lufs >= (-17.5 if style in BALLADS else -16.5)
    assert found.lufs <= -15.5
    assert found.dbtp <= -1.0
    assert found.under_30_hz_db < -22
    assert 0.3 <= found.silence_s <= 0.5
    if not style.startswith("plain"):
        assert found.range_lu >= 2
