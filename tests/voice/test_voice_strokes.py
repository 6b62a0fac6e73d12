"""Strokes written out a second time, plainly: strings, their stretch, how a stroke begins and ends.

The formulas are those of the modules' own heads.
"""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from scipy import ndimage, signal

from accomp.voice import model as model_module
from accomp.voice import sampling
from accomp.voice.body import modal
from accomp.voice.bridge import OtherLoads, seat
from accomp.voice.head import head_face
from accomp.voice.laplace import Grid
from accomp.voice.measure import cents, envelope, fall_s, k_weight, loudness, pitch_hz
from accomp.voice.model import StruckNote, model, stopped
from accomp.voice.parameters import StringParameters, Voice
from accomp.voice.pluck import Pluck
from accomp.voice.sampling import Take, damped, ended, fitted_to_frets, nearest
from accomp.voice.starts import heard
from accomp.voice.stretch import lengthwise_hz, passed_on, stretch
from accomp.voice.strings import HeldString, blocked, fretted_m, waves
from accomp.voice.tone import knock, mixed, swings, tone
from accomp.voice.uneven import unevenness_db

STRING = StringParameters(57, 0.6, 0.4, 2.4, 200.0, 2e-4, 1e-3, 6.0)
PLUCK = Pluck(2.0, 0.1, 30.0, 1e-4, 0.05, 0.002, 0.7, 5e-4, 0.003, (1, 2))
RATE = 22_050


def test_waves_on_a_string_solve_its_equation() -> None:
    """E·I·γ⁴ − T·γ² + μ·s² + air = 0 with losses; the smaller root, and what a bridge feels."""
    s = 4.0 + 2j * math.pi * np.array([50.0, 440.0, 5000.0])
    along = waves(s, STRING, 90.0, 220.0)
    log = 2 / math.pi * np.log(s / (2 * math.pi * 220.0))
    tension, bending = 90.0 * (1 + 2e-4 * log), STRING.bending_nm2 * (1 + 1e-3 * log)
    radius = 0.3e-3
    z = radius * np.sqrt(s / 1.5e-5)
    air = 1.2 * math.pi * radius**2 * (1 + 4 / z + 2 / z**2)
    for at in range(3):
        inertia = (2.4e-3 + air[at]) * s[at] ** 2
        roots = np.roots([bending[at], -tension[at], inertia])
        small = roots[np.abs(roots).argmin()]
        assert along.gamma[at] == pytest.approx(np.sqrt(small), rel=1e-9)
    assert along.zc == pytest.approx(tension * along.gamma / s)
    gamma = along.gamma
    assert along.impedance(0.4, 0.02) == pytest.approx(along.zc / np.tanh(gamma * 0.4 + 0.02))
    wanted = np.sinh(gamma * 0.3 + 0.02) / np.sinh(gamma * 0.4 + 0.02)
    assert blocked(along.over(0.1), along.round_trip(0.4, 0.02)) == pytest.approx(wanted)
    assert fretted_m(0.6, 12) == pytest.approx(0.3)
    assert fretted_m(0.6, 7) == pytest.approx(0.6 / 2 ** (7 / 12))
    held = HeldString(STRING, 90.0, 0.4, 0.01, 0.5, 0.001)
    assert held.hz == pytest.approx(math.sqrt(90.0 / 2.4e-3) / 0.8)


@pytest.mark.slow
def test_a_wide_swing_tightens_its_string() -> None:
    grid = Grid(RATE, 2**13)
    held = HeldString(STRING, 90.0, 0.4, 0.01, 0.5, 0.001)
    decay = np.linspace(3.0, 40.0, 28)
    found = stretch(grid, held, decay, PLUCK)
    count = int(grid.window_s / 2 * RATE)
    times = np.arange(count) / RATE
    n = np.arange(1, 29)
    k = n * math.pi / 0.4
    shape = 2 * 2.0 * np.sin(k * 0.1) * 0.4 / (n**2 * math.pi**2 * 90.0)
    slope = k * shape / (1 + (2 * math.pi * held.hz * n * 1e-4 / 3) ** 2) ** 1.5
    stiff = math.pi**2 * STRING.bending_nm2 / (90.0 * 0.4**2)
    hz = n * held.hz * np.sqrt(1 + stiff * n**2)
    size = STRING.stretch_n / 8 * slope**2
    kept = [at for at in range(28) if size[at] > 1e-4 * size.max() and hz[at] < 0.2 * RATE]
    assert 3 < len(kept) < 28
    slow = sum(size[at] * np.exp(-2 * decay[at] * times) for at in kept)
    fast = sum(
        size[at] * np.exp(-2 * decay[at] * times) * np.cos(4 * math.pi * hz[at] * times)
        for at in kept
    )
    assert found.glide == pytest.approx(slow / 90.0, rel=1e-9)
    assert found.force == pytest.approx(fast, abs=1e-9 * np.abs(fast).max())
    assert len(found.lengthwise) == 3
    own = math.sqrt(STRING.stretch_n / 2.4e-3) / 0.8
    assert lengthwise_hz(STRING, 0.4) == pytest.approx(own)
    for p, driven in enumerate(found.lengthwise, 1):
        pairs = STRING.stretch_n / 4 * slope[:-p] * slope[p:]
        wanted = np.zeros(count)
        for at, pair in enumerate(pairs):
            both = hz[at] + hz[at + p]
            near = own * p / 3 < both < min(3 * own * p, 0.4 * RATE)
            if near and abs(pair) > 1e-3 * np.abs(pairs).max():
                fall = np.exp(-(decay[at] + decay[at + p]) * times)
                wanted += pair * fall * np.cos(2 * math.pi * both * times)
        assert driven == pytest.approx(wanted, abs=1e-9 * max(np.abs(wanted).max(), 1.0))
    long = stretch(Grid(8000, 2**15), held, decay, PLUCK)
    assert long.glide.size == 9600  # 1.2 s are considered
    s = 2.0 + 2j * math.pi * np.array([100.0, own, 9000.0])
    omega = 2 * math.pi * own
    h = omega**2 / (s**2 + s * omega / 40.0 + omega**2)
    assert passed_on(s, own) == pytest.approx(1 - h)


def sounds() -> list[np.ndarray]:
    times = np.arange(RATE // 2) / RATE
    since = np.maximum(times - 0.004, 0.0)
    return [
        np.sin(2 * np.pi * hz * since) * (1 - np.exp(-since / rise)) * np.exp(-since / fall)
        for hz, rise, fall in ((220.0, 0.004, 0.2), (660.0, 0.002, 0.1), (350.0, 0.001, 0.03))
    ]


@pytest.mark.parametrize("weights", [(1.0, 0.5, 0.0), (0.7, -0.4, 2.0)])
@pytest.mark.parametrize(("hz", "edge_hz"), [(220.0, 132.0), (100.0, 90.0)])
def test_a_stroke_begins_as_its_mixture_does(
    weights: tuple[float, ...], hz: float, edge_hz: float
) -> None:
    parts = sounds()
    whole = sum(weight * sound for weight, sound in zip(weights, parts, strict=True))
    found = heard(parts, RATE, hz, slowest=0.8).start(weights)
    high = signal.sosfilt(signal.butter(4, edge_hz, "highpass", fs=RATE, output="sos"), whole)
    head = np.asarray(high)[: round(0.085 * RATE)]
    count = head.size // 4
    power = (head[: count * 4] ** 2).reshape(count, 4).sum(axis=1)
    window = np.hanning(round(0.002 * RATE / 4) | 1)
    level = np.sqrt(np.maximum(np.convolve(power, window, mode="same"), 0.0))
    rise = level[: round(0.06 * RATE / 4)]
    foot = int(np.argmax(rise >= 0.1 * rise.max()))
    times = [(int(np.argmax(rise >= part * rise.max())) - foot) * 4 / RATE for part in (0.85, 0.96)]
    assert found.attacks_s == pytest.approx((times[0], times[1] / 0.8), abs=1e-9)
    size = np.abs(head[: foot * 4 + round(0.08 * RATE)])
    peaks = np.flatnonzero(size >= 0.95 * size.max()) - foot * 4
    assert found.peaks_s == pytest.approx((peaks[0] / RATE, peaks[-1] / RATE / 0.8), abs=1e-9)
    block = np.asarray(whole)[: round(0.4 * RATE)]
    transform = 2 ** math.ceil(math.log2(3 * block.size))
    weighted = np.abs(np.fft.rfft(block, transform) * k_weight(transform, RATE)) ** 2
    mean = 2 * weighted.sum() / transform / block.size * 10**-0.0691
    assert found.crest_db == pytest.approx(10 * math.log10(size.max() ** 2 / mean), abs=0.01)
    bright = np.abs(np.fft.rfft(np.asarray(whole)[: round(0.25 * RATE)], 2**15)) ** 2
    places = np.fft.rfftfreq(2**15, 1 / RATE)
    assert found.centroid_hz == pytest.approx((bright * places).sum() / bright.sum())


# ------------------------------------------------------------------ evening takes out


def test_a_sound_is_moved_and_ends_are_counted_out() -> None:
    one = np.arange(1.0, 6.0)
    assert sampling._delayed(one, 2).tolist() == [0, 0, 1, 2, 3]
    assert sampling._delayed(one, -2).tolist() == [3, 4, 5, 0, 0]
    assert sampling._delayed(one, 0).tolist() == [1, 2, 3, 4, 5]
    assert sampling._fade_out_gains(6, 3) == pytest.approx([1, 1, 1, 0.75, 0.25, 0.0])
    begun = sampling._faded_in(np.ones(20))
    assert begun[:17] == pytest.approx([*(n / 16 for n in range(16)), 1.0])
    assert sampling._faded_in(np.ones(4)) == pytest.approx([0.0, 0.25, 0.5, 0.75])
    even = sampling._at_common_loudness(np.sin(np.arange(RATE) / 8.0), RATE)
    assert loudness(even, RATE, 0.4) == pytest.approx(0.02)
    assert mixed(np.ones(4), np.ones(3), 0.5).tolist() == [1.5, 1.5, 1.5]
    for thin in (1, 2):
        data, rate = sampling._decimated(np.ones(400), RATE, thin)
        assert (data.size, rate) == (400 // thin, RATE // thin)
        assert data[100:-100] == pytest.approx(1.0)
    two = [Take(0, 0, 0, False, None, wave, RATE, 0.0) for wave in (one, -2 * one)]
    fitted = sampling._scaled_to_peak(tuple(two))
    assert np.abs(fitted[1].data).max() == pytest.approx(0.95)
    assert fitted[0].data == pytest.approx(one * 0.095)


@pytest.mark.parametrize(
    ("times", "least", "most", "off"),
    [
        ((0.010, 0.020), 10.0, 20.0, 0.0), ((0.005, 0.020), 10.0, 20.0, 0.5),
        ((0.010, 0.030), 10.0, 20.0, 0.5), ((0.005, 0.060), 10.0, 20.0, 2.0),
        ((0.001, 0.020), 0.0, math.inf, 0.0),
    ],
)  # fmt: skip
def test_how_far_a_start_lies_outside(
    times: tuple[float, float], least: float, most: float, off: float
) -> None:
    assert sampling._outside(times, least, most) == pytest.approx(off)
    plectrum: Any = SimpleNamespace(
        shortest_ms=least, longest_ms=most, soonest_ms=0.0, latest_ms=math.inf, crest_db=12.0
    )
    start: Any = SimpleNamespace(attacks_s=times, peaks_s=(0.0, 1.0), crest_db=12.0)
    assert sampling._distance(start, plectrum) == pytest.approx(off)
    start.crest_db = 13.5
    assert sampling._distance(start, plectrum) == pytest.approx(off + 0.5)
    plectrum.soonest_ms, plectrum.latest_ms = 5.0, 500.0
    assert sampling._distance(start, plectrum) == pytest.approx(off + 0.5 + 1.0)


@pytest.mark.slow
def test_a_sound_is_damped_and_cut_where_it_is_over(banjo: Voice) -> None:
    voice = replace(banjo, layout=replace(banjo.layout, rate_hz=RATE, end_db=-40.0, fade_ms=20.0))
    times = np.arange(2 * RATE) / RATE
    sound = np.sin(2 * np.pi * 440 * times) * np.exp(-3.0 * times)
    quick = damped(sound, RATE, 0.3)
    assert fall_s(quick, RATE, 30.0) == pytest.approx(0.3, abs=0.005)
    share = quick[1:] / sound[1:]
    loss = -np.log(share[1000]) * RATE / 1001
    assert share == pytest.approx(np.exp(-loss * times[1:]), rel=1e-6)
    cut = ended(quick, voice)
    level = envelope(quick, RATE)
    last = int(np.flatnonzero(level > level.max() * 0.01)[-1])
    fade = round(0.02 * RATE)
    assert cut.size == last + fade
    assert cut[: cut.size - fade] == pytest.approx(quick[: cut.size - fade])
    assert cut[-fade:] == pytest.approx(quick[cut.size - fade : cut.size] * (
        0.5 + 0.5 * np.cos(np.pi * np.arange(1, fade + 1) / fade)
    ))  # fmt: skip
    steady = np.sin(2 * np.pi * 440 * times)
    assert ended(steady, voice).size == steady.size - RATE // 20


@pytest.mark.slow
def test_a_take_is_fitted_to_the_frets_that_play_it(banjo: Voice) -> None:
    voice = replace(banjo, layout=replace(banjo.layout, roots=(0, 3, 7)))
    own = 440.0 * 2 ** ((48 + 3 - 69) / 12)
    times = np.arange(2 * RATE) / RATE
    sound = sum(np.sin(2 * np.pi * n * own * 1.002 * times) / n for n in range(1, 6))
    take = Take(0, 3, 0, False, None, np.asarray(sound) * np.exp(-3 * times), RATE, 0.0)
    found = fitted_to_frets(voice, take)
    frets = [fret for fret in range(voice.neck.frets + 1) if 3 in nearest(voice, fret)]
    assert [fit.fret for fit in found.fits] == frets
    uneven = unevenness_db(voice)[0]
    wanted, sharper = {}, {}
    for fret in frets:
        rate = RATE * 2 ** ((fret - 3) / 12)
        wanted[fret] = uneven[fret] - 10 * math.log10(loudness(take.data, rate, 0.4) / 0.02)
        hz = 440.0 * 2 ** ((48 + fret - 69) / 12)
        sharper[fret] = -cents(pitch_hz(take.data, rate, hz), hz)
    loudest = max(wanted.values())
    assert found.correction_cents == pytest.approx(sharper[3])
    assert found.correction_cents == pytest.approx(-1200 * math.log2(1.002), abs=0.3)
    for fit in found.fits:
        assert fit.softer_db == pytest.approx(loudest - wanted[fit.fret])
        assert fit.sharper_cents == pytest.approx(sharper[fit.fret] - sharper[3])
    assert found.data == pytest.approx(take.data * 10 ** (loudest / 20))


# ------------------------------------------------------------------ a whole stroke


@pytest.mark.parametrize(("up", "again", "fret"), [(False, 0, 0), (True, 0, 5), (True, 2, 17)])
def test_where_and_how_a_plectrum_strikes(banjo: Voice, up: bool, again: int, fret: int) -> None:
    plectrum = banjo.plectrum
    way, level = (plectrum.up if up else plectrum.down), plectrum.force[1]
    scale = banjo.neck.scale_mm / 1000
    length = fretted_m(scale, fret)
    string: Any = SimpleNamespace(held=SimpleNamespace(length_m=length))
    found = model_module.pluck(banjo, string, StruckNote(2, fret, 1, up), again)
    take = (2, fret, 1, int(up), *((again,) if again else ()))
    place, angle = np.random.default_rng(take).uniform(-1.0, 1.0, 2) * (1 + 0.6 * again)
    at = (level.at_mm + way.shift_mm) * (0.4 + 0.6 * length / scale) + place * plectrum.spread_mm
    assert found.at_m == pytest.approx(min(max(at / 1000, 0.03 * length), 0.9 * length))
    side = banjo.strings[2].side_mm / max(abs(one.side_mm) for one in banjo.strings)
    assert found.angle_deg == pytest.approx(
        way.angle_deg - way.arc_deg * side + angle * plectrum.spread_deg
    )
    impedances = [math.sqrt(one.tension_n(scale) * one.mass_kg_m) for one in banjo.strings]
    middle = math.prod(impedances) ** (1 / len(impedances))
    light = math.sqrt(impedances[2] / middle)
    assert found.release_s == pytest.approx(level.release_ms * way.sharper * light / 1000)
    assert found.take == take
    assert (found.force_n, found.noise_n) == (level.force_n, level.noise_n * way.noise)
    assert found.noise_s == plectrum.noise_ms / 1000
    assert (found.knock_n, found.knock_s) == (level.knock_n * way.knock, plectrum.knock_ms / 1000)
    assert found.knock_after_s == plectrum.knock_after_ms / 1000
    near: Any = SimpleNamespace(held=SimpleNamespace(length_m=1e-3))
    assert model_module.pluck(banjo, near, StruckNote(2, 0, 1)).at_m == pytest.approx(0.9e-3)
    low = replace(plectrum, force=tuple(replace(one, at_mm=-999.0) for one in plectrum.force))
    at_the_bridge = model_module.pluck(replace(banjo, plectrum=low), string, StruckNote(2, fret, 1))
    assert at_the_bridge.at_m == pytest.approx(0.03 * length)


@pytest.fixture(scope="module")
def little(banjo: Voice) -> Voice:
    """The banjo in a short window at half the rate, with a head of few modes."""
    assert banjo.head is not None
    layout = replace(banjo.layout, rate_hz=RATE, window=2**12)
    return replace(banjo, layout=layout, head=replace(banjo.head, highest_hz=900.0))


@pytest.mark.slow
def test_a_stroke_through_bridge_and_body_to_the_ear(little: Voice) -> None:
    ready = model(little)
    s, scale = ready.grid.s, little.neck.scale_mm / 1000
    assert little.head is not None
    coarse = s[::8]
    face = head_face(coarse, little.head, little.microphone).between(coarse, s)
    face = face.plus(modal(s, little.head.rim, little.head.foot_mm)).lifted(s, little.microphone)
    index, fret = 1, 5
    force, moment = np.zeros_like(s), np.zeros_like(s)
    for number, one in enumerate(little.strings):
        along = waves(s, one, one.tension_n(scale), one.frequency_hz)
        felt = along.impedance(little.neck.after_mm / 1000, little.neck.after_loss)
        if number != index:
            felt = felt + along.impedance(scale, little.neck.hand_loss)
        force = force + felt
        moment = moment + felt * (one.side_mm / 1000) ** 2
    string = little.strings[index]
    outermost = max(abs(one.side_mm) for one in little.strings)
    on = seat(s, little.bridge, face, string.side_mm, outermost, OtherLoads(force, moment))
    assert ready.seats[index].vertical == pytest.approx(on.vertical, rel=1e-9)
    assert ready.seats[index].level_sound == pytest.approx(on.level_sound, rel=1e-9)
    # The string, tied to it: forces on a moving bridge by two equations.
    loss, side, apart = 0.01, 0.4, little.neck.apart
    held = HeldString(string, string.tension_n(scale), fretted_m(scale, fret), loss, side, apart)
    along = waves(s, string, held.tension_n, held.hz)
    zv = along.impedance(held.length_m, loss)
    zl = along.impedance(held.length_m * (1 + apart), loss * side)
    whole = np.array([
        [1 + zv * on.vertical, zv * on.cross], [zl * on.cross, 1 + zl * on.level],
    ])  # fmt: skip
    inverse = np.linalg.inv(np.moveaxis(whole, -1, 0))
    heard_by = np.stack((on.vertical_sound, on.level_sound), -1)[:, None, :] @ inverse
    from_vertical, from_level = heard_by[:, 0, 0], heard_by[:, 0, 1]
    grid = ready.grid
    at = np.minimum(np.round(np.arange(1, 29) * held.hz * grid.window_s).astype(int), s.size - 1)
    taken = (along.zc * on.level).real[at] + loss * side
    inner = along.gamma.real[at] * 2 * held.length_m * held.hz - grid.sigma
    decay = np.maximum(inner + 2 * held.hz * taken, 0.0)
    speaking = stopped(ready, index, fret, loss, side)
    found = tone(speaking, PLUCK)
    late, rasp = PLUCK.step(grid, 0.005), PLUCK.rasp(grid, 0.005)
    there, length_m = along.over(0.1), held.length_m
    vertical = from_vertical * blocked(there, along.round_trip(length_m, loss))
    level = from_level * blocked(there, along.round_trip(length_m, loss * side))
    added = stretch(grid, held, decay, PLUCK)
    pulled = grid.transform(added.force - added.force[-1])
    own = lengthwise_hz(string, held.length_m)
    for number, driven in enumerate(added.lengthwise, 1):
        if number * own < 0.4 * RATE:
            pulled = pulled + grid.transform(driven) * passed_on(s, number * own)
    pull = math.sin(math.radians(little.neck.break_angle_deg)) + little.neck.lean
    rest = (0.6 * vertical + 0.8 * level) * rasp
    rest = rest + from_vertical * pull * pulled * np.exp(-s * 0.005) / RATE
    response = (math.sqrt(3.0) * level + 1.0 * vertical) * late + rest
    start = round((0.005 + grid.lead_s) * RATE)
    plain = grid.sound(response)
    steps = np.ones(plain.size)
    glide = added.glide[: plain.size - start]
    steps[start : start + glide.size] = np.sqrt(1 + glide)
    places = np.append(0.0, np.cumsum(steps)[:-1])
    places = places[places <= plain.size - 1]
    bent = ndimage.map_coordinates(plain, places[None], order=3, mode="mirror")
    wanted = bent[start - round(0.0045 * RATE) :]
    assert found.size == wanted.size
    assert found == pytest.approx(wanted, abs=1e-7 * np.abs(wanted).max())
    one = swings(speaking, PLUCK)
    assert one.towards(PLUCK) == pytest.approx(found, abs=1e-7 * np.abs(wanted).max())
    tap = knock(grid, ready.face, PLUCK)
    begin = round((0.005 + grid.lead_s - 0.0045) * RATE)
    by_hand = grid.sound(face.knock_sound * PLUCK.knock(grid, 0.005))[begin:]
    assert tap == pytest.approx(by_hand, abs=1e-9 * np.abs(by_hand).max())
    usual = stopped(ready, index, fret, loss)
    assert usual.held.side_loss == little.neck.side_loss


def test_dead_strokes_are_mostly_plectrum_and_head(
    banjo: Voice, monkeypatch: pytest.MonkeyPatch
) -> None:
    voice = replace(
        banjo,
        layout=replace(banjo.layout, rate_hz=RATE),
        dead=replace(banjo.dead, takes=2, noise=3.0, knock=4.0, length_ms=30.0, level_db=-6.0),
    )
    ready: Any = SimpleNamespace(voice=voice, grid=SimpleNamespace(rate_hz=RATE), face="face")
    held: list[Any] = []
    strokes: list[Pluck] = []
    wave = np.sin(np.arange(2000) / 5.0)

    def stop(model: Any, index: int, fret: int, loss: float, side_loss: float) -> str:
        held.append((index, fret, loss, side_loss))
        return f"fret {fret}"

    def strike(voice: Voice, string: str, note: StruckNote) -> Pluck:
        held.append((string, note))
        return replace(PLUCK, take=(note.fret, note.force), knock_n=0.3 * note.force)

    def sound(string: str, stroke: Pluck) -> np.ndarray:
        strokes.append(stroke)
        return wave

    monkeypatch.setattr(sampling, "stopped", stop)
    monkeypatch.setattr(sampling, "pluck", strike)
    monkeypatch.setattr(sampling, "tone", sound)
    monkeypatch.setattr(sampling, "knock", lambda grid, face, stroke: 2 * wave)
    takes = sampling._dead_takes(ready, 1)
    forces = range(len(voice.plectrum.force))
    assert [(one.string, one.fret, one.force, one.up, one.dead) for one in takes] == [
        (1, 12, force, False, number) for number in (0, 1) for force in forces
    ]
    assert [row for row in held if len(row) == 4] == [
        (1, 4 + number, voice.dead.end_loss, 1.0) for number in (0, 1)
    ]
    assert [row for row in held if len(row) == 2] == [
        (f"fret {4 + number}", StruckNote(1, 100 + number, force, up=bool(number)))
        for number in (0, 1) for force in forces
    ]  # fmt: skip
    for stroke in strokes:
        tap, edge = np.random.default_rng(stroke.take).uniform(0.6, 1.6, 2)
        hit = max(0.3 * stroke.take[1], 0.05 * 2.0)
        assert stroke.noise_n == pytest.approx(0.15)
        assert stroke.knock_n == pytest.approx(hit * 4.0 * tap)
        assert stroke.knock_s == pytest.approx(5e-4 * edge)
    length = round(0.03 * RATE)
    data = 3 * wave[:length]
    half = length // 2
    data[length - half :] *= 0.5 + 0.5 * np.cos(np.pi * np.arange(1, half + 1) / half)
    data[:16] *= np.arange(16) / 16
    data *= math.sqrt(0.02 / loudness(data, RATE, 0.4)) * 10 ** (-6 / 20)
    assert takes[0].data == pytest.approx(data)
    assert (takes[0].rate_hz, takes[0].correction_cents) == (RATE, 0.0)


def test_strings_side_by_side_are_a_little_off_one_another(
    banjo: Voice, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[Pluck] = []
    wave = np.sin(np.arange(3000) / 12.0)

    def swing(string: Any, stroke: Pluck) -> Any:
        asked.append(stroke)
        share = float(len(asked))
        return sampling.Swings(share * wave, 2 * share * wave, 3 * share * wave)

    monkeypatch.setattr(sampling, "swings", swing)
    neck = replace(banjo.neck, courses=2, course_cents=6.0)
    ready: Any = SimpleNamespace(
        voice=replace(banjo, neck=neck), grid=SimpleNamespace(rate_hz=RATE)
    )
    found = sampling._course_swings(ready, "string", PLUCK)  # type: ignore[arg-type]
    assert asked[0] is PLUCK
    assert asked[1].at_m == pytest.approx(0.104)
    assert asked[1].take == (1, 2, 1)
    speed = 2 ** (6.0 / 1200)
    places = speed * np.arange(3000)
    places = places[places <= 2999]
    sharper = ndimage.map_coordinates(wave, places[None], order=3, mode="mirror")
    later = round(0.0007 * RATE)
    size = min(sharper.size, 3000 - later)
    wanted = wave[: later + size].copy()
    wanted[later:] += 2 * sharper[:size]
    assert found.level == pytest.approx(wanted, abs=1e-9)
    assert found.rest == pytest.approx(3 * wanted, abs=1e-9)
    asked.clear()
    alone: Any = SimpleNamespace(voice=banjo, grid=ready.grid)
    assert sampling._course_swings(alone, "string", PLUCK).level is not None  # type: ignore[arg-type]
    assert len(asked) == 1


@pytest.mark.slow
def test_a_stroke_is_heard_at_its_fastest_fret_dying_away(
    banjo: Voice, monkeypatch: pytest.MonkeyPatch
) -> None:
    voice = replace(banjo, layout=replace(banjo.layout, roots=(0, 4, 10)))
    ready: Any = SimpleNamespace(voice=voice, grid=SimpleNamespace(rate_hz=RATE))
    times = np.arange(2 * RATE) / RATE
    wave = np.sin(2 * np.pi * 300 * times) * np.exp(-3 * times)
    parts = sampling.Swings(wave, 0.5 * wave, 0.1 * wave)
    asked: list[Any] = []
    monkeypatch.setattr(sampling, "heard", lambda *words: asked.append(words))
    sampling._parts_heard(ready, StruckNote(1, 4, 0), parts, PLUCK, [wave, 2 * wave])
    ((sounds_, rate, hz, slowest),) = asked
    assert rate == pytest.approx(RATE * 2 ** (2 / 12))  # frets 2 to 6 have it nearest
    assert slowest == pytest.approx(2 ** (-4 / 12))
    assert hz == pytest.approx(440.0 * 2 ** ((55 + 6 - 69) / 12))
    whole = math.sqrt(3.0) * wave + 0.5 * wave + 0.1 * wave + wave
    wanted_s = voice.decay.at(59)
    loss = np.log(whole[1000] / damped(whole, RATE, wanted_s)[1000]) * RATE / 1000
    count = round(0.8 * RATE)
    dying = np.exp(-loss / RATE * np.arange(count))
    for sound, plain in zip(sounds_, (wave, 0.5 * wave, 0.1 * wave, wave, 2 * wave), strict=True):
        assert sound == pytest.approx(plain[:count] * dying, abs=1e-6)


@pytest.mark.parametrize(
    ("offs", "tries", "found"),
    [
        ({}, 1, (0, 0.0, 0, 1.0)),  # hopeless: the note itself falls too fast
        ({(0, 4.0, 1, 0.7): 0.0}, 1, (0, 4.0, 1, 0.7)),
        ({(0, 0.0, 2, 2.0): 0.2, (1, -8.0, 1, 0.25): 0.1}, 2, (1, -8.0, 1, 0.25)),
        ({(0, -20.0, 2, 0.25): 0.2, (1, 0.0, 0, 1.0): 0.25}, 2, (0, -20.0, 2, 0.25)),
        ({(0, 0.0, 0, 1.4): 0.2, (1, 12.0, 0, 1.0): 0.0}, 2, (0, 0.0, 0, 1.4)),  # no such turn
        ({(0, 8.0, 0, 4.0): 0.29, (1, 8.0, 0, 4.0): 0.0}, 2, (1, 8.0, 0, 4.0)),
        ({(0, 8.0, 0, 4.0): 0.31, (1, 8.0, 0, 4.0): 0.0}, 1, (0, 8.0, 0, 4.0)),
    ],
)
def test_of_some_strokes_the_first_that_begins_as_asked_for_is_kept(
    offs: dict[tuple[int, float, int, float], float], tries: int, found: tuple[Any, ...],
    banjo: Voice, monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    """By again, turn of the angle, when the tip hits and how much of it: everything else is far
    off."""
    plectrum = replace(
        banjo.plectrum, shortest_ms=0.0, longest_ms=math.inf, soonest_ms=0.0, latest_ms=math.inf,
        crest_db=12.0,
    )  # fmt: skip
    voice = replace(banjo, plectrum=plectrum, layout=replace(banjo.layout, rate_hz=10_000))
    tap = np.arange(100.0)
    ready: Any = SimpleNamespace(
        voice=voice, grid=SimpleNamespace(rate_hz=10_000), face="face", tap=lambda stroke: tap
    )
    tried: list[int] = []
    steep = replace(PLUCK, angle_deg=-30.0)  # turned the way it leans
    turns = {
        (again, round(replace(steep, angle_deg=-30.0 - turn).level_n, 9)): turn
        for again in (0, 1) for turn in (0.0, -4.0, 4.0, -8.0, 8.0, -12.0, -16.0, -20.0)
    }  # fmt: skip

    class Ear:
        def __init__(self, again: int, level: float) -> None:
            self.key = again, turns[again, round(level, 9)]

        def off(self, number: int, share: float) -> float:
            return offs.get((*self.key, number, share), 1.0)

        def glance(self, number: int, shares: Any) -> Any:
            crests = [12.0 + 3 * self.off(number, float(share)) for share in shares]
            return np.array(crests), np.full(len(crests), 1e9)

        def start(self, knocks: Any) -> Any:
            ((number, share),) = [(at, one) for at, one in enumerate(knocks) if one]
            crest = 12.0 + 3 * self.off(number, share)
            return SimpleNamespace(
                attacks_s=(0.0, 0.0), peaks_s=(0.0, 0.0), crest_db=crest, centroid_hz=1e9
            )

    class Swung:
        def __init__(self, again: int) -> None:
            self.again = again

        def towards(self, stroke: Pluck) -> tuple[int, float]:
            return self.again, turns[self.again, round(stroke.level_n, 9)]

    def course(model: Any, string: Any, stroke: Any) -> Swung:
        tried.append(stroke.take[0])
        return Swung(stroke.take[0])

    def heard_by(model: Any, note: Any, swings: Swung, stroke: Any, taps: Any) -> Any:
        assert [one.tolist() for one in taps] == [
            sampling._delayed(tap, later).tolist() for later in (0, 12, -12)
        ]
        return SimpleNamespace(parts_sum=lambda weights: Ear(swings.again, weights[0]))

    def strike(voice: Any, string: Any, note: Any, again: int = 0) -> Pluck:
        return replace(steep, take=(again,))

    monkeypatch.setattr(sampling, "pluck", strike)
    monkeypatch.setattr(sampling, "_course_swings", course)
    monkeypatch.setattr(sampling, "_parts_heard", heard_by)
    monkeypatch.setattr(sampling, "mixed", lambda *parts: parts)
    (again, turn), hit, share = sampling._best_stroke(ready, "string", StruckNote(0, 0, 0), 0.0)  # type: ignore[arg-type]
    number = [sampling._delayed(tap, later).tolist() for later in (0, 12, -12)].index(hit.tolist())
    assert (again, turn, number, share) == found
    assert tried == list(range(tries))
