"""A pack killed at any moment, and taken up again."""

from __future__ import annotations

import random
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from jobs import TEXT, bytes_of

from accomp.job.build import WORK

COMMAND = [
    sys.executable, "-m", "accomp", "make", "small.toml", "--out", "out", "--pack", "--jobs", "2",
    "--choruses", "1", "--tempo", "300", "--ladder", "90:100:10", "--position", "root-top",
    "--position", "third-top",
]  # fmt: skip


def _run(folder: Path) -> float:
    start = time.monotonic()
    subprocess.run(COMMAND, cwd=folder, check=True, capture_output=True, timeout=600)
    return time.monotonic() - start


@pytest.mark.long
def test_killed_at_twenty_moments_and_resumed_it_ends_the_same(tmp_path: Path) -> None:
    whole = tmp_path / "whole"
    whole.mkdir()
    (whole / "small.toml").write_text(TEXT)
    whole_s = _run(whole)
    wanted = bytes_of(whole / "out")
    assert len(wanted) > 20

    broken = tmp_path / "broken"
    broken.mkdir()
    (broken / "small.toml").write_text(TEXT)
    out = broken / "out"
    chance = random.Random(4)
    kills, kept = 0, set()
    while kills < 20:
        with (tmp_path / "said").open("wb") as said:
            process = subprocess.Popen(COMMAND, cwd=broken, stdout=said, stderr=said)
        try:
            code = process.wait(timeout=chance.uniform(0.5, whole_s))
        except subprocess.TimeoutExpired:
            process.send_signal(signal.SIGKILL)
            process.wait()
            kills += 1
        else:  # it came to the end in spite of all, and the next begins from nothing
            assert code == 0, (tmp_path / "said").read_text()
            assert bytes_of(out) == wanted
            shutil.rmtree(out)
        kept |= {record.name for record in (out / WORK).glob("*.done")}
        if out.exists():  # whatever has its final name is whole
            found = {name: data for name, data in bytes_of(out).items() if name in wanted}
            assert all(data == wanted[name] for name, data in found.items())
    _run(broken)
    assert bytes_of(out) == wanted
    assert kept, "no killed run had finished anything: nothing was there to take up"
