"""Fuzzing for hours, by hand: odd inputs of every kind until the time is over or Ctrl-C.

    python tests/fuzz/fuzz_run.py [--seconds 3600] [--kind KIND]... [--first 0]

What is wrong is printed and its input kept in tests/fuzz/finds, from where the everyday tests try
it again: mend the program, look at the file, and leave it there.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

HERE = Path(__file__).parent
FINDS = HERE / "finds"
KINDS = ("tune", "style", "instrument", "data", "book", "musicxml", "abc", "mxl", "chord")
_BATCH = 40


@dataclass(frozen=True)
class Find:
    """An input with which the program does wrong."""

    kind: str
    data: bytes
    wrong: str


@dataclass
class Count:
    """How many inputs were tried."""

    tried: int = 0


def fuzzed(kinds: tuple[str, ...], seconds: float, first: int, count: Count) -> Iterator[Find]:
    """Try inputs of each kind in turns, for some time; yields what is wrong."""
    end = time.monotonic() + seconds
    with tempfile.TemporaryDirectory(prefix="fuzz-") as place:
        number = first
        while time.monotonic() < end:
            for kind in kinds:
                left = end - time.monotonic()
                if left <= 0:
                    break
                yield from batch(Path(place), kind, number, left, count)
            number += _BATCH


def batch(
    place: Path, kind: str, first: int, seconds: float, count: Count, what: Path | None = None
) -> Iterator[Find]:
    """One worker's inputs; what it dies of is a find, too, but for the end of the time."""
    numbers = [str(first), str(_BATCH)] if what is None else [str(what)]
    folder = place / kind
    command = [sys.executable, str(HERE / "fuzz_worker.py"), str(folder), kind, *numbers]
    done = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    try:
        out, err = done.communicate(timeout=seconds)
    except subprocess.TimeoutExpired:
        done.kill()
        out, err = done.communicate()[0], ""
    rows = [json.loads(line) for line in out.splitlines() if line.endswith("}")]
    count.tried += len(rows)
    for row in rows:
        if row["wrong"]:
            yield Find(kind, drawn(kind, row["number"], what), row["wrong"])
    if done.returncode and err:
        number = rows[-1]["number"] + 1 if rows else first
        yield Find(kind, drawn(kind, number, what), f"ends with {done.returncode}\n{err[-2000:]}")


def drawn(kind: str, number: int, what: Path | None) -> bytes:
    """The input of a number."""
    import random

    from fuzz_targets import TARGETS

    if what is not None:
        return what.read_bytes()
    target = next(one for one in TARGETS if one.name == kind)
    return target.draw(random.Random(f"{kind} {number}"))


def keep(find: Find) -> Path:
    """The input as a file of the regression tests."""
    FINDS.mkdir(exist_ok=True)
    path = FINDS / f"{find.kind}-{hashlib.sha256(find.data).hexdigest()[:12]}"
    path.write_bytes(find.data)
    return path


def main() -> int:
    words = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    words.add_argument("--seconds", type=float, default=3600.0)
    words.add_argument("--kind", action="append", choices=KINDS)
    words.add_argument("--first", type=int, default=int(time.time()) % 10**9)
    said = words.parse_args()
    count, finds = Count(), 0
    seen: set[str] = set()
    for find in fuzzed(tuple(said.kind or KINDS), said.seconds, said.first, count):
        last = find.wrong.strip().splitlines()[-1]
        finds += 1
        if (find.kind + last)[:60] not in seen:  # one file for each kind of fault
            seen.add((find.kind + last)[:60])
            print(f"{keep(find)}\n{find.wrong}\n", flush=True)
    print(f"{count.tried} inputs tried from number {said.first} on, {finds} of them wrong")
    return 1 if finds else 0


if __name__ == "__main__":
    sys.exit(main())
