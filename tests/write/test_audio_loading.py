"""Finding the synthesiser, and rendering again what is not as asked."""

from __future__ import annotations

import ctypes
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from accomp.errors import SoundError
from accomp.write import synth
from accomp.write.audio.spool import Samples

# Finding the synthesiser


class Api:
    """What pyfluidsynth has, of some version."""

    def __init__(self, version: tuple[int, int, int]) -> None:
        self.version = version
        self.calls: list[Any] = []

    def fluid_version(self, *numbers: Any) -> None:
        for number, value in zip(numbers, self.version, strict=True):
            number.value = value

    def new_fluid_settings(self) -> str:
        return "settings"

    def new_fluid_synth(self, settings: str) -> str:
        self.calls.append(("new", settings))
        return "synth"

    def delete_fluid_synth(self, made: str) -> None:
        self.calls.append(("delete", made))

    def delete_fluid_settings(self, made: str) -> None:
        self.calls.append(("delete", made))

    def cfunc(self, name: str, *_: Any) -> Any:
        return lambda level, log, data: self.calls.append((name, level, log is not None, data))


def loaded(*apis: Any) -> Any:
    """What is loaded where the libraries found are these."""
    with pytest.MonkeyPatch.context() as patch:
        rows = [("place", str(n)) for n in range(len(apis))]
        patch.setattr(synth, "_candidates", lambda: iter(rows))

        def on(path: str) -> Any:
            found = apis[int(path)]
            if isinstance(found, Exception):
                raise found
            return found

        patch.setattr(synth, "_pyfluidsynth_on", on)
        return synth._loaded.__wrapped__()


def test_the_first_library_that_is_new_enough_is_taken_and_started_up():
    old, good, other = Api((2, 0, 9)), Api((2, 1, 0)), Api((3, 0, 0))
    found = loaded(OSError("broken"), old, good, other)
    assert (found.api, found.path, found.name) == (good, "2", "FluidSynth 2.1.0 (place)")
    assert old.calls == other.calls == []
    log = "fluid_set_log_function"
    # Panic, error and warning are kept, information and debugging left out.
    assert good.calls[:5] == [(log, n, n < 3, None) for n in range(5)]
    assert good.calls[5:] == [("new", "settings"), ("delete", "synth"), ("delete", "settings")]


def test_what_was_tried_is_said():
    with pytest.raises(SoundError) as caught:
        loaded(OSError("broken"), Api((1, 9, 9)), AttributeError("old"))
    assert str(caught.value) == (
        "No FluidSynth library was found, so no audio can be made. Tried: 0: broken; "
        f"1: version 1.9.9 is older than 2.1; 2: old. {synth.REMEDY}"
    )
    with pytest.raises(SoundError) as caught:
        loaded()
    assert str(caught.value) == (
        f"No FluidSynth library was found, so no audio can be made. {synth.REMEDY}"
    )


def test_the_last_twenty_messages_are_kept(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(synth, "_MESSAGES", type(synth._MESSAGES)(maxlen=20))
    for n in range(25):
        synth._keep(1, f"m{n}".encode(), None)
    assert synth.messages() == tuple(f"m{n}" for n in range(5, 25))
    synth._keep(1, None, None)
    synth._keep(1, b"\xff", None)
    assert synth.messages()[-2:] == ("", "�")


def test_libraries_are_looked_for_in_the_wheel_then_on_the_system(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    package = tmp_path / "pygame"
    for name in ("pygame_ce.libs/libfluidsynth-b.so.3", "pygame_ce.libs/libfluidsynth-a.so"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).touch()
    spec = SimpleNamespace(origin=str(package / "__init__.py"))
    monkeypatch.setattr(synth.importlib.util, "find_spec", lambda name: spec)
    names = {"fluidsynth": "f.so", "libfluidsynth-3": "l.so"}
    monkeypatch.setattr(ctypes.util, "find_library", names.get)
    monkeypatch.setattr(synth.sys, "platform", "linux")
    found = [(source, Path(path).name) for source, path in synth._candidates()]
    assert found == [
        ("pygame-ce wheel", "libfluidsynth-a.so"), ("pygame-ce wheel", "libfluidsynth-b.so.3"),
        ("system library", "f.so"), ("system library", "l.so"),
    ]  # fmt: skip
    for nothing in (None, SimpleNamespace(origin=None)):
        monkeypatch.setattr(synth.importlib.util, "find_spec", lambda name, n=nothing: n)
        assert [Path(path).name for _, path in synth._candidates()] == ["f.so", "l.so"]
    monkeypatch.setattr(synth.sys, "platform", "darwin")
    monkeypatch.setattr(synth.Path, "exists", lambda path: str(path).startswith("/opt"))
    assert list(synth._candidates())[2:] == [
        ("system library", "/opt/homebrew/lib/libfluidsynth.dylib")
    ]


# Rendering and its check


@pytest.fixture
def played(monkeypatch: pytest.MonkeyPatch) -> dict[str, Any]:
    """A player of eight numbered blocks; each attempt is as far from what was asked as `apart`
    says, in its turn."""
    from accomp.write.audio import render

    seen: dict[str, Any] = {"apart": [], "compared": [], "players": 0}

    @contextmanager
    def one(midi: bytes, some: Any, rate: int) -> Iterator[int]:
        seen["players"] += 1
        yield seen["players"]

    def blocks(player: int, rate: int) -> Iterator[Samples]:
        for n in range(8):
            yield np.full((render.BLOCK, 2), 10 * player + n, np.float32)

    def compare(sound: Samples, *_: Any) -> tuple[float, Samples]:
        seen["compared"].append((len(sound), sound[0, 0], sound[-1, 0]))
        return seen["apart"].pop(0), np.full((4, 2), 0.1, np.float32)

    monkeypatch.setattr(render, "_Player", one)
    monkeypatch.setattr(render, "_blocks", blocks)
    monkeypatch.setattr(render, "compare", compare)
    monkeypatch.setattr(render, "ALLOWED", 0.5)
    monkeypatch.setattr(render, "read_opening", lambda *_: "opening")
    monkeypatch.setattr(render, "synth_name", lambda: "Synth 1")
    monkeypatch.setattr(render, "level_db", lambda sound: float(sound[0, 0]))
    return seen


@pytest.mark.parametrize(
    ("frames", "kept", "compared"),
    [
        ((40_000, 60_000), 1, (20_000, 12, 13)),
        ((0, 16_384), 0, (16_384, 10, 10)),
        ((16_383, 16_385), 0, (2, 10, 11)),
        ((32_768, 49_152), 1, (16_384, 12, 12)),
        ((32_767, 49_153), 0, (16_386, 11, 13)),
    ],
)
def test_what_comes_before_the_first_note_is_handed_on_at_once(
    frames: tuple[int, int],
    kept: int,
    compared: tuple[int, int, int],
    played: dict[str, Any],
    monkeypatch: pytest.MonkeyPatch,
):
    """Blocks of 16,384 frames; the one before the note's is looked at with it. A stem that is not
    as asked is rendered again, and nothing of it stays."""
    from accomp.write.audio import render

    monkeypatch.setattr(render, "opening_frames", lambda *_: frames)
    played["apart"] = [0.5]
    made = [int(block[0, 0]) for block in render.render_blocks(b"", [])]
    assert made == list(range(10, 18))
    assert played["compared"] == [compared]
    played.update(apart=[0.51, 0.0], players=0)
    made = [int(block[0, 0]) for block in render.render_blocks(b"", [])]
    assert made == [10 + n for n in range(kept)] + [20 + n for n in range(kept, 8)]


def test_after_three_attempts_a_stem_is_an_error(
    played: dict[str, Any], monkeypatch: pytest.MonkeyPatch
):
    from accomp.write.audio import render

    monkeypatch.setattr(render, "opening_frames", lambda *_: (40_000, 60_000))
    monkeypatch.setattr(render, "SECONDS", 2.0)
    played["apart"] = [0.9, 0.9, 0.75]
    with pytest.raises(SoundError) as caught:
        list(render.render_blocks(b"", []))
    assert str(caught.value) == (
        "Synth 1 played something else than the notes ask for, 3 times: in the first 2 seconds "
        "32.0 dB, where 0.1 dB were expected (0.75 apart, 0.50 is let pass). Make the same again, "
        f"with nothing else using FluidSynth in this process. If it stays so: {synth.REMEDY}"
    )
    assert played["players"] == 3
    monkeypatch.setattr(render, "read_opening", lambda *_: None)  # without a note nothing is asked
    assert len(list(render.render_blocks(b"", []))) == 8


def test_all_blocks_are_joined(played: dict[str, Any], monkeypatch: pytest.MonkeyPatch):
    from accomp.write.audio import render

    monkeypatch.setattr(render, "read_opening", lambda *_: None)
    assert render.render(b"", []).shape == (8 * 16_384, 2)
