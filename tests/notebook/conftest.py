"""A tune, a player and a piece that are made once."""

from __future__ import annotations

import pytest

import accomp

BARS = "| C | A7 | D7 | G7 C / / |"


@pytest.fixture(scope="session")
def tune() -> accomp.Tune:
    return accomp.tune(BARS, key="C", title="Porch Light", tempo=140)


@pytest.fixture(scope="session")
def piece(tune: accomp.Tune) -> accomp.Piece:
    return accomp.arrange(tune, "tenor-banjo", "third-top", style="two-beat", choruses=1)
