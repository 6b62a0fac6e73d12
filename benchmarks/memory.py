"""The memory that a command and all its processes have together, read while they work (Linux)."""

from __future__ import annotations

import subprocess
import threading
from collections.abc import Callable
from pathlib import Path


def peak_bytes(start: Callable[[], subprocess.Popen[bytes]]) -> float:
    """Run a command to its end; the most it had, in bytes, 0 where the system does not tell."""
    process = start()
    peak = 0.0
    done = threading.Event()

    def watch() -> None:
        nonlocal peak
        while not done.wait(0.2):
            peak = max(peak, memory(process.pid))

    watcher = threading.Thread(target=watch)
    watcher.start()
    code = process.wait()
    done.set()
    watcher.join()
    if code:
        raise RuntimeError(f"the command ended with {code}")
    return peak


def memory(root: int) -> float:
    """Proportional set size of a process and all below it, in bytes (Linux; elsewhere 0)."""
    parents: dict[int, int] = {}
    for status in Path("/proc").glob("[0-9]*/stat"):
        try:
            fields = status.read_text().rsplit(")", 1)[1].split()
        except OSError:
            continue
        parents[int(status.parent.name)] = int(fields[1])
    family, grown = {root}, True
    while grown:
        more = {pid for pid, parent in parents.items() if parent in family} - family
        family |= more
        grown = bool(more)
    total = 0.0
    for pid in family:
        try:
            lines = Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines()
        except OSError:
            continue
        total += sum(int(line.split()[1]) * 1024 for line in lines if line.startswith("Pss:"))
    return total
