"""A library of many short tunes, made on an engine of two processes here.

`python -m benchmarks.library_run TUNES [OPTION OF MAKE...]` prints, for a tune: items, files, bytes
of files and of manifest, and seconds of a processor, here (reading, planning, writing) and at the
workers. From these follows what ten thousand tunes take (DEVELOPERS.md). Conventions: each tune has
eight bars, and its chords, key and tempo are its own.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from benchmarks.engine import engine

_ROOTS = ("C", "F", "G", "Bb", "D", "Eb", "A")
_STEPS = ("{0} | {1}7", "{1}m7 | {0}", "{0}6 | {0}7", "{1} | {1}m")


def tune_text(number: int) -> str:
    """A tune of eight bars, another one for each number."""
    root, other = _ROOTS[number % 7], _ROOTS[(number // 7) % 7]
    steps = [_STEPS[(number // (49 * place + 1)) % 4] for place in range(4)]
    bars = " | ".join(step.format(root, other) for step in steps)
    return (
        f'title = "Shelf {number:05d}"\nkey = "{root}"\nmeter = "4/4"\n'
        f"tempo = {120 + number % 60}\n"
        f'style = "four-light-heavy"\n[sections]\nA = "| {bars} |"\n'
    )


def main(count: int, options: list[str]) -> None:
    """Make so many tunes, and print the figures."""
    with tempfile.TemporaryDirectory() as name, engine(Path(name)) as there:
        tunes, out = Path(name, "tunes"), Path(name, "out")
        tunes.mkdir()
        for number in range(count):
            (tunes / f"{number:05d}.toml").write_text(tune_text(number), encoding="utf-8")
        words = ["-m", "accomp", "make", str(tunes), "-q", "--out", str(out), *options]
        before = [_cpu_s(worker.pid) for worker in there.workers]
        start = time.perf_counter()
        subprocess.run([sys.executable, *words, "--cluster", there.address], check=True)
        wall_s = time.perf_counter() - start
        used = resource.getrusage(resource.RUSAGE_CHILDREN)
        workers_s = sum(
            _cpu_s(worker.pid) - was for worker, was in zip(there.workers, before, strict=True)
        )
        files = [path for path in out.rglob("*") if path.is_file()]
        manifests = [path for path in files if path.name == "manifest.json"]
        print(f"{count} tunes, {' '.join(options)}: {wall_s:.0f} s by the clock")
        _print("files", len(files) / count)
        _print("kB of files", sum(path.stat().st_size for path in files) / count / 1e3)
        _print("kB of manifest", sum(path.stat().st_size for path in manifests) / count / 1e3)
        _print("s of a processor here", (used.ru_utime + used.ru_stime) / count)
        _print("s of a processor at the workers", workers_s / count)
        print(f"{used.ru_maxrss / 1e3:.0f} MB of memory here at most")


def _print(what: str, value: float) -> None:
    print(f"  {value:.3g} {what} a tune")


def _cpu_s(pid: int) -> float:
    """Seconds of a processor that a process has used."""
    words = Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rsplit(")", 1)[1].split()
    return (int(words[11]) + int(words[12])) / os.sysconf("SC_CLK_TCK")


if __name__ == "__main__":
    main(int(sys.argv[1]), sys.argv[2:])
