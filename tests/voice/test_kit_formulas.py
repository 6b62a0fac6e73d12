"""The kit's models written out a second time, plainly; and where its sounds go in a font."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import ndimage

from accomp.voice.kit import bass, merge, plate, skin, sounds, struck
from accomp.voice.kit.bass import BassRecording, off_cents
from accomp.voice.kit.merge import merged, modelled_font
from accomp.voice.kit.parameters import (
    Bristles,
    Cymbal,
    Kit,
    KitSound,
    Skin,
    Wires,
    WoodBlock,
    read_kit,
)
from accomp.voice.kit.plate import block_sound, cymbal_sound, modes
from accomp.voice.kit.skin import skin_sound
from accomp.voice.kit.sounds import LayeredSound, blow, faded, levelled
from accomp.voice.kit.struck import Striker, band, clicked, decaying, pulsed
from accomp.voice.measure import envelope, loudness
from accomp.voice.parameters import Head, Microphone, Pot, Voice
from accomp.voice.soundfont import Font, FontInstrument, Preset, Sample, Zone, timecents

RATE = 22_050
STICK = Striker(1.2, 0.4)


def filtered(sound: np.ndarray, shape: object, rate: int = RATE) -> np.ndarray:
    """A sound times a shape of frequency, by one long transform."""
    size = 2 ** math.ceil(math.log2(2 * sound.size))
    hz = np.fft.rfftfreq(size, 1 / rate)
    return np.fft.irfft(np.fft.rfft(sound, size) * shape(hz), size)[: sound.size]  # type: ignore[operator]


def test_damped_sines_one_by_one() -> None:
    hz, fall_s, weights = np.array([300.0, 810.5]), np.array([0.2, 0.05]), np.array([1.0, -0.4])
    times = np.arange(1000) / RATE
    wanted = sum(
        weight * np.sin(2 * np.pi * one * times) * 10 ** (-3 * times / fall)
        for one, fall, weight in zip(hz, fall_s, weights, strict=True)
    )
    for count in (1, 255, 256, 257, 1000):
        found = decaying(hz, fall_s, weights, count, RATE)
        assert found == pytest.approx(wanted[:count], abs=1e-12)
    assert pytest.approx(3 * math.log(10.0)) == struck.T60


def test_a_pulse_and_a_band_by_their_formulas() -> None:
    noise = np.random.default_rng(1).normal(size=3000)
    once = filtered(noise, lambda hz: (1 + 2j * np.pi * hz * 0.002 / 3) ** -3)
    assert pulsed(noise, 0.002, RATE) == pytest.approx(once, abs=1e-12)
    found = band(noise, 300.0, 4000.0, RATE)
    shape = filtered(noise, lambda hz: hz**2 / (300.0**2 + hz**2) * 4000.0**2 / (4000.0**2 + hz**2))
    assert found == pytest.approx(shape, abs=1e-12)
    assert STICK.contact_s(1.0) == 0.0012
    assert STICK.contact_s(0.25) == pytest.approx(0.0012 * 4**0.4)


def test_a_striker_adds_its_own_noise() -> None:
    sound = np.sin(np.arange(4000) / 9.0)
    assert clicked(STICK, 0.5, sound, RATE, (3,)) is sound
    loud = replace(STICK, click=0.3, click_ms=2.0)
    before = sound.copy()
    found = clicked(loud, 0.25, sound, RATE, (3,))
    assert (sound == before).all()
    count = round(0.03 * RATE)
    noise = np.random.default_rng((3,)).uniform(-1.0, 1.0, count)
    noise *= np.exp(-np.arange(count) / RATE / 0.002)
    noise = band(noise, 800.0, 1 / loud.contact_s(0.25), RATE)
    noise *= 0.3 * 0.5 * np.abs(sound).max() / np.abs(noise).max()
    assert found[:count] - sound[:count] == pytest.approx(noise, abs=1e-12)
    assert (found[count:] == sound[count:]).all()
    short = clicked(loud, 0.25, sound[:100], RATE, (3,))
    assert short.size == 100


CYMBAL = Cymbal(
    radius_mm=120.0, thick_mm=1.0, low_hz=400.0, high_hz=6000.0, fall_s=0.6, slope=0.5, tilt=-0.3,
    rush=0.4, rush_ms=25.0, pattern=5, striker=STICK,
)  # fmt: skip


def test_a_cymbal_has_its_modes_in_nearly_even_steps() -> None:
    area = math.pi * 0.12**2
    apart = 3500.0 * 0.001 / (math.sqrt(3.0) * area)
    count = math.floor(5600.0 / apart)
    hz, weights = modes(CYMBAL)
    assert hz.size == weights.size == count
    random = np.random.default_rng(5)
    wander = random.uniform(-0.5, 0.5, count)
    assert hz == pytest.approx(400.0 + apart * (np.arange(count) + wander))
    assert weights == pytest.approx(random.normal(0.0, 1.0, count))
    low, _ = modes(replace(CYMBAL, low_hz=0.0, high_hz=600.0))
    assert low.min() >= 20.0


@pytest.mark.parametrize("force", [0.3, 1.0])
def test_a_cymbal_rings_at_once_and_later(force: float) -> None:
    hz, weights = modes(CYMBAL)
    fall_s = 0.6 / np.sqrt(hz / 1000)
    weights = weights * (hz / 1000) ** -0.3
    count = round(0.2 * RATE)
    at_once = decaying(hz, fall_s, weights, count, RATE)
    rising = 1 / (1 / fall_s + 1 / (0.025 * struck.T60))
    later = at_once - decaying(hz, rising, weights, count, RATE)
    hit = pulsed(at_once, STICK.contact_s(force), RATE)
    late = band(later, 400.0, 6000.0 * (0.3 + 0.7 * force), RATE)
    share = 0.4 * force * math.sqrt((hit**2).mean() / (late**2).mean())
    found = cymbal_sound(CYMBAL, force, 0.2, RATE, (1,))
    assert found == pytest.approx(hit + share * late, abs=1e-9 * np.abs(hit).max())
    assert plate.BRONZE == 3500.0


BLOCK = WoodBlock(hz=(900.0, 2100.0), fall_s=(0.1, 0.05), level=(1.0, 0.5), striker=STICK)


def test_a_wood_block_has_a_few_modes() -> None:
    found = block_sound(BLOCK, 0.5, 0.1, RATE, (1,))
    rings = decaying(np.array(BLOCK.hz), np.array(BLOCK.fall_s), np.array(BLOCK.level),
                     round(0.1 * RATE), RATE)  # fmt: skip
    assert found == pytest.approx(pulsed(rings, STICK.contact_s(0.5), RATE), abs=1e-12)


HEAD = Head(
    radius_mm=170.0, tension_n_m=3000.0, mass_kg_m2=0.26, loss=0.02, highest_hz=900.0,
    bridge_mm=52.0, foot_mm=22.0, foot_radius_mm=4.0, knock_mm=35.0, pot=Pot(8.0, 200.0, 0.2, 0.6),
)  # fmt: skip
DRUM = Skin(
    head=HEAD, microphone=Microphone(30.0, 20.0, 4000.0, 6.0), striker=STICK, glide=0.05,
)  # fmt: skip


def answer(length_s: float) -> np.ndarray:
    """What the head answers to a tap, for as long as it is of use."""
    grid = skin._grid(RATE)
    face = skin._face(HEAD, DRUM.microphone, RATE)
    found = grid.sound(face.knock_sound)[round(grid.lead_s * RATE) :][: grid.count // 2]
    return np.pad(found, (0, max(round(length_s * RATE) - found.size, 0)))


@pytest.mark.slow
@pytest.mark.parametrize(("glide", "length_s"), [(0.05, 0.2), (0.0, 0.6)])
def test_a_drum_is_struck_and_its_pitch_falls(glide: float, length_s: float) -> None:
    sound = pulsed(answer(length_s), STICK.contact_s(0.5), RATE)
    if glide:
        fall = np.exp(-2.0 * np.arange(sound.size) / (0.06 * RATE))
        places = np.append(0.0, np.cumsum(np.sqrt(1.0 + glide * 0.25 * fall))[:-1])
        places = places[places <= sound.size - 1]
        sound = ndimage.map_coordinates(sound, places[None], order=3, mode="mirror")
    found = skin_sound(replace(DRUM, glide=glide), 0.5, length_s, RATE, (2,))
    assert found.size == round(length_s * RATE)
    assert found == pytest.approx(sound[: found.size], abs=1e-9 * np.abs(sound).max())
    assert skin._grid(RATE).count == 2**14  # 0.74 s, to the nearest power of two
    assert skin._grid(44_100).count == 2**15


@pytest.mark.parametrize("swept", [True, False])
def test_a_brush_is_a_shower_of_wires(swept: bool) -> None:
    brush = Bristles(count=60, spread_ms=40.0, swept=swept)
    found = skin_sound(replace(DRUM, glide=0.0, bristles=brush), 0.5, 0.2, RATE, (2,))
    random = np.random.default_rng((2,))
    if swept:
        times = 0.04 * (random.uniform(0, 1, 60) + random.uniform(0, 1, 60)) / 2
    else:
        times = 0.04 * random.exponential(0.35, 60)
    strengths = random.uniform(0.3, 1.0, 60)
    head = answer(0.2)
    sound = np.zeros(head.size)
    for time, strength in zip(times, strengths, strict=True):
        at = round(float(time) * RATE)
        sound[at:] += strength * head[: head.size - at]
    sound = pulsed(sound, 0.00012 * 0.5**-0.4, RATE)[: found.size]
    assert found == pytest.approx(sound, abs=1e-9 * np.abs(sound).max())


def test_wires_rattle_above_a_threshold_and_bounce_on() -> None:
    wires = Wires(level=0.7, lift=0.1, low_hz=1500.0, high_hz=8000.0, late_ms=3.0, bounce_s=0.2)
    force, seed = 0.5, (2,)
    sound = skin_sound(replace(DRUM, glide=0.0), force, 0.2, RATE, seed)
    found = skin_sound(replace(DRUM, glide=0.0, wires=wires), force, 0.2, RATE, seed) - sound
    moved = envelope(band(sound, 1.0, 500.0, RATE), RATE, 0.006)
    high, bouncing = 0.0, np.zeros(sound.size)
    for at, value in enumerate(moved):  # falls by 60 dB in the time that wires bounce
        high = max(high * math.exp(-3 * math.log(10.0) / 0.2 / RATE), value)
        bouncing[at] = high
    over = np.maximum(bouncing / bouncing.max() - 0.1 / force, 0.0)
    late = round(0.003 * RATE)
    over = np.concatenate((np.zeros(late), over))[: sound.size]
    noise = np.random.default_rng((2, 1)).uniform(-1.0, 1.0, sound.size)
    noise = band(noise, 1500.0, 8000.0 * force**0.35, RATE)
    noise *= math.sqrt((band(sound, 1.0, 500.0, RATE) ** 2).mean() / (noise**2).mean())
    wanted = 0.7 * math.sqrt(0.2 / 0.08) * over * noise
    assert found == pytest.approx(wanted, abs=1e-6 * np.abs(wanted).max())
    assert not found[:late].any()


def test_a_sound_fades_over_its_last_quarter() -> None:
    before = np.ones(1001)
    found = faded(before)
    assert before.all()
    assert found[0] == 0.0
    assert (found[1:751] == 1.0).all()
    assert found[751:] == pytest.approx(
        [0.5 + 0.5 * math.cos(math.pi * n / 250) for n in range(1, 251)]
    )


@pytest.mark.slow
def test_a_sound_is_brought_to_its_loudness_as_far_as_it_fits() -> None:
    sine = np.sin(2 * np.pi * 440 * np.arange(RATE) / RATE)
    quiet = levelled(sine, RATE, -20.0)
    assert 10 * math.log10(loudness(quiet, RATE)) == pytest.approx(-20.0, abs=0.02)
    assert quiet / np.abs(quiet).max() == pytest.approx(sine / np.abs(sine).max(), abs=1e-6)
    bent = levelled(sine, RATE, -3.5)
    assert 0.85 < np.abs(bent).max() <= 1.0
    assert 10 * math.log10(loudness(bent, RATE)) == pytest.approx(-3.5, abs=0.2)
    spiky = sine * np.exp(-np.arange(RATE) / 300.0)
    soft = levelled(spiky, RATE, 0.0)  # 7 dB over the peak that fits, and no more
    most = 0.98 * 10 ** (7.0 / 20) / np.abs(spiky).max()
    assert soft == pytest.approx(sounds._soft_clipped(spiky * most), abs=1e-12)
    assert np.abs(soft).max() <= 1.0


def test_tops_bend_towards_the_peak_that_fits() -> None:
    low = 0.48 * np.sin(np.arange(2000) / 20.0)
    assert sounds._soft_clipped(low) is low
    slow = 2.0 * np.sin(np.arange(4000) / 300.0) * np.hanning(4000)
    bent = sounds._soft_clipped(slow)
    inside = np.abs(slow) < 0.5
    assert bent[inside] == pytest.approx(slow[inside], abs=2e-3)
    over = np.maximum(np.abs(slow) - 0.6, 0.0)
    wanted = np.sign(slow) * (np.minimum(np.abs(slow), 0.6) + 0.38 * np.tanh(over / 0.38))
    assert bent == pytest.approx(wanted, abs=5e-3)


def hit(name: str, keys: tuple[int, ...], apart: tuple[int, ...], sets: tuple[int, ...],
        cut: int = 0) -> KitSound:  # fmt: skip
    return KitSound(name=name, keys=keys, apart=apart, sets=sets, level_db=-20.0, length_s=0.1,
                  rate_hz=RATE, made_of=BLOCK, cut=cut)  # fmt: skip


KIT = Kit(
    layers=((60, 0.3), (127, 1.0)), bass_db=-20.0,
    sounds=(
        hit("Block", (76, 77), (0, 3), (0, 8)),
        hit("A very long name indeed", (42,), (0,), (0,), cut=1),
    ),
)  # fmt: skip


def test_a_blow_is_what_it_is_made_of() -> None:
    assert (blow(KIT.sounds[0], 0.5, (0,)) == block_sound(BLOCK, 0.5, 0.1, RATE, (0,))).all()
    ride = replace(KIT.sounds[0], made_of=CYMBAL)
    assert (blow(ride, 0.5, (1,)) == cymbal_sound(CYMBAL, 0.5, 0.1, RATE, (1,))).all()
    drum = replace(KIT.sounds[0], made_of=DRUM)
    assert (blow(drum, 0.5, (1,)) == skin_sound(DRUM, 0.5, 0.1, RATE, (1,))).all()
    first, second = sounds.layered(KIT)
    assert first.struck is KIT.sounds[0]
    assert len(first.layers) == len(second.layers) == 2
    wanted = levelled(faded(blow(KIT.sounds[1], 1.0, (1,))), RATE, -20.0)
    assert (second.layers[1] == wanted).all()


WAVE = np.sin(np.arange(400) / 10.0) * 0.5


def own_font() -> Font:
    """What is modelled, by itself: two sounds in two layers, and three notes of the bass."""
    notes = [
        BassRecording(28, (0, 30), (0, 60), WAVE, RATE, 1.4),
        BassRecording(28, (0, 30), (61, 127), WAVE, RATE, -2.6),
        BassRecording(33, (31, 127), (0, 127), WAVE, RATE, 0.0),
    ]
    return modelled_font([LayeredSound(one, (WAVE, WAVE)) for one in KIT.sounds], notes)


def test_what_is_modelled_is_a_font_of_its_own() -> None:
    font = own_font()
    assert [(one.name, one.root_key, one.correction_cents) for one in font.samples] == [
        ("Block v1", 76, 0), ("Block v2", 76, 0), ("A very long name v1", 42, 0),
        ("A very long name v2", 42, 0), ("Bass 28 v60", 28, 1), ("Bass 28 v127", 28, -3),
        ("Bass 33 v127", 33, 0),
    ]  # fmt: skip
    (instrument,) = font.instruments
    assert instrument.name == "Upright bass"
    assert instrument.zones == (
        Zone(None, settings=((38, timecents(0.25)),)), Zone(4, (0, 30), (0, 60)),
        Zone(5, (0, 30), (61, 127)), Zone(6, (31, 127), (0, 127)),
    )  # fmt: skip
    assert font.presets == (Preset("Upright bass", 0, 32, (Zone(0),)),)


def test_drums_and_bass_take_the_place_of_a_fonts_own() -> None:
    sample = Sample("plain", WAVE, RATE, 60)
    drums = FontInstrument("Drums", (
        Zone(None, settings=((48, 10),)), Zone(0, (76, 76), settings=((17, -200),)),
        Zone(0, (77, 77)), Zone(0, (42, 44)), Zone(0, (60, 60)),
    ))  # fmt: skip
    only = FontInstrument("Only block", (Zone(None), Zone(0, (76, 76)), Zone(0, (77, 77))))
    bass_before = FontInstrument("Bass", (Zone(0),))
    font = Font(
        "Plain", (sample,), (drums, only, bass_before),
        (
            Preset("Piano", 0, 0, (Zone(0),)), Preset("Bass", 0, 32, (Zone(2),)),
            Preset("Other bass", 1, 32, (Zone(2),)),
            Preset("Kit", 128, 0, (Zone(None), Zone(0, velocities=(1, 127)), Zone(1))),
            Preset("Room", 128, 8, (Zone(0),)), Preset("Power", 128, 16, (Zone(0),)),
        ),
    )  # fmt: skip
    whole = merged(font, KIT, own_font())
    assert whole.name == "Plain, drums and bass modelled"
    assert whole.comment == (
        "Drums and upright bass: physical models, no recordings, public domain (CC0 1.0)."
    )
    assert [one.name for one in whole.samples][:3] == ["plain", "Block v1", "Block v2"]
    assert whole.instruments[:3] == font.instruments
    names = [one.name for one in whole.instruments[3:]]
    assert names == ["Drums", "Modelled kit", "Drums", "Modelled kit", "Upright bass"]
    presets = {(one.bank, one.program): one for one in whole.presets}
    assert list(presets) == [(0, 0), (1, 32), (128, 0), (128, 8), (128, 16), (0, 32)]
    assert presets[0, 0] is font.presets[0]
    assert presets[128, 16] is font.presets[5]
    # The set keeps what is not replaced; what has nothing left is gone.
    assert presets[128, 0].zones == (Zone(None), Zone(3, velocities=(1, 127)), Zone(4))
    assert presets[128, 8].zones == (Zone(5), Zone(6))
    assert presets[0, 32].zones == (Zone(7),)
    assert whole.instruments[3].zones == (
        Zone(None, settings=((48, 10),)), Zone(0, (42, 44)), Zone(0, (60, 60)),
    )  # fmt: skip
    ring = (38, timecents(60.0))

    def layers(first: int, key: int, root: int, pan: int, *more: tuple[int, int]) -> list[Zone]:
        settings = ((17, pan), ring, (58, root), *more)
        return [Zone(first, (key, key), (0, 60), settings),
                Zone(first + 1, (key, key), (61, 127), settings)]  # fmt: skip

    assert list(whole.instruments[4].zones) == [
        *layers(3, 42, 42, 0, (57, 1)), *layers(1, 76, 76, -200), *layers(1, 77, 74, 0),
    ]  # fmt: skip
    assert list(whole.instruments[6].zones) == [
        *layers(1, 76, 76, -200), *layers(1, 77, 74, 0),
    ]  # fmt: skip
    assert [zone.target for zone in whole.instruments[7].zones] == [None, 5, 6, 7]
    assert merge.BASS == 32


def test_the_kit_that_comes_along_is_what_its_file_says() -> None:
    import tomllib

    from accomp.files.data import package_file

    data = tomllib.loads(package_file("kit.toml").read_text("utf-8"))
    kit = read_kit()
    assert [list(layer) for layer in kit.layers] == [
        [row["up_to"], row["force"]] for row in data["layer"]
    ]
    assert kit.bass_db == data["bass_db"]
    assert len(kit.sounds) == len(data["sound"])
    for sound, row in zip(kit.sounds, data["sound"], strict=True):
        for name in ("name", "level_db", "length_s", "rate_hz"):
            assert getattr(sound, name) == row[name]
        for name in ("keys", "apart", "sets"):
            assert getattr(sound, name) == tuple(row[name])
        assert sound.cut == row.get("cut", 0)
        assert sound.made_of.striker == Striker(**row["striker"])
        if isinstance(sound.made_of, Skin):
            own = data["skin"][row["skin"]]
            assert sound.made_of.head.pot == Pot(**own["head"]["pot"])
            assert sound.made_of.glide == own["glide"]
            assert (sound.made_of.wires is None) == ("wires" not in row)
            assert (sound.made_of.bristles is None) == ("bristles" not in row)
    assert all(sound.keys and len(sound.keys) == len(sound.apart) for sound in kit.sounds)


def test_no_key_of_the_bass_is_recorded_twice(banjo: Voice) -> None:
    def roots(pitches: tuple[int, ...], frets: tuple[int, ...]) -> list[tuple[int, int, int]]:
        strings = tuple(replace(banjo.strings[0], pitch=pitch) for pitch in pitches)
        layout = replace(banjo.layout, roots=frets)
        return bass._roots(replace(banjo, strings=strings, layout=layout))

    # A note is taken where it lies lowest: not on the fret whose note the next string has, nor
    # on the one before it.
    assert roots((28, 33), (0, 3, 4, 5)) == [
        (0, 0, 28), (0, 3, 31), (1, 0, 33), (1, 3, 36), (1, 4, 37), (1, 5, 38),
    ]  # fmt: skip


@pytest.mark.parametrize("off", [-50.0, -7.5, 0.0, 12.0, 50.0])
def test_a_bass_note_is_heard_to_half_a_cent(off: float) -> None:
    rate, wanted = 22_050, 82.4
    times = np.arange(rate) / rate
    hz = wanted * 2 ** (off / 1200)
    sound = sum(np.sin(2 * np.pi * n * hz * times) / n for n in range(1, 7))
    assert off_cents(np.asarray(sound), rate, wanted) == pytest.approx(off, abs=0.5)


def test_each_root_of_the_bass_plays_up_to_half_way_to_the_next(
    banjo: Voice, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[tuple[int, int, int, int]] = []

    def note(ready: object, one: bass.StruckNote, key: int) -> tuple[np.ndarray, float]:
        asked.append((one.index, one.fret, one.force, key))
        return WAVE, float(key)

    monkeypatch.setattr(bass, "model", lambda voice: voice)
    monkeypatch.setattr(bass, "_note", note)
    monkeypatch.setattr(bass, "levelled", lambda sound, rate, level: sound * level)
    strings = tuple(replace(banjo.strings[0], pitch=pitch) for pitch in (28, 33))
    voice = replace(banjo, strings=strings, layout=replace(banjo.layout, roots=(0, 3)))
    forces = voice.plectrum.force
    found = bass.bass_notes(voice, 2.0)
    assert [key for *_, key in asked][:: len(forces)] == [28, 31, 33, 36]
    assert [force for _, _, force, _ in asked][: len(forces)] == list(range(len(forces)))
    assert [one.keys for one in found][:: len(forces)] == [(0, 29), (30, 31), (32, 34), (35, 127)]
    first = [one.velocities for one in found][: len(forces)]
    assert first == [
        (before.up_to + 1 if before else 0, level.up_to)
        for before, level in zip((None, *forces[:-1]), forces, strict=True)
    ]
    assert (found[0].data == 2.0 * WAVE).all()
    assert found[0].correction_cents == 28.0
    assert found[0].rate_hz == voice.layout.rate_hz
