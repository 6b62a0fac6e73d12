"""The models' formulas written out a second time, plainly, with SciPy's functions.

The formulas are those of the modules' own heads (Fletcher & Rossing, Rayleigh, Sherman-Morrison);
constants of air are common values at 20 °C (from memory).
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from scipy import special

from accomp.voice import body, laplace, measure, pluck, uneven
from accomp.voice.body import Face, modal
from accomp.voice.box import box_face, plate_modes
from accomp.voice.bridge import OtherLoads, seat
from accomp.voice.head import head_face, head_modes, pot_air
from accomp.voice.laplace import Grid, gamma_pulse, mode_mobility
from accomp.voice.parameters import (
    Bend,
    BodyMode,
    Box,
    Bridge,
    Decay,
    Head,
    Microphone,
    Pot,
    StringParameters,
    Voice,
)
from accomp.voice.pluck import Pluck

S = 3.0 + 2j * math.pi * np.array([40.0, 260.0, 871.0, 3300.0])
RHO, C, METRE = 1.2, 343.0, 1.0
MODES = (
    BodyMode(180.0, 0.05, 40.0, 0.9, 0.2, 110.0),
    BodyMode(620.0, 0.02, 15.0, -0.4, 0.7, -30.0),
)
HEAD = Head(
    radius_mm=140.0, tension_n_m=5200.0, mass_kg_m2=0.27, loss=0.012, highest_hz=1500.0,
    bridge_mm=52.0, foot_mm=22.0, foot_radius_mm=4.0, knock_mm=35.0,
    pot=Pot(5.0, 240.0, 0.2, 0.6),
)  # fmt: skip
MICROPHONE = Microphone(35.0, 25.0, 4000.0, 9.0)


def resonance(s: complex, mass: float, hz: float, loss: float) -> complex:
    """Velocity over force of a mass on a lossy spring."""
    omega = 2 * math.pi * hz
    return 1 / (mass * (s + loss * omega + omega**2 / s))


def test_a_mode_and_a_pulse_follow_their_formulas() -> None:
    for s in S:
        one = np.array([s])
        assert mode_mobility(one, 0.03, 2 * math.pi * 250.0, 0.04)[0] == pytest.approx(
            resonance(s, 0.03, 250.0, 0.04)
        )
        for order in (1, 2, 3, 4):
            wanted = (1 + s * 0.002 / order) ** -order
            assert gamma_pulse(one, 0.002, order)[0] == pytest.approx(wanted)
        assert gamma_pulse(one, 0.002)[0] == pytest.approx((1 + s * 0.002 / 3) ** -3)


def test_modes_of_a_body_move_and_sound() -> None:
    found = modal(S, MODES, 44.0)
    for at, s in enumerate(S):
        wanted = np.zeros(5, complex)
        for mode in MODES:
            swing = resonance(s, mode.mass_g * 1e-3, mode.hz, mode.loss)
            rock = mode.rock / 0.044
            sounds = swing * mode.area_cm2 * 1e-4 * RHO * s / (2 * math.pi * METRE)
            wanted += np.array([
                mode.heave**2 * swing, rock**2 * swing, mode.heave * sounds, rock * sounds,
                sounds / 2,
            ])  # fmt: skip
        assert found[:, at] == pytest.approx(wanted, rel=1e-12)
    assert (body.AIR_DENSITY, body.SOUND_SPEED, body.AIR_VISCOSITY) == (1.2, 343.0, 1.5e-5)


def test_what_is_heard_is_lifted_above_a_frequency() -> None:
    face = Face(*(np.full(S.size, number + 1j) for number in range(5)))
    lifted = face.lifted(S, MICROPHONE)
    assert (lifted.heave_mobility == face.heave_mobility).all()
    assert (lifted.rock_mobility == face.rock_mobility).all()
    for name in ("heave_sound", "rock_sound", "knock_sound"):
        share = getattr(lifted, name) / getattr(face, name)
        low = 2 * math.pi * 4000.0
        wanted = (1 + S / low) / (1 + S / (low * 10 ** (9.0 / 20)))
        assert share == pytest.approx(wanted)
    more = face.plus(np.arange(5)[:, None] * np.ones(S.size))
    assert more.knock_sound == pytest.approx(face.knock_sound + 4)
    assert more.heave_mobility == pytest.approx(face.heave_mobility)


BOX = Box(60.0, 300.0, 90.0, 1200.0, 180.0, 0.03, 220.0, 7, MODES)


def test_a_plate_has_its_modes_in_nearly_even_steps() -> None:
    random = np.random.default_rng(7)
    hz, wanted = 300.0, []
    while hz < 1200.0:
        heave, rock, sign = random.uniform(-1, 1, 3)
        area = 220.0 * (0.3 if sign > 0 else -0.3) * (300.0 / hz) ** 0.5
        wanted.append(BodyMode(hz, 0.03, 45.0, heave, rock, area))
        hz += 90.0 * random.uniform(0.6, 1.4)
    assert plate_modes(BOX) == wanted
    assert len(wanted) > 8
    both = modal(S, (*MODES, *wanted), 60.0)
    face = box_face(S, BOX)
    assert face.heave_mobility == pytest.approx(both[0])
    assert face.rock_mobility == pytest.approx(both[1])
    assert face.knock_sound == pytest.approx(both[4])


BRIDGE = Bridge(
    2.0, 90.0, 16.0, 2e4, 1.0, 3.0, 2e-4,
    heave=(Bend(1500.0, 0.05, 0.8, 1.0, -0.6, 0.4), Bend(2900.0, 0.04, 0.5, 0.3, 0.9, -0.5)),
    rock=(Bend(2200.0, 0.06, 60.0, 0.02, 0.05, 0.03),),
)  # fmt: skip


def through_the_feet(
    s: complex, rigid: complex, bends: list[tuple[complex, float, float]], feet: complex
) -> tuple[complex, complex]:
    """Mobility at a notch and force on the feet, solved as equations.

    Each mode moves by what the notch and the feet put on it; the feet push back with the face's
    impedance times what all modes move them by.
    """
    count = 1 + len(bends)
    swing = np.array([1 / rigid, *(mobility for mobility, _, _ in bends)])
    here = np.array([1.0, *(notch for _, notch, _ in bends)])
    foot = np.array([1.0, *(low for _, _, low in bends)])
    # v = swing·(here − foot·F), F = feet·Σ foot·v
    equations = np.eye(count, dtype=complex) + np.outer(swing * foot, feet * foot)
    moved = np.linalg.solve(equations, swing * here)
    return complex(here @ moved), complex(feet * (foot @ moved))


@pytest.mark.parametrize("side_mm", [-15.0, 0.0, 6.0])
def test_a_notch_on_the_bridge_is_a_set_of_equations(side_mm: float) -> None:
    face = Face(*(modal(S, MODES, 44.0)))
    others = OtherLoads(4.0 + S * 1e-3, 2e-4 + S * 1e-8)
    found = seat(S, BRIDGE, face, side_mm, 15.0, others)
    out, side, high = abs(side_mm) / 15.0, side_mm * 1e-3, 0.016
    for at, s in enumerate(S):

        def bends(some: tuple[Bend, ...], unit: float, s: complex = s) -> list:
            return [
                (
                    resonance(s, one.mass * unit, one.hz, one.loss),
                    one.middle * (1 - out) + one.outer * out,
                    one.foot,
                )
                for one in some
            ]

        rigid = s * 2.0e-3 + 1.0 + 2e4 / s + others.heave[at]
        turning = s * 90.0e-9 + 2e-4 + 3.0 / s + others.rock[at]
        up, force = through_the_feet(
            s, rigid, bends(BRIDGE.heave, 1e-3), 1 / face.heave_mobility[at]
        )
        turn, moment = through_the_feet(
            s, turning, bends(BRIDGE.rock, 1e-9), 1 / face.rock_mobility[at]
        )
        assert found.vertical[at] == pytest.approx(up + side**2 * turn, rel=1e-9)
        assert found.level[at] == pytest.approx(high**2 * turn, rel=1e-9)
        assert found.cross[at] == pytest.approx(high * side * turn, rel=1e-9)
        heave, rock = face.heave_sound[at], face.rock_sound[at]
        assert found.vertical_sound[at] == pytest.approx(force * heave + side * moment * rock)
        assert found.level_sound[at] == pytest.approx(high * moment * rock)


@cache
def membrane(head: Head) -> list[tuple[int, float, float, float, float, float]]:
    """Order, zero, value at the rim, angular frequency, loss and mass of each mode, one by one."""
    a = head.radius_mm * 1e-3
    highest = 2 * math.pi * head.highest_hz * a / math.sqrt(head.tension_n_m / head.mass_kg_m2)
    found = []
    angles, weights = np.polynomial.legendre.leggauss(24)
    angles, weights = (angles + 1) * math.pi / 4, weights * math.pi / 4
    for m in range(40):
        for zero in special.jn_zeros(m, 40):
            if zero >= highest:
                break
            k, rim, omega = zero / a, special.jv(m + 1, zero), 0.0
            for _ in range(5):
                wave = math.sqrt(max(k**2 - (omega / C) ** 2, (0.1 * k) ** 2))
                per_area = head.mass_kg_m2 + 2 * RHO / wave
                omega = k * math.sqrt(head.tension_n_m / per_area)
            mass = per_area * math.pi * a**2 * rim**2 / (1 if m == 0 else 2)
            kappa = omega / C * np.sin(angles)
            volume = 2 * math.pi * a * k * rim * special.jv(m, kappa * a) / (k**2 - kappa**2)
            power = (weights * np.sin(angles) * volume**2).sum() * (2 if m == 0 else 1) * math.pi
            resistance = RHO * omega**2 / (4 * math.pi**2 * C) * power
            found.append((m, zero, rim, omega, head.loss + resistance / (omega * mass), mass))
    return found


@pytest.mark.slow
def test_the_modes_of_a_head_one_by_one() -> None:
    modes = head_modes(HEAD)
    rows = np.array(membrane(HEAD))
    assert len(rows) >= 8
    names = ("order", "ka", "rim", "omega", "loss", "mass")
    for name, column in zip(names, rows.T, strict=True):
        assert getattr(modes, name) == pytest.approx(column, rel=1e-9), name


@pytest.mark.slow
@pytest.mark.parametrize("pot", [None, HEAD.pot])
def test_a_head_moves_and_sounds_by_the_sum_of_its_modes(pot: Pot | None) -> None:
    head = replace(HEAD, pot=pot)
    a, foot = head.radius_mm * 1e-3, head.foot_mm * 1e-3
    from_middle = math.hypot(52.0, 22.0) / 140.0
    angle = math.atan2(22.0, 52.0)
    around = math.radians(25.0)
    face = head_face(S, head, MICROPHONE)
    for at, s in enumerate(S):
        kappa = s * math.sin(math.radians(35.0)) / C
        sums = np.zeros(5, complex)
        push = moved = tapped = blown = 0j
        for m, zero, rim, omega, loss, mass in membrane(head):
            swing = s / (mass * (s**2 + loss * omega * s + omega**2))
            averaged = 2 * special.jv(1, zero * 4 / 140) / (zero * 4 / 140)
            feet = special.jv(m, zero * from_middle) * averaged
            heave, rock = feet * math.cos(m * angle), feet * math.sin(m * angle) / foot
            tap = special.jv(m, zero * 35.0 / 140.0) * math.cos(m * math.pi)
            k = zero / a
            edge = special.iv(m, kappa * a) * np.exp(-kappa * a)
            volume = 2 * math.pi * k * rim * a * edge / (k**2 + kappa**2)
            heard = swing * RHO * s / (2 * math.pi * METRE) * volume
            sums += np.array([
                heave**2 * swing, rock**2 * swing, heave * math.cos(m * around) * heard,
                rock * math.sin(m * around) * heard, tap * math.cos(m * around) * heard,
            ])  # fmt: skip
            if m == 0:
                area = 2 * math.pi * a**2 * rim / zero
                push += area**2 * swing
                moved += area * heave * swing
                tapped += area * tap * swing
                blown += area * heard
        if pot is not None:
            spring = RHO * C**2 / 5.0e-3
            omega = 2 * math.pi * 240.0
            resistance = spring * (s + 0.2 * omega) / (s * (s + 0.2 * omega) + omega**2)
            outside = -(omega**2) / spring / (s + 0.2 * omega) * RHO * s / (2 * math.pi * METRE)
            outside *= np.exp(-s * 0.6e-3)
            assert pot_air(np.array([s]), pot)[0][0] == pytest.approx(resistance)
            assert pot_air(np.array([s]), pot)[1][0] == pytest.approx(outside)
            back = resistance / (1 + resistance * push)
            sums[0] -= moved**2 * back
            sums[2] += moved * back * (outside - blown)
            sums[4] += tapped * back * (outside - blown)
        names = ("heave_mobility", "rock_mobility", "heave_sound", "rock_sound", "knock_sound")
        for name, wanted in zip(names, sums, strict=True):
            assert getattr(face, name)[at] == pytest.approx(wanted, rel=1e-8), name


def test_a_window_and_its_line() -> None:
    grid = Grid(8000, 4096)
    assert grid.window_s == 0.512
    assert grid.sigma == pytest.approx(6.9 / 0.512)
    assert grid.lead_s == pytest.approx(191 / 2 / 8000)
    assert grid.s[0] == grid.sigma
    assert grid.s[-1].imag == pytest.approx(math.pi * 8000)
    assert grid.s.size == 2049
    signal = np.arange(5.0)
    times = np.arange(5) / 8000
    for at in (0, 7, 2048):
        wanted = (signal * np.exp(-grid.s[at] * times)).sum()
        assert grid.transform(signal)[at] == pytest.approx(wanted)
    # The filter: flat to 0.8 of half the rate, 120 dB down from half the rate on.
    click = grid.sound(np.ones(grid.s.size) / 8000 + 0j)
    peak = int(np.abs(click).argmax())
    assert peak in (95, 96)
    answer = np.abs(np.fft.rfft(click[:192]))
    assert answer[: int(0.8 * answer.size)] == pytest.approx(1.0, abs=1e-3)
    assert laplace.WINDOW_NEPERS == 6.9
    assert answer[-1] < 2e-6
    assert Grid(8000, 4096, taps=64).lead_s == pytest.approx(63 / 2 / 8000)


STRING = StringParameters(57, 0.6, 0.4, 2.4, 200.0, 1e-4, 1e-3, 6.0)


def test_a_string_in_its_units() -> None:
    assert STRING.frequency_hz == pytest.approx(220.0)
    assert STRING.mass_kg_m == pytest.approx(2.4e-3)
    assert STRING.tension_n(0.6) == pytest.approx(2.4e-3 * (2 * 0.6 * 220.0) ** 2)
    assert STRING.stretch_n == pytest.approx(200e9 * math.pi * (0.2e-3) ** 2)
    assert STRING.bending_nm2 == pytest.approx(200e9 * math.pi / 64 * (0.4e-3) ** 4)
    decay = Decay(48, 2.0, 72, 0.5)
    assert [decay.at(pitch) for pitch in (48, 60, 72, 84)] == pytest.approx([2.0, 1.0, 0.5, 0.25])


PLUCK = Pluck(2.0, 0.1, 30.0, 1e-4, 0.05, 0.002, 0.7, 5e-4, 0.003, (1, 2))


@pytest.mark.slow
def test_a_stroke_is_a_step_a_rasp_and_a_knock() -> None:
    grid = Grid(44_100, 2**13)
    assert PLUCK.level_n == pytest.approx(math.sqrt(3.0))
    assert PLUCK.vertical_n == pytest.approx(1.0)
    step, knock = PLUCK.step(grid, 0.004), PLUCK.knock(grid, 0.004)
    for at in (0, 5, 700):
        s = grid.s[at]
        late = np.exp(-s * 0.004)
        assert step[at] == pytest.approx((1 + s * 1e-4 / 3) ** -3 * late / s)
        wanted = 0.7 * 5e-4 * (1 + s * 5e-4 / 4) ** -4 * np.exp(-s * 0.007)
        assert knock[at] == pytest.approx(wanted)
    burst = pluck._touch_noise(np.random.default_rng((1, 2)), 44_100, 0.002)
    for at_s, lead_s in ((0.02, 0.016), (0.004, 0.0), (0.001, 0.0)):
        rasp = PLUCK.rasp(grid, at_s)
        plain = grid.transform(burst) * 0.05 / 44_100
        wanted = plain * (1 + grid.s * 8e-5 / 2) ** -2 * np.exp(-grid.s * lead_s)
        assert rasp == pytest.approx(wanted)


def test_the_rasp_swells_to_the_release_and_dies_away() -> None:
    rate, length_s = 44_100, 0.002
    burst = pluck._touch_noise(np.random.default_rng(3), rate, length_s)
    count = int(rate * (0.004 + 6 * length_s))
    assert burst.size == count
    white = np.random.default_rng(3).uniform(-1.0, 1.0, count) * math.sqrt(3.0)
    times = np.arange(count) / rate - 0.004
    swell = np.array([1.5 if time < 0 else math.exp(-time / length_s) for time in times])
    # Two one-pole filters by their recursions; the first as far as its answer is heard at all.
    pole = math.exp(-2 * math.pi * 3000.0 / rate)
    low, last = np.zeros(count), 0.0
    for at, value in enumerate(white):
        last = value + pole * last
        low[at] = last
    band = np.diff(low, prepend=0.0) * math.sqrt((1 + pole) / 2)
    assert burst == pytest.approx(band * swell, abs=1e-6)


def test_every_fret_keeps_near_the_one_below_and_the_next_string(banjo: Voice) -> None:
    rows = uneven.unevenness_db(banjo)
    most = math.sqrt(3.0) * banjo.plectrum.spread_db
    assert [len(row) for row in rows] == [banjo.neck.frets + 1] * len(banjo.strings)
    assert uneven.STEP_DB == 2.3
    near: float | None = None
    for index, row in enumerate(rows):
        random = np.random.default_rng((index, banjo.neck.frets))
        below = banjo.strings[index].pitch - 1 - banjo.strings[index - 1].pitch if index else -1
        near = rows[index - 1][below] if 0 <= below <= banjo.neck.frets else None
        for value in row:
            low = -most if near is None else max(-most, near - 2.3)
            high = most if near is None else min(most, near + 2.3)
            assert value == random.uniform(low, high)
            near = value
    even = replace(banjo, plectrum=replace(banjo.plectrum, spread_db=0.0))
    assert {value for row in uneven.unevenness_db(even) for value in row} == {0.0}
    apart = replace(banjo, strings=tuple(
        replace(string, pitch=string.pitch + 30 * at) for at, string in enumerate(banjo.strings)
    ))  # fmt: skip
    assert uneven.unevenness_db(apart)[0] == rows[0]


# ------------------------------------------------------------------ what a sound is like

RATE = 22_050


def falling(hz: float, fall_s: float, length_s: float = 2.0) -> np.ndarray:
    """A sine that falls by 60 dB in a time."""
    times = np.arange(round(length_s * RATE)) / RATE
    return np.sin(2 * np.pi * hz * times) * 10 ** (-3 * times / fall_s)


def test_an_envelope_is_the_root_of_the_mean_square_about_a_moment() -> None:
    sine = np.sin(2 * np.pi * 500 * np.arange(RATE) / RATE)
    level = measure.envelope(sine, RATE)
    assert level[2000:-2000] == pytest.approx(math.sqrt(0.5), rel=1e-3)
    click = np.zeros(2001)
    click[1000] = 1.0
    found = measure.envelope(click, RATE, 0.01) ** 2
    window = np.hanning(221)
    assert found[890:1111] == pytest.approx(window / window.sum(), abs=1e-12)
    assert measure.envelope(click, RATE).argmax() == 1000
    assert np.flatnonzero(measure.envelope(click, RATE) > 1e-6).size == pytest.approx(661, abs=4)


@pytest.mark.parametrize("fall_s", [0.3, 0.8])
def test_how_fast_an_even_sound_falls(fall_s: float) -> None:
    sound = falling(440.0, fall_s)
    for fall_db in (10.0, 30.0):
        found = measure.fall_s(sound, RATE, fall_db)
        assert found == pytest.approx(fall_s * fall_db / 60, abs=3 * 32 / RATE)
    # The rate by which it has to be damped to fall in another time: the difference of the two.
    for wanted_s in (0.05, 0.12):
        rate = 1.5 * math.log(10.0) / wanted_s
        own = 3 * math.log(10.0) / fall_s
        found = measure.damping(sound, RATE, 30.0, wanted_s)
        assert found == pytest.approx(rate - own, rel=0.03, abs=0.5)
    longest = measure.damping(sound, RATE, 30.0, 100.0 * fall_s)
    assert longest == pytest.approx(-0.2 * 1.5 * math.log(10.0) / (100.0 * fall_s), rel=1e-3)


def test_loudness_is_the_recommendations() -> None:
    """ITU-R BS.1770-4: a sine of 997 Hz at full scale has −3.01 LKFS with the −0.691 of the sum."""
    rate = 48_000
    sine = np.sin(2 * np.pi * 997 * np.arange(rate) / rate)
    for length_s in (0.25, 0.4):
        mean = measure.loudness(sine, rate, length_s)
        assert -0.691 + 10 * math.log10(mean) == pytest.approx(-3.01, abs=0.05)
    assert measure.loudness(sine, rate) == measure.loudness(sine, rate, 0.25)
    # What is not there any more counts as silence.
    half = measure.loudness(sine[: rate // 8], rate)
    assert half == pytest.approx(measure.loudness(sine, rate) / 2, rel=0.03)
    assert pytest.approx(10 ** (-0.691 / 10)) == measure.SCALE_K
    # The filters at some frequencies, by their coefficients in the recommendation's tables 1 and 2.
    weights = measure.k_weight(1024, 44_100.0)
    for at in (1, 40, 300):
        z = np.exp(-2j * math.pi * at * 44_100 / 1024 / 48_000)
        shelf = np.polyval([1.19839281085285, -2.69169619940638 + 1e-8, 1.53512485958697], z)
        shelf = shelf / np.polyval([0.73248077421585, -1.69065929318241, 1.0], z)
        high = np.polyval([1.0, -2.0, 1.0], z)
        high = high / np.polyval([0.99007225036621, -1.99004745483398, 1.0], z)
        assert weights[at] == pytest.approx(shelf * high, rel=1e-6)


def test_how_bright_a_sound_is() -> None:
    for hz in (300.0, 2000.0):
        sine = np.sin(2 * np.pi * hz * np.arange(RATE) / RATE) * np.hanning(RATE)
        assert measure.centroid_hz(sine, RATE) == pytest.approx(hz, rel=0.02)
    late = np.concatenate((falling(300.0, 1.0, 0.25), falling(3000.0, 1.0, 0.25)))
    assert measure.centroid_hz(late, RATE) == measure.centroid_hz(late[: round(0.25 * RATE)], RATE)


@pytest.mark.parametrize("off_cents", [-20.0, 0.0, 12.5])
def test_a_pitch_is_heard_to_a_fraction_of_a_cent(off_cents: float) -> None:
    hz = 196.0 * 2 ** (off_cents / 1200)
    sound = sum(falling(n * hz, 2.0) / n for n in range(1, 6))
    found = measure.pitch_hz(np.asarray(sound), RATE, 196.0)
    assert measure.cents(found, 196.0) == pytest.approx(off_cents, abs=0.1)
    # Partials count by their power, each over its number.
    two = falling(196.0, 2.0) + falling(2 * 196.0 * 2 ** (10 / 1200), 2.0)
    assert measure.cents(measure.pitch_hz(two, RATE, 196.0), 196.0) == pytest.approx(5.0, abs=0.3)
    high = falling(7000.0, 2.0)
    assert measure.pitch_hz(high, RATE, 7000.0) == pytest.approx(7000.0, rel=1e-4)


def test_an_interval_in_cents() -> None:
    assert measure.cents(880.0, 440.0) == pytest.approx(1200.0)
    assert measure.cents(440.0 * 2 ** (-1 / 12), 440.0) == pytest.approx(-100.0)
