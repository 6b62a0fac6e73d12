"""Reading takes steps as a file is long, whatever stands in it: counted, not timed."""

from __future__ import annotations

import ast
import contextlib
import importlib
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from growth import calls, grows_linearly, is_linear, pumped, tries

import accomp.intake
from accomp.errors import InputError
from accomp.intake import read_leadsheet

MODULES = sorted(Path(accomp.intake.__file__).parent.glob("*.py"))
ANCHORED = {"match", "fullmatch"}
HEAD = "X:1\nM:4/4\nK:C\n"


def patterns() -> Iterator[tuple[str, re.Pattern[str], bool]]:
    """Every pattern that the room searches in texts: its place, itself, whether it is looked for
    anywhere, or at the beginning only."""
    trees = {path.stem: ast.parse(path.read_text(encoding="utf-8")) for path in MODULES}
    found = [
        call
        for tree in trees.values()
        for call in ast.walk(tree)
        if isinstance(call, ast.Call)
        and isinstance(call.func, ast.Attribute)
        and isinstance(call.func.value, ast.Name)
    ]
    used: dict[str, set[str]] = {}
    for call in found:
        assert isinstance(call.func, ast.Attribute)
        name = ast.unparse(call.func.value)
        used.setdefault(name, set()).add(call.func.attr)
        first = call.args[0] if call.args else None
        if name == "re" and call.func.attr != "compile" and isinstance(first, ast.Constant):
            text = str(first.value)
            yield text, re.compile(text), call.func.attr not in ANCHORED
    for stem in trees:
        for name, value in vars(importlib.import_module(f"accomp.intake.{stem}")).items():
            if isinstance(value, re.Pattern) and isinstance(value.pattern, str):
                yield f"{stem}.{name}", value, not used.get(name, set()) <= ANCHORED


PATTERNS = {name: (pattern, anywhere) for name, pattern, anywhere in patterns()}


@pytest.mark.parametrize("name", PATTERNS)
def test_no_pattern_goes_back_over_what_it_has_seen(name: str) -> None:
    pattern, anywhere = PATTERNS[name]
    for small, twice in zip(pumped(pattern, 40), pumped(pattern, 80), strict=True):
        steps = [tries(pattern, text, anywhere=anywhere) for text in (small, twice)]
        assert is_linear(*steps), (small, steps)


@pytest.mark.parametrize(
    ("pattern", "text", "linear"),
    [
        (r"\[V:\s*[^\]\[\s]+[^\]\[]*\]", "[V:aaaa", False),
        (r"\[V:\s*+[^\]\[\s]++[^\]\[]*+\]", "[V:aaaa", True),
        (r"\(\s*([^()]+?)\s*\)", "(    ", False),
        (r"\s*/\s*", "     ", False),
        (r"(?<!\\)%.*", "\\%\\%\\%", True),
    ],
)
def test_a_pattern_that_goes_back_is_seen(pattern: str, text: str, linear: bool) -> None:
    compiled = re.compile(pattern)
    small, twice = (text + text[-1] * more for more in (50, 100))
    assert is_linear(tries(compiled, small), tries(compiled, twice)) == linear


# Signs that open something, and nothing that closes it.
@pytest.mark.parametrize(
    "text",
    [
        "{", "[", "[a:", '"', "!a", "[V:1 ", '"C"c/9999 ', "|:[1c", "[CEG]", "(3abc", "a>b", "&c|",
        "c-", '"C"c|', "Z9|",
    ],
)  # fmt: skip
def test_nonsense_takes_steps_with_its_length(tmp_path: Path, text: str) -> None:
    def read(times: int) -> None:
        path = tmp_path / "long.abc"
        path.write_text(HEAD + text * times + "\n", encoding="utf-8")
        with contextlib.suppress(InputError):
            read_leadsheet(path)

    assert grows_linearly(read, 400)


@pytest.mark.parametrize("text", ["c" + "9" * 50_000, "c" + "," * 50_000])
def test_one_long_word_is_read_in_few_steps(tmp_path: Path, text: str) -> None:
    path = tmp_path / "long.abc"
    path.write_text(HEAD + text + "\n", encoding="utf-8")

    def read() -> None:
        with contextlib.suppress(InputError):
            read_leadsheet(path)

    read()  # tables and modules are loaded once
    calls(read, most=2000)
