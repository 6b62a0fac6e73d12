"""The script of single changes: what it changes, what it leaves, and that it tells the truth."""

from __future__ import annotations

import ast
import re
import shutil
import subprocess
import sys
from pathlib import Path

import mutation
import mutation_changes as changes
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
    path = tmp_path / changes.PACKAGE / "neck" / "least.py"
    path.parent.mkdir(parents=True)
    path.write_text(MODULE, encoding="utf-8")
    return path


def test_every_change_is_another_program_and_says_what_it_is(module: Path) -> None:
    plain = ast.unparse(ast.parse(MODULE))
    shown = set()
    for change in changes.changes_of(module):
        text, line, before, after = changes.changed(change)
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
    one, same, other = (changes.draw(mutation.ROOT, 9, seed, ["time"]) for seed in (3, 3, 4))
    assert one == same != other
    assert len(set(one)) == 9


@pytest.mark.long
def test_a_draw_takes_all_rooms_in() -> None:
    drawn = changes.draw(mutation.ROOT, 60, seed=3)
    assert len(set(drawn)) == 60
    package = mutation.ROOT / changes.PACKAGE
    modules = [
        path.relative_to(package) for path in package.rglob("*.py") if path.parent != package
    ]
    assert {change.room for change in drawn} == {
        "errors",
        "outward",
        *(path.parts[0] for path in modules),
    }


JUDGED = """FEWEST = 3
MOST = 7
LEAST = 1


def more(a, b):
    return a > b


def less(a, b):
    return a < b


def same(a, b):
    return a == b
"""
TESTS = """import subprocess
import sys
from pathlib import Path

import pytest

from accomp.neck.least import MOST, more, same

ROOT = Path(__file__).parent.parent.parent
SAME = same(2, 2)


def test_here():
    assert [more(1, b) for b in range(3)] == [True, False, False]
    assert MOST == 7


@pytest.mark.parametrize("there", ["FEWEST == 3", "[less(1, b) for b in (1, 2)] == [False, True]"])
def test_program(there):
    program = f"from accomp.neck.least import *; raise SystemExit(not ({there}))"
    assert subprocess.run([sys.executable, "-c", program], cwd=ROOT).returncode == 0


def test_import():
    assert SAME
"""


@pytest.mark.long
@pytest.mark.parametrize("way", ["--plain", "--quick", "--budget=60"])
def test_who_notices_is_told(way: str, tmp_path: Path) -> None:
    """In a process that is there, in a program that a test starts, while a test is imported."""
    room = tmp_path / changes.PACKAGE / "neck"
    tests = tmp_path / "tests" / "neck"
    for folder in (room, tests):
        folder.mkdir(parents=True)
    for folder in (room.parent, room):
        (folder / "__init__.py").touch()
    (room / "least.py").write_text(JUDGED)
    (tests / "test_least.py").write_text(TESTS)
    (tmp_path / "pytest.ini").write_text("[pytest]\nmarkers = long\n")
    for path in Path(__file__).parent.parent.glob("mutation*.py"):
        shutil.copy(path, tests.parent)
    done = subprocess.run(
        [sys.executable, "tests/mutation.py", "--changes", "99", "--workers", "2", way],
        cwd=tmp_path, capture_output=True, text=True,
    )  # fmt: skip
    fates = {
        (int(line), after): fate
        for line, after, fate in re.findall(
            r"least.py:([0-9]+): .*  ->  (.*)\n +((?:noticed|SURVIVED|not tried).*)\n", done.stdout
        )
    }
    assert len(fates) == 9, done
    file = "tests/neck/test_least.py"
    here, program = f"noticed by {file}::test_here", f"noticed by {file}::test_program"
    imported = f"noticed by {file}::test_import"
    ways = {1: program, 2: here, 3: "SURVIVED", 7: here, 11: program, 15: imported}
    if way == "--quick":
        ways |= dict.fromkeys((1, 2, 3), "not tried") | dict.fromkeys((11, 15), "SURVIVED (")
    for (line, after), fate in fates.items():
        assert fate.startswith(ways[line]), (after, fate)
    assert done.returncode == 1
    assert (room / "least.py").read_text() == JUDGED
