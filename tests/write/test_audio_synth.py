"""Finding the synthesiser."""

from __future__ import annotations

import ctypes.util
import importlib.util
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from accomp.errors import SoundError
from accomp.write import synth


@pytest.fixture
def fresh() -> Iterator[None]:
    synth._loaded.cache_clear()
    yield
    synth._loaded.cache_clear()


def _no_wheel(package: Path) -> tuple[Path, ...]:
    return ()


def test_the_wheel_s_library_comes_first() -> None:
    found = synth.load_synth()
    assert "pygame" in found.path
    assert found.source == "pygame-ce wheel"
    assert synth.synth_name() == f"FluidSynth {found.version} (pygame-ce wheel)"


@pytest.mark.usefixtures("fresh")
def test_it_loads_without_a_system_library(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ctypes.util, "find_library", lambda name: None)
    assert synth.load_synth().source == "pygame-ce wheel"


@pytest.mark.usefixtures("fresh")
def test_a_system_library_is_the_fallback(monkeypatch: pytest.MonkeyPatch) -> None:
    # The wheel's library under another name stands for the system's, so that the test needs none.
    path = synth.load_synth().path
    synth._loaded.cache_clear()
    monkeypatch.setattr(synth, "wheel_libraries", _no_wheel)
    monkeypatch.setattr(
        ctypes.util, "find_library", lambda name: path if name == "fluidsynth" else None
    )
    assert synth.synth_name().endswith("(system library)")


@pytest.mark.usefixtures("fresh")
def test_a_broken_library_is_passed_over(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    broken = tmp_path / "libfluidsynth.so.3"
    broken.write_bytes(b"not a library")
    good = synth.load_synth().path
    synth._loaded.cache_clear()
    monkeypatch.setattr(synth, "wheel_libraries", lambda package: (broken, Path(good)))
    assert synth.load_synth().path == good


@pytest.mark.usefixtures("fresh")
def test_without_any_library_the_error_says_what_to_do(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(synth, "wheel_libraries", _no_wheel)
    monkeypatch.setattr(ctypes.util, "find_library", lambda name: None)
    monkeypatch.setattr(sys, "platform", "linux")
    with pytest.raises(SoundError, match=r"No FluidSynth library.*pygame-ce.*ask for no audio"):
        synth.load_synth()


@pytest.mark.usefixtures("fresh")
def test_without_pyfluidsynth_the_error_names_it(monkeypatch: pytest.MonkeyPatch) -> None:
    find = importlib.util.find_spec
    monkeypatch.setattr(
        importlib.util, "find_spec", lambda name: None if name == "fluidsynth" else find(name)
    )
    with pytest.raises(SoundError, match="pyfluidsynth is not installed"):
        synth.load_synth()


@pytest.mark.usefixtures("fresh")
def test_loading_says_nothing_and_leaves_no_trace(
    monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    search = ctypes.util.find_library
    before = sys.modules.get("fluidsynth")
    monkeypatch.setenv("CI", "1")  # pyfluidsynth prints then
    synth.load_synth()
    assert capfd.readouterr() == ("", "")
    log = ctypes.CDLL(synth.load_synth().path).fluid_log
    for level in range(5):  # panic, error, warning, info, debug in fluidsynth/log.h
        log(level, b"said at %d", level)
    assert synth.messages()[-3:] == ("said at 0", "said at 1", "said at 2")
    assert capfd.readouterr() == ("", ""), "nor does the library, whatever it has to say"
    assert ctypes.util.find_library is search
    assert sys.modules.get("fluidsynth") is before


@pytest.mark.parametrize(
    "place",
    ["pygame_ce.libs/libfluidsynth-2d6c.so.3.5.6", "pygame/.dylibs/libfluidsynth.3.5.6.dylib",
     "pygame/libfluidsynth-3.dll"],
)  # fmt: skip
def test_where_wheels_keep_the_library(tmp_path: Path, place: str) -> None:
    # Source: names in pygame-ce 2.5.8's wheels for Linux and macOS; the Windows wheel carries none,
    # and would beside its other DLLs.
    library = tmp_path / place
    library.parent.mkdir(parents=True)
    library.touch()
    assert synth.wheel_libraries(tmp_path / "pygame") == (library,)
