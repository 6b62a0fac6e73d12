"""What a plain install brings, and that the program does with it."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

import accomp

PACKAGE = Path(accomp.__file__).parent
PROJECT = tomllib.loads((PACKAGE.parent / "pyproject.toml").read_text(encoding="utf-8"))["project"]
# Packages whose modules have another name.
MODULES = {"pygame_ce": "pygame", "pyfluidsynth": "fluidsynth"}
HEAVY = ("scipy", "rich", "matplotlib", "music21", "pandas", "distributed", "dask")

BLOCKED = f"""
import importlib, pkgutil, sys
from dataclasses import replace
from pathlib import Path

class Nobody:
    def find_spec(self, name, path=None, target=None):
        if name.partition(".")[0] in {HEAVY!r}:
            raise ModuleNotFoundError(name)

sys.meta_path.insert(0, Nobody())
import accomp
for module in pkgutil.walk_packages(accomp.__path__, "accomp."):
    if not module.name.endswith("__main__"):
        importlib.import_module(module.name)

from accomp.voice.kit.parameters import read_kit
from accomp.voice.kit.sounds import layered
from accomp.voice.build import build
from accomp.voice.reader import read_voice
voice = read_voice(Path(sys.argv[1]))
small = replace(voice.layout, roots=(5,), window=16384)
first = replace(voice, strings=voice.strings[:1], layout=small,
                head=replace(voice.head, highest_hz=1500))
assert build(first)[:4] == b"RIFF"
kit = read_kit()
assert len(list(layered(replace(kit, sounds=kit.sounds[:1], layers=kit.layers[:1])))) == 1
"""


def _declared(*extras: str) -> set[str]:
    lines = [*PROJECT["dependencies"]]
    for extra in extras:
        lines += PROJECT["optional-dependencies"][extra]
    names = {re.split(r"[\s>=<!\[;]", line)[0].replace("-", "_") for line in lines}
    return {MODULES.get(name, name) for name in names}


@pytest.mark.slow
def test_what_is_imported_is_declared_and_what_is_declared_is_used() -> None:
    imported: set[str] = set()
    texts = ""
    for path in PACKAGE.rglob("*.py"):
        text = path.read_text(encoding="utf-8")
        texts += text
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.Import):
                imported |= {alias.name.split(".")[0] for alias in node.names}
            elif isinstance(node, ast.ImportFrom) and node.level == 0 and node.module:
                imported.add(node.module.split(".")[0])
    others = imported - set(sys.stdlib_module_names) - {"accomp"}
    assert others <= _declared("bridges", "cluster")
    assert not others & {"scipy", "rich"}
    unused = _declared() - others
    assert all(f'"{name}' in texts for name in unused), unused  # found by its name, as fonts are


@pytest.mark.slow
@pytest.mark.skipif(not (PACKAGE.parent / "soundfonts").is_dir(), reason="not in a checkout")
def test_everything_is_imported_and_modelled_without_heavy_libraries() -> None:
    parameters = PACKAGE.parent / "soundfonts" / "tenor-banjo.toml"
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", BLOCKED, str(parameters)],
        capture_output=True,
        text=True,
        timeout=600,
    )
    assert done.returncode == 0, done.stderr
