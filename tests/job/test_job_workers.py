"""Workers: none outlives a parent that is killed."""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from jobs import TEXT

from accomp.job.workers import one_thread_each

LONG_S = 600.0  # far more than is needed on a busy machine; a guard against waiting for ever


def _children(parent: int) -> set[int]:
    found = set()
    for stat in Path("/proc").glob("[0-9]*/stat"):
        with contextlib.suppress(OSError):
            if int(stat.read_text().rsplit(")", 1)[1].split()[1]) == parent:
                found.add(int(stat.parent.name))
    return found


def _running(pid: int) -> bool:
    with contextlib.suppress(OSError):
        return Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0] != "Z"
    return False


@pytest.mark.slow
@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="processes are seen in /proc")
def test_workers_end_with_a_killed_parent(tmp_path: Path) -> None:
    (tmp_path / "small.toml").write_text(TEXT)
    words = [sys.executable, "-m", "accomp", "make", "small.toml", "--out", "out", "--pack"]
    process = subprocess.Popen(
        [*words, "--jobs", "2"],
        cwd=tmp_path,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    children: set[int] = set()
    while (
        len(children) < 3
    ):  # two workers and the tracker, after the voice where it is not kept yet
        assert process.poll() is None, "it made everything by itself"
        time.sleep(0.1)
        children = _children(process.pid)
    time.sleep(1.5)  # let them begin
    process.send_signal(signal.SIGKILL)
    process.wait()
    patience = time.monotonic() + LONG_S
    while any(map(_running, children)) and time.monotonic() < patience:
        time.sleep(0.1)
    assert not [pid for pid in children if _running(pid)]


def test_workers_begin_with_one_thread_for_numpy(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("OPENBLAS_NUM_THREADS", raising=False)
    monkeypatch.setenv("OMP_NUM_THREADS", "3")  # somebody's own choice stays
    with one_thread_each():
        assert os.environ["OPENBLAS_NUM_THREADS"] == "1"
        assert os.environ["OMP_NUM_THREADS"] == "3"
    assert "OPENBLAS_NUM_THREADS" not in os.environ
    assert os.environ["OMP_NUM_THREADS"] == "3"
