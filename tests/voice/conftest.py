"""A small voice for everyday tests: the tenor banjo sampled at two frets of each string."""

from __future__ import annotations

from pathlib import Path

import pytest
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
def small_bytes(small_voice: Voice) -> bytes:
    return build(small_voice)


@pytest.fixture(scope="session")
def small_font(small_bytes: bytes, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("voice") / "small.sf2"
    path.write_bytes(small_bytes)
    return path
