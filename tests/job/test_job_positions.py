"""Which position a job takes: closed where the style chokes, unless told otherwise."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from jobs import PAPER, TEXT, small

from accomp.job.make import make_tune
from accomp.job.options import Options

CHOKED = TEXT.replace("four-light-heavy", "choked-four")
RINGING = TEXT.replace("four-light-heavy", "plain-four-four")


def frets(folder: Path, tune: str, **options: object) -> tuple[str, tuple[str, ...]]:
    """Position and notices of a tune."""
    manifest = make_tune(small(tune), replace(PAPER, only=("midi",), **options), folder)
    return manifest.files[0].position, manifest.notices


def test_a_choked_style_takes_a_closed_position(tmp_path: Path) -> None:
    position, notices = frets(tmp_path / "choked", CHOKED)
    assert not any("ring on" in notice for notice in notices)
    open_one, _ = frets(tmp_path / "ringing", RINGING)
    assert open_one == "root-top"  # 0 0 2 3 and its neighbours
    assert position == "fifth-top"  # 7 9 10 10: closed


def test_an_open_position_by_name_says_which_bars_ring(tmp_path: Path) -> None:
    position, notices = frets(tmp_path, CHOKED, positions=("root-top",))
    assert position == "root-top"
    assert any("ring on in the chords of bars 1" in notice for notice in notices)


def test_open_and_closed_are_obeyed(tmp_path: Path) -> None:
    assert frets(tmp_path / "open", CHOKED, closed=False)[0] == "root-top"
    position, _ = frets(tmp_path / "closed", RINGING, closed=True)
    assert position != "root-top"


def test_a_fret_for_the_index_finger(tmp_path: Path) -> None:
    assert frets(tmp_path, RINGING, positions=("4",))[0] == "fret-4"


def test_choruses_may_have_their_own_positions(tmp_path: Path) -> None:
    text = RINGING + '[[chorus]]\nposition = "root-top"\n[[chorus]]\nposition = "third-top"\n'
    assert frets(tmp_path, text)[0] == "root-top+third-top"
    assert Options().choruses is None


def test_a_position_that_is_not_there_is_told_in_its_place(tmp_path: Path) -> None:
    text = RINGING + '[[chorus]]\nposition = "ninth-top"\n'
    with pytest.raises(Exception, match=r"small.toml:9:12: .*'ninth-top'.*root-top"):
        frets(tmp_path, text)


def test_of_positions_that_lie_about_equally_well_the_lower_is_taken(tmp_path: Path) -> None:
    # Third-top from fret 2 and fifth-top from fret 5 cost the same within a twentieth.
    text = CHOKED.replace('key = "C"', 'key = "Bb"').replace(
        "| C | F G7 | C A7 | Dm G7 |", "| Bb Dm | Gm Eb | F7 |"
    )
    assert frets(tmp_path, text)[0] == "third-top"
