"""Tunes come out, byte by byte, as they are kept to come out."""

import pytest
from reference_groups import TUNES

NAMES = list(TUNES.kept())


@pytest.mark.many(3, 100)
@pytest.mark.parametrize("name", NAMES)
def test_all_that_comes_of_a_tune_is_as_it_was(name: str) -> None:
    TUNES.judge([name])


def test_every_tune_is_kept() -> None:
    assert list(TUNES.names()) == NAMES
