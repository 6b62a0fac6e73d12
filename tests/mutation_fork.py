"""Tests run in children of one process that has imported and collected everything.

A child begins where the parent stands, so that it need not import or collect, and whatever it does
to code, caches and modules ends with it. It leads a session and has folders of its own.
"""

from __future__ import annotations

import ast
import contextlib
import functools
import gc
import importlib
import json
import os
import pkgutil
import resource
import shutil
import signal
import sys
import time
import types
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

PATIENCE_S = 20.0  # of the processor's time, or four times what a test usually takes
SILENCE_S = 30.0  # and three times the patience: by the clock, for a test that waits
MOST_MEMORY = 8 << 30


@dataclass(frozen=True)
class Outcome:
    """What became of a child: `green`, `red` or `out of time`, by which test, after how many."""

    fate: str
    first: str = ""
    ran: int = 0


class Child:
    """A forked process that does one thing and ends."""

    def __init__(
        self, folder: Path, work: Callable[[], Outcome], patience_s: float = PATIENCE_S
    ) -> None:
        folder.mkdir(mode=0o755, parents=True)
        self.folder = folder
        self._patience_s = patience_s  # until a test says how long it may take
        self._heard = time.monotonic()
        self._told = -1
        sys.stdout.flush()
        sys.stderr.flush()
        self.pid = os.fork()
        if self.pid == 0:
            code = 1
            try:
                os.setsid()
                outcome = work()
                (folder / "outcome").write_text(json.dumps(vars(outcome)))
                code = 0
            except BaseException as error:
                (folder / "outcome").write_text(json.dumps({"fate": "red", "first": repr(error)}))
            finally:
                os._exit(code)

    def poll(self) -> Outcome | None:
        """What became of it, or nothing while it runs."""
        pid, status = os.waitpid(self.pid, os.WNOHANG)
        begun = self._begun()
        if pid == 0:
            if len(begun) != self._told:
                self._told, self._heard = len(begun), time.monotonic()
            patience_s = float(begun[-1].split(" ")[0]) if begun else self._patience_s
            if time.monotonic() - self._heard < SILENCE_S + 3 * patience_s:
                return None
            os.kill(self.pid, signal.SIGKILL)
            os.waitpid(self.pid, 0)
        self.end()
        if (self.folder / "outcome").exists():
            return Outcome(**json.loads((self.folder / "outcome").read_text()))
        number = os.WTERMSIG(status) if pid and os.WIFSIGNALED(status) else signal.SIGALRM
        why = (
            "comes to no end" if number in {signal.SIGALRM, signal.SIGPROF} else f"dies ({number})"
        )
        last = begun[-1].partition(" ")[2] if begun else "no test"
        return Outcome("red", f"{last}, which {why}", len(begun))

    def _begun(self) -> list[str]:
        with contextlib.suppress(FileNotFoundError):
            return (self.folder / "begun").read_text().splitlines()
        return []

    def end(self) -> None:
        """Nothing that it has started outlives it."""
        with contextlib.suppress(ProcessLookupError, PermissionError):
            os.killpg(self.pid, signal.SIGKILL)


class Collected:
    """Everything collected: what a plugin of pytest knows when the tests would be run."""

    def __init__(self, root: Path, package: str, work: Callable[[Collected], None]) -> None:
        self.root = root
        self.package = package
        self.reports: list[pytest.TestReport] = []
        self.context: Callable[[str], Any] = lambda name: None  # told who runs code now
        self._work = work
        self._functions: list[types.FunctionType] = []
        self._caches: list[Any] = []
        self.items: dict[str, pytest.Item] = {}
        self.config: pytest.Config

    @pytest.hookimpl(tryfirst=True)
    def pytest_collection(self, session: pytest.Session) -> None:
        """The package first, so that no test file has imported it."""
        self.config = session.config
        self.context("import")
        package = importlib.import_module(self.package)
        for module in pkgutil.walk_packages(package.__path__, f"{self.package}."):
            if not module.name.endswith("__main__"):
                importlib.import_module(module.name)
        self.context("collection")

    @pytest.hookimpl(wrapper=True)
    def pytest_make_collect_report(self, collector: pytest.Collector) -> Iterator[None]:
        """Whatever runs while a file is imported runs for that file."""
        self.context(collector.nodeid.partition("::")[0] or "collection")
        try:
            return (yield)  # type: ignore[return-value]
        finally:
            self.context("collection")

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Do what is asked in place of running all tests."""
        if session.testsfailed:
            raise session.Interrupted("some tests cannot be collected")
        self.items = {item.nodeid: item for item in session.items}
        gc.unfreeze()
        below = str(self.root)
        for thing in gc.get_objects():
            if isinstance(thing, types.FunctionType):
                if thing.__code__.co_filename.startswith(f"{below}/{self.package}/"):
                    self._functions.append(thing)
            elif isinstance(thing, functools._lru_cache_wrapper):
                code = getattr(thing.__wrapped__, "__code__", None)
                if code is not None and code.co_filename.startswith(below):
                    self._caches.append(thing)
        gc.collect()
        gc.freeze()
        self._work(self)
        return True

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Whatever is said of a test."""
        self.reports.append(report)

    def forget(self) -> None:
        """Empty the caches of the package and of the tests."""
        for cache in self._caches:
            cache.cache_clear()

    def fits(self, before: types.CodeType, after: types.CodeType) -> bool:
        """Whether functions that are there can be given the code, and some of it differs."""
        pairs = dict(_pairs(before, after))
        if any(one.co_freevars != other.co_freevars for one, other in pairs.items()):
            return False
        codes = {function.__code__ for function in self._functions}
        return any(one in codes and one != other for one, other in pairs.items())

    def put(self, before: types.CodeType, after: types.CodeType) -> None:
        """Give the functions of one module other code."""
        pairs = dict(_pairs(before, after))
        for function in self._functions:
            if function.__code__.co_filename == before.co_filename:
                function.__code__ = pairs.get(function.__code__, function.__code__)
        self.forget()

    def settle(self, folder: Path, cache: Path | None) -> None:
        """In a child: folders of its own, and silence."""
        (folder / "t").mkdir()
        os.environ["PYTEST_DEBUG_TEMPROOT"] = str(folder / "t")
        os.environ["XDG_CACHE_HOME"] = str(folder / "cache" if cache is None else cache)
        resource.setrlimit(resource.RLIMIT_DATA, (MOST_MEMORY, MOST_MEMORY))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
        nowhere = os.open(os.devnull, os.O_RDWR)
        capture: Any = self.config.pluginmanager.getplugin("capturemanager")
        capture.stop_global_capturing()  # its files are those of the parent
        for number in range(3):
            os.dup2(nowhere, number)
        capture.start_global_capturing()
        capture.suspend_global_capture()

    def run(
        self, tests: Sequence[str], folder: Path, budget_s: float, costs: dict[str, float]
    ) -> Outcome:
        """In a child: these tests up to the first red one."""
        items = [self.items[name] for name in tests]
        with (folder / "begun").open("a") as begun:
            parent = os.getppid()
            for number, item in enumerate(items):
                if os.getppid() != parent:
                    return Outcome("out of time", "", number)  # nobody asks any more
                spent = resource.getrusage(resource.RUSAGE_CHILDREN)
                if time.process_time() + spent.ru_utime + spent.ru_stime > budget_s:
                    return Outcome("out of time", "", number)
                patience_s = max(PATIENCE_S, 4 * costs.get(item.nodeid, 0))
                print(patience_s, item.nodeid, file=begun, flush=True)
                signal.setitimer(signal.ITIMER_PROF, patience_s)  # its signal ends the process
                following = items[number + 1] if number + 1 < len(items) else None
                self.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
                if any(report.failed for report in self.reports):
                    return Outcome("red", item.nodeid, number + 1)
                self.reports.clear()
        return Outcome("green", "", len(items))


def compiled(text: str | ast.Module, path: Path) -> types.CodeType:
    """A module's code as an import makes it."""
    code: types.CodeType = compile(text, str(path), "exec", dont_inherit=True)
    return code


def _pairs(
    before: types.CodeType, after: types.CodeType
) -> Iterator[tuple[types.CodeType, types.CodeType]]:
    """Code objects of two versions of a module that belong together: no line has moved."""
    others = dict(_named(after))
    for key, code in _named(before):
        if key in others:
            yield code, others[key]


def _named(code: types.CodeType) -> Iterator[tuple[tuple[str, int, int], types.CodeType]]:
    seen: dict[tuple[str, int], int] = {}
    for inner in _inside(code):
        key = (inner.co_qualname, inner.co_firstlineno)
        seen[key] = seen.get(key, -1) + 1
        yield (*key, seen[key]), inner


def _inside(code: types.CodeType) -> Iterator[types.CodeType]:
    for constant in code.co_consts:
        if isinstance(constant, types.CodeType):
            yield constant
            yield from _inside(constant)


def linked(source: Path, target: Path) -> Path:
    """A folder with the same files; whoever writes a file anew leaves the first one alone."""
    try:
        shutil.copytree(source, target, copy_function=os.link)
    except shutil.Error:  # on another disk
        shutil.rmtree(target)
        shutil.copytree(source, target)
    return target
