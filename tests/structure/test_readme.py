"""What README says is so: its files read, its commands and options exist."""

from __future__ import annotations

import re
from pathlib import Path

import click
import pytest

from accomp.cli.group import COMMANDS, cli
from accomp.rhythm import read_style
from accomp.tune import parse_tune
from docs.wheel_page import wheel_page

ROOT = Path(__file__).parent.parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"```(\w*)\n(.*?)```", README, re.DOTALL)
TOML = [text for kind, text in BLOCKS if kind == "toml"]


def test_the_job_stands_first_and_then_the_two_commands() -> None:
    job, commands = README.split("\n\n")[1], BLOCKS[0][1]
    assert "play-along" in job
    assert [line.split()[:2] for line in commands.strip().splitlines()] == [
        ["make", "demo"],
        ["make", "test"],
    ]


def test_its_tune_and_style_files_read(tmp_path: Path) -> None:
    tunes = [text for text in TOML if "[sections]" in text]
    styles = [text for text in TOML if "[strum]" in text]
    assert tunes
    assert styles
    for text in tunes:
        assert parse_tune(text, "README.md").notices == ()
    for text in styles:
        path = tmp_path / "style.toml"
        path.write_text(text, encoding="utf-8")
        assert read_style(path).strum.strokes


@pytest.mark.slow
def test_its_python_runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    blocks = [text for kind, text in BLOCKS if kind == "python"]
    assert blocks
    monkeypatch.chdir(tmp_path)
    for text in blocks:
        exec(compile(text, "README.md", "exec"), {"__name__": "__main__"})
    made = {path.suffix: path.stat().st_size for path in tmp_path.iterdir()}
    assert made.keys() == {".mid", ".musicxml", ".pdf", ".flac"}
    assert min(made.values()) > 500


def test_the_page_of_the_wheel_needs_no_source_beside_it() -> None:
    page = wheel_page(README)
    assert re.findall(r"\]\((?!https?:|#)[^)]*\)", page) == []
    assert "![" not in page
    assert "<!--" not in page
    for word in ("make demo", "make test", "make docs", "examples", ".venv", "make pictures"):
        assert word not in page, word
    assert "pip install accomp" in page
    # What it says beside that is all still there.
    for heading in re.findall(r"(?m)^#+ .*", README):
        assert heading in page, heading


def test_what_is_left_out_for_the_wheel() -> None:
    text = (
        "one [two](three.md) [four](https://five.six)\n\n![a](b.png)\n\n*A caption.*\n\n"
        "*Words.*\n\n<!-- source only -->\nhere\n\n<!-- end -->\n<!-- wheel only\nthere\n\n-->\n"
        "| ![c](d.png) | ![e](f.png) |\n|---|---|\n\nend\n"
    )
    kept = "one two [four](https://five.six)\n\n*Words.*\n\nthere\n\nend\n"
    assert wheel_page(text) == kept


def _commands() -> list[str]:
    lines = [line.split("#")[0] for _, text in BLOCKS for line in text.splitlines()]
    inline = re.findall(r"`(accomp [^`]*)`", README)
    return [line.strip() for line in (*lines, *inline) if line.strip().startswith("accomp ")]


@pytest.mark.parametrize("line", _commands())
def test_its_commands_and_options_exist(line: str) -> None:
    name = line.split()[1].rstrip(",")
    assert name in COMMANDS, name
    command = cli.get_command(click.Context(cli), name)
    assert command is not None
    known = {option for param in command.params for option in (*param.opts, *param.secondary_opts)}
    for option in re.findall(r"(?<!\S)--[a-z-]+", line):
        assert option in known, f"{name} {option}"


def test_every_option_it_names_belongs_to_a_command() -> None:
    known = {"--help", "--json"}
    for name in COMMANDS:
        command = cli.get_command(click.Context(cli), name)
        assert command is not None
        known |= {o for param in command.params for o in (*param.opts, *param.secondary_opts)}
    for option in re.findall(r"`(--[a-z-]+)", README):
        assert option in known, option


def test_its_pictures_are_there() -> None:
    pictures = re.findall(r"!\[[^\]]*\]\(([^)]*)\)", README)
    assert pictures
    for picture in pictures:
        assert (ROOT / picture).stat().st_size > 1000, picture
