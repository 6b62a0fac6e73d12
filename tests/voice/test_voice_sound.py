"""A small build of the tenor banjo, played and measured, and its samples looked at."""

from __future__ import annotations

import itertools
import struct
from dataclasses import replace
from pathlib import Path

import figure_checks as check
import numpy as np
import pytest

from accomp.voice.build import build
from accomp.voice.model import Model, StruckNote, evened, model, pluck
from accomp.voice.parameters import Voice
from accomp.voice.sampling import Take, takes
from accomp.voice.tone import swings, tone
from benchmarks import voice_ear as ear
from benchmarks import voice_recorded
from benchmarks.voice_figures import NoteFigures, all_figures, choked_bar

# Ten seconds of a processor for the font. Every day it is held that the fonts that come along are
# those of today's models (test_voice_shipped): who changes a model runs these.
pytestmark = pytest.mark.slow

FRETS = (0, 1, 2, 3, 4)


@pytest.fixture(scope="module")
def player(small_font: Path) -> ear.Player:
    return ear.Player(small_font)


@pytest.fixture(scope="module")
def notes(player: ear.Player) -> list[NoteFigures]:
    return all_figures(player, FRETS)


def test_tuning(notes: list[NoteFigures]) -> None:
    check.check_tuning(notes)


def test_levels(notes: list[NoteFigures]) -> None:
    check.check_levels(notes)


def test_what_a_recorded_banjo_measures(player: ear.Player) -> None:
    """On few notes, so with more room than the whole voice is given, and two roots a string say
    nothing of scatter.
    """
    forte, piano = (list(voice_recorded.notes(player, v, frets=4)) for v in (91, 64))
    rows = voice_recorded.summary(forte, piano)
    check.check_recorded(rows, room=0.25, without=("scatter of level",))


def test_brightness_follows_force(notes: list[NoteFigures]) -> None:
    check.check_brightness(notes)


def test_takes_differ(player: ear.Player) -> None:
    check.check_takes(player, (0, 2, 3))


def test_chokes(player: ear.Player) -> None:
    check.check_chokes(player, (0, 3))


def test_dead_strokes(player: ear.Player) -> None:
    check.check_dead(player)


def test_formants(player: ear.Player) -> None:
    check.check_formants(player, range(7))


def test_both_fluidsynths_play_the_same(small_font: Path, player: ear.Player) -> None:
    system = ear.system_library()
    if system is None or ear.wheel_library() is None:
        pytest.skip("there is only one FluidSynth on this machine")
    other = ear.Player(small_font, system)
    bar = choked_bar()
    one, two = (each.play(bar, 2.7) for each in (player, other))
    assert ear.correlation(one, two) > 0.999
    for sound in (one, two):
        level = ear.envelope(sound, 0.003)
        for beat in range(8):  # each begins where it is asked to, to a block of 64 samples
            at = round(beat / 3 * ear.RATE_HZ)
            heard = np.argmax(level[at : at + 2000] > 0.05 * level.max()) / ear.RATE_HZ
            assert heard < 0.006


def test_the_samples_are_clean(small_bytes: bytes) -> None:
    """No constant part, nothing above the band, no tail that grows."""
    start = small_bytes.index(b"smpl") + 8
    size = struct.unpack("<I", small_bytes[start - 4 : start])[0]
    words = np.frombuffer(small_bytes[start : start + size], "<i2") / 32768
    headers = small_bytes[small_bytes.index(b"shdr") + 8 :]
    count = len(headers) // 46 - 1
    assert count > 60
    for row in range(count):
        name, first, end, _, _, rate = struct.unpack("<20sIIIII", headers[row * 46 : row * 46 + 40])
        part = words[first:end]
        peak = np.abs(part).max()
        assert peak > 0.05, name
        assert abs(part.mean()) < 1e-4 * peak + 1e-5, name
        spectrum = np.abs(np.fft.rfft(part * np.hanning(part.size)))
        hz = np.fft.rfftfreq(part.size, 1 / rate)
        # −80 dB, and the noise of 16 bits in so many points (a peak is some 4 times the mean).
        noise = 4.0 * np.sqrt(part.size * 3 / 8 / 12) / 32768
        assert spectrum[hz > 0.485 * rate].max() < 1e-4 * spectrum.max() + noise, name
        tail = np.array_split(part[-part.size // 3 :], 6)
        levels = [np.sqrt((piece**2).mean()) for piece in tail]
        assert levels[-1] <= levels[0] * 0.5 + 2e-5, name
        assert np.abs(part[-3:]).max() < 2e-4, name


@pytest.fixture(scope="module")
def made(small_voice: Voice) -> Model:
    return model(small_voice)


def test_the_model_itself_has_no_growing_tail(small_voice: Voice, made: Model) -> None:
    string = evened(made, 3, 3)
    sound = tone(string, pluck(small_voice, string, StruckNote(3, 3, 3)))
    parts = np.array_split(sound[44100 : 44100 * 5 // 2], 6)
    levels = [float(np.sqrt((part**2).mean())) for part in parts]
    assert all(later < earlier for earlier, later in itertools.pairwise(levels))
    assert np.isfinite(sound).all()


def test_a_stroke_is_the_sum_of_its_directions(small_voice: Voice, made: Model) -> None:
    string = evened(made, 2, 3)
    stroke = pluck(small_voice, string, StruckNote(2, 3, 2))
    parts = swings(string, stroke)
    for angle in (stroke.angle_deg, 80.0, -20.0):
        turned = replace(stroke, angle_deg=angle)
        whole = tone(string, turned)
        assert np.abs(parts.towards(turned) - whole).max() < 1e-9 * np.abs(whole).max()


def test_the_ring_of_tension_grows_with_force(small_voice: Voice, made: Model) -> None:
    """The tension of a swing goes with its square: twice the force, four times the part of the
    sound's amplitude that is not in proportion to the force (the gliding pitch adds its own).
    """
    string = evened(made, 0, 0)
    stroke = pluck(small_voice, string, StruckNote(0, 0, 3))
    stroke = replace(stroke, noise_n=0.0)

    def apart(force: float) -> float:
        loud = tone(string, replace(stroke, force_n=force))[:4410] / force
        soft = tone(string, replace(stroke, force_n=0.01))[:4410] / 0.01
        return float(np.sqrt(((loud - soft) ** 2).sum() / (soft**2).sum()))

    assert apart(2.0) > 0.02
    assert apart(2.0) / apart(1.0) == pytest.approx(4.0, rel=0.5)


def test_the_bridge_has_its_three_formants(made: Model) -> None:
    """A hump of mobility at 500-1000 Hz, one each for inner and outer strings above it
    (Woodhouse, Politzer & Mansour 2021)."""
    hz = made.grid.s.imag / 2 / np.pi
    centres = 100.0 * 2.0 ** (np.arange(48) / 6.0)

    def humps(index: int) -> list[float]:
        size = np.abs(made.seats[index].vertical)
        level = np.array([size[(hz > c / 1.12) & (hz < c * 1.12)].mean() for c in centres])
        inside = (level[1:-1] > level[:-2]) & (level[1:-1] > level[2:])
        return [float(c) for c in centres[1:-1][inside]]

    inner, outer = humps(1), humps(0)
    assert any(500 <= hump <= 1000 for hump in inner)
    assert any(500 <= hump <= 1000 for hump in outer)
    assert any(2000 <= hump <= 3000 for hump in inner)
    assert any(4000 <= hump <= 5000 for hump in outer)


@pytest.mark.long
def test_building_again_gives_the_same_bytes(small_voice: Voice) -> None:
    layout = replace(small_voice.layout, roots=(3,), window=2**15)
    tiny = replace(small_voice, strings=small_voice.strings[1:3], layout=layout)
    assert build(tiny) == build(tiny)


def test_takes_come_in_a_fixed_order_with_progress(small_voice: Voice) -> None:
    tiny = replace(
        small_voice,
        strings=small_voice.strings[3:],
        layout=replace(small_voice.layout, roots=(0,), window=2**15),
    )
    heard: list[float] = []
    made: tuple[Take, ...] = takes(model(tiny), heard.append)
    assert [(take.up, take.force, take.dead) for take in made[:8]] == [
        (up, force, None) for up in (False, True) for force in range(4)
    ]
    assert heard == [0.5]
