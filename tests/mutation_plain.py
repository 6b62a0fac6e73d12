"""Changes judged in a copy of the tree: the tests of the room run first, then all others."""

from __future__ import annotations

import contextlib
import os
import re
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from importlib.util import cache_from_source
from pathlib import Path

from mutation_changes import Change, changed

PATIENCE = 4  # a change that makes the tests so many times slower has been noticed
LEAST_PATIENCE_S = 120.0


@dataclass(frozen=True)
class Verdict:
    """Whether a run was green, the first red test, and how long it took."""

    green: bool
    first: str
    took_s: float


class Copy:
    """The tree in a folder of its own, with a cache of its own, where changes do no harm."""

    def __init__(self, root: Path, folder: Path, workers: int) -> None:
        folder.chmod(0o755)  # some tests go on as a user who may do less
        self.root = folder / "tree"
        self.cache = folder / "cache"
        self._clean_cache = folder / "cache-before"
        self.workers = workers
        self.path = [self.root]  # where Python looks for modules
        self.cache.mkdir()
        unwanted = shutil.ignore_patterns(".*", "__pycache__", "*.egg-info", "build", "dist", "out")
        shutil.copytree(root, self.root, ignore=unwanted)

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
            "PYTHONPATH": os.pathsep.join(map(str, self.path)),
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


def judge(
    copy: Copy,
    root: Path,
    drawn: Sequence[Change],
    room_tests_only: bool,
    tell: Callable[[Change, str], None],
) -> None:
    """Tell of each change which test has noticed it, or nothing."""
    alone = {room: copy.tests_of(room) for room in dict.fromkeys(c.room for c in drawn)}
    usual_s = {}
    for room, folder in alone.items():
        if folder is not None:
            usual_s[room] = _green(copy, str(folder))
    whole = not room_tests_only or None in alone.values()  # a module without tests of its own
    whole_s = _green(copy, str(copy.root / "tests")) if whole else 0.0
    copy.keep_cache()
    for change in drawn:
        text, *_ = changed(change)
        folder = alone[change.room]
        with copy.with_module(copy.root / change.path.relative_to(root), text):
            verdict = Verdict(True, "", 0.0)
            if folder is not None:
                patience_s = max(LEAST_PATIENCE_S, PATIENCE * usual_s[change.room])
                verdict = copy.run(str(folder), patience_s=patience_s)
            if folder is None or (verdict.green and not room_tests_only):
                others = [] if folder is None else [f"--ignore={folder}"]
                patience_s = max(LEAST_PATIENCE_S, PATIENCE * whole_s)
                verdict = copy.run(str(copy.root / "tests"), *others, patience_s=patience_s)
        tell(change, "" if verdict.green else verdict.first)


def _green(copy: Copy, folder: str) -> float:
    """How long the unchanged tests take. They have to be green, or every change looks noticed."""
    verdict = copy.run(folder)
    if not verdict.green:
        raise SystemExit(f"the tests are red before anything is changed: {verdict.first}")
    return verdict.took_s
