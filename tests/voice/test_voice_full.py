"""The whole tenor banjo: every fret of every string, built anew. Minutes, so not every day."""

from __future__ import annotations

import hashlib
import json
import os
import platform
import subprocess
import sys

import figure_checks as check
import numpy as np
import pytest

from accomp.files.data import find, folders
from accomp.voice.build import build
from accomp.voice.kit import MODELLED_FONT, modelled
from accomp.voice.parameters import Voice
from benchmarks import voice_ear as ear
from benchmarks import voice_recorded
from benchmarks.voice_figures import NoteFigures, all_figures

pytestmark = pytest.mark.long


@pytest.fixture(scope="module")
def full(banjo: Voice) -> bytes:
    """The font."""
    return build(banjo)


@pytest.fixture(scope="module")
def player(full: bytes, tmp_path_factory: pytest.TempPathFactory) -> ear.Player:
    path = tmp_path_factory.mktemp("full") / "tenor-banjo.sf2"
    path.write_bytes(full)
    return ear.Player(path)


@pytest.fixture(scope="module")
def notes(player: ear.Player) -> list[NoteFigures]:
    return all_figures(player, range(20))


def test_size(full: bytes) -> None:
    assert len(full) < 20_000_000


@pytest.mark.parametrize("name", ["tenor-banjo", MODELLED_FONT])
def test_manifest(name: str, full: bytes) -> None:
    """What is built is what comes along packed, which everyday tests hold against the same sums."""
    data = full if name == "tenor-banjo" else modelled()
    path = next(folder / "manifest.json" for folder in folders("soundfonts"))
    said = json.loads(path.read_text(encoding="utf-8"))
    made_with = {"numpy": np.__version__}
    if said["made_with"] != made_with:
        pytest.skip(f"the manifest was made with {said['made_with']}, this is {made_with}")
    entry = said["voices"][name]
    assert hashlib.sha256(data).hexdigest() == entry["sha256"]
    assert len(data) == entry["bytes"]


SCRIPT = """
import hashlib, sys
from dataclasses import replace
from pathlib import Path
from accomp.voice.build import build
from accomp.voice.reader import read_voice
voice = read_voice(Path(sys.argv[1]))
small = replace(voice, layout=replace(voice.layout, roots=(5, 11)))
print(hashlib.sha256(build(small)).hexdigest())
"""


@pytest.mark.skipif(platform.machine() not in ("x86_64", "AMD64"), reason="names of x86 features")
def test_other_processors_make_the_same_bytes() -> None:
    """numpy's own functions differ in their last bit without the newer instructions, and OpenBLAS
    sums in another order: the samples come out the same.
    """
    path = find("soundfonts", "tenor-banjo")
    older = {"NPY_DISABLE_CPU_FEATURES": "X86_V4 X86_V3", "OPENBLAS_CORETYPE": "Nehalem"}
    made = [
        subprocess.run(
            [sys.executable, "-W", "ignore", "-c", SCRIPT, str(path)],
            check=True, capture_output=True, text=True, env={**os.environ, **changed},
        ).stdout
        for changed in ({}, older)
    ]  # fmt: skip
    assert made[0] == made[1]


def test_tuning(notes: list[NoteFigures]) -> None:
    check.check_tuning(notes)


def test_levels(notes: list[NoteFigures]) -> None:
    check.check_levels(notes)


def test_what_a_recorded_banjo_measures(player: ear.Player) -> None:
    forte, piano = (list(voice_recorded.notes(player, v)) for v in (91, 64))
    rows = voice_recorded.summary(forte, piano)
    check.check_recorded(rows)
    # On every fret, though the transient of a key is that of its root, played faster or slower.
    attack, peak, crest = rows["notes within"]
    assert attack >= 97.5
    assert peak >= 97.5
    assert crest >= 97.5


def test_decay(notes: list[NoteFigures]) -> None:
    check.check_decay(notes)


def test_brightness(notes: list[NoteFigures]) -> None:
    check.check_brightness(notes)


def test_takes(player: ear.Player) -> None:
    check.check_takes(player, range(0, 20, 2))


def test_chokes(player: ear.Player) -> None:
    check.check_chokes(player, range(0, 20, 2))


def test_dead(player: ear.Player) -> None:
    check.check_dead(player)


def test_formants(player: ear.Player) -> None:
    check.check_formants(player, range(12))


def test_not_worse_than_the_general_midi_banjo(player: ear.Player) -> None:
    """What it was made for: that font's choked bar never gets quiet, its force changes nothing."""
    plain = ear.Player(ear.general_midi())
    from benchmarks.voice_figures import before_next_db, choked_bar

    ours = before_next_db(player.play(choked_bar(), 8 / 3))
    theirs = before_next_db(plain.play(choked_bar(plain=True), 8 / 3))
    assert ours < theirs - 20.0
    rise = [
        ear.centroid_hz(plain.note(60, 120)) / ear.centroid_hz(plain.note(60, 40)),
        ear.centroid_hz(player.note(60, 120, 24)) / ear.centroid_hz(player.note(60, 40, 24)),
    ]
    assert rise[0] == pytest.approx(1.0, abs=0.05)
    assert rise[1] > 1.3
