"""Odd inputs of every kind: within 5 s and 1 GB an answer, or an error with its place."""

import sys
from pathlib import Path

import pytest
from fuzz_run import FINDS, KINDS, Count, batch, fuzzed

pytestmark = pytest.mark.skipif(
    not Path("/proc/self/statm").exists(), reason="memory cannot be held here"
)
SECONDS = 120


@pytest.mark.many(1, 99)
@pytest.mark.parametrize("path", sorted(FINDS.iterdir()), ids=lambda path: path.name)
def test_what_was_found_once_is_right_now(path, tmp_path):
    kind = path.name.partition("-")[0]
    count = Count()
    found = list(batch(tmp_path, kind, 0, 120, count, path))
    assert not found, found[0].wrong
    assert count.tried == 1


@pytest.mark.long
def test_two_minutes_of_odd_inputs():
    """The same inputs in every run, as far as it gets; `make fuzz` draws others."""
    count = Count()
    found = list(fuzzed(KINDS, SECONDS, 0, count))
    assert not found, "\n".join(f"{one.kind}: {one.wrong}\n{one.data[:300]!r}" for one in found)
    assert count.tried > 100, sys.executable
