"""What the documents name is there: modules, folders and data files, and what `make` can make."""

from __future__ import annotations

import ast
import re
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent.parent
DOCUMENTS = ("README.md", "CHANGELOG.md", "DEVELOPERS.md", "soundfonts/README.md")
# Where a name in a document may begin.
PACKAGE = ROOT / "accomp"
ROOMS = (ROOT, PACKAGE, PACKAGE / "data", PACKAGE / "web" / "script", PACKAGE / "web" / "built",
         PACKAGE / "web" / "desk")  # fmt: skip
# Written by the program or by people; the wheel's copies of folders of the checkout.
IN_WHEEL = {"accomp/data/styles/", "accomp/data/soundfonts/"}
MADE = {"manifest.json", "docs/site", "book.toml", "porch-light.toml", "demo/"}
ELSEWHERE = {"F/C", *MADE, *IN_WHEEL}


def _named(text: str) -> set[str]:
    """Paths in code quotes: with a folder, or with an ending of ours."""
    quoted = re.findall(r"`([\w./-]+)`", text)
    endings = (".py", ".toml", ".ts", ".json", ".md")
    return {
        word for word in quoted if ("/" in word or word.endswith(endings)) and word.strip("./")
    } - ELSEWHERE


@pytest.mark.parametrize("document", DOCUMENTS)
def test_paths_that_a_document_names_exist(document: str) -> None:
    named = _named((ROOT / document).read_text(encoding="utf-8"))
    named = {word for word in named if not word.startswith((".", "/"))}
    assert {word for word in named if not any((room / word).exists() for room in ROOMS)} == set()


def test_a_path_that_is_not_there_is_seen() -> None:
    named = _named("`job/none.py`, `spread_ms`, `4/4 time`, `voice/`, `plan.ts`")
    assert named == {"job/none.py", "voice/", "plan.ts"}


# Of Python's own library; chord symbols; a name that begins others ("Written...").
_OTHERS = {"Fraction", "Literal", "ModuleType", "StrEnum", "Bdim", "Gm7b5", "Written"}


def _types(text: str) -> set[str]:
    """Names of types in code quotes, with what is asked of them or without."""
    return set(re.findall(r"`([A-Z][a-z]\w*)(?:[.(\[][^`]*)?`", text)) - _OTHERS


@cache
def _named_types() -> frozenset[str]:
    """Classes and top-level names of the package."""
    trees = [ast.parse(path.read_text(encoding="utf-8")) for path in PACKAGE.rglob("*.py")]
    named = {one.name for tree in trees for one in ast.walk(tree) if isinstance(one, ast.ClassDef)}
    named |= {
        target.id
        for tree in trees
        for one in tree.body
        if isinstance(one, ast.Assign)
        for target in one.targets
        if isinstance(target, ast.Name)
    }
    return frozenset(named)


@pytest.mark.parametrize("document", DOCUMENTS)
def test_types_that_a_document_names_exist(document: str) -> None:
    assert _types((ROOT / document).read_text(encoding="utf-8")) - _named_types() == set()
    assert _types("`Nobody`, `Nobody.else`, `Options(keys=())`, `PAPERS`, `make`") == {
        "Nobody", "Options",
    }  # fmt: skip


@pytest.mark.parametrize("document", DOCUMENTS)
def test_modules_and_targets_that_a_document_names_exist(document: str) -> None:
    text = (ROOT / document).read_text(encoding="utf-8")
    for module in re.findall(r"python -m (benchmarks\.\w+|docs\.\w+)", re.sub(r"\s+", " ", text)):
        assert (ROOT / f"{module.replace('.', '/')}.py").is_file(), module
    makefile = (ROOT / "Makefile").read_text(encoding="utf-8")
    targets = set(re.findall(r"(?m)^([a-z-]+):", makefile))
    for target in re.findall(r"(?m)(?:^ *|`|  )make ([a-z-]+)(?=`| {2}|$)", text):
        assert target in targets, target
