"""The cache: built once, whole or not at all, and never silence without a word."""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from pathlib import Path

import pytest
from voice_texts import changed, parameters

from accomp.errors import SoundError
from accomp.files import lock
from accomp.voice import store, voice_font, voice_names

TINY = {"roots": "[0]", "window": "16384", "highest_hz": "1500"}
SCRIPT = "from accomp.voice import voice_font; print(voice_font('tiny'))"


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A user with a cache and a voice of their own, which builds in a second."""
    text = changed(parameters(), **TINY)
    folder = tmp_path / "data" / "accomp" / "soundfonts"
    folder.mkdir(parents=True)
    (folder / "tiny.toml").write_text(text, encoding="utf-8")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.setattr(store, "_private_folder", None)
    monkeypatch.setattr(store, "cache_folder", lambda: tmp_path / "cache" / "voices")
    monkeypatch.setattr("accomp.files.data.data_folder", lambda: tmp_path / "data" / "accomp")
    return tmp_path


@pytest.fixture
def quick(home: Path, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Building replaced by a note of its name, where only the keeping is looked at."""
    built: list[str] = []

    def build(voice: object, progress: object = None) -> bytes:
        built.append(voice.name)  # type: ignore[attr-defined]
        return b"RIFF" + f"a font, number {len(built)}".encode()

    monkeypatch.setattr("accomp.voice.build.build", build)
    return built


@pytest.mark.slow
def test_a_voice_is_built_once_with_progress(home: Path) -> None:
    heard: list[float] = []
    path = voice_font("tiny", progress=heard.append)
    assert path.read_bytes()[:4] == b"RIFF"
    assert heard == sorted(heard)
    assert 0.0 < heard[0] <= heard[-1] <= 1.0
    assert path.is_relative_to(home / "cache")
    before = path.stat().st_mtime_ns
    heard.clear()
    assert voice_font("tiny", progress=heard.append) == path
    assert not heard
    assert path.stat().st_mtime_ns == before
    words = path.with_name(path.name + ".sha256").read_text().split()
    assert words == [hashlib.sha256(path.read_bytes()).hexdigest(), path.name]
    assert "tiny" in voice_names()
    assert "tenor-banjo" in voice_names()


@pytest.mark.parametrize(
    "damage", ["cut", "flipped", "empty", "gone", "no sum", "pipe", "pipe sum"]
)
def test_a_damaged_file_is_built_anew(quick: list[str], damage: str) -> None:
    path = voice_font("tiny")
    whole = path.read_bytes()
    total = path.with_name(path.name + ".sha256")
    if damage == "cut":
        path.write_bytes(whole[:-3])
    elif damage == "flipped":
        path.write_bytes(b"riff" + whole[4:])
    elif damage == "empty":
        path.write_bytes(b"")
    elif damage == "gone":
        path.unlink()
    elif damage == "no-sum":
        total.unlink()
    else:  # which would be waited for without end
        place = path if damage == "pipe" else total
        place.unlink()
        os.mkfifo(place)
    assert voice_font("tiny") == path
    assert store.is_whole(path)
    assert len(quick) == 2
    assert voice_font("tiny") == path
    assert len(quick) == 2


@pytest.mark.parametrize(("age_s", "stays"), [(60.0, True), (2 * store.SPARED_S, False)])
def test_other_parameters_are_another_file_and_an_old_one_goes(
    age_s: float, stays: bool, home: Path, quick: list[str]
) -> None:
    old = voice_font("tiny")
    then = old.stat().st_mtime - age_s  # one made lately may be in use by another version
    os.utime(old, (then, then))
    stranger = old.with_name("tiny-other.sf2")
    stranger.write_bytes(b"somebody's")
    file = home / "data" / "accomp" / "soundfonts" / "tiny.toml"
    file.write_text(changed(file.read_text(), ring_ms="210"))
    new = voice_font("tiny")
    assert new != old
    assert new.exists()
    assert old.exists() is stays
    assert stranger.exists()
    assert quick == ["tiny", "tiny"]


@pytest.mark.slow
def test_two_processes_build_one(home: Path) -> None:
    environment = {**os.environ, "OMP_NUM_THREADS": "1"}
    runs = [
        subprocess.Popen(
            [sys.executable, "-c", SCRIPT], stdout=subprocess.PIPE, env=environment, text=True
        )
        for _ in range(3)
    ]
    answers = {run.communicate(timeout=600)[0].strip() for run in runs}
    assert all(run.returncode == 0 for run in runs)
    assert len(answers) == 1
    path = Path(answers.pop())
    assert store.is_whole(path)
    left = sorted(entry.name for entry in path.parent.iterdir())
    assert left == [path.name, f"{path.name}.sha256"]


def test_while_another_process_holds_the_lock_one_waits(
    home: Path, quick: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    tries: list[int] = []

    def grasp(handle: int) -> bool:
        tries.append(handle)
        return len(tries) > 3

    monkeypatch.setattr(lock, "_grasp", grasp)
    voice_font("tiny")
    assert len(tries) == 4
    assert quick == ["tiny"]


def test_a_lock_that_never_comes_free_is_got_round(
    home: Path, quick: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(lock, "_grasp", lambda handle: False)
    monkeypatch.setattr(store, "WAIT_S", 0.2)
    path = voice_font("tiny")
    assert store.is_whole(path)
    assert not path.is_relative_to(home)


def test_a_cache_that_cannot_be_made_is_got_round(home: Path, quick: list[str]) -> None:
    (home / "cache").write_text("a file stands where the folder would go")
    path = voice_font("tiny")
    assert store.is_whole(path)
    assert not path.is_relative_to(home)
    assert voice_font("tiny") == path
    assert len(quick) == 1


def test_a_full_disk_leaves_nothing_and_says_so(
    home: Path, quick: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(SoundError, match="no space left on device") as caught:
        voice_font("tiny")
    assert caught.value.helps == ("soundfont",)
    left = [entry.name for entry in (home / "cache" / "voices").iterdir()]
    assert all(name.endswith(".lock") for name in left)


def test_an_interrupted_build_leaves_nothing(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def stopped(voice: object, progress: object = None) -> bytes:
        raise KeyboardInterrupt

    monkeypatch.setattr("accomp.voice.build.build", stopped)
    with pytest.raises(KeyboardInterrupt):
        voice_font("tiny")
    left = [entry.name for entry in (home / "cache" / "voices").iterdir()]
    assert all(name.endswith(".lock") for name in left)


@pytest.mark.parametrize("name", ["kazoo", "", "../tenor-banjo", "a/b", "tenor-banjo.toml"])
def test_an_unknown_voice_names_the_known(name: str) -> None:
    with pytest.raises(SoundError, match=r"there is no voice .*tenor-banjo"):
        voice_font(name)


def test_wrong_parameters_are_a_sound_error_with_their_place(home: Path) -> None:
    file = home / "data" / "accomp" / "soundfonts" / "tiny.toml"
    file.write_text(changed(file.read_text(), scale_mm="-1"))
    with pytest.raises(SoundError, match=r"tiny\.toml:\d+:\d+: 'scale_mm' must be a number"):
        voice_font("tiny")
