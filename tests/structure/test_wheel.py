"""The wheel by itself: its page, what it says of itself, and types for whoever uses it."""

from __future__ import annotations

import email
import re
import subprocess
import sys
import venv
import zipfile
from email.message import Message
from pathlib import Path

import numpy
import pytest

import accomp
from docs.wheel_page import wheel_page

ROOT = Path(__file__).parents[2]
pytestmark = pytest.mark.long

# What somebody writes who has never seen the source; every type is held against its name.
SCRIPT = """
from pathlib import Path
from typing import assert_type

import accomp
import accomp.tune
from accomp.tune import parse_tune

tune = accomp.tune("| C | A7 | D7 | G7 |", key="C", title="Porch Light", tempo=140)
assert_type(tune, accomp.Tune)
assert_type(accomp.read_tune("porch.toml"), accomp.Tune)
assert_type(accomp.read_tune(Path("porch.toml")), accomp.Tune)
assert_type(parse_tune("x"), accomp.Tune)
assert_type(tune.to_toml(), str)
assert_type(tune.to_toml("porch.toml"), Path)
assert_type(accomp.transpose_tune(tune, "F"), accomp.Tune)
player = accomp.player("tenor-banjo", hand="medium", reach_mm=95)
assert_type(player, accomp.Player)
assert_type(player.instrument, accomp.Instrument)
assert_type(player.hand, accomp.Hand)
shapes = accomp.shapes("C7", player, best=3)
assert_type(shapes, accomp.ChordShapes)
assert_type(shapes[0], accomp.Shape)
assert_type(shapes[:2], tuple[accomp.Shape, ...])
assert_type(accomp.playable_shapes("C7"), tuple[accomp.Shape, ...])
assert_type(accomp.find_hand("small"), accomp.Hand)
assert_type(accomp.find_instrument(), accomp.Instrument)
assert_type(accomp.find_style("two-beat"), accomp.Style)
positions = accomp.positions(tune, player, vocabulary="first")
assert_type(positions, accomp.Positions)
plan = positions["third-top"]
assert_type(plan, accomp.Plan)
assert_type(plan.boxes, tuple[tuple[accomp.Chord, accomp.Shape], ...])
assert_type([one.stretch_mm for one in positions], list[float])
assert_type(positions.lesson, accomp.Lesson)
piece = accomp.arrange(tune, player, plan, key="C", choruses=2, style="two-beat")
assert_type(piece, accomp.Piece)
assert_type(piece.arrangement, accomp.Arrangement)
performance = piece.perform(count_in=2)
assert_type(performance, accomp.Performance)
assert_type(performance.to_midi(), bytes)
assert_type(performance.to_midi("a.mid"), Path)
assert_type([note.start_s for track in performance.tracks for note in track.notes], list[float])
score = piece.score("notation", "Bb")
assert_type(score, accomp.Score)
assert_type(score.to_musicxml(), bytes)
assert_type(piece.to_musicxml("a.mxl"), Path)
assert_type(piece.to_pdf(paper="letter"), bytes)
assert_type(piece.to_pdf("a.pdf"), Path)
assert_type(piece.to_audio(group="player"), bytes)
audio = piece.audio(format="ogg")
assert_type(audio, accomp.Audio)
assert_type(audio.to_file("a.ogg"), Path)
samples, rate = audio.to_numpy()
assert_type(rate, int)
made = accomp.make_tune(tune, accomp.Options(keys=("C", "F")), "out")
assert_type(made, accomp.Manifest)
assert_type([file.sha256 for file in made.files], list[str])
try:
    accomp.parse_chord("H7")
except accomp.InputError as error:
    assert_type(error.problems, tuple[accomp.Problem, ...])
wish: accomp.Wished = {"key": "F", "closed": True}
accomp.positions(tune, player, **wish)
"""

WRONG = """
import accomp

tune = accomp.tune("| C |", tempo=120)
tune = accomp.tune("| C |", key="C", tempo="fast")
tune = accomp.tune("| C |", key="C", tmpo=3)
accomp.read_tune(3)
accomp.player(hand=3)
accomp.shapes("C7", best="x")
accomp.arrange(tune, choruses="2")
accomp.arrange("porch.toml")
accomp.find_hand(3)
accomp.Options(keys="C")
accomp.no_such_name
accomp.arrange(tune).to_midi(3)
"""


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    done = subprocess.run(
        [sys.executable, "-m", "build", "--wheel", "--outdir", folder, ROOT],
        capture_output=True, text=True, timeout=600, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    (found,) = folder.glob("*.whl")
    return found


@pytest.fixture(scope="module")
def facts(wheel: Path) -> Message:
    with zipfile.ZipFile(wheel) as archive:
        (name,) = (one for one in archive.namelist() if one.endswith(".dist-info/METADATA"))
        return email.message_from_bytes(archive.read(name))


def test_packed_fonts_come_along(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        found = {name for name in archive.namelist() if name.endswith(".flac")}
    wanted = {f"accomp/data/soundfonts/{path.name}" for path in ROOT.glob("soundfonts/*.flac")}
    assert len(wanted) >= 2
    assert found == wanted
    assert wheel.stat().st_size < 10e6


def test_its_page_is_readme_without_what_needs_the_source(facts: Message) -> None:
    page = bytes(facts.get_payload(decode=True)).decode()  # type: ignore[arg-type]
    assert page.strip() == wheel_page((ROOT / "README.md").read_text(encoding="utf-8")).strip()
    assert facts["Description-Content-Type"] == "text/markdown"


def test_what_it_says_of_itself(facts: Message) -> None:
    assert facts["Version"] == accomp.__version__
    assert re.fullmatch(r"\d+\.\d+\.\d+", accomp.__version__)  # semver.org 2.0.0, point 2
    changes = (ROOT / "CHANGELOG.md").read_text(encoding="utf-8")
    assert re.findall(r"(?m)^## (\d+\.\d+\.\d+)", changes)[0] == accomp.__version__
    assert "Typing :: Typed" in facts.get_all("Classifier", [])
    assert "banjo" in facts["Keywords"]
    assert "bridges" in facts.get_all("Provides-Extra", [])
    bridges = [r for r in facts.get_all("Requires-Dist", []) if "extra == 'bridges'" in r]
    names = {re.split(r"[^\w-]", one)[0].replace("-", "_") for one in bridges}
    assert names == {"mido", "music21", "pretty_midi"}
    assert facts.get_all("Project-URL") is None  # nobody hosts it


@pytest.fixture(scope="module")
def python(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An environment with the wheel in it, and what it needs from the one that tests run in."""
    folder = tmp_path_factory.mktemp("user")
    venv.create(folder, with_pip=False)
    interpreter = folder / "bin" / "python"
    asked = "import sysconfig; print(sysconfig.get_path('purelib'))"
    site = Path(subprocess.check_output([interpreter, "-c", asked], text=True).strip())
    with zipfile.ZipFile(wheel) as archive:  # a wheel of pure Python is installed by unpacking it
        archive.extractall(site)
    (site / "needed.pth").write_text(str(Path(numpy.__file__).parents[1]))
    return interpreter


def _mypy(python: Path, script: str, folder: Path, *more: str) -> str:
    path = folder / "script.py"
    path.write_text(script)
    done = subprocess.run(
        [sys.executable, "-m", "mypy", "--strict", "--python-executable", python, *more, path],
        capture_output=True, text=True, timeout=600, check=False, cwd=folder,
        env={"PATH": "/usr/bin:/bin", "HOME": str(folder)},
    )  # fmt: skip
    assert done.stderr == ""
    return done.stdout


def test_a_users_script_finds_types_everywhere(python: Path, tmp_path: Path) -> None:
    asked = "import accomp; print(accomp.__file__)"
    where = subprocess.check_output([python, "-E", "-c", asked], cwd=tmp_path)
    assert str(python.parent.parent) in where.decode()
    said = _mypy(python, SCRIPT, tmp_path, "--disallow-any-expr")
    assert said.startswith("Success"), said


def test_what_cannot_be_meant_is_seen_before_it_is_run(python: Path, tmp_path: Path) -> None:
    said = _mypy(python, WRONG, tmp_path)
    wrong = {int(line) for line in re.findall(r"script\.py:(\d+): error", said)}
    expected = {n for n, line in enumerate(WRONG.splitlines(), 1) if n > 3 and line}
    assert wrong == expected, said
