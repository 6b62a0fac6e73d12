"""The written score: parts, their measures, and exact written events in them.

Conventions: times and lengths are fractions of a whole note; an event's `start` counts from the
start of its measure. A `Pitch` is the one that is *encoded*: under a clef with a small 8 below it
is the sounding one; a part with a `transpose` holds the pitches its reader sees, and the interval
leads from there to the sound. Strings are players' numbers (1 = first string) beside their fret.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Literal, cast, overload

from accomp.files.paths import StrPath, as_path
from accomp.files.saving import saved
from accomp.files.text import counted
from accomp.files.values import short
from accomp.harmony import Chord, Interval, Key, Pitch
from accomp.neck import Instrument, Shape
from accomp.outward import Shown, made
from accomp.rhythm.stroke import StrokeDirection
from accomp.time import Meter

if TYPE_CHECKING:
    import music21


class Mark(StrEnum):
    """A sign at a notehead."""

    ACCENT = "accent"
    CHOKED = "choked"
    DEAD = "dead"
    ROLL = "roll"


class PartKind(StrEnum):
    """How a part is written."""

    NOTATION = "notation"
    TAB = "tab"
    SLASH = "slash"
    BASS = "bass"


class Barline(StrEnum):
    """How a measure ends."""

    REGULAR = "regular"
    DOUBLE = "double"
    FINAL = "final"


class Jump(StrEnum):
    """Words that send the reader back, to play on up to "Fine" or "To Coda"."""

    DA_CAPO_AL_FINE = "D.C. al Fine"
    DA_CAPO_AL_CODA = "D.C. al Coda"
    DAL_SEGNO_AL_FINE = "D.S. al Fine"
    DAL_SEGNO_AL_CODA = "D.S. al Coda"

    @property
    def to_segno(self) -> bool:
        """Whether it goes back to the sign, and not to the beginning."""
        return self.value.startswith("D.S.")


Beam = Literal["begin", "continue", "end", "forward hook", "backward hook"]
Bracket = Literal["", "start", "stop", "start+stop"]
EndingEdge = Literal["", "start", "stop", "discontinue", "start+stop", "start+discontinue"]


@dataclass(frozen=True, slots=True)
class NoteValue:
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
    an earlier sign says it; `string` and `fret` are set in fretted parts."""

    pitch: Pitch
    accidental: int | None = None
    string: int | None = None
    fret: int | None = None


@dataclass(frozen=True, slots=True)
class Event:
    """A chord of noteheads, lowest first, or a rest when `notes` is empty.

    `tied_from` and `tied_to` join it to the event before and after. `direction` is None where no
    stroke begins; `tremolo` counts the strokes through the stem. `beams` are MusicXML's words from
    the first beam on; `bracket` marks the ends of a tuplet ("start+stop": a single event). A rest
    that fills its measure has `whole_measure`.
    """

    start: Fraction
    value: NoteValue
    notes: tuple[WrittenNote, ...] = ()
    tied_from: bool = False
    tied_to: bool = False
    direction: StrokeDirection | None = None
    marks: frozenset[Mark] = frozenset()
    tremolo: int = 0
    beams: tuple[Beam, ...] = ()
    bracket: Bracket = ""
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
    none). An `added` measure is not the tune's own, and its name is no rehearsal mark. `barline` is
    its right one. A repeat begins at `repeat_start`; `repeat_end` says how often it is played (0:
    no repeat ends here). `ending` are the times through ((1,), (1, 2), ...) for which the measure
    stands in a bracket, `ending_edge` says where the bracket begins and stops ("discontinue": open
    at the end). `segno` and `coda` are signs at its start, `to_coda`, `fine` and a `jump` ("D.S. al
    Coda") words at its end. `rests` measures from here on, when not 0, are one long rest.
    `transpose`, where it is new, leads from the written to the sounding pitch.
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
    added: bool = False
    barline: Barline = Barline.REGULAR
    repeat_start: bool = False
    repeat_end: int = 0
    ending: tuple[int, ...] = ()
    ending_edge: EndingEdge = ""
    segno: bool = False
    coda: bool = False
    to_coda: bool = False
    fine: bool = False
    jump: Jump | None = None
    rests: int = 0
    transpose: Interval | None = None

    @property
    def implicit(self) -> bool:
        """Whether the measure is not counted: a pickup."""
        return self.number == 0


@dataclass(frozen=True, slots=True)
class Clef:
    """A clef: `sign` on `line` (1 = lowest), `octave` -1 with an 8 below."""

    sign: Literal["G", "F", "TAB"]
    line: int
    octave: int = 0


@dataclass(frozen=True)
class Part:
    """A part: `instrument` is set where strings matter. `program` is General MIDI's, 1 to 128;
    a `silent` part is printed but not played, since another one sounds the same notes.
    """

    name: str
    kind: PartKind
    clef: Clef
    program: int
    measures: tuple[Measure, ...]
    instrument: Instrument | None = None
    silent: bool = False


@dataclass(frozen=True)
class Score(Shown):
    """Everything a notation file needs.

    `tempo` is in beats a minute of `beat`, a fraction of a whole note; `swing` is the ratio of two
    swung eighths, 1 when straight; `feel` has the words beside the tempo mark. The first
    `bracketed` parts stand in one bracket.
    """

    title: str
    composer: str
    tempo: float
    beat: Fraction
    swing: float
    feel: str
    parts: tuple[Part, ...]
    bracketed: int = 0

    def __repr__(self) -> str:
        measures = counted(len(self.parts[0].measures) if self.parts else 0, "measure")
        parts = ", ".join(part.name for part in self.parts)
        return f"<Score of {short(self.title)!r}: {measures}, {short(parts)}>"

    @overload
    def to_musicxml(self) -> bytes: ...
    @overload
    def to_musicxml(self, path: StrPath) -> Path: ...
    def to_musicxml(self, path: StrPath | None = None) -> bytes | Path:
        """MusicXML 4.0: the bytes of the file, or the path that it is written to, packed where
        the path ends in ".mxl". Raises `OutputError`."""
        data = made("musicxml", self)
        packed = path is not None and as_path(path).suffix.lower() == ".mxl"
        return saved(made("packed musicxml", data) if packed else data, path)

    def to_music21(self) -> music21.stream.Score:
        """The score as music21 reads its MusicXML.

        Raises `NotInstalledError` without music21 (the extra `accomp[bridges]`).
        """
        return cast("music21.stream.Score", made("music21", self))
