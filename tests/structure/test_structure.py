"""The shape of the house: the arrow between rooms, light imports, an exact public list."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import accomp

PACKAGE = Path(accomp.__file__).parent

# A room may import itself and rooms in groups to its left; rooms of one group do not know one
# another, but for `errors` and `files`.
ARROW = "errors files | harmony time voice | neck tune rhythm | score | write | job | cli"
GROUPS = [group.split() for group in ARROW.split("|")]
MODULES = sorted(PACKAGE.rglob("*.py"))


def _room(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def _allowed(room: str) -> set[str]:
    index = next(i for i, group in enumerate(GROUPS) if room in group)
    left = {name for group in GROUPS[:index] for name in group}
    return left | {room} | ({"errors"} if room == "files" else set())


def _imports(path: Path) -> set[str]:
    rooms = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        names = []
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            names = [node.module or ""]
        rooms |= {name.split(".")[1] for name in names if name.startswith("accomp.")}
    return rooms


@pytest.mark.parametrize(
    "path", [p for p in MODULES if p.parent != PACKAGE], ids=lambda p: str(p.relative_to(PACKAGE))
)
def test_arrow(path: Path) -> None:
    room = _room(path)
    for other in _imports(path):
        assert other in _allowed(room), f"{room} must not know {other}"


def test_every_room_is_in_the_arrow() -> None:
    rooms = {_room(path) for path in MODULES} - {"__init__", "__main__"}
    assert rooms == {room for group in GROUPS for room in group}


def test_the_arrow_catches_a_wrong_import(tmp_path: Path) -> None:
    module = tmp_path / "bad.py"
    module.write_text("from accomp.write.midi import midi_bytes\n")
    assert not _imports(module) <= _allowed("neck")


HEAVY = ("music21", "verovio", "fluidsynth", "scipy", "soundfile", "pyloudnorm", "pretty_midi",
         "typst", "numpy", "mido", "lxml")  # fmt: skip


@pytest.mark.parametrize("module", ["accomp", "accomp.cli", "accomp.tune", "accomp.neck"])
def test_imports_stay_light(module: str) -> None:
    code = f"import {module}, sys; print([m for m in {HEAVY!r} if m in sys.modules])"
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )
    assert done.stdout.strip() == "[]"


def test_public_list_is_exact() -> None:
    for name in accomp.__all__:
        assert getattr(accomp, name) is not None, name
    public = {name for name in dir(accomp) if not name.startswith("_")}
    assert set(accomp.__all__) <= public


def test_every_module_says_what_it_is() -> None:
    for path in MODULES:
        assert ast.get_docstring(ast.parse(path.read_text(encoding="utf-8"))), path
