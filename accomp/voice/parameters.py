"""A voice's parameters, as a file in `soundfonts/` gives them, with units in the names.

Conventions: files give mm, grams, milliseconds, degrees, GPa; strings stand as in a shape, from the
highest-numbered to the first. `accomp.voice.reader` checks every value; the model trusts its types.
A field with a default may be left out of a file; the default means that the part is absent or that
nothing is limited.
"""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class StringParameters:
    """One string.

    `core_mm` is the diameter of the core, which carries the stiffness; `side_mm` is the distance
    from the middle of the bridge, positive towards the first string; losses are loss factors.
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
        """Fundamental of the open string, A4 = 440 Hz."""
        return float(440.0 * 2.0 ** ((self.pitch - 69) / 12.0))

    @property
    def mass_kg_m(self) -> float:
        """Mass per metre, μ."""
        return self.mass_g_m / 1000.0

    def tension_n(self, scale_m: float) -> float:
        """Tension that tunes the open string, T = μ·(2·L·f)²."""
        return self.mass_kg_m * (2.0 * scale_m * self.frequency_hz) ** 2

    @property
    def stretch_n(self) -> float:
        """E·A of the core: force over strain."""
        return self.young_gpa * 1e9 * math.pi / 4.0 * (self.core_mm / 1000.0) ** 2

    @property
    def bending_nm2(self) -> float:
        """Bending stiffness E·I of the core."""
        return self.stretch_n * (self.core_mm / 1000.0) ** 2 / 16.0


@dataclass(frozen=True, slots=True, kw_only=True)
class NeckParameters:
    """The neck, and how the strings end.

    A course has `courses` strings side by side, `course_cents` apart in pitch. `end_loss` is the
    least loss at nut or fret; vibration along the face loses `side_loss` times as much as vibration
    towards it. `apart` is the relative difference of length between these two directions. The
    after-length is the string between bridge and tailpiece; `hand_loss` is the hands' loss on the
    strings that are not played. Added tension pulls the bridge down by the break angle, and tilts
    it, as it is high and the face yields: `lean` is the force of the tilt over the added tension.
    """

    scale_mm: float
    frets: int
    courses: int
    course_cents: float
    end_loss: float
    side_loss: float = 1.0
    apart: float
    after_mm: float
    after_loss: float
    hand_loss: float
    break_angle_deg: float
    lean: float = 0.0


@dataclass(frozen=True, slots=True)
class BodyMode:
    """One mode of a body: its modal mass at the bridge, the parts of its motion with which the
    bridge heaves and rocks (1 is all of it), and the effective area that moves air.
    """

    hz: float
    loss: float
    mass_g: float
    heave: float
    rock: float
    area_cm2: float


@dataclass(frozen=True, slots=True)
class Pot:
    """The air behind a head: its volume, the frequency and loss factor of its Helmholtz resonance
    with the opening at the back while the head stands still, and the extra delay of the sound from
    the opening to the listener.
    """

    volume_l: float
    opening_hz: float
    opening_loss: float
    round_ms: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """A round membrane. The bridge is `bridge_mm` from its middle, towards the tailpiece, the knock
    `knock_mm`, towards the neck; `foot_mm` is half the distance between the bridge's feet. `pot` is
    the air behind the membrane, `rim` the modes of rim and neck.
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
    pot: Pot | None = None
    rim: tuple[BodyMode, ...] = ()


@dataclass(frozen=True, slots=True)
class Microphone:
    """The microphone's direction, in degrees off the axis and around it (0 towards the tailpiece),
    and a first-order shelf that lifts the treble above `presence_hz` by `presence_db`.
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
    """A bending mode of the bridge: modal mass in grams (heave) or g·mm² (rock), and the mode shape
    in the middle, at the outermost string and at the feet (for rock: per mm sideways).
    """

    hz: float
    loss: float
    mass: float
    middle: float
    outer: float
    foot: float


@dataclass(frozen=True, slots=True)
class Bridge:
    """The bridge as a rigid body with bending modes. Stiffness and damping are those that strings
    and face add to its motion as a whole.
    """

    mass_g: float
    inertia_g_mm2: float
    height_mm: float
    stiffness_n_m: float
    damping_ns_m: float
    rock_stiffness_nm: float
    rock_damping_nms: float
    heave: tuple[Bend, ...] = ()
    rock: tuple[Bend, ...] = ()


@dataclass(frozen=True, slots=True)
class Force:
    """One level of force, for velocities up to `up_to`. Its samples are kept at the layout's rate
    divided by `thin`: soft strokes have too little treble to need the full rate.
    """

    up_to: int
    thin: int
    force_n: float
    release_ms: float
    at_mm: float
    noise_n: float
    knock_n: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Direction:
    """The properties of a down-stroke or an up-stroke: its angle, a shift of the place, and factors
    of the release time (`sharper`), noise and knock. The hand swings in an arc: the angle is
    `arc_deg` steeper on the outermost low string and as much flatter on the first.
    """

    angle_deg: float
    arc_deg: float = 0.0
    shift_mm: float
    sharper: float
    noise: float
    knock: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Plectrum:
    """The plectrum: levels of force, directions, the spread of place and angle between takes and of
    loudness between notes (`spread_db`), and the start that a take should have.

    The attack (10 to 90 %) lasts from `shortest_ms` to `longest_ms`; the highest peak comes from
    `soonest_ms` to `latest_ms` after the start and is at most `crest_db` above the loudness; the
    hardest take's spectral centroid is at least `brighter` times that of the softest. The knock
    comes `knock_after_ms` after the release, when the tip has passed the string.
    """

    shortest_ms: float = 0.0
    longest_ms: float = math.inf
    soonest_ms: float = 0.0
    latest_ms: float = math.inf
    crest_db: float = math.inf
    brighter: float = 0.0
    noise_ms: float
    knock_ms: float
    knock_after_ms: float = 0.0
    spread_mm: float
    spread_deg: float
    spread_db: float = 0.0
    force: tuple[Force, ...]
    down: Direction
    up: Direction


@dataclass(frozen=True, slots=True)
class Decay:
    """Time of a fall by 30 dB at two MIDI pitches; its logarithm is linear in pitch."""

    low_pitch: int
    low_s: float
    high_pitch: int
    high_s: float

    def at(self, pitch: float) -> float:
        """Seconds for a fall by 30 dB at a MIDI pitch."""
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
    """The samples: `roots` are frets, `window` is the number of samples computed, `end_db` the
    level at which a sound is cut; `ring_ms` and `choke_ms` are releases.
    """

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
    """All parameters of a voice. The body is a head or a box: one of the two is None."""

    name: str
    title: str
    strings: tuple[StringParameters, ...]
    neck: NeckParameters
    head: Head | None
    box: Box | None
    microphone: Microphone
    bridge: Bridge
    decay: Decay
    plectrum: Plectrum
    dead: Dead
    layout: Layout
