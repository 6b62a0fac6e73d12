"""A voice's parameters: what a file in `soundfonts/` says, with units in the names.

Conventions: files give mm, grams, milliseconds, degrees, GPa; strings stand as in a shape, from the
highest-numbered to the first. `accomp.voice.reader` checks every value; the model trusts its types.
"""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class StringParameters:
    """One string.

    `core_mm` is the part that carries the stiffness; `side_mm` lies sideways from the middle of the
    bridge, first string positive; losses are loss factors.
    """

    pitch: int
    diameter_mm: float
    core_mm: float
    mass_g_m: float
    young_gpa: float
    tension_loss: float
    bending_loss: float
    side_mm: float

    @property
    def frequency_hz(self) -> float:
        """Open string, A4 = 440 Hz."""
        return float(440.0 * 2.0 ** ((self.pitch - 69) / 12.0))

    @property
    def mass_kg_m(self) -> float:
        """Mass of a metre."""
        return self.mass_g_m / 1000.0

    def tension_n(self, scale_m: float) -> float:
        """Tension that tunes it, T = μ·(2·L·f)²."""
        return self.mass_kg_m * (2.0 * scale_m * self.frequency_hz) ** 2

    @property
    def stretch_n(self) -> float:
        """E·A of the core: force over relative stretch."""
        return self.young_gpa * 1e9 * math.pi / 4.0 * (self.core_mm / 1000.0) ** 2

    @property
    def bending_nm2(self) -> float:
        """E·I of the core."""
        return self.stretch_n * (self.core_mm / 1000.0) ** 2 / 16.0


@dataclass(frozen=True, slots=True)
class Neck:
    """Where the strings end.

    `courses` strings lie side by side, `course_cents` from one another in pitch; `end_loss` is the
    least that nut or fret takes, `side_loss` the part of it that the swing along the face loses
    (the finger is pressed upon by the other); `apart` the relative difference of length of the two
    directions of swing; the after-length is the string between bridge and tailpiece; `hand_loss`
    what the hands take from the strings that are not played. Tension pulls at the bridge down, by
    the break angle, and over, by its height over the face's give: `lean` is the part of the latter.
    """

    scale_mm: float
    frets: int
    courses: int
    course_cents: float
    end_loss: float
    side_loss: float
    apart: float
    after_mm: float
    after_loss: float
    hand_loss: float
    break_angle_deg: float
    lean: float


@dataclass(frozen=True, slots=True)
class BodyMode:
    """One mode of a body: its mass where the bridge stands, how much the bridge heaves and rocks
    with it (1 is all), and the area that moves air along.
    """

    hz: float
    loss: float
    mass_g: float
    heave: float
    rock: float
    area_cm2: float


@dataclass(frozen=True, slots=True)
class Pot:
    """The air behind a head: its volume, the frequency and loss at which it swings through the
    opening at the back while the head stands still, and how much later the sound from there comes
    round to the listener.
    """

    volume_l: float
    opening_hz: float
    opening_loss: float
    round_ms: float


@dataclass(frozen=True, slots=True)
class Head:
    """A round membrane; `bridge_mm` and `knock_mm` from its middle, the second towards the neck;
    `pot` is the air behind it, `rim` the modes of what it is stretched over, neck and all.
    """

    radius_mm: float
    tension_n_m: float
    mass_kg_m2: float
    loss: float
    highest_hz: float
    bridge_mm: float
    foot_mm: float
    foot_radius_mm: float
    knock_mm: float
    pot: Pot
    rim: tuple[BodyMode, ...]


@dataclass(frozen=True, slots=True)
class Microphone:
    """Where one listens: degrees off the axis and around it (0 towards the tailpiece), and a
    first-order lift of the treble, by `presence_db` above `presence_hz`.
    """

    off_axis_deg: float
    around_deg: float
    presence_hz: float
    presence_db: float


@dataclass(frozen=True, slots=True)
class Box:
    """A wooden body: its first modes, and a plate's modes from `from_hz` on."""

    foot_mm: float
    from_hz: float
    spacing_hz: float
    highest_hz: float
    plate_g: float
    loss: float
    area_cm2: float
    pattern: int
    mode: tuple[BodyMode, ...]


@dataclass(frozen=True, slots=True)
class Bend:
    """A bending mode of the bridge: mass in grams (heave) or g·mm² (rock); values at an inner and
    an outer string and at the feet (for rock: per mm sideways).
    """

    hz: float
    loss: float
    mass: float
    middle: float
    outer: float
    foot: float


@dataclass(frozen=True, slots=True)
class Bridge:
    """The bridge as a body; stiffness and damping are those that strings and face add to it."""

    mass_g: float
    inertia_g_mm2: float
    height_mm: float
    stiffness_n_m: float
    damping_ns_m: float
    rock_stiffness_nm: float
    rock_damping_nms: float
    heave: tuple[Bend, ...]
    rock: tuple[Bend, ...]


@dataclass(frozen=True, slots=True)
class Force:
    """One level of force, for velocities up to `up_to`, kept at the layout's rate over `thin`: a
    soft stroke has nothing that the full rate is needed for.
    """

    up_to: int
    thin: int
    force_n: float
    release_ms: float
    at_mm: float
    noise_n: float
    knock_n: float


@dataclass(frozen=True, slots=True)
class Direction:
    """What distinguishes a down-stroke from an up-stroke. The hand swings in an arc: the angle is
    `arc_deg` steeper on the outermost of the low strings, as much flatter on the first.
    """

    angle_deg: float
    arc_deg: float
    shift_mm: float
    sharper: float
    noise: float
    knock: float


@dataclass(frozen=True, slots=True)
class Plectrum:
    """What plucks: levels of force, directions, how far takes differ (and, by `spread_db`, notes),
    and which takes are kept: with an attack (a tenth to nine tenths) from `shortest_ms` to
    `longest_ms`, the highest peak from `soonest_ms` to `latest_ms` after the start and at most
    `crest_db` over the loudness; the hardest is to be `brighter` times as bright as the softest.
    The knock comes `knock_after_ms` after the release, when the tip has come through the string.
    """

    shortest_ms: float
    longest_ms: float
    soonest_ms: float
    latest_ms: float
    crest_db: float
    brighter: float
    noise_ms: float
    knock_ms: float
    knock_after_ms: float
    spread_mm: float
    spread_deg: float
    spread_db: float
    force: tuple[Force, ...]
    down: Direction
    up: Direction


@dataclass(frozen=True, slots=True)
class Decay:
    """How long a note rings: the time in which it falls by 30 dB, at two pitches; between and
    beyond them it follows a straight line of log time over pitch.
    """

    low_pitch: int
    low_s: float
    high_pitch: int
    high_s: float

    def at(self, pitch: float) -> float:
        """Seconds for a fall of 30 dB."""
        part = (pitch - self.low_pitch) / (self.high_pitch - self.low_pitch)
        return float(self.low_s * (self.high_s / self.low_s) ** part)


@dataclass(frozen=True, slots=True)
class Dead:
    """A stroke on strings that the fretting hand damps."""

    end_loss: float
    noise: float
    knock: float
    length_ms: float
    level_db: float
    takes: int


@dataclass(frozen=True, slots=True)
class Layout:
    """What is sampled and how long: `roots` are frets, `end_db` where a sound is cut off."""

    program: int
    rate_hz: int
    window: int
    roots: tuple[int, ...]
    end_db: float
    fade_ms: float
    ring_ms: float
    choke_ms: float


@dataclass(frozen=True, slots=True)
class Voice:
    """All parameters of a voice. A body is a head or a box."""

    name: str
    title: str
    strings: tuple[StringParameters, ...]
    neck: Neck
    head: Head | None
    box: Box | None
    microphone: Microphone
    bridge: Bridge
    decay: Decay
    plectrum: Plectrum
    dead: Dead
    layout: Layout
