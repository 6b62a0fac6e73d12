"""The memory that a command and all its processes have together, read while they work (Linux)."""

from __future__ import annotations

import subprocess
import threading
from collections.abc import Callable

from benchmarks.pack_bench import _memory


def peak_bytes(start: Callable[[], subprocess.Popen[bytes]]) -> float:
    """Run a command to its end; the most it had, in bytes, 0 where the system does not tell."""
    process = start()
    peak = 0.0
    done = threading.Event()

    def watch() -> None:
        nonlocal peak
        while not done.wait(0.2):
            peak = max(peak, _memory(process.pid))

    watcher = threading.Thread(target=watch)
    watcher.start()
    code = process.wait()
    done.set()
    watcher.join()
    if code:
        raise RuntimeError(f"the command ended with {code}")
    return peak
