"""Workers: none outlives a parent that is killed, nor what they were begun for."""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from jobs import TEXT

from accomp.errors import OutputError
from accomp.job.workers import Workers, one_thread_each

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


def _prepared_for_ever() -> None:
    time.sleep(LONG_S)


def _prepared_wrongly() -> None:
    raise RuntimeError("nothing to load")


def _whose(task: int, progress: Callable[[float], None]) -> tuple[int, int]:
    return 2 * task, os.getpid()


def _killed(task: int, progress: Callable[[float], None]) -> None:
    os.kill(os.getpid(), signal.SIGKILL)


def test_workers_begun_ahead_are_gone_at_once_when_nothing_is_to_be_done() -> None:
    with Workers(2, _prepared_for_ever) as workers:
        workers.begin()
        assert len(multiprocessing.active_children()) == 2
    assert not multiprocessing.active_children()


@pytest.mark.slow
def test_workers_begun_ahead_do_the_tasks_whatever_became_of_their_preparation() -> None:
    with Workers(2, _prepared_wrongly) as workers:
        workers.begin()
        begun = {process.pid for process in multiprocessing.active_children()}
        done = dict(workers.done(_whose, range(4)))
    assert {task: result for task, (result, _) in done.items()} == {0: 0, 1: 2, 2: 4, 3: 6}
    assert {pid for _, pid in done.values()} <= begun


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="nobody is killed there")
def test_a_killed_worker_is_told_of_in_words() -> None:
    with pytest.raises(OutputError, match="ended without a word"), Workers(2) as workers:
        list(workers.done(_killed, range(2)))
    assert not multiprocessing.active_children()
