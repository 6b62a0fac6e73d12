"""Changes judged by the tests that pass through them, in children of one process.

What stands in a function is changed in a child that has everything imported. The rest needs a
process that imports the changed package: what stands outside functions, tests that start programs,
test files that run the place while they are imported. That is done in a copy of the tree.
"""

from __future__ import annotations

import json
import math
import os
import re
import shutil
import sys
import tempfile
import time
import types
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from random import random

import mutation_pick
import pytest
from mutation_changes import PACKAGE, Change, changed, changed_tree
from mutation_fork import PATIENCE_S, Child, Collected, Outcome, compiled, linked
from mutation_map import IMPORT, Map
from mutation_near import place_of, readers
from mutation_plain import Copy

TEST_FILES = "test_*.py"
START_S = 4.0  # of pytest by itself
NOT_TRIED = "it needs a new process"
FARTHER = 4.0  # a test of another room is worth so many times what it costs


@dataclass(frozen=True)
class Asked:
    """How changes are to be judged."""

    map: Path
    workers: int = 2
    budget_s: float = 60.0  # of the processor's time for a change and way of running it
    end: float = math.inf  # no more is begun then, by the clock `time.monotonic`
    quick: bool = False  # only what needs no new process
    as_it_is: bool = False  # the map is not brought up to date


Tell = Callable[[Change, str, str], None]  # a change, who noticed it, and what was not tried
Steps = Iterator[None]


def judge(root: Path, drawn: Sequence[Change], asked: Asked, tell: Tell) -> None:
    """Collect all tests, bring the map up to date, and judge each change."""
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
        os.environ[name] = "1"
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    os.chdir(root)
    sys.path.insert(0, str(root))
    known = Map(asked.map, root)
    (asked.map / "cache").mkdir(exist_ok=True)
    files = sorted(str(path.relative_to(root)) for path in (root / "tests").rglob(TEST_FILES))
    stale = [] if asked.as_it_is else known.stale(files)
    if not stale and not drawn:
        return
    follow = _Follow(known, stale, drawn, asked) if stale else None
    with tempfile.TemporaryDirectory(prefix="mutation-") as name:
        Path(name).chmod(0o755)
        tempfile.tempdir = os.environ["TMPDIR"] = name

        def work(collected: Collected) -> None:
            capture = collected.config.pluginmanager.getplugin("capturemanager")
            capture.suspend_global_capture(in_=True)
            if follow is not None:
                follow.finish(collected)
            _Bench(known, collected, asked, Path(name)).judge(drawn, tell)

        collected = Collected(root, PACKAGE, work)
        if follow is not None:
            collected.context = follow.cov.switch_context
            follow.cov.start()
        options = ["-qq", "-m", "not long", "-p", "no:cacheprovider"]
        needed = [str(root / "tests")] if stale else _needed(known, drawn)
        code = pytest.main([*options, *needed], plugins=[collected])
        tempfile.tempdir = None
        if code not in (pytest.ExitCode.OK, pytest.ExitCode.NO_TESTS_COLLECTED):
            raise SystemExit("the changes could not all be judged: see what pytest says")


def _needed(known: Map, drawn: Sequence[Change]) -> list[str]:
    """The test files whose tests pass through any of the changes: collecting takes a while."""
    tests = {
        known.tests[name].file
        for change in drawn
        for name in known.through(_module(known, change), place_of(change).lines)
    }
    there = {file for file in tests if (known.root / file).exists()}
    return [str(known.root / file) for file in sorted(there or list(known.pieces)[1:2])]


def _module(known: Map, change: Change) -> str:
    return str(change.path.relative_to(known.root))


class _Follow:
    """Bringing the map up to date; coverage is needed for nothing else."""

    def __init__(
        self, known: Map, files: Sequence[str], drawn: Sequence[Change], asked: Asked
    ) -> None:
        import mutation_trace

        self._trace = mutation_trace
        self._known = known
        near = {change.room for change in drawn}  # first, in case that time runs out
        self._files = sorted(files, key=lambda file: (file.split("/")[1] not in near, random()))
        self._asked = asked
        self._judging = bool(drawn)  # which takes time, too
        self.cov = mutation_trace.tracer(known.root, PACKAGE)

    def finish(self, collected: Collected) -> None:
        """Everything has been collected."""
        self.cov.stop()
        collected.context = lambda name: None
        self._trace.keep_imports(self._known, self.cov)
        now = time.monotonic()
        end = self._asked.end if not self._judging else now + (self._asked.end - now) / 2
        self._trace.build(self._known, collected, self._files, self._asked.workers, end)


class _Bench:
    def __init__(self, known: Map, collected: Collected, asked: Asked, folder: Path) -> None:
        self._known = known
        self._collected = collected
        self._asked = asked
        self._folder = folder
        self._count = 0
        self._sound = False
        self._place = {name: at for at, name in enumerate(known.tests)}
        self._costs = {test.name: test.cost_s for test in known.tests.values()}
        self._fates: dict[Change, tuple[str, str]] = {}

    def judge(self, drawn: Sequence[Change], tell: Tell) -> None:
        """So many changes at a time as there are workers; told in the order of the draw."""
        waiting = list(drawn)
        told = list(drawn)
        running: list[Steps] = []
        while waiting or running:
            if time.monotonic() > self._asked.end:
                waiting.clear()
            while waiting and len(running) < self._asked.workers:
                change = waiting.pop(0)
                running.append(self._one(change))
            running = [steps for steps in running if next(steps, self) is not self]
            while told and told[0] in self._fates:
                change = told.pop(0)
                tell(change, *self._fates[change])
            time.sleep(0.01)

    def _one(self, change: Change) -> Steps:
        place = place_of(change)
        module = _module(self._known, change)
        near = self._known.through(module, place.lines)
        importing = self._known.at_import(module, place.lines)
        fresh = self._known.through(module, place.lines, elsewhere=True)
        left: list[str] = []
        if place.inside and self._can_put(change):
            tests = self._ordered(near & set(self._collected.items), change.room)
            outcome = yield from self._wait(partial(self._in_child, change, tests))
            if outcome.fate == "red":
                self._fates[change] = (outcome.first, "")
                return
            if outcome.fate == "out of time":
                left.append(f"only {outcome.ran} of {len(tests)} tests that pass through")
        elif self._asked.quick:
            self._fates[change] = ("", NOT_TRIED)
            return
        else:
            fresh |= near
        files = {name for name in importing if name.endswith(".py")}
        if not place.inside:
            files |= self._speaking(place.names)
        fresh |= {test.name for test in self._known.tests.values() if test.file in files}
        if not place.inside or {IMPORT, "collection"} & set(importing):
            for reader, lines in readers(self._known.root, place.names).items():
                fresh |= self._known.through(reader, lines)
        if fresh and self._asked.quick:
            left.append(f"{len(fresh)} tests that need a new process")
        elif fresh:
            yield from self._sound_copy(change)
            tests = self._ordered(fresh, change.room)
            outcome = yield from self._anew(change, tests)
            if outcome.fate == "red":
                self._fates[change] = (outcome.first, "")
                return
            if outcome.ran < len(tests):
                left.append(f"only {outcome.ran} of {len(tests)} tests in a new process")
        self._fates[change] = ("", "; ".join(left))

    def _speaking(self, names: frozenset[str]) -> set[str]:
        """The test files that speak of a name themselves."""
        spoken = re.compile(
            rf"\b(?:{'|'.join(map(re.escape, sorted(names)))})\b" if names else "$^"
        )
        files = {name.partition("::")[0] for name in self._place}
        files = {file for file in files if (self._known.root / file).exists()}
        return {
            file for file in files if spoken.search((self._known.root / file).read_text("utf-8"))
        }

    def _codes(self, change: Change) -> tuple[types.CodeType, types.CodeType]:
        before = compiled(change.path.read_text(encoding="utf-8"), change.path)
        return before, compiled(changed_tree(change).tree, change.path)

    def _can_put(self, change: Change) -> bool:
        return self._collected.fits(*self._codes(change))

    def _in_child(self, change: Change, tests: list[str], folder: Path) -> Outcome:
        collected = self._collected
        collected.settle(folder, linked(self._known.folder / "cache", folder / "cache"))
        collected.put(*self._codes(change))
        return collected.run(tests, folder, self._asked.budget_s, self._costs)

    def _wait(
        self, work: Callable[[Path], Outcome], patience_s: float = PATIENCE_S
    ) -> Iterator[None]:
        self._count += 1
        folder = self._folder / str(self._count)
        child = Child(folder, partial(work, folder), patience_s)
        while (outcome := child.poll()) is None:
            yield
        shutil.rmtree(folder, ignore_errors=True)
        return outcome  # type: ignore[return-value]

    def _ordered(self, tests: set[str], room: str) -> list[str]:
        """What is quick and near comes first; tests of one file share things, so they stay near."""

        def key(name: str) -> tuple[int, str, int]:
            test = self._known.tests[name]
            worth = test.cost_s * (1 if test.room == room else FARTHER)
            return max(-5, math.ceil(math.log2(worth + 1e-9))), test.file, self._place[name]

        return sorted((name for name in tests if name in self._place), key=key)

    def _anew(self, change: Change, tests: list[str]) -> Iterator[None]:
        """The nearest few first, since files that are not needed are then not imported."""
        few, spent_s = 0, 0.0
        files = {name.partition("::")[0] for name in tests[:40]}
        first = [name for name in tests if name.partition("::")[0] in files][:200]
        rest = [name for name in tests if name not in set(first)]
        ran = 0
        for some in (first, rest):
            few, spent_s = 0, 0.0
            while few < len(some) and spent_s < self._asked.budget_s:
                spent_s += self._costs[some[few]]
                few += 1
            if few == 0:
                continue
            patience_s = 120 + 4 * spent_s
            work = partial(self._in_copy, change, some[:few], patience_s)
            outcome: Outcome = yield from self._wait(work, patience_s)
            if outcome.fate == "red":
                return outcome  # type: ignore[return-value]
            ran += few
        return Outcome("green", "", ran)  # type: ignore[return-value]

    def _sound_copy(self, change: Change) -> Steps:
        """What is not changed has to be green in a copy, or every change looks noticed."""
        if self._sound:
            return
        self._sound = True
        quickest = min(self._known.tests.values(), key=lambda test: test.cost_s)
        same = replace(change, kind="nothing")
        outcome = yield from self._wait(partial(self._in_copy, same, [quickest.name], 120.0), 120.0)
        if outcome.fate != "green":
            raise SystemExit(f"the tests are red before anything is changed: {outcome.first}")

    def _in_copy(
        self, change: Change, tests: list[str], patience_s: float, folder: Path
    ) -> Outcome:
        copy = Copy(self._known.root, folder, 0)
        copy.cache.rmdir()
        linked(self._known.folder / "cache", copy.cache)
        path = copy.root / change.path.relative_to(self._known.root)
        text = path.read_text(encoding="utf-8") if change.kind == "nothing" else changed(change)[0]
        copy.path.append(Path(mutation_pick.__file__).parent)
        (folder / "tests.json").write_text(json.dumps(tests), encoding="utf-8")
        os.environ["MUTATION_TESTS"] = str(folder / "tests.json")
        os.environ["TMPDIR"] = str(folder)
        files = dict.fromkeys(str(copy.root / name.partition("::")[0]) for name in tests)
        with copy.with_module(path, text):
            verdict = copy.run("-p", mutation_pick.__name__, *files, patience_s=patience_s)
        return Outcome("green" if verdict.green else "red", verdict.first, len(tests))
