"""A style: what the right hand and the band do in one meter.

Conventions: patterns are counted from the bar line; `tempo` is the range in beats a minute in
which the style lives. `swing` is the ratio of the first to the second of two quavers when played
(1 is straight); the written rhythm never changes with it.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from accomp.rhythm.feel import ratio_by_tempo
from accomp.rhythm.pattern import Pattern
from accomp.time import Meter


@dataclass(frozen=True, slots=True)
class BandNote:
    """A place where a band player sounds: a bass role ("root", "fifth", "approach" ...) or the
    name of a General MIDI percussion sound, with a force, at a place in the pattern. `sound` is
    "long" (to the player's next note) or "short" (about half of that)."""

    start: Fraction
    what: str
    force: str = "plain"
    sound: str = "long"


@dataclass(frozen=True, slots=True)
class BandPattern:
    """A band player's places over `length` (whole notes), repeated without end.

    `player` is the General MIDI word of the sound ("acoustic-bass"), empty for drums. A `free` bass
    may begin a chord on another note than its root.
    """

    length: Fraction
    notes: tuple[BandNote, ...]
    player: str = ""
    free: bool = False


@dataclass(frozen=True)
class Style:
    """One style. `strum` is the right hand's pattern; `bass` and `drums` may be empty (None).

    With `swing_by_tempo` the ratio is taken from the tempo and `swing` is not used; `swing_pair`
    is the length of the two notes that swing (a quarter: quavers swing). `spread` and `taper`
    scale how wide and how uneven a strum is.
    """

    name: str
    title: str
    meter: Meter
    tempo: tuple[float, float]
    strum: Pattern
    bass: BandPattern | None
    drums: BandPattern | None
    swing: float = 1.0
    mood: str = ""
    right_hand: str = ""
    file: str = ""
    swing_by_tempo: bool = False
    swing_pair: Fraction = Fraction(1, 4)
    spread: float = 1.0
    taper: float = 1.0

    @property
    def chokes(self) -> bool:
        """Whether any stroke is choked, so that closed shapes are asked of the planner."""
        return any(stroke.sound == "choked" for stroke in self.strum.strokes)

    def swing_at(self, tempo_bpm: float) -> float:
        """The swing ratio at a tempo in beats a minute of the style's meter."""
        if not self.swing_by_tempo:
            return self.swing
        return ratio_by_tempo(tempo_bpm * float(self.meter.beat / self.swing_pair))
