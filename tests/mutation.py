"""Do the tests notice? Single changes to the package, each of which should turn a test red.

    python tests/mutation.py [--changes 60] [--seed 1] [--room ROOM]... [--room-tests-only] [--list]

Every change is made in a copy of the tree, by itself. The tests of its room run first; when they
stay green, all others that are run before anything lands. A change that no test notices has
survived, and says which fact nobody holds. The exit code is 1 when fewer than 95 in a hundred are
noticed.

Conventions: a room is the first folder below the package (or a module there), and its tests are in
the folder of the same name; nothing else is known about where code stands. A seed draws the same
changes from the same code. What cannot change what a program does is never changed: annotations,
docstrings, decorators, assertions, imports. Some changes are equal to what they replace all the
same; a reader has to judge those.
"""

from __future__ import annotations

import argparse
import ast
import contextlib
import os
import random
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from importlib.util import cache_from_source
from pathlib import Path

ROOT = Path(__file__).parent.parent
PACKAGE = "accomp"
WANTED = 0.95
PATIENCE = 4  # a change that makes the tests so many times slower has been noticed
LEAST_PATIENCE_S = 120.0

_COMPARED: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq, ast.In: ast.NotIn, ast.NotIn: ast.In, ast.Is: ast.IsNot, ast.IsNot: ast.Is,
}  # fmt: skip
_EVEN = set("min max fmin fmax minimum maximum isinstance hypot gcd lcm".split())  # in any order


@dataclass(frozen=True)
class Change:
    """One change: the module, the place of the node in its walk, what is done to it."""

    path: Path
    node: int
    kind: str
    detail: int = 0

    @property
    def room(self) -> str:
        """The room that the module is in."""
        return room_of(self.path)


def room_of(path: Path) -> str:
    """The room that a module is in: the first name below the package, wherever the tree stands."""
    inside = path.parts[len(path.parts) - path.parts[::-1].index(PACKAGE) :]
    return inside[0].removesuffix(".py")


def walk(tree: ast.AST) -> Iterator[ast.AST]:
    """All nodes that decide what the program does, in a fixed order."""
    yield tree
    for name, value in ast.iter_fields(tree):
        if name in {"annotation", "returns", "decorator_list"}:
            continue
        for child in value if isinstance(value, list) else [value]:
            if not isinstance(child, ast.AST) or isinstance(child, (ast.Assert, ast.JoinedStr)):
                continue
            if isinstance(child, ast.If) and "TYPE_CHECKING" in ast.unparse(child.test):
                continue
            yield from walk(child)


def changes_of(path: Path) -> list[Change]:
    """Every change that can be made to a module."""
    found = []
    for number, node in enumerate(walk(ast.parse(path.read_text(encoding="utf-8")))):
        found += [Change(path, number, kind, detail) for kind, detail in _ways(node)]
    return found


def _ways(node: ast.AST) -> Iterator[tuple[str, int]]:
    match node:
        case ast.Compare(ops=ops):
            yield from (("comparison", i) for i in range(len(ops)))
        case ast.BoolOp():
            yield "and, or", 0
        case ast.Constant(value=int() | float() as value) if not isinstance(value, bool):
            yield "constant", 1
            yield "constant", -1
        case ast.Call(args=args, func=func) if _name(func) not in _EVEN:
            for i in range(len(args) - 1):
                starred = any(isinstance(arg, ast.Starred) for arg in args[i : i + 2])
                if not starred and ast.unparse(args[i]) != ast.unparse(args[i + 1]):
                    yield "arguments", i
    if isinstance(node, (ast.If, ast.While, ast.IfExp)):
        yield "condition", 0
    if isinstance(node, ast.comprehension):
        yield from (("condition", i) for i in range(len(node.ifs)))
    if not isinstance(node, (ast.Module, ast.ClassDef)):
        body = getattr(node, "body", None)
        if isinstance(body, list):
            yield from (("statement", i) for i, statement in enumerate(body) if _matters(statement))


def _name(function: ast.expr) -> str:
    match function:
        case ast.Name(id=name) | ast.Attribute(attr=name):
            return name
    return ""


def _matters(statement: ast.stmt) -> bool:
    """Whether the rest makes sense without it: a missing name or result is noticed too easily."""
    if isinstance(statement, ast.Expr):
        return not isinstance(statement.value, ast.Constant)
    if isinstance(statement, ast.Assign):
        return not any(isinstance(target, ast.Name) for target in statement.targets)
    return isinstance(statement, (ast.AugAssign, ast.Continue, ast.If, ast.Raise))


def changed(change: Change) -> tuple[str, int, str, str]:
    """The module with the change made; its line, and the place before and after."""
    tree = ast.parse(change.path.read_text(encoding="utf-8"))
    node = next(node for number, node in enumerate(walk(tree)) if number == change.node)
    at = change.detail
    shown: ast.AST = node
    before = ""
    match change.kind, node:
        case "comparison", ast.Compare():
            before = ast.unparse(node)
            node.ops[at] = _COMPARED[type(node.ops[at])]()
        case "and, or", ast.BoolOp():
            before = ast.unparse(node)
            node.op = ast.Or() if isinstance(node.op, ast.And) else ast.And()
        case "constant", ast.Constant(value=int() | float() as value):
            shown = _statement_of(tree, node)
            before = ast.unparse(shown)
            node.value = value + at
        case "arguments", ast.Call():
            before = ast.unparse(node)
            node.args[at : at + 2] = reversed(node.args[at : at + 2])
        case "condition", ast.comprehension():
            before = ast.unparse(node)
            node.ifs[at] = ast.UnaryOp(ast.Not(), node.ifs[at])
        case "condition", ast.If() | ast.While() | ast.IfExp():
            shown = node.test
            before = ast.unparse(shown)
            shown = node.test = ast.UnaryOp(ast.Not(), node.test)
        case "statement", _:
            body: list[ast.stmt] = node.body  # type: ignore[attr-defined]
            before = ast.unparse(body[at])
            line = body[at].lineno
            shown = body[at] = ast.Pass(lineno=line)
    line = getattr(shown, "lineno", 0) or _line(node)
    after = ast.unparse(shown)
    return ast.unparse(ast.fix_missing_locations(tree)) + "\n", line, before, after


def _statement_of(tree: ast.AST, node: ast.AST) -> ast.AST:
    """The smallest statement or call around a node, for a reader to see what it is part of."""
    inside = tree
    for other in walk(tree):
        plain = isinstance(other, ast.expr) or (isinstance(other, ast.stmt) and not _holds(other))
        if plain and other is not node and any(child is node for child in ast.walk(other)):
            inside = other  # later ones lie deeper
    return node if inside is tree else inside


def _holds(statement: ast.stmt) -> bool:
    return any(isinstance(getattr(statement, name, None), list) for name in ("body", "handlers"))


def _line(node: ast.AST) -> int:
    return min((n.lineno for n in ast.walk(node) if hasattr(n, "lineno")), default=0)


def draw(root: Path, count: int, seed: int, rooms: Sequence[str] = ()) -> list[Change]:
    """So many changes: as many from every room as half of them allow, the rest where code is."""
    modules: dict[str, list[Path]] = {}
    for path in sorted((root / PACKAGE).rglob("*.py")):
        modules.setdefault(room_of(path), []).append(path)
    for room in rooms:
        if room not in modules:
            raise SystemExit(f"{room!r} is no room: expected one of {', '.join(modules)}")
    by_room = {
        room: [change for path in modules[room] for change in changes_of(path)]
        for room in rooms or sorted(set(modules) - {"__init__", "__main__"})
    }
    asked = [room for room, changes in by_room.items() if changes]
    dice = random.Random(seed)
    wanted = [room for room in asked for _ in range(count // 2 // len(asked))]
    sizes = [len(by_room[room]) for room in asked]
    wanted += dice.choices(asked, sizes, k=count - len(wanted))
    drawn: list[Change] = []
    for room in sorted(wanted):
        left = [change for change in by_room[room] if change not in drawn]
        kind = dice.choice(sorted({change.kind for change in left}))
        drawn.append(dice.choice([change for change in left if change.kind == kind]))
    return drawn


@dataclass(frozen=True)
class Verdict:
    """Whether a run was green, the first red test, and how long it took."""

    green: bool
    first: str
    took_s: float


class Copy:
    """The tree in a folder of its own, with a cache of its own, where changes do no harm."""

    def __init__(self, folder: Path, workers: int) -> None:
        folder.chmod(0o755)  # some tests go on as a user who may do less
        self.root = folder / "tree"
        self.cache = folder / "cache"
        self._clean_cache = folder / "cache-before"
        self.workers = workers
        self.cache.mkdir()
        unwanted = shutil.ignore_patterns(".*", "__pycache__", "*.egg-info", "build", "dist", "out")
        shutil.copytree(ROOT, self.root, ignore=unwanted)

    def tests_of(self, room: str) -> Path | None:
        """Where the tests of a room are."""
        folder = self.root / "tests" / room
        return folder if folder.is_dir() else None

    def keep_cache(self) -> None:
        """Remember what the unchanged program has put into its cache."""
        shutil.copytree(self.cache, self._clean_cache)

    @contextlib.contextmanager
    def with_module(self, path: Path, text: str) -> Iterator[None]:
        """The tree with another text in one module."""
        before = path.read_bytes()
        try:
            self._put(path, text.encode())
            yield
        finally:
            self._put(path, before)
            if self._clean_cache.exists():  # what a changed program has kept is not to be trusted
                shutil.rmtree(self.cache)
                shutil.copytree(self._clean_cache, self.cache)

    def _put(self, path: Path, data: bytes) -> None:
        path.write_bytes(data)
        Path(cache_from_source(str(path))).unlink(missing_ok=True)  # it goes by whole seconds

    def run(self, *arguments: str, patience_s: float = 3600.0) -> Verdict:
        """The everyday tests, up to the first red one."""
        command = [sys.executable, "-m", "pytest", "-x", "-q", "-m", "not long"]
        command += ["-n", str(self.workers), "-p", "no:cacheprovider", *arguments]
        surroundings = {
            **os.environ,
            "PYTHONPATH": str(self.root),
            "XDG_CACHE_HOME": str(self.cache),
        }
        start = time.monotonic()
        process = subprocess.Popen(
            command, cwd=self.root, env=surroundings, text=True, start_new_session=True,
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
        )  # fmt: skip
        try:
            said, _ = process.communicate(timeout=patience_s)
        except subprocess.TimeoutExpired:
            return Verdict(False, "the tests come to no end", time.monotonic() - start)
        finally:
            _end(process)
        took_s = time.monotonic() - start
        if process.returncode == 5:  # no tests there
            return Verdict(True, "", took_s)
        red = re.search(r"^(?:FAILED|ERROR) (.*)$", said, re.MULTILINE)
        first = red[1].split(" - ")[0] if red else (said.strip().splitlines() or ["silence"])[-1]
        return Verdict(process.returncode == 0, first, took_s)


def _end(process: subprocess.Popen[str]) -> None:
    """No process of a run outlives it: it leads a session of its own."""
    with contextlib.suppress(ProcessLookupError):
        os.killpg(process.pid, signal.SIGKILL)
    process.communicate()


def main() -> int:
    """Draw, change, test, and print the table."""
    parser = argparse.ArgumentParser(description="Do the tests notice single changes?")
    parser.add_argument("--changes", type=int, default=60, metavar="N")
    parser.add_argument("--seed", type=int, default=1, metavar="N")
    parser.add_argument("--room", action="append", default=[], help="only this room (repeatable)")
    parser.add_argument("--room-tests-only", action="store_true", help="not the whole suite after")
    parser.add_argument("--workers", type=int, default=2, metavar="N", help="of pytest")
    parser.add_argument("--list", action="store_true", help="print the changes, run nothing")
    asked = parser.parse_args()
    if asked.list:
        for change in draw(ROOT, asked.changes, asked.seed, asked.room):
            print(_row(change, ROOT))
        return 0
    with tempfile.TemporaryDirectory(prefix="mutation-") as name:
        copy = Copy(Path(name), asked.workers)
        drawn = draw(copy.root, asked.changes, asked.seed, asked.room)
        return _judge(copy, drawn, asked.room_tests_only)


def _judge(copy: Copy, drawn: Sequence[Change], room_tests_only: bool) -> int:
    alone = {room: copy.tests_of(room) for room in dict.fromkeys(c.room for c in drawn)}
    usual_s = {}
    for room, folder in alone.items():
        if folder is not None:
            usual_s[room] = _green(copy, str(folder))
    whole = not room_tests_only or None in alone.values()  # a module without tests of its own
    whole_s = _green(copy, str(copy.root / "tests")) if whole else 0.0
    copy.keep_cache()
    survived: list[str] = []
    for number, change in enumerate(drawn, 1):
        text, *_ = changed(change)
        row = _row(change, copy.root)
        folder = alone[change.room]
        with copy.with_module(change.path, text):
            verdict = Verdict(True, "", 0.0)
            if folder is not None:
                patience_s = max(LEAST_PATIENCE_S, PATIENCE * usual_s[change.room])
                verdict = copy.run(str(folder), patience_s=patience_s)
            if folder is None or (verdict.green and not room_tests_only):
                others = [] if folder is None else [f"--ignore={folder}"]
                patience_s = max(LEAST_PATIENCE_S, PATIENCE * whole_s)
                verdict = copy.run(str(copy.root / "tests"), *others, patience_s=patience_s)
        if verdict.green:
            survived.append(row)
        fate = "SURVIVED" if verdict.green else f"noticed by {verdict.first}"
        print(f"{number:3} {row}\n      {fate}", flush=True)
    return _sum(drawn, survived)


def _green(copy: Copy, folder: str) -> float:
    """How long the unchanged tests take. They have to be green, or every change looks noticed."""
    verdict = copy.run(folder)
    if not verdict.green:
        raise SystemExit(f"the tests are red before anything is changed: {verdict.first}")
    return verdict.took_s


def _row(change: Change, root: Path) -> str:
    _, line, before, after = changed(change)
    place = f"{change.path.relative_to(root)}:{line}"
    return f"{change.room:8} {change.kind:10} {place}: {_short(before)}  ->  {_short(after)}"


def _short(text: str) -> str:
    line = " ".join(text.split())
    return line if len(line) <= 90 else f"{line[:89]}…"


def _sum(drawn: Sequence[Change], survived: Sequence[str]) -> int:
    rooms = sorted({change.room for change in drawn})
    print("\nroom      changes  noticed")
    for room in rooms:
        count = sum(change.room == room for change in drawn)
        lost = sum(row.split()[0] == room for row in survived)
        print(f"{room:8} {count:8} {count - lost:8}")
    share = 1 - len(survived) / len(drawn)
    print(f"{'all':8} {len(drawn):8} {len(drawn) - len(survived):8}   {share:.1%}")
    if survived:
        print("\nnoticed by nobody:", *survived, sep="\n  ")
    return int(share < WANTED)


if __name__ == "__main__":
    sys.exit(main())
