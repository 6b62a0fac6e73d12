"""Fonts that come along packed: of today's models, whole, and otherwise built."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import pytest
from voice_texts import changed, parameters

from accomp.files.data import find, folders
from accomp.voice import store, voice_font
from accomp.voice.kit import MODELLED_FONT, band_font, modelled_fingerprint
from accomp.voice.shipped import packed, packed_name, shipped, unpacked
from accomp.voice.voices import fingerprint_of
from accomp.write.soundfont import default_soundfont
from benchmarks.voice_manifest import SHIPPED

REMEDY = "the models have changed: run python -m benchmarks.voice_manifest shipped"
FONT = b"RIFF" + (2000).to_bytes(4, "little") + bytes(range(200)) * 10


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A cache of one's own, and a folder of voices."""
    monkeypatch.setattr(store, "cache_folder", lambda: tmp_path / "cache")
    monkeypatch.setattr("accomp.files.data.data_folder", lambda: tmp_path)
    (tmp_path / "soundfonts").mkdir()
    return tmp_path


def test_what_comes_along_is_what_the_models_of_today_make() -> None:
    """By name and hash; that a build makes the same bytes is a long test."""
    folder = folders("soundfonts")[-1]
    said = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))["voices"]
    fonts = {name: fingerprint_of(path) for name in SHIPPED if (path := find("soundfonts", name))}
    fonts[MODELLED_FONT] = modelled_fingerprint()
    assert len(fonts) == len(SHIPPED) + 1
    wanted = {packed_name(name, fingerprint) for name, fingerprint in fonts.items()}
    assert {path.name for path in folder.glob("*.flac")} == wanted, REMEDY
    assert sum(path.stat().st_size for path in folder.glob("*.flac")) < 8e6
    for name, fingerprint in fonts.items():
        data = shipped(name, fingerprint)
        assert data is not None
        assert hashlib.sha256(data).hexdigest() == said[name]["sha256"]
        assert len(data) == said[name]["bytes"]


@pytest.mark.slow
def test_they_are_used_without_a_build(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def build(*_: object) -> bytes:
        raise AssertionError("built")

    monkeypatch.setattr("accomp.voice.build.build", build)
    monkeypatch.setattr("accomp.voice.kit.modelled", build)
    assert voice_font("tenor-banjo").is_relative_to(home)
    assert band_font(default_soundfont().path).is_relative_to(home)
    own = changed(parameters(), ring_ms="210")  # somebody's own is built
    (home / "soundfonts" / "tenor-banjo.toml").write_text(own, encoding="utf-8")
    with pytest.raises(AssertionError, match="built"):
        voice_font("tenor-banjo")


@pytest.mark.parametrize("damage", ["none", "cut", "flipped", "empty", "no font", "longer"])
def test_a_damaged_one_is_built_instead(damage: str, home: Path) -> None:
    stream = packed(FONT)
    assert packed(FONT) == stream
    assert unpacked(stream) == FONT
    middle = len(stream) // 2
    stream = {
        "none": stream,
        "cut": stream[: middle // 2],
        "flipped": stream[:middle] + bytes([stream[middle] ^ 0xFF]) + stream[middle + 1 :],
        "empty": b"",
        "no font": packed(b"RAFF" + FONT[4:]),
        "longer": packed(FONT + b"more"),
    }[damage]
    (home / "soundfonts" / packed_name("tiny", "0" * 12)).write_bytes(stream)
    found = shipped("tiny", "0" * 12)
    assert found == (FONT if damage == "none" else None)
    assert shipped("tiny", "1" * 12) is None
