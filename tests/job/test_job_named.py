"""Styles and instruments of one's own."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from pathlib import Path

import pytest
from jobs import PAPER, TEXT

from accomp.errors import InputError
from accomp.job.make import make_tune
from accomp.job.named import find_player
from accomp.job.options import Options
from accomp.job.request import resolve
from accomp.tune import read_tune

STYLE = """title = "Mine"
meter = "4/4"
tempo = [60, 200]
right_hand = "All down."
[strum]
count = "1 2 3 4"
"""
INSTRUMENT = """title = "Long Neck"
strings = ["C3", "G3", "D4", "A4"]
frets = 22
scale = 660
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "mine.toml").write_text(STYLE)
    (tmp_path / "long.toml").write_text(INSTRUMENT)
    text = TEXT.replace('"four-light-heavy"', '"mine.toml"\ninstrument = "long.toml"')
    (tmp_path / "tune.toml").write_text(text)
    return tmp_path


def test_a_tune_names_files_beside_it(folder: Path) -> None:
    manifest = make_tune(read_tune(folder / "tune.toml"), PAPER, folder / "out")
    assert {file.style for file in manifest.files} == {"mine"}
    assert manifest.tracks[0].name == "Long Neck"


def test_options_name_files_anywhere(folder: Path) -> None:
    (folder / "plain.toml").write_text(TEXT)
    options = replace(PAPER, style=str(folder / "mine.toml"), instrument=str(folder / "long.toml"))
    manifest = make_tune(read_tune(folder / "plain.toml"), options, folder / "out")
    assert {file.style for file in manifest.files} == {"mine"}


@pytest.mark.parametrize("name", ["../mine.toml", "/etc/mine.toml", "C:mine.toml", "a\\\\b.toml"])
def test_a_tune_cannot_lead_out_of_its_folder(folder: Path, name: str) -> None:
    text = TEXT.replace("four-light-heavy", name)
    (folder / "tune.toml").write_text(text)
    with pytest.raises(InputError, match=r"tune.toml:5:9: .*own folder"):
        make_tune(read_tune(folder / "tune.toml"), PAPER, folder / "out")


def test_an_instrument_that_is_none_is_told_by_the_option_that_named_it(folder: Path) -> None:
    (folder / "plain.toml").write_text(TEXT)
    tune = read_tune(folder / "plain.toml")
    for setting in ("instrument", "usual_instrument"):
        options = Options(**{setting: "nosuch"})  # type: ignore[arg-type]
        for asked in (partial(resolve, tune, options), partial(find_player, options)):
            with pytest.raises(InputError, match="'nosuch' is not an instrument") as caught:
                asked()
            assert [problem.setting for problem in caught.value.problems] == [setting]


def test_a_file_that_is_not_there_is_told_with_the_option_that_named_it(tmp_path: Path) -> None:
    gone, torn = str(tmp_path / "gone.toml"), tmp_path / "torn.toml"
    for setting in ("instrument", "usual_instrument", "hand", "repertoire", "costs"):
        with pytest.raises(InputError, match=f"^{gone}: there is no such file") as caught:
            find_player(Options(**{setting: gone}))  # type: ignore[arg-type]
        (problem,) = caught.value.problems
        assert (problem.file, problem.setting) == (gone, setting)
    torn.write_text("title = 1\n")
    with pytest.raises(InputError) as caught:
        find_player(Options(costs=torn))
    assert {(one.file, bool(one.line), one.setting) for one in caught.value.problems} == {
        (str(torn), True, "")  # there the place says it
    }
