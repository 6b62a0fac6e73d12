"""Practice packs: sound made a second, what a second process gains, memory.

A pack of a 32-bar tune in 12 keys at 3 speeds for 3 roles (full, without the player, the player
alone), audio only; the ladder, drills and audition that `--pack` adds are left out. One and two
processes make the whole of it by turns: in a smaller pack the start of a process would weigh more.
Memory is the sum over all processes of the command, read from the system while they work.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

from benchmarks.measure import Measure, in_turns, usual_environment
from benchmarks.memory import peak_bytes
from benchmarks.tunes import tune_text

MOST_BYTES = 600e6
ROUNDS = 2


def run() -> list[Measure]:
    """The whole pack with one process and with two."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        tune = folder / "tune.toml"
        tune.write_text(tune_text(32), encoding="utf-8")
        number = iter(range(1000))

        def pack(jobs: int, keys: tuple[str, ...] = ("all",)) -> float:
            return _pack(tune, folder / str(next(number)), jobs, keys)

        pack(1, ("C",))  # builds the voice, warms the caches
        peaks: list[float] = []
        one, two = in_turns([lambda: pack(1), lambda: peaks.append(pack(2))], ROUNDS)
        sound_s = _sound_s(folder)
        peak = max(peaks)
    return [
        Measure(
            "sound in a pack of 12 keys x 3 speeds x 3 roles, 2 processes",
            sound_s / two.median,
            "s of sound a second",
            note=f"{sound_s:.0f} s of sound in {two.median:.0f} s",
        ),
        Measure(
            "two processes against one",
            two.median,
            "s",
            "one process",
            one.median,
            one.median / two.median,
            at_least=1.6,
            note="one renders its stems in two threads, and so is no single processor's work",
        ),
        Measure(
            "memory of all processes at the most",
            peak / 1e6,
            "MB",
            "600 MB",
            MOST_BYTES / 1e6,
            peak / MOST_BYTES,
            at_most=1.0,
        ),
    ]


def _pack(tune: Path, out: Path, jobs: int, keys: tuple[str, ...]) -> float:
    """Make a pack; returns the most memory its processes had together, in bytes."""
    words = [sys.executable, "-m", "benchmarks.pack_job", str(tune), str(out), str(jobs), *keys]
    quiet, usual = subprocess.DEVNULL, usual_environment()
    return peak_bytes(lambda: subprocess.Popen(words, stdout=quiet, stderr=quiet, env=usual))


def _sound_s(folder: Path) -> float:
    """Seconds of sound in the largest pack of a folder."""
    import soundfile

    lengths = [
        sum(soundfile.info(str(file)).duration for file in pack.glob("*.flac"))
        for pack in folder.iterdir()
        if pack.is_dir()
    ]
    return max(lengths)
