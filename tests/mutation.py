"""Do the tests notice? Single changes to the package, each of which should turn a test red.

    python tests/mutation.py [--changes 60] [--seed 1] [--room ROOM]... [--module PATH]...
    python tests/mutation.py --only TEXT [--room ROOM]... [--module PATH]...

A change is judged by the tests that pass through the place, known from a map of tests and lines.
The map is made when it is first needed, in a folder (`--map`), and brought up to date for test
files that have changed since. With `--plain`, every change is made in a copy of the tree, by
itself: the tests of its room run first, and when they stay green, all others that are run before
anything lands. With `--whole`, that is done with what the first way has left. A change that no test
notices has survived, and says which fact nobody holds. The exit code is 1 when fewer than 95 in a
hundred are noticed.

Conventions: a room is the first folder below the package (or a module there), and its tests are in
the folder of the same name; nothing else is known about where code stands. A seed draws the same
changes from the same code. What cannot change what a program does is never changed: annotations,
docstrings, decorators, assertions, imports. Some changes are equal to what they replace all the
same; a reader has to judge those.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from itertools import chain
from pathlib import Path

import mutation_fast
import mutation_plain
from mutation_changes import Change, by_rooms, draw, row, those_with

ROOT = Path(__file__).parent.parent
WANTED = 0.95


def main() -> int:
    """Draw, change, test, and print the table."""
    parser = argparse.ArgumentParser(description="Do the tests notice single changes?")
    parser.add_argument("--changes", type=int, default=60, metavar="N")
    parser.add_argument("--seed", type=int, default=1, metavar="N")
    parser.add_argument("--room", action="append", default=[], help="only this room (repeatable)")
    parser.add_argument("--module", action="append", default=[], type=Path, metavar="PATH")
    parser.add_argument("--only", default="", metavar="TEXT", help="all whose row has this text")
    parser.add_argument("--list", action="store_true", help="print the changes, run nothing")
    parser.add_argument("--workers", type=int, default=2, metavar="N", help="at a time")
    parser.add_argument("--plain", action="store_true", help="each in a copy of the tree")
    parser.add_argument("--room-tests-only", action="store_true", help="plain: not all others")
    parser.add_argument("--whole", action="store_true", help="all tests for what is left")
    parser.add_argument("--quick", action="store_true", help="only what needs no new process")
    parser.add_argument("--budget", type=float, default=60.0, metavar="S", help="for a change")
    parser.add_argument(
        "--limit", type=float, default=1e9, metavar="S", help="begin no more after it"
    )
    parser.add_argument("--map", type=Path, metavar="FOLDER")
    parser.add_argument("--map-only", action="store_true", help="bring the map up to date")
    parser.add_argument("--root", type=Path, default=ROOT, metavar="FOLDER", help="of the tree")
    parser.add_argument("--as-it-is", action="store_true", help="leave the map as it is")
    asked = parser.parse_args()
    root = asked.root.resolve()
    end = time.monotonic() + asked.limit
    drawn: list[Change] = []
    if not asked.map_only:
        modules = [(root / path).resolve() for path in asked.module]
        if asked.only:
            every = chain.from_iterable(by_rooms(root, asked.room, modules).values())
            drawn = those_with(asked.only, every, root)
        else:
            drawn = draw(root, asked.changes, asked.seed, asked.room, modules)
    if asked.list:
        print(*(row(change, root) for change in drawn), sep="\n")
        return 0
    table = Table(root)
    if asked.plain:
        _in_a_copy(root, drawn, asked.workers, asked.room_tests_only, table)
    else:
        how = mutation_fast.Asked(
            (asked.map or root / ".mutation").resolve(),
            asked.workers,
            asked.budget,
            end,
            asked.quick,
            asked.as_it_is,
        )
        mutation_fast.judge(root, drawn, how, table.tell)
        if asked.whole and table.left:
            print("\nwhat is left, by all tests:")
            again = Table(root)
            _in_a_copy(root, table.left, asked.workers, False, again)
            table.left = again.left
    return table.sum() if drawn else 0


def _in_a_copy(
    root: Path, drawn: list[Change], workers: int, room_tests_only: bool, table: Table
) -> None:
    with tempfile.TemporaryDirectory(prefix="mutation-") as name:
        copy = mutation_plain.Copy(root, Path(name), workers)
        mutation_plain.judge(copy, root, drawn, room_tests_only, table.tell)


class Table:
    """What became of each change."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self.judged: list[Change] = []
        self.left: list[Change] = []
        self._doubts: dict[Change, str] = {}

    def tell(self, change: Change, first: str, doubt: str = "") -> None:
        """Print who has noticed a change, or that nobody has."""
        if doubt == mutation_fast.NOT_TRIED:
            print(f"    {row(change, self.root)}\n      not tried: {doubt}", flush=True)
            return
        self.judged.append(change)
        fate = f"noticed by {first}" if first else "SURVIVED" + (f" ({doubt})" if doubt else "")
        if not first:
            self.left.append(change)
            self._doubts[change] = doubt
        print(f"{len(self.judged):3} {row(change, self.root)}\n      {fate}", flush=True)

    def sum(self) -> int:
        """Print how many were noticed in each room, and the others once more."""
        if not self.judged:
            return 0
        print("\nroom      changes  noticed")
        for room in sorted({change.room for change in self.judged}):
            count = sum(change.room == room for change in self.judged)
            lost = sum(change.room == room for change in self.left)
            print(f"{room:8} {count:8} {count - lost:8}")
        share = 1 - len(self.left) / len(self.judged)
        noticed = len(self.judged) - len(self.left)
        print(f"{'all':8} {len(self.judged):8} {noticed:8}   {share:.1%}")
        if self.left:
            print(
                "\nnoticed by nobody:",
                *(row(change, self.root) for change in self.left),
                sep="\n  ",
            )
        return int(share < WANTED)


if __name__ == "__main__":
    sys.exit(main())
