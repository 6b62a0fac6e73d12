"""A tune as its file says it: sections of bars with chords, in a form.

Conventions: times inside a bar are exact fractions of a whole note from the bar's start. Lines and
columns are the places in the tune file, from 1; 0 when there is no file. Places, file names and
notices say how a tune was read and take no part in comparing: two tunes are equal when they are the
same to a player.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, cast, get_args, overload

from accomp.errors import InputError, Problem, needed
from accomp.files.data import DEFAULT_INSTRUMENT
from accomp.files.keeping import keep_others
from accomp.files.paths import StrPath, as_path
from accomp.files.saving import saved
from accomp.files.text import counted, frets_text
from accomp.files.values import short
from accomp.harmony import Chord, Key, Spelling
from accomp.outward import Shown, made
from accomp.time import Meter, Span

if TYPE_CHECKING:
    import music21


# Which shapes may be taken; the room of the neck, which this one does not know, says what each word
# means. Where the two do not have the same words, a type checker says so (`job/request.py`).
VocabularyName = Literal["first", "inversions", "all"]
VOCABULARIES: tuple[VocabularyName, ...] = get_args(VocabularyName)


# How the band gets into the tune, beside the count-in: with a bar of the drums, with the drums on
# the last beat before the tune, with four bars of the home chord.
Beginning = Literal["roll-off", "pick-up", "vamp"]
BEGINNINGS: tuple[Beginning, ...] = get_args(Beginning)
# How it gets out of it, in place of what the style does: slower and slower into a chord that rings,
# with one short hit of all players in tempo, with the last phrase once more.
Finish = Literal["ritard", "short-stop", "tag"]
FINISHES: tuple[Finish, ...] = get_args(Finish)


@dataclass(frozen=True, slots=True)
class ChordSpan:
    """A chord over part of a bar; `chord` None is N.C. (nobody plays).

    `written` is False where the bar only carries on what stood before its bar line. A chord that
    is written twice in a row (`| F F |`) is two spans: its writer wants to see it twice.
    """

    chord: Chord | None
    span: Span
    written: bool = True
    line: int = field(default=0, compare=False)
    column: int = field(default=0, compare=False)


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar; its chord spans follow one another without a gap and fill it.

    `again`: it is written as a repeat (%) of the bar before it.
    """

    chords: tuple[ChordSpan, ...]
    again: bool = False
    line: int = field(default=0, compare=False)
    column: int = field(default=0, compare=False)


@dataclass(frozen=True, slots=True)
class Repeat:
    """|: and :| in a section: its bars [first, last), counted from 0, come `times` in all."""

    first: int
    last: int
    times: int = 2


@dataclass(frozen=True, slots=True)
class Section:
    """A named part of the form, with its own key, meter and style where it has them.

    `bars` are written bars, and come each time; `repeats` are the repeats in them. After them comes
    one of the `endings` (the first time, the second ...), or `last` the last time of the whole
    performance; without endings nothing. The last time goes to the coda after bar `to_coda` (from
    1) of `bars`.
    """

    name: str
    bars: tuple[Bar, ...]
    key: Key
    meter: Meter
    style: str | None = None
    repeats: tuple[Repeat, ...] = ()
    endings: tuple[tuple[Bar, ...], ...] = ()
    last: tuple[Bar, ...] = ()
    to_coda: int | None = None

    @property
    def numbered(self) -> int:
        """How many numbered endings it has."""
        return len(self.endings)

    @property
    def has_last(self) -> bool:
        """Whether it has an ending for the last time."""
        return bool(self.last)

    @property
    def every_bar(self) -> Iterator[Bar]:
        """All bars as written, those of the endings last."""
        for bars in (self.bars, *self.endings, self.last):
            yield from bars

    def with_bars(self, change: Callable[[Bar], Bar]) -> Section:
        """The section with each of its bars changed."""
        return replace(
            self,
            bars=tuple(map(change, self.bars)),
            endings=tuple(tuple(map(change, ending)) for ending in self.endings),
            last=tuple(map(change, self.last)),
        )

    def __repr__(self) -> str:
        return f"<Section {short(self.name)!r}: {counted(len(self.bars), 'bar')}>"


@dataclass(frozen=True, slots=True)
class Chorus:
    """Changes for one time through; None keeps what the tune says."""

    position: str | None = None
    style: str | None = None


@dataclass(frozen=True, slots=True)
class Pin:
    """A shape to be kept for a chord: frets from the highest-numbered string to the first.

    `name` is the chord as the file has it; `Tune.places` has the place under this name.
    """

    chord: Chord
    frets: tuple[int | None, ...]
    name: str = field(default="", compare=False)

    @property
    def text(self) -> str:
        """The frets as players write them."""
        return frets_text(self.frets)


@dataclass(frozen=True, slots=True)
class TopNotes:
    """The notes wished on top of the chords of a bar, in order; None is no wish."""

    bar: int
    notes: tuple[Spelling | None, ...]


def as_tune(found: object) -> Tune:
    """A tune. Raises `InputError` for anything else."""
    if isinstance(found, Tune):
        return found
    hint = 'Read one with read_tune("porch.toml"), or build one with tune("| C | G7 |", key="C").'
    raise needed("a tune is", found, hint)


@dataclass(frozen=True)
class Tune(Shown):
    """A whole tune.

    `tempo` in beats a minute (the meter's beat), `pickup` in whole notes before the first bar,
    `melody` a file name beside the tune, `file` where it was read from. `style` None means a plain
    style of the meter; `begin` and `end` None what the style does. `vocabulary` says which shapes
    may be taken, None what is usual; `pins` and `tops` are wishes for single chords and bars.
    `form` is one time through, which `times` says how often is played (None: what is usual). Before
    it come `intro` (a section, or so many of the last bars of the form) and the sections of
    `verse`, after it those of `coda`, once each. See `accomp.tune.road` for the way through.
    `places` holds (line, column) in the file of what only other rooms can judge or may want to
    point at: "title", "key", "meter", "tempo", "style", "instrument", "melody", "pickup", "form",
    "intro", "verse", "coda", "choruses", "begin", "end", "sections.B", "sections.B.style",
    "chorus.0.style", "chorus.0.position", "shapes.C7", "top.9"; only what the file has is in it.
    """

    title: str
    key: Key
    meter: Meter
    tempo: float
    sections: Mapping[str, Section]
    form: tuple[str, ...]
    style: str | None = None
    instrument: str = DEFAULT_INSTRUMENT
    composer: str = ""
    pickup: Fraction = Fraction(0)
    melody: str | None = None
    choruses: tuple[Chorus, ...] = ()
    times: int | None = None
    intro: str | int | None = None
    verse: tuple[str, ...] = ()
    coda: tuple[str, ...] = ()
    begin: Beginning | None = None
    end: Finish | None = None
    vocabulary: VocabularyName | None = None
    pins: tuple[Pin, ...] = ()
    tops: tuple[TopNotes, ...] = ()
    file: str = field(default="", compare=False)
    notices: tuple[str, ...] = field(default=(), compare=False)
    places: Mapping[str, tuple[int, int]] = field(default_factory=dict, compare=False)

    def __repr__(self) -> str:
        bars = sum(len(self.sections[name].bars) for name in self.form)
        return (
            f"<Tune {short(self.title)!r}: {self.key}, {self.meter}, {self.tempo:g} beats a "
            f"minute, {counted(bars, 'bar')}>"
        )

    @overload
    def to_toml(self) -> str: ...
    @overload
    def to_toml(self, path: StrPath, *, replace: bool = False) -> Path: ...
    def to_toml(self, path: StrPath | None = None, *, replace: bool = False) -> str | Path:
        """The tune as the text of a tune file, or the path that the file is written to.

        A file that is there already is somebody's own words and stays, unless it is the same or to
        be replaced. Raises `OutputError`, and `InputError` for a tune that no file can say.
        """
        from accomp.tune.write import tune_toml  # late: it knows this module

        try:
            text = tune_toml(self)
        except ValueError as error:
            hint = "Give the bar chords where its beats are."
            raise InputError(Problem(f"{error}.", self.file, hint=hint)) from None
        if path is None:
            return text
        target = as_path(path, "the tune file to write")
        keep_others(target, known={sha256(text.encode()).hexdigest()}, replace=replace)
        return saved(text.encode(), target)

    @classmethod
    def from_music21(cls, stream: music21.stream.Stream[Any]) -> Tune:
        """The tune of a music21 stream: its chord symbols in the order played, by sections.

        It is read as the lead sheet that music21 writes of the stream; `notices` say what cannot
        be taken over, the melody among it. Raises `InputError` for a stream that is no lead sheet,
        `NotInstalledError` without music21 (the extra `accomp[bridges]`).
        """
        return cast(Tune, made("tune of music21", stream))
