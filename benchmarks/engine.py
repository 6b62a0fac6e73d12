"""An engine of several processes on this machine, begun as on its command line."""

from __future__ import annotations

import contextlib
import json
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

_LONG_S = 600.0  # far more than is needed on a busy machine; a guard against waiting for ever


@dataclass(frozen=True)
class Engine:
    """The address of a scheduler on the loopback, and the processes of its workers."""

    address: str
    workers: tuple[subprocess.Popen[bytes], ...]
    folders: tuple[Path, ...]


@contextlib.contextmanager
def engine(folder: Path, workers: int = 2) -> Iterator[Engine]:
    """Start a scheduler and workers of one thread each, which know nothing of this user's data and
    have folders of their own below `folder`; end them."""
    with contextlib.ExitStack() as stack:
        told = folder / "scheduler.json"
        scheduler = ["--host", "127.0.0.1", "--port", "0", "--scheduler-file", str(told)]
        _started(stack, folder, "dask_scheduler", *scheduler)
        _wait(told)
        processes, folders = [], []
        for number in range(workers):
            own = folder / f"worker-{number}"
            own.mkdir()
            words = ["--scheduler-file", str(told), "--no-nanny", "--nthreads", "1"]
            words += ["--local-directory", str(own), "--host", "127.0.0.1"]
            processes.append(_started(stack, own, "dask_worker", *words))
            folders.append(own)
        address = json.loads(told.read_text(encoding="utf-8"))["address"]
        yield Engine(address, tuple(processes), tuple(folders))


def _started(
    stack: contextlib.ExitStack, folder: Path, program: str, *words: str
) -> subprocess.Popen[bytes]:
    """A process that ends with the stack; what it says goes to a file in its folder."""
    log = stack.enter_context((folder / f"{program}.log").open("wb"))
    home = {"XDG_DATA_HOME": str(folder / "data"), "OPENBLAS_NUM_THREADS": "1"}
    process = subprocess.Popen(
        [sys.executable, "-m", f"distributed.cli.{program}", "--no-dashboard", *words],
        cwd=folder,
        stdout=log,
        stderr=log,
        env=os.environ | home,
    )
    stack.callback(process.wait)
    stack.callback(process.kill)
    return process


def _wait(path: Path) -> None:
    """Wait until a file is there, with something in it."""
    until = time.monotonic() + _LONG_S
    while not (path.is_file() and path.stat().st_size):
        if time.monotonic() > until:
            raise TimeoutError(f"{path} did not appear")
        time.sleep(0.1)
