"""What README says is so: its files read, its commands and options exist."""

from __future__ import annotations

import re
from pathlib import Path

import click
import pytest

from accomp.cli.group import COMMANDS, cli
from accomp.rhythm import read_style
from accomp.tune import parse_tune

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
