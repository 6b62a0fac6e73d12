"""How soon a tune sounds on a machine that has never played one: everything that `accomp make`
makes of it by default, with nothing in the cache.

Each turn has a home of its own. The first turn of all, which reads the libraries from the disk,
does not count.
"""

from __future__ import annotations

import os
import resource
import sys
import tempfile
from itertools import count
from pathlib import Path

from benchmarks.measure import Measure, in_turns

TUNE = Path(__file__).parent.parent / "examples" / "harbour-street-parade.toml"
GOAL_S = 5.0
TURNS = 5


def run() -> list[Measure]:
    """The middle of some turns."""
    accomp = Path(sys.executable).with_name("accomp")
    with tempfile.TemporaryDirectory() as folder:
        turns = count()

        def make() -> None:
            home = Path(folder) / str(next(turns))
            home.mkdir()
            words = [str(accomp), "make", str(TUNE), "--out", str(home / "out")]
            changed = {"HOME": str(home), "XDG_CACHE_HOME": str(home), "PATH": os.environ["PATH"]}
            child = os.posix_spawn(words[0], words, changed, file_actions=_SILENT)
            _, status = os.waitpid(child, 0)
            assert status == 0, f"it ended with {os.waitstatus_to_exitcode(status)}"

        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        (made,) = in_turns([make], TURNS)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
    used = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return [
        Measure(
            "accomp make, nothing in the cache", made.median, "s",
            "what a player waits for", GOAL_S, made.median / GOAL_S, at_most=1.0,
            note=f"{made.least:.1f} at the least; {used / (TURNS + 1):.1f} s of processor time",
        )
    ]  # fmt: skip


_SILENT = [
    (os.POSIX_SPAWN_OPEN, number, os.devnull, os.O_RDWR, 0) for number in (0, 1, 2)
]  # nobody watches: no bar, nothing said
