"""Bars played are bars printed: whoever follows the page plays what the track plays.

The page (MusicXML) is followed by music21 and partitura, the track (MIDI) read by mido; see
`road.py`.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from road import midi_bars, music21_order, partitura_orders, written_bars

from accomp.cli import run

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.toml"))
TIMES = re.compile(rb' times="[0-9]+"')


def made(tune: Path, out: Path, *words: object) -> tuple[Path, Path]:
    """The MIDI and the MusicXML file of a tune."""
    only = ("--only", "midi", "--only", "musicxml")
    assert run(["make", str(tune), "--out", str(out), *only, *map(str, words)]) == 0
    (midi,), (score,) = out.glob("*.mid"), out.glob("*.musicxml")
    return midi, score


def judge(midi: Path, score: Path, partitura) -> int:
    """The page leads through the bars of the track; how many these are."""
    played, page = midi_bars(midi), written_bars(score)
    order = [name for name in music21_order(score) if name != "0"]  # a pickup is no bar
    assert [page[name] for name in order] == played
    if TIMES.search(score.read_bytes()):  # which partitura does not read
        score = score.with_name("twice.musicxml")
        score.write_bytes(
            TIMES.sub(b"", (score.parent / next(score.parent.glob("*_*.musicxml"))).read_bytes())
        )
        order = [name for name in music21_order(score) if name != "0"]
    orders = partitura_orders(partitura, score)
    assert order in [[name for name in one if name != "0"] for one in orders]
    return len(played)


@pytest.mark.long
@pytest.mark.parametrize("choruses", [1, 2, 5])
@pytest.mark.parametrize("example", EXAMPLES, ids=lambda path: path.stem)
def test_examples(example, choruses, partitura, tmp_path):
    midi, score = made(example, tmp_path, "--choruses", choruses)
    assert judge(midi, score, partitura) >= choruses * 8
