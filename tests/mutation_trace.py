"""Builds the map of tests and lines: each test once under coverage, once as changes are run."""

from __future__ import annotations

import math
import os
import shutil
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from functools import partial
from pathlib import Path
from typing import Any

import coverage
import pytest
from mutation_fork import Child, Collected, Outcome, compiled, linked
from mutation_map import IMPORT, Lines, Map, Piece, Test, digest

FOLLOWED_S = 200.0  # a test under coverage may take three times as long, by the clock
# Put before a program that a test starts: what it passes through lands in a folder of the test's.
PROGRAM = """
import os
if "MUTATION_LINES" in os.environ:
    import atexit, coverage
    lines = coverage.Coverage(
        data_file=os.path.join(os.environ["MUTATION_LINES"], str(os.getpid())),
        include=[os.environ["MUTATION_PACKAGE"]], config_file=False, messages=False,
    )
    lines.set_option("run:disable_warnings", ["no-data-collected"])
    def keep(end=os._exit, code=None):
        lines.stop()
        lines.save()
        if code is not None:
            end(code)
    lines.start()
    atexit.register(keep)
    os._exit = lambda code: keep(code=code)
"""


def tracer(root: Path, package: str) -> coverage.Coverage:
    """Coverage of the package, in memory."""
    inside = [f"{root}/{package}/*"]
    cov = coverage.Coverage(data_file=None, include=inside, config_file=False, messages=False)
    cov.set_option("run:disable_warnings", ["no-data-collected"])  # some tests run none of it
    return cov


def keep_imports(known: Map, cov: coverage.Coverage) -> None:
    """What has run while everything was imported and collected, by the file that it ran for."""
    names = sorted(cov.get_data().measured_contexts() - {""})
    lines = _lines(known.root, cov, {name: at for at, name in enumerate(names)})
    known.keep(Piece(IMPORT, "", [Test(name, 0.0) for name in names], lines, {}))


def _lines(root: Path, cov: coverage.Coverage, bit_of: dict[str, int]) -> Lines:
    data = cov.get_data()
    found: Lines = {}
    for path in data.measured_files():
        by_line = found.setdefault(str(Path(path).relative_to(root)), {})
        for line, names in data.contexts_by_lineno(path).items():
            for name in names:
                if name in bit_of:
                    by_line[line] = by_line.get(line, 0) | 1 << bit_of[name]
    return found


def trace_file(known: Map, all_: Collected, file: str, folder: Path) -> Outcome:
    """In a child: run the tests of one file and write the piece for it."""
    all_.settle(folder, known.folder / "cache")
    (folder / "site").mkdir()
    (folder / "site" / "sitecustomize.py").write_text(PROGRAM)
    os.environ["PYTHONPATH"] = os.pathsep.join(
        [str(folder / "site"), *filter(None, [os.environ.get("PYTHONPATH")])]
    )
    os.environ["MUTATION_PACKAGE"] = f"{known.root}/{all_.package}/*"
    items = [item for item in all_.items.values() if item.nodeid.partition("::")[0] == file]
    cov = tracer(known.root, all_.package)
    shared = Shared(cov)
    all_.config.pluginmanager.register(shared)
    cov.start()
    own_s: list[float] = []
    elsewhere: Lines = {}
    with (folder / "begun").open("a") as begun:
        for number, item in enumerate(items):
            print(FOLLOWED_S, item.nodeid, file=begun, flush=True)
            there = folder / "lines" / str(number)
            there.mkdir(parents=True)
            os.environ["MUTATION_LINES"] = str(there)
            all_.forget()
            shared.enter(str(number))
            shared.spent_s = 0.0
            start = time.perf_counter()
            following = items[number + 1] if number + 1 < len(items) else None
            all_.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
            own_s.append(max(0.0, time.perf_counter() - start - shared.spent_s))
            _add_programs(elsewhere, there, known.root, number)
    cov.stop()
    uses = [[s for s in shared.names if s.split(" ")[1] in _names(item)] for item in items]
    tests = [
        Test(item.nodeid, own + sum(shared.names[name] for name in used))
        for item, own, used in zip(items, own_s, uses, strict=True)
    ]
    names = {str(number): number for number in range(len(items))}
    here = _lines(known.root, cov, names | {s: len(items) + n for n, s in enumerate(shared.names)})
    for by_line in here.values():
        for line, bits in by_line.items():
            for number, used in enumerate(uses):
                if any(bits >> names_at & 1 for names_at in _places(shared, used, len(items))):
                    by_line[line] |= 1 << number
            by_line[line] &= (1 << len(items)) - 1
    known.keep(Piece(file, digest(known.root / file), tests, here, elsewhere))
    return Outcome("green", "", len(items))


def _places(shared: Shared, used: Sequence[str], start: int) -> Iterator[int]:
    order = list(shared.names)
    yield from (start + order.index(name) for name in used)


def _names(item: pytest.Item) -> Sequence[str]:
    names: Sequence[str] = getattr(item, "fixturenames", ())
    return names


def _add_programs(lines: Lines, folder: Path, root: Path, number: int) -> None:
    for path in folder.iterdir():
        data = coverage.CoverageData(basename=str(path))
        try:
            data.read()
        except coverage.CoverageException:
            continue  # the program was killed while it wrote
        for file in data.measured_files():
            by_line = lines.setdefault(str(Path(file).relative_to(root)), {})
            for line in data.lines(file) or ():
                by_line[line] = by_line.get(line, 0) | 1 << number


class Shared:
    """What several tests share runs for each of them, although only for the first one's sake."""

    def __init__(self, cov: coverage.Coverage) -> None:
        self.names: dict[str, float] = {}  # with what it costs to make
        self.spent_s = 0.0
        self._cov = cov
        self._now = ""

    def enter(self, name: str) -> None:
        """Whatever runs from now on runs for this one."""
        self._now = name
        self._cov.switch_context(name)

    @pytest.hookimpl(wrapper=True)
    def pytest_fixture_setup(self, fixturedef: Any) -> Iterator[None]:
        """A fixture of a module or session runs for all who use one of its name."""
        if fixturedef.scope == "function":
            return (yield)  # type: ignore[return-value]
        name = f"shared {fixturedef.argname} {len(self.names)}"
        self.names[name] = 0.0
        before, start, spent = self._now, time.perf_counter(), self.spent_s
        self.enter(name)
        try:
            return (yield)  # type: ignore[return-value]
        finally:
            took = time.perf_counter() - start
            self.names[name] = took - (self.spent_s - spent)
            self.spent_s = spent + took
            self.enter(before)


def build(
    known: Map, all_: Collected, files: Sequence[str], workers: int, end: float = math.inf
) -> None:
    """Make the pieces of these test files; name the tests that are red although nothing changed."""
    works = [(file, partial(trace_file, known, all_, file)) for file in files]
    files = []
    for file, outcome in in_children(known.folder / f"run-{os.getpid()}", works, workers, end):
        files.append(file)
        if outcome.fate == "green":
            piece = Piece.read(known.place_of(file))
            known.pieces[file] = piece
            print(f"{len(piece.tests):5} tests  {file}", flush=True)
        else:
            print(f"cannot be followed: {file}: {outcome.first}", flush=True)
    known.__dict__.pop("tests", None)
    _leave_out_red(known, all_, [file for file in files if file in known.pieces], workers)


def _leave_out_red(known: Map, all_: Collected, files: Sequence[str], workers: int) -> None:
    """Run all tests as changes are run, with all code put anew, but unchanged."""
    costs = {test.name: test.cost_s for test in known.tests.values()}
    left = [test for file in files for test in known.pieces[file].tests]
    left.sort(key=lambda test: test.cost_s)
    lots = [[test.name for test in left[at :: 4 * workers]] for at in range(4 * workers)]
    red: dict[str, str] = {}
    while lots := [lot for lot in lots if lot]:
        works = [
            (str(at), partial(_unchanged, known, all_, lot, costs)) for at, lot in enumerate(lots)
        ]
        after = [list[str]() for _ in lots]
        for name, outcome in in_children(known.folder / f"run-{os.getpid()}", works, workers):
            if outcome.fate == "red":
                lot = lots[int(name)]
                red[lot[outcome.ran - 1]] = outcome.first
                after[int(name)] = lot[outcome.ran :]
        lots = after
    for file in files:
        piece = known.pieces[file]
        piece.tests = [Test(t.name, t.cost_s, t.name not in red) for t in piece.tests]
        piece.write(known.place_of(file))
    known.__dict__.pop("tests", None)
    for name, why in sorted(red.items()):
        print(
            f"red although nothing is changed, left out: {name}"
            + (f" ({why})" if why != name else "")
        )


def _unchanged(
    known: Map, all_: Collected, tests: list[str], costs: dict[str, float], folder: Path
) -> Outcome:
    all_.settle(folder, linked(known.folder / "cache", folder / "cache"))
    for path in sorted((known.root / all_.package).rglob("*.py")):
        text = path.read_text(encoding="utf-8")
        all_.put(*(compiled(text, path) for _ in range(2)))
    return all_.run(tests, folder, 1e9, costs)


def in_children(
    folder: Path,
    works: Sequence[tuple[str, Callable[[Path], Outcome]]],
    workers: int,
    end: float = math.inf,
) -> Iterator[tuple[str, Outcome]]:
    """Each piece of work in a child, some at a time; what became of it, as they end.

    After `end` no more is begun."""
    waiting = list(works)
    running: list[tuple[str, Child]] = []
    count = 0
    shutil.rmtree(folder, ignore_errors=True)
    while waiting or running:
        if time.monotonic() > end:
            waiting.clear()
        while waiting and len(running) < workers:
            name, work = waiting.pop(0)
            place = folder / str(count)
            running.append((name, Child(place, partial(work, place))))
            count += 1
        time.sleep(0.02)
        for name, child in list(running):
            if (outcome := child.poll()) is not None:
                running.remove((name, child))
                shutil.rmtree(child.folder, ignore_errors=True)
                yield name, outcome
    shutil.rmtree(folder, ignore_errors=True)
    sys.stdout.flush()
