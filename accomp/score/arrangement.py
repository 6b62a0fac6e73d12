"""What everybody plays, bar by bar, in written time: score and sound are both made from it.

Conventions: times are exact fractions of a whole note from the first full bar; a pickup lies
before zero. String indices count as in a shape, 0 = the highest-numbered string.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from accomp.files.text import counted
from accomp.files.values import short
from accomp.harmony import Chord, Key
from accomp.neck import Instrument, Plan, Shape
from accomp.rhythm import Style
from accomp.rhythm.stroke import ForceStep, StrokeDirection, StrokeSound, Technique
from accomp.time import Span
from accomp.tune import PlayedBar


@dataclass(frozen=True, slots=True)
class ChordChange:
    """A chord with its shape over `span`; `chord` and `shape` are None where nobody plays (N.C.).

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
    the order in which the plectrum meets them. `technique` (a stroke, a roll, a tremolo or a rest)
    and `value` are those of the style's stroke; a rest strikes nothing and stops all strings.
    """

    span: Span
    shape: Shape
    chord: Chord
    strings: tuple[int, ...]
    direction: StrokeDirection
    force: ForceStep
    sound: StrokeSound
    technique: Technique = Technique.STROKE
    value: Fraction | None = None


@dataclass(frozen=True, slots=True)
class BandStroke:
    """One note of the band: `pitch` a MIDI number (for drums a General MIDI percussion key)."""

    span: Span
    pitch: int
    force: ForceStep


@dataclass(frozen=True, slots=True)
class ArrangedBar:
    """One played bar with everything in it.

    `address` names the bar (chorus, section, bar of the section). A bar added elsewhere does not
    change this name, nor any random choice that is derived from it. `added` bars are not the
    tune's own: a vamp, a tag, a closing bar.
    """

    bar: PlayedBar
    style: Style
    changes: tuple[ChordChange, ...]
    address: str = ""
    strums: tuple[Strum, ...] = ()
    bass: tuple[BandStroke, ...] = ()
    drums: tuple[BandStroke, ...] = ()
    comping: tuple[BandStroke, ...] = ()
    added: bool = False

    @property
    def span(self) -> Span:
        """The bar's time."""
        return Span(self.bar.start, self.bar.start + self.bar.meter.bar)

    def sounding(self) -> list[ChordChange]:
        """The chords to play; neighbours with the same chord and shape are one, so that a stroke
        may ring across them."""
        merged: list[ChordChange] = []
        for change in self.changes:
            if merged and (merged[-1].chord, merged[-1].shape) == (change.chord, change.shape):
                span = Span(merged[-1].span.start, change.span.end)
                merged[-1] = replace(merged[-1], span=span)
            else:
                merged.append(change)
        return [change for change in merged if change.chord is not None]


@dataclass(frozen=True, slots=True)
class MelodyStroke:
    """One note of the melody, for its own track: `pitch` a MIDI number."""

    span: Span
    pitch: int


@dataclass(frozen=True)
class Arrangement:
    """The whole tune, arranged: `tempo` in beats a minute of `beat` (a fraction of a whole).

    Over the last `ritard` bars the tempo falls to `slow_to` times itself. `seed` decides all random
    choices of the performance.
    """

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
    ritard: int = 0
    slow_to: float = 1.0
    seed: int = 0
    melody: tuple[MelodyStroke, ...] = ()

    def __repr__(self) -> str:
        bars = counted(len(self.bars), "bar")
        return (
            f"<Arrangement of {short(self.title)!r}: {self.key}, {self.tempo:g} beats a minute, "
            f"{bars}>"
        )

    def tempo_of(self, style: Style) -> float:
        """The tempo in beats a minute of a style's own meter: a quarter stays a quarter."""
        return float(self.tempo * float(self.beat / style.meter.beat))
