"""What stands on paper: parts of measures of exact written events.

Conventions: times and lengths are fractions of a whole note; an event's `start` counts from the
start of its measure. A `Pitch` is the one that is *encoded*: under a clef with a small 8 below it
is the sounding one; a part with a `transpose` holds the pitches its reader sees, and the interval
leads from there to the sound. Strings are players' numbers (1 = first string) beside their fret.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from accomp.harmony import Chord, Interval, Key, Pitch
from accomp.neck import Instrument, Shape
from accomp.time import Meter


@dataclass(frozen=True, slots=True)
class Value:
    """A note value: `length` without dots (1/4 for a quarter), `dots`, and `tuplet` (actual,
    normal), (3, 2) in a triplet and (1, 1) outside."""

    length: Fraction
    dots: int = 0
    tuplet: tuple[int, int] = (1, 1)

    @property
    def duration(self) -> Fraction:
        """The time the value takes, dots and tuplet reckoned in."""
        actual, normal = self.tuplet
        return self.length * (2 - Fraction(1, 2**self.dots)) * normal / actual


@dataclass(frozen=True, slots=True)
class WrittenNote:
    """One notehead. `accidental` is the alteration to print (-2 to 2), None when the signature or
    an earlier sign says it; `string` and `fret` on fretted parts."""

    pitch: Pitch
    accidental: int | None = None
    string: int | None = None
    fret: int | None = None


@dataclass(frozen=True, slots=True)
class Event:
    """A chord of noteheads, lowest first, or a rest when `notes` is empty.

    `tied_from` and `tied_to` join it to the event before and after. `direction` is "down", "up" or
    "" where no stroke begins; `marks` are among "accent", "choked", "dead", "roll"; `tremolo`
    counts the strokes through the stem. `beams` are MusicXML beam values from the first beam on
    ("begin", "continue", "end", "forward hook", "backward hook"); `bracket` is "start" or "stop" at
    the ends of a tuplet, "start+stop" where it has a single event. A rest that fills its measure
    has `whole_measure`.
    """

    start: Fraction
    value: Value
    notes: tuple[WrittenNote, ...] = ()
    tied_from: bool = False
    tied_to: bool = False
    direction: str = ""
    marks: frozenset[str] = frozenset()
    tremolo: int = 0
    beams: tuple[str, ...] = ()
    bracket: str = ""
    whole_measure: bool = False

    @property
    def end(self) -> Fraction:
        """Where the next event starts (not for a whole measure's rest)."""
        return self.start + self.value.duration


@dataclass(frozen=True, slots=True)
class ChordMark:
    """A chord symbol over the staff (None: N.C.), with the shape for its box."""

    start: Fraction
    chord: Chord | None
    shape: Shape | None


@dataclass(frozen=True, slots=True)
class Measure:
    """One written measure.

    `number` counts from 1, a pickup is 0; `length` is the time it holds. `key` and `meter` are
    printed where `new_key`, `new_meter`. `rehearsal` and `words` stand over its start ("" for
    none). `barline` is its right one: "regular", "double" or "final". `repeat_start`, and
    `repeat_end` times through (0: no repeat ends here). `ending` are the times through ((1,),
    (1, 2), ...) for which it stands in a bracket, `ending_edge` "start", "stop", "discontinue"
    (open at the end), "start+stop", "start+discontinue" or "". `rests` measures from here on, when
    not 0, are one long rest. `transpose`, where it is new, leads from the written to the sounding
    pitch.
    """

    number: int
    length: Fraction
    meter: Meter
    key: Key
    events: tuple[Event, ...]
    chords: tuple[ChordMark, ...] = ()
    new_meter: bool = False
    new_key: bool = False
    rehearsal: str = ""
    words: str = ""
    barline: str = "regular"
    repeat_start: bool = False
    repeat_end: int = 0
    ending: tuple[int, ...] = ()
    ending_edge: str = ""
    rests: int = 0
    transpose: Interval | None = None

    @property
    def implicit(self) -> bool:
        """Whether the measure is not counted: a pickup."""
        return self.number == 0


@dataclass(frozen=True, slots=True)
class Clef:
    """A clef: `sign` "G", "F" or "TAB" on `line` (1 = lowest), `octave` -1 with an 8 below."""

    sign: str
    line: int
    octave: int = 0


@dataclass(frozen=True)
class Part:
    """A part: `kind` is "notation", "tab", "slash" or "bass".

    `instrument` is set where strings matter. `program` is General MIDI's, 1 to 128; `silent` where
    another part already sounds the same notes.
    """

    name: str
    kind: str
    clef: Clef
    program: int
    measures: tuple[Measure, ...]
    instrument: Instrument | None = None
    silent: bool = False


@dataclass(frozen=True)
class Score:
    """Everything a notation file needs.

    `tempo` in beats a minute of `beat`; `swing` the ratio of two swung quavers, 1 for straight;
    `feel` the words beside the tempo mark. The first `bracketed` parts stand in one bracket.
    """

    title: str
    composer: str
    tempo: float
    beat: Fraction
    swing: float
    feel: str
    parts: tuple[Part, ...]
    bracketed: int = 0
