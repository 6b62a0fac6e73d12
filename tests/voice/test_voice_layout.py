"""Banks, keys and velocities of a built font, read from its tables by sf2utils and by ear."""

from __future__ import annotations

import logging
import warnings
from pathlib import Path

import numpy as np
import pytest

from accomp.voice import voice_bank
from accomp.voice.soundfont import Generator
from accomp.voice.soundfont_read import read_font
from benchmarks.voice_ear import Player, correlation, key_hz, pitch_hz

with warnings.catch_warnings():  # it imports audioop, which Python 3.13 no longer has
    warnings.simplefilter("ignore", DeprecationWarning)
    sf2parse = pytest.importorskip("sf2utils.sf2parse")

OPEN = {4: 48, 3: 55, 2: 62, 1: 69}  # a tenor banjo's strings by the player's number


@pytest.fixture(scope="module")
def player(small_font: Path) -> Player:
    return Player(small_font)


def test_banks_are_made_of_variant_stroke_and_string() -> None:
    assert [voice_bank(variant) for variant in (0, 1, 2)] == [0, 1, 2]
    banks = {
        voice_bank(variant, string, up=up)
        for variant in (0, 1, 2)
        for string in range(7)
        for up in (False, True)
    }
    assert len(banks) == 42
    assert max(banks) <= 127


@pytest.mark.long
def test_sf2utils_reads_the_font_without_complaint(
    small_font: Path, caplog: pytest.LogCaptureFixture
) -> None:
    with caplog.at_level(logging.INFO), small_font.open("rb") as stream:
        font = sf2parse.Sf2File(stream)
        presets, samples = font.presets[:-1], font.samples[:-1]
        for preset in presets:
            assert preset.preset == 105  # the banjo of General MIDI, from 0
            for bag in preset.bags:
                assert bag.instrument is not None
    assert not [record for record in caplog.records if record.levelno >= logging.WARNING]
    assert {preset.bank for preset in presets} == {
        voice_bank(variant, string, up=up)
        for variant in (0, 1, 2)
        for string in range(5)
        for up in (False, True)
    }
    for sample in samples:
        assert 8 <= sample.start_loop < sample.end_loop <= sample.duration - 8
        assert sample.is_mono
        assert abs(sample.pitch_correction) < 20


@pytest.mark.slow
@pytest.mark.many(3)
@pytest.mark.parametrize("string", [0, 1, 2, 3, 4])
@pytest.mark.parametrize("variant", [0, 1, 2])
def test_no_key_and_no_velocity_is_silent(player: Player, string: int, variant: int) -> None:
    for up in (False, True):
        bank = voice_bank(variant, string, up=up)
        for key in (0, 30, 48, 55, 61, 69, 88, 110, 127):
            for velocity in (1, 52, 53, 76, 77, 100, 101, 127):
                # Some milliseconds pass before the tip touches, and more on far too low a key.
                sound = player.note(key, velocity, bank, held_s=0.15, rest_s=0.0)
                assert np.abs(sound).max() > 1e-9, (bank, key, velocity)


@pytest.mark.slow
def test_a_pitch_on_another_string_is_another_sound(player: Player) -> None:
    on_fourth = player.note(60, 91, voice_bank(0, 4))
    on_third = player.note(60, 91, voice_bank(0, 3))
    assert correlation(on_fourth, on_third) < 0.98


@pytest.mark.slow
@pytest.mark.parametrize("variant", [0, 1])
def test_an_up_stroke_is_another_sound(player: Player, variant: int) -> None:
    down = player.note(62, 91, voice_bank(variant, 2))
    up = player.note(62, 91, voice_bank(variant, 2, up=True))
    assert correlation(down, up) < 0.98


@pytest.mark.slow
def test_without_strings_named_each_key_is_on_its_lowest_place(player: Player) -> None:
    for string, key in OPEN.items():
        plain = player.note(key, 91, voice_bank(0))
        named = player.note(key, 91, voice_bank(0, string))
        assert np.abs(plain - named).max() < 1e-6
        below = player.note(key - 1, 91, voice_bank(0))
        if string < 4:
            named = player.note(key - 1, 91, voice_bank(0, string + 1))
            assert np.abs(below - named).max() < 1e-6


@pytest.mark.slow
def test_odd_and_even_velocities_are_two_takes(player: Player) -> None:
    for string, key in OPEN.items():
        odd, even = (player.note(key + 3, v, voice_bank(0, string)) for v in (91, 92))
        again = player.note(key + 3, 93, voice_bank(0, string))
        assert correlation(odd, even) < 0.98
        assert correlation(odd, again) > 0.999


@pytest.mark.slow
def test_keys_between_roots_are_in_tune(player: Player) -> None:
    for string, key in OPEN.items():
        for fret in (0, 2, 4, 7):
            hz = key_hz(key + fret)
            for velocity in (91, 92):
                sound = player.note(key + fret, velocity, voice_bank(0, string), held_s=1.0)
                assert abs(1200 * np.log2(pitch_hz(sound, hz) / hz)) < 4.0


@pytest.mark.slow
def test_each_fret_has_a_zone_of_its_own(small_font: Path) -> None:
    """Level and pitch are those of the fret, whichever sample it plays; off the neck its ends."""
    font = read_font(small_font)
    for instrument in font.instruments:
        if "dead" in instrument.name:
            continue
        zones = [zone for zone in instrument.zones if zone.velocities == (77, 100)]
        pitch = OPEN[int(instrument.name.split()[1])]
        keys = [zone.keys for zone in zones]
        assert keys[0] == (0, pitch)
        assert keys[1:-1] == [(key, key) for key in range(pitch + 1, pitch + 19)]
        assert keys[-1] == (pitch + 19, 127)
        settings = [dict(zone.settings) for zone in zones]
        softer = [each.get(Generator.ATTENUATION, 0) for each in settings]
        assert min(softer) >= 0
        assert max(softer) - min(softer) > 20  # 2 dB and more, of which players hear 0.4
        assert len({zone.target for zone in zones}) == 2
