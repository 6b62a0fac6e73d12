"""The same sound in every fresh process, though its first synths are made by several threads.

The self-check is blind in these processes: it would mend what a wrong start of the library spoils.
Without the synth that is made and freed when the library is loaded, one process in two gives a
wrong file on two idle cores, one in eight on busy ones: eight processes find it mostly, forty
always, and the test of the lock below without luck.
"""

from __future__ import annotations

import hashlib
import subprocess
import sys
import threading
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from audio_pieces import BANJO, small_band, soundfont_file

from accomp.write import synth
from accomp.write.audio import Rendering, write_audio

HERE = Path(__file__).parent


@pytest.mark.slow
@pytest.mark.parametrize("processes", [8, pytest.param(40, marks=pytest.mark.long)])
def test_fresh_processes_give_one_sum(processes: int, tmp_path: Path) -> None:
    voice = soundfont_file(tmp_path / "voice.sf2", presets=((0, BANJO), (1, BANJO)))

    def sums(number: int) -> list[str]:
        """One caller, whose stems start together, and two callers in turn."""
        script = [sys.executable, str(HERE / "fresh_render.py"), str(voice), str(1 + number % 2)]
        done = subprocess.run(
            [*script, "blind"], cwd=HERE.parent.parent, capture_output=True, text=True, check=False
        )
        assert done.returncode == 0, done.stderr
        return done.stdout.split()

    with ThreadPoolExecutor(2) as pool:
        found = [each for sums in pool.map(sums, range(processes)) for each in sums]
    path = tmp_path / "here.flac"
    write_audio(small_band(1), path, Rendering(voice=voice, threads=1))
    assert len(found) == processes + processes // 2
    assert set(found) == {hashlib.sha256(path.read_bytes()).hexdigest()}


def test_threads_wait_for_one_library(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nobody gets the library before its first synth is made, and it is loaded once."""
    synth._loaded.cache_clear()
    started: list[object] = []
    start_up = synth._start_up

    def slow_start_up(api: object) -> None:
        threading.Event().wait(0.05)  # long enough for all to come in
        start_up(api)
        started.append(api)

    monkeypatch.setattr(synth, "_start_up", slow_start_up)
    together = threading.Barrier(8)

    def load(_: int) -> tuple[synth.Synth, bool]:
        together.wait()
        return synth.load_synth(), bool(started)

    with ThreadPoolExecutor(8) as pool:
        got = list(pool.map(load, range(8)))
    assert all(ready for _, ready in got)
    assert len({id(loaded) for loaded, _ in got}) == 1
    assert len(started) == 1
