"""The examples in docstrings are true."""

from __future__ import annotations

import doctest
import importlib
from pathlib import Path

import pytest

import accomp

PACKAGE = Path(accomp.__file__).parent


def _with_examples() -> list[str]:
    """The modules that show something being typed."""
    found = []
    for path in sorted(PACKAGE.rglob("*.py")):
        if ">>>" in path.read_text(encoding="utf-8"):
            parts = path.relative_to(PACKAGE.parent).with_suffix("").parts
            found.append(".".join(parts).removesuffix(".__init__"))
    return found


@pytest.mark.parametrize("name", _with_examples())
def test_the_examples_of_a_module_are_true(name: str) -> None:
    result = doctest.testmod(importlib.import_module(name), optionflags=doctest.ELLIPSIS)
    assert result.attempted > 0
    assert result.failed == 0


def test_the_public_calls_have_examples() -> None:
    assert {"accomp", "accomp.tune.coded", "accomp.notebook.making"} <= set(_with_examples())
