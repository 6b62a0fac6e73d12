"""The script of single changes: what it changes, what it leaves, and that it tells the truth."""

from __future__ import annotations

import ast
import sys
from pathlib import Path

import mutation
import pytest

MODULE = '''"""Says 1 < 2."""

from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from somewhere import Thing


def least(a: int, b: Literal[3]) -> Literal[4]:
    """Fewer than 5."""
    assert a != 6
    if a < b and b > 7:
        b += 1
    print(max(a, b), least(a, b))
    return a
'''


@pytest.fixture
def module(tmp_path: Path) -> Path:
    path = tmp_path / mutation.PACKAGE / "neck" / "least.py"
    path.parent.mkdir(parents=True)
    path.write_text(MODULE, encoding="utf-8")
    return path


def test_every_change_is_another_program_and_says_what_it_is(module: Path) -> None:
    plain = ast.unparse(ast.parse(MODULE))
    shown = set()
    for change in mutation.changes_of(module):
        text, line, before, after = mutation.changed(change)
        compile(text, "", "exec")
        assert text.strip() != plain
        assert before != after
        assert 12 <= line <= 14
        assert change.room == "neck"
        shown.add((change.kind, before.split("\n")[0], after.split("\n")[0]))
    assert shown == {
        ("comparison", "a < b", "a <= b"),
        ("comparison", "b > 7", "b >= 7"),
        ("and, or", "a < b and b > 7", "a < b or b > 7"),
        ("condition", "a < b and b > 7", "not (a < b and b > 7)"),
        ("constant", "b > 7", "b > 8"),
        ("constant", "b > 7", "b > 6"),
        ("constant", "b += 1", "b += 2"),
        ("constant", "b += 1", "b += 0"),
        ("statement", "b += 1", "pass"),
        ("statement", "if a < b and b > 7:", "pass"),
        ("statement", "print(max(a, b), least(a, b))", "pass"),
        ("arguments", "print(max(a, b), least(a, b))", "print(least(a, b), max(a, b))"),
        ("arguments", "least(a, b)", "least(b, a)"),
    }


def test_a_seed_draws_the_same_changes() -> None:
    one, same, other = (mutation.draw(mutation.ROOT, 9, seed, ["time"]) for seed in (3, 3, 4))
    assert one == same != other
    assert len(set(one)) == 9


@pytest.mark.long
def test_a_draw_takes_all_rooms_in() -> None:
    drawn = mutation.draw(mutation.ROOT, 60, seed=3)
    assert len(set(drawn)) == 60
    package = mutation.ROOT / mutation.PACKAGE
    modules = [
        path.relative_to(package) for path in package.rglob("*.py") if path.parent != package
    ]
    assert {change.room for change in drawn} == {
        "errors",
        "outward",
        *(path.parts[0] for path in modules),
    }


@pytest.mark.long
@pytest.mark.parametrize(
    ("test", "code"),
    [("more is not None", 1), ("[more(1, b) for b in range(3)] == [True, False, False]", 0)],
)
def test_what_no_test_notices_is_told(
    test: str, code: int, tmp_path: Path, monkeypatch, capsys
) -> None:
    room = tmp_path / mutation.PACKAGE / "neck"
    tests = tmp_path / "tests" / "neck"
    for folder in (room, tests):
        folder.mkdir(parents=True)
    for folder in (room.parent, room):
        (folder / "__init__.py").touch()
    (room / "least.py").write_text("def more(a, b):\n    return a > b\n")
    (tests / "test_least.py").write_text(
        f"from {mutation.PACKAGE}.neck.least import more\n\n\ndef test_it():\n    assert {test}\n"
    )
    monkeypatch.setattr(mutation, "ROOT", tmp_path)
    monkeypatch.setattr(
        sys, "argv", ["mutation.py", "--changes", "1", "--seed", "2", "--workers", "0"]
    )
    assert mutation.main() == code
    said = capsys.readouterr().out
    assert ("noticed by nobody" in said) == bool(code)
    assert (tmp_path / mutation.PACKAGE / "neck" / "least.py").read_text().count("a > b") == 1
