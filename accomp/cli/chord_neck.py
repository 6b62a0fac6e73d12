"""What `accomp shapes` shows: the shapes of single chords for one player.

Conventions: shapes are ranked by what they cost once; of equals the lower on the neck comes first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from accomp.errors import ChordError, InputError, NoShapeError, Problem
from accomp.harmony import Chord, parse_chord
from accomp.job.named import instrument_named
from accomp.neck import (
    Knowledge,
    Known,
    Pricing,
    Shape,
    find_hand,
    no_shape,
    playable_shapes,
    read_costs,
    repertoire_for,
)
from accomp.neck.describe import shapes_dict
from accomp.neck.read import DEFAULT_INSTRUMENT


@dataclass(frozen=True)
class Ranked:
    """Shapes of one chord, best first, each with how it is made when the player knows it."""

    chord: Chord
    where: str
    shapes: tuple[tuple[Shape, Known | None], ...]
    of: int

    def __getitem__(self, part: slice) -> Ranked:
        return replace(self, shapes=self.shapes[part])

    @property
    def heading(self) -> str:
        """The chord, its tones, how many shapes."""
        tones = " ".join(str(tone.spelling) for tone in self.chord.tones)
        shown = "" if len(self.shapes) == self.of else f", the best {len(self.shapes)}"
        return f"{self.chord} ({tones}) on {self.where}: {self.of} shapes{shown}"

    @property
    def boxes(self) -> list[tuple[str, Shape]]:
        """(title, shape) of each, the title being the degree on top and * when it is known."""
        return [(f"{s.top}{'*' if known else ''}", s) for s, known in self.shapes]

    def words(self) -> list[str]:
        """How each known shape is made."""
        return [
            f"  {known.derivation.words(str(self.chord))}"
            for _, known in self.shapes
            if known is not None
        ]

    def document(self, pricing: Pricing) -> dict[str, Any]:
        """The same for JSON."""
        return shapes_dict(self.chord, self.shapes, pricing)


class ChordNeck:
    """One player on one instrument, as the options of the command line say."""

    def __init__(
        self,
        instrument: str | None,
        hand: str,
        reach_mm: float | None,
        repertoire: Path | None,
        costs: Path | None,
        opened: bool | None,
        mute: bool,
    ) -> None:
        self.instrument = instrument_named(instrument or DEFAULT_INSTRUMENT)
        self.hand = find_hand(hand)
        if reach_mm is not None:
            self.hand = self.hand.with_reach(reach_mm)
        self.closed = opened is False
        self.mute = mute
        known = repertoire_for(self.instrument, self.hand, repertoire)
        self.knowledge = Knowledge(known, self.instrument, self.hand, mute=mute)
        self.pricing = Pricing(self.instrument, self.hand, read_costs(costs) if costs else None)

    def chords(self, symbols: Sequence[str]) -> list[Chord]:
        """The chords named. Raises `InputError` with every symbol that is none."""
        found: list[Chord] = []
        problems: list[Problem] = []
        for symbol in symbols:
            try:
                found.append(parse_chord(symbol))
            except ChordError as error:
                problems += error.problems
        if problems:
            raise InputError(problems)
        return found

    def ranked(self, chord: Chord, *, known: bool) -> Ranked:
        """All shapes of a chord, or the known ones, best first. Raises `NoShapeError`."""
        made = {one.shape.frets: one for one in self.knowledge.shapes(chord)}
        shapes = playable_shapes(chord, self.instrument, self.hand, mute=self.mute)
        rows = [
            (shape, made.get(shape.frets))
            for shape in shapes
            if not (self.closed and shape.open) and (shape.frets in made or not known)
        ]
        if not rows and known and shapes:
            raise NoShapeError(
                f"{chord}: no shape can be made from the repertoire. Leave --known out to see "
                f"every playable shape."
            )
        if not rows:
            raise no_shape([chord], self.instrument, self.hand, mute=self.mute, closed=self.closed)
        price = self.pricing.shape
        rows.sort(key=lambda row: (price(row[0], chord, row[1] is not None), sum(row[0].fretted)))
        return Ranked(chord, self.instrument.title, tuple(rows), len(rows))
