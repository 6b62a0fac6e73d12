"""The parts of the model against textbook results.

Sources: Fletcher & Rossing, "The Physics of Musical Instruments" (2nd ed. 1998), chapters 2 and 3;
zeros of Bessel functions from Abramowitz & Stegun, table 9.5. Formulas from memory where no page is
named.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from accomp.voice.body import AIR_DENSITY, MICROPHONE_M, Face, modal
from accomp.voice.bridge import OtherLoads, seat
from accomp.voice.head import head_face, head_modes, pot_air
from accomp.voice.laplace import Grid, gamma_pulse
from accomp.voice.parameters import StringParameters, Voice
from accomp.voice.pluck import Pluck
from accomp.voice.stretch import LENGTHWISE_Q, MODES, lengthwise_hz, passed_on, stretch, warp
from accomp.voice.strings import HeldString, blocked, fretted_m, waves

GRID = Grid(44100, 2**15)
STEEL = StringParameters(
    pitch=69, diameter_mm=0.3, core_mm=0.3, mass_g_m=0.55, young_gpa=200.0, tension_loss=1e-4,
    bending_loss=1e-3, side_mm=0.0,
)  # fmt: skip
STILL = np.zeros(MODES)
PLUCK = Pluck(2.0, 0.1, 20.0, 1e-4, 0.05, 0.002, 0.0, 5e-4, 0.0, (1, 2))


def test_inverting_a_decay_gives_the_decay() -> None:
    rate, at_s = 30.0, 0.02
    sound = GRID.sound(
        gamma_pulse(GRID.s, 4e-4) * np.exp(-GRID.s * at_s) * 300.0 / ((GRID.s + rate) ** 2 + 300**2)
    )
    times = np.arange(GRID.count) / GRID.rate_hz - at_s - GRID.lead_s - 4e-4
    exact = np.where(times > 0.0, np.exp(-rate * np.maximum(times, 0.0)) * np.sin(300 * times), 0.0)
    # The pulse rounds the corner at the start off; after it, it leaves a sine of 300 rad/s alone.
    assert np.abs(sound - exact).max() < 0.03
    assert np.abs(sound - exact)[times > 0.003].max() < 0.005


def test_nothing_grows_at_the_end_of_the_window() -> None:
    sound = GRID.sound(np.exp(-GRID.s * 0.005) / (GRID.s + 60.0))
    assert np.abs(sound[-2000:]).max() < 1e-6


def test_a_pulse_has_area_one_and_its_delay() -> None:
    small = np.array([1e-6 + 0j])
    assert gamma_pulse(small, 3e-3)[0].real == pytest.approx(1.0, abs=1e-6)
    slope = (1.0 - gamma_pulse(np.array([1.0 + 0j]), 3e-3)[0].real) / 1.0
    assert slope == pytest.approx(3e-3, rel=0.01)


def test_tension_and_fret_follow_the_textbook() -> None:
    # T = μ·(2·L·f)²; the twelfth fret halves the string.
    assert STEEL.tension_n(0.58) == pytest.approx(0.55e-3 * (2 * 0.58 * 440) ** 2)
    assert fretted_m(0.584, 12) == pytest.approx(0.292)
    # Steel, E·I = E·π·d⁴/64
    assert STEEL.bending_nm2 == pytest.approx(200e9 * math.pi * 0.3e-3**4 / 64)


def test_partials_of_a_stiff_string() -> None:
    """f_n = n·f₁·√(1 + B·n²), B = π²·E·I/(T·L²) (Fletcher & Rossing 2.67a)."""
    length, tension = 0.58, STEEL.tension_n(0.58)
    string = replace(STEEL, tension_loss=0.0, bending_loss=0.0)
    s = 0.5 + 2j * math.pi * np.arange(20.0, 8000.0, 0.05)
    along = waves(s, string, tension, 440.0)
    size = np.abs(blocked(along.over(0.1234), along.round_trip(length, 0.0)))
    peaks = np.flatnonzero((size[1:-1] > size[:-2]) & (size[1:-1] > size[2:])) + 1
    found = s[peaks].imag / 2 / math.pi
    stiffness = math.pi**2 * STEEL.bending_nm2 / (tension * length**2)
    for n in (1, 2, 5, 9, 14):
        wanted = n * 440.0 * math.sqrt(1 + stiffness * n**2)
        nearest = found[np.abs(found - wanted).argmin()]
        # Air carried along by the wire lowers it by about a cent.
        assert 1200 * math.log2(nearest / wanted) == pytest.approx(-0.6, abs=0.6)


def test_a_plucked_string_has_the_partials_of_its_shape() -> None:
    """Force on a rigid bridge of a string let go at x: partials 2/(nπ)·sin(nπx/L)·F, in theory."""
    length, at = 0.58, 0.1
    along = waves(
        GRID.s, replace(STEEL, core_mm=0.01, tension_loss=0.0), STEEL.tension_n(length), 440.0
    )
    step = gamma_pulse(GRID.s, 2e-5) * np.exp(-GRID.s * 0.005) / GRID.s
    force = GRID.sound(blocked(along.over(at), along.round_trip(length, 0.0)) * step)
    part = force[2000:26000] * np.hanning(24000)
    amounts = {}
    for n in (1, 2, 3, 4):
        times = np.arange(24000) / 44100
        amounts[n] = max(
            abs((part * np.exp(-2j * np.pi * (n * 439.8 + off) * times)).sum())
            for off in np.arange(-4.0, 4.0, 0.2)
        )
    for n in (2, 3, 4):
        shape = math.sin(n * math.pi * at / length) / n / math.sin(math.pi * at / length)
        # Higher partials have lost a little more by then.
        assert amounts[n] / amounts[1] == pytest.approx(abs(shape), rel=0.12)


def test_a_loss_factor_is_a_rate_of_decay() -> None:
    """Amplitude falls like exp(−π·f·η·t) for a loss factor η of tension."""
    string = replace(STEEL, tension_loss=2e-2, core_mm=0.01)
    grid = Grid(44100, 2**16)
    along = waves(grid.s, string, string.tension_n(0.58), 440.0)
    still = blocked(along.over(0.29), along.round_trip(0.58, 0.0))
    force = grid.sound(still * gamma_pulse(grid.s, 4e-4, 6))
    early, late = (np.abs(force[t : t + 1000]).max() for t in (4410, 8820))
    rate = math.log(early / late) / 0.1
    assert rate == pytest.approx(math.pi * 440 * 2e-2, rel=0.05)


def test_modes_of_an_ideal_membrane(banjo: Voice) -> None:
    assert banjo.head is not None
    modes = head_modes(banjo.head)
    # Abramowitz & Stegun 9.5: j0,1 j1,1 j2,1 j0,2 j3,1 j1,2
    for order, zero in ((0, 2.40483), (1, 3.83171), (2, 5.13562), (0, 5.52008), (1, 7.01559)):
        assert np.abs(modes.ka[modes.order == order] - zero).min() < 1e-4
    # Air lowers the lowest mode a good deal, high ones little: f = (ka/2πa)·√(T/σ) without it.
    bare = modes.ka / (banjo.head.radius_mm / 1e3)
    bare = bare * math.sqrt(banjo.head.tension_n_m / banjo.head.mass_kg_m2)
    share = modes.omega / bare
    assert 0.75 < share[modes.ka.argmin()] < 0.9
    assert share[modes.ka.argmax()] > 0.97
    assert (share < 1.0).all()


def test_the_air_in_the_pot_swings_through_the_opening(banjo: Voice) -> None:
    """What the head pushes in at slow speed comes out at the back; at the opening's frequency
    1/loss times as much does; a cavity only takes energy (Fletcher & Rossing 8.13)."""
    assert banjo.head is not None
    assert banjo.head.pot is not None
    pot = replace(banjo.head.pot, round_ms=0.0)
    s = 1e-6 + 2j * math.pi * np.array([1.0, pot.opening_hz, 20.0 * pot.opening_hz])
    resistance, outside = pot_air(s, pot)
    flow = resistance * outside * 2.0 * math.pi * MICROPHONE_M / (AIR_DENSITY * s)
    assert flow[0] == pytest.approx(-1.0, rel=1e-3)
    assert abs(flow[1]) == pytest.approx(1.0 / pot.opening_loss, rel=0.01)
    assert abs(flow[2]) < 0.01
    assert (resistance.real > 0.0).all()
    # A closed box of air: a spring of ρc² over the volume.
    assert abs(resistance[2] * s[2]) == pytest.approx(
        AIR_DENSITY * 343.0**2 / (pot.volume_l / 1e3), rel=0.01
    )


def test_a_head_without_a_pot_stands_in_free_air(banjo: Voice) -> None:
    """The air behind a head stiffens its slow swing; a cavity of any size is free air at last."""
    assert banjo.head is not None
    assert banjo.head.pot is not None
    s = 1.0 + 2j * math.pi * np.array([60.0, 200.0, 900.0])
    head = replace(banjo.head, highest_hz=2000.0)
    free = head_face(s, replace(head, pot=None), banjo.microphone).heave_mobility
    given = head_face(s, head, banjo.microphone).heave_mobility
    pot = replace(banjo.head.pot, volume_l=1e9)
    wide = head_face(s, replace(head, pot=pot), banjo.microphone).heave_mobility
    assert np.abs(free / given - 1.0).max() > 0.05
    assert wide == pytest.approx(free, rel=1e-6)


def test_a_head_is_heard_from_straight_ahead_as_from_beside_it(banjo: Voice) -> None:
    assert banjo.head is not None
    s = 1.0 + 2j * math.pi * np.linspace(60.0, 900.0, 3000)
    head = replace(banjo.head, highest_hz=2000.0)
    straight, beside = (
        head_face(s, head, replace(banjo.microphone, off_axis_deg=degrees)).heave_sound
        for degrees in (0.0, 0.01)
    )
    assert straight == pytest.approx(beside, rel=1e-3)


def test_a_rim_adds_its_mode(banjo: Voice) -> None:
    assert banjo.head is not None
    rim = banjo.head.rim[0]
    s = np.array([2j * math.pi * rim.hz])
    added = modal(s, (rim,), banjo.head.foot_mm)
    wanted = rim.heave**2 / (rim.mass_g / 1e3 * 2.0 * math.pi * rim.hz * rim.loss)
    assert added[0][0] == pytest.approx(wanted)
    zero = Face(*(np.zeros(1, complex) for _ in range(5)))
    assert zero.plus(added).heave_mobility[0] == pytest.approx(wanted)


def test_bodies_only_take_energy(banjo: Voice) -> None:
    assert banjo.head is not None
    s = 1.0 + 2j * math.pi * np.geomspace(30, 15000, 400)
    face = head_face(s, banjo.head, banjo.microphone)
    assert (face.heave_mobility.real > 0).all()
    assert (face.rock_mobility.real > 0).all()
    nothing = np.zeros_like(s)
    for string in banjo.strings:
        place = seat(s, banjo.bridge, face, string.side_mm, 15.0, OtherLoads(nothing, nothing))
        assert (place.vertical.real > 0).all()
        assert (place.level.real > 0).all()
        # A passive pair: Re Y is a positive matrix.
        assert (place.vertical.real * place.level.real >= place.cross.real**2 - 1e-12).all()


def test_a_body_on_a_finer_grid_is_the_same_body(banjo: Voice) -> None:
    assert banjo.head is not None
    head = replace(banjo.head, highest_hz=3000.0)
    grid = Grid(44100, 2**17)
    coarse = grid.s[::8]
    fine = grid.s[2003:40000:997]
    between = head_face(coarse, head, banjo.microphone).between(coarse, grid.s)
    exact = head_face(fine, head, banjo.microphone)
    for name in ("heave_mobility", "rock_mobility", "heave_sound", "rock_sound"):
        error = np.abs(getattr(between, name)[2003:40000:997] - getattr(exact, name))
        assert error.max() < 1e-3 * np.abs(getattr(exact, name)).max()


def test_a_bridge_on_a_hard_face_is_a_mass_on_a_spring(banjo: Voice) -> None:
    """Far above its resonance Y = 1/(s·m), far below s/k."""
    bridge = replace(banjo.bridge, heave=(), rock=(), stiffness_n_m=2e4, damping_ns_m=0.0)
    for hz, wanted in (
        (40000.0, lambda s: 1 / (s * bridge.mass_g / 1e3)),
        (5.0, lambda s: s / 2e4),
    ):
        s = np.array([1e-3 + 2j * math.pi * hz])
        soft = Face(*(np.array([1e6 + 0j]) for _ in range(5)))
        place = seat(s, bridge, soft, 0.0, 15.0, OtherLoads(0 * s, 0 * s))
        assert place.vertical[0] == pytest.approx(wanted(s)[0], rel=1e-3)


def _held(string: StringParameters, tension_n: float, length_m: float) -> HeldString:
    return HeldString(string, tension_n, length_m, end_loss=0.0, side_loss=1.0, apart=0.0)


def test_tension_rises_by_the_stretch_of_the_shape() -> None:
    """ΔT = (E·A/2L)·∫y'²dx; a string pulled aside h at x is two straight lines."""
    length, tension = 0.58, 80.0
    pluck = replace(PLUCK, force_n=2.0, at_m=0.2, release_s=0.0)
    added = stretch(Grid(44100, 2**15), _held(STEEL, tension, length), STILL, pluck)
    height = pluck.force_n * 0.2 * 0.38 / (length * tension)
    slopes = (height / 0.2) ** 2 * 0.2 + (height / 0.38) ** 2 * 0.38
    wanted = STEEL.stretch_n / (2 * length) * slopes
    start = added.glide[0] * tension + added.force[0]
    assert start == pytest.approx(wanted, rel=0.05)  # 28 modes hold nearly all of it


@pytest.mark.slow
def test_modes_along_the_string_are_driven_by_the_square_of_the_slope() -> None:
    """(E·A/2)·(2/L)·∫y'²·cos(pπx/L)dx by quadrature, its part at the sums of frequencies."""
    length, hz = 0.58, 400.0
    tension = STEEL.mass_kg_m * (2.0 * length * hz) ** 2
    string = replace(STEEL, core_mm=0.05)  # no stiffness to speak of: partials are multiples
    own = lengthwise_hz(replace(string, core_mm=0.3), length)
    string = replace(string, young_gpa=STEEL.young_gpa * 36.0)
    assert lengthwise_hz(string, length) == pytest.approx(own)
    assert own == pytest.approx(math.sqrt(200e9 * math.pi / 4 * 0.3e-3**2 / 0.55e-3) / 1.16)
    pluck = replace(PLUCK, force_n=2.0, at_m=0.1, release_s=0.0)
    grid = Grid(44100, 2**15)
    held = _held(string, tension, length)
    assert held.hz == pytest.approx(hz)
    added = stretch(grid, held, STILL, pluck)
    n = np.arange(1, MODES + 1)
    k = n * math.pi / length
    size = 2.0 * pluck.force_n / (tension * n * math.pi) * np.sin(k * pluck.at_m)
    x = (np.arange(1000) + 0.5) / 1000 * length  # exact for waves of fewer than so many nodes
    count = 4410  # 40 periods
    times = np.arange(count) / 44100
    for p, driven in enumerate(added.lengthwise, 1):
        nearby = (2 * n + p) * hz  # mode n with mode n + p
        kept = [int(m) for m in n[:-p] if own * p / 3 < nearby[m - 1] < min(own * p * 3, 17640)]
        middle = kept[len(kept) // 2]
        assert 2 * (middle + p) + p < x.size
        slope = sum(
            size[m - 1] * np.cos(k[m - 1] * x)[:, None] * np.exp(2j * np.pi * m * hz * times)
            for m in (middle, middle + p)
        ).real
        wave = (slope**2 * np.cos(p * math.pi * x / length)[:, None]).mean(axis=0) * 2.0
        wave *= string.stretch_n / 2.0
        turn = np.exp(-2j * np.pi * (2 * middle + p) * hz * times)
        exact = abs((wave * turn).mean())
        if exact > 1e-3 * np.abs(driven).max():
            assert abs((driven[:count] * turn).mean()) == pytest.approx(exact, rel=0.02)


def test_a_mode_along_the_string_answers_at_its_frequency() -> None:
    s = 2j * math.pi * np.array([43.0, 4300.0, 430000.0])
    size = np.abs(passed_on(s, 4300.0))
    assert size == pytest.approx([0.0, LENGTHWISE_Q, 1.0], rel=0.01, abs=0.001)


def test_warping_raises_the_pitch_by_half_the_tension() -> None:
    sine = np.sin(2 * np.pi * 500 * np.arange(20000) / 44100)
    warped = warp(sine, np.full(20000, 0.02), 0)
    crossings = np.flatnonzero((warped[:-1] < 0) & (warped[1:] >= 0))
    hz = (crossings.size - 1) / (crossings[-1] - crossings[0]) * 44100
    assert hz == pytest.approx(500 * math.sqrt(1.02), rel=2e-3)


def test_the_same_take_rasps_alike_and_others_do_not() -> None:
    one, same = PLUCK.rasp(GRID, 0.004), PLUCK.rasp(GRID, 0.004)
    other = replace(PLUCK, take=(1, 3)).rasp(GRID, 0.004)
    assert (one == same).all()
    assert np.abs(one - other).max() > 0.1 * np.abs(one).max()
    assert not replace(PLUCK, noise_n=0.0).rasp(GRID, 0.004).any()


def test_the_tip_is_heard_before_it_lets_go() -> None:
    sound = GRID.sound(PLUCK.rasp(GRID, 0.02))
    release = round((0.02 + GRID.lead_s) * GRID.rate_hz)
    before = sound[release - round(0.004 * GRID.rate_hz) : release]
    still = sound[: release - round(0.006 * GRID.rate_hz)]
    assert np.sqrt((before**2).mean()) > 20.0 * np.abs(still).max()


def test_the_knock_comes_when_the_tip_is_through() -> None:
    stroke = replace(PLUCK, knock_n=1.0)
    later = replace(stroke, knock_after_s=0.005)
    first, second = (GRID.sound(each.knock(GRID, 0.004)) for each in (stroke, later))
    apart = int(np.abs(second).argmax()) - int(np.abs(first).argmax())
    assert apart == pytest.approx(0.005 * GRID.rate_hz, abs=1.0)
