"""What everybody plays, bar by bar, still in written time: the one source of score and sound.

Conventions: times are exact fractions of a whole note from the first full bar; a pickup lies
before zero. String indices count as in a shape, 0 = the highest-numbered string.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from accomp.harmony import Chord, Key
from accomp.neck import Instrument, Plan, Shape
from accomp.rhythm import Style
from accomp.time import Span
from accomp.tune import PlayedBar


@dataclass(frozen=True, slots=True)
class Change:
    """A chord with its shape over `span`; `chord` and `shape` None where nobody plays (N.C.).

    `written` is False where the chord is only carried over a bar line.
    """

    span: Span
    chord: Chord | None
    shape: Shape | None
    written: bool = True


@dataclass(frozen=True, slots=True)
class Strum:
    """One stroke on one shape.

    `span` runs to the next stroke, chord change or bar end; `strings` are the indices struck, in
    the order in which the plectrum meets them. `manner` and `value` are those of the style's
    stroke ("stroke", "tremolo" ...); a "rest" strikes nothing and stops what rings.
    """

    span: Span
    shape: Shape
    chord: Chord
    strings: tuple[int, ...]
    direction: str
    force: str
    sound: str
    manner: str = "stroke"
    value: Fraction | None = None


@dataclass(frozen=True, slots=True)
class BandStroke:
    """One note of the band: `pitch` a MIDI number (for drums a General MIDI percussion key)."""

    span: Span
    pitch: int
    force: str


@dataclass(frozen=True, slots=True)
class ArrangedBar:
    """One played bar with everything in it."""

    bar: PlayedBar
    style: Style
    changes: tuple[Change, ...]
    strums: tuple[Strum, ...]
    bass: tuple[BandStroke, ...]
    drums: tuple[BandStroke, ...]

    @property
    def span(self) -> Span:
        """The bar's time."""
        return Span(self.bar.start, self.bar.start + self.bar.meter.bar)


@dataclass(frozen=True)
class Arrangement:
    """The whole tune, arranged: `tempo` in beats a minute of `beat` (a fraction of a whole)."""

    title: str
    composer: str
    key: Key
    tempo: float
    beat: Fraction
    pickup: Fraction
    instrument: Instrument
    plans: tuple[Plan, ...]
    bars: tuple[ArrangedBar, ...]
    notices: tuple[str, ...] = ()
