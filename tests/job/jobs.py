"""A small tune and options for tests of the job."""

from __future__ import annotations

from pathlib import Path

from accomp.job.options import Options
from accomp.tune import Tune, parse_tune

TEXT = """title = "Small Tune"
key = "C"
meter = "4/4"
tempo = 160
style = "four-light-heavy"
[sections]
A = "| C | F G7 | C A7 | Dm G7 |"
"""


def small(text: str = TEXT) -> Tune:
    return parse_tune(text, "small.toml")


PAPER = Options(only=("midi", "musicxml"))


def bytes_of(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}
