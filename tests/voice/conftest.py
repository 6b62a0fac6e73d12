"""A small voice for everyday tests: the tenor banjo sampled at two frets of each string."""

from __future__ import annotations

from pathlib import Path

import pytest

try:
    import fcntl
except ImportError:  # Windows
    fcntl = None  # type: ignore[assignment]

from voice_texts import ROOTS, changed, parameters

from accomp.files.toml import parse_toml
from accomp.voice.build import build
from accomp.voice.parameters import Voice
from accomp.voice.reader import voice_of


@pytest.fixture(scope="session")
def banjo() -> Voice:
    return voice_of(parse_toml(parameters(), "tenor-banjo.toml"), "tenor-banjo")


@pytest.fixture(scope="session")
def small_text() -> str:
    return changed(parameters(), roots=str(list(ROOTS)))


@pytest.fixture(scope="session")
def small_voice(small_text: str) -> Voice:
    return voice_of(parse_toml(small_text, "small.toml"), "small")


@pytest.fixture(scope="session")
def small_bytes(
    small_voice: Voice, tmp_path_factory: pytest.TempPathFactory, worker_id: str
) -> bytes:
    """Built once for all workers of a run: the first builds, the others wait for it."""
    own = tmp_path_factory.getbasetemp()
    path = (own if worker_id == "master" else own.parent) / "small-voice.sf2"
    with path.with_suffix(".lock").open("w") as lock:
        if fcntl is not None:
            fcntl.flock(lock, fcntl.LOCK_EX)
        if not path.exists():
            path.write_bytes(build(small_voice))
        return path.read_bytes()


@pytest.fixture(scope="session")
def small_font(small_bytes: bytes, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("voice") / "small.sf2"
    path.write_bytes(small_bytes)
    return path
