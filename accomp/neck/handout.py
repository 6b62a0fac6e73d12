"""The hand-out: what a pupil takes home of one position, on one page.

Conventions: a hand-out is pictures with few words: the grips, each with the chords of the tune that
it is, by name and number, and with its other names; the changes to drill; what to learn next. What
is long (how shapes are made, every change, costs) stays in the lesson. Chords are written by the
`say` of whoever lays the page out. All that is laid out besides pictures and the chords over them
is in `Handout.texts`: at most `MOST_WORDS` words. Where a tune has very many chords, or there is
much to be told of a position, other names of grips are left out for that, then what to learn next.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace

from accomp.harmony import Chord
from accomp.neck.grip_names import GripName, grip_names, names_sentence
from accomp.neck.learn_next import NextFamily
from accomp.neck.lesson import ChangeLesson, Lesson, PositionLesson
from accomp.neck.plan import Plan
from accomp.neck.shape import Shape

MOST_WORDS = 250
GRIPS_HEAD = "Grips"
DRILL_HEAD = "Drill these changes, to and fro, then in the tune"
NEXT_HEAD = "Learn next"
CAUTION = (
    "Go slowly into wide stretches, stop when the hand hurts; a teacher's or physiotherapist's "
    "word goes first."
)

Say = Callable[[Chord], str]


@dataclass(frozen=True, slots=True)
class GripPlace:
    """A grip where it stands, with the chords that it is there and how each is counted."""

    shape: Shape
    chords: tuple[Chord, ...]
    numbers: tuple[str, ...]

    def title(self, say: Say) -> str:
        """What stands over its picture: "F, F/C"."""
        return ", ".join(say(chord) for chord in self.chords)

    def counted(self, say: Say) -> str:
        """Each of its chords with its number: "F: one, F/C: one over five"."""
        pairs = zip(self.chords, self.numbers, strict=True)
        return ", ".join(f"{say(chord)}: {number}" for chord, number in pairs)


@dataclass(frozen=True, slots=True)
class HandoutGrip:
    """A grip with all its places in the position; `names` are those of the first place.

    `to_learn`: it is none of the first shapes nor made from them.
    """

    places: tuple[GripPlace, ...]
    names: tuple[GripName, ...]
    to_learn: bool

    def words(self, say: Say) -> str:
        """What is said of it: its chords and their numbers, whether it is to be learnt, its names
        where it has several."""
        names = [name.words(say(name.chord)) for name in self.names]
        said = [f"{', '.join(place.counted(say) for place in self.places)}."]
        if self.to_learn:
            said.append("To learn.")
        if len(names) > 1:
            said.append(names_sentence(names))
        return " ".join(said)


@dataclass(frozen=True, slots=True)
class Handout:
    """All that stands on one position's hand-out, for an instrument of so many `strings`.

    `caution`: it has a stretch beyond the hand's comfort.
    """

    plan: Plan
    strings: int
    grips: tuple[HandoutGrip, ...]
    changes: tuple[ChangeLesson, ...]
    learn_next: tuple[NextFamily, ...]
    caution: bool

    @property
    def title(self) -> str:
        """What it is about."""
        return f"{self.plan.name} position"

    @property
    def facts(self) -> str:
        """Where it lies and what it is good for."""
        low, high = self.plan.frets
        kind = "with open strings" if self.plan.open else "closed: slides and chokes"
        return f"frets {low} to {high}, {kind}"

    def change(self, one: ChangeLesson, say: Say) -> str:
        """What is said of a change to drill."""
        return f"{say(one.from_chord)} to {say(one.to_chord)}: {one.brief(self.strings)}."

    @property
    def notes(self) -> tuple[str, ...]:
        """What has to be said of the plan, with a caution where it is wide."""
        said = [notice.removeprefix(f"{self.plan.name}: ") for notice in self.plan.notices]
        said = [notice[:1].upper() + notice[1:] for notice in said]
        return (*said, *([CAUTION] if self.caution else []))

    def texts(self, say: Say) -> Iterator[str]:
        """All that stands on it besides pictures."""
        yield self.title
        yield self.facts
        yield GRIPS_HEAD
        yield from (grip.words(say) for grip in self.grips)
        if self.changes:
            yield DRILL_HEAD
            yield from (self.change(one, say) for one in self.changes)
        if self.learn_next:
            yield NEXT_HEAD
            yield from (one.words for one in self.learn_next)
        yield from self.notes


def handouts(lesson: Lesson, strings: int, comfort_mm: float) -> tuple[Handout, ...]:
    """The hand-outs of a lesson's positions."""
    numbers = {chord: said for chord, _, said in lesson.names}
    return tuple(_handout(one, numbers, strings, comfort_mm) for one in lesson.positions)


def _handout(
    one: PositionLesson, numbers: Mapping[Chord, str], strings: int, comfort_mm: float
) -> Handout:
    families: dict[str, dict[Shape, list[Chord]]] = {}
    for shape in one.shapes:
        places = families.setdefault(shape.family, {})
        same = next((there for there in places if there.frets == shape.shape.frets), shape.shape)
        places.setdefault(same, []).append(shape.chord)
    grips = tuple(_grip(one.plan, places, numbers) for places in families.values())
    made = Handout(
        plan=one.plan,
        strings=strings,
        grips=grips,
        changes=one.hardest,
        learn_next=one.learn_next,
        caution=one.plan.stretch_mm > comfort_mm,
    )
    while count_words(made) > MOST_WORDS and any(len(grip.names) > 1 for grip in made.grips):
        made = replace(made, grips=_one_name_less(made.grips))
    while count_words(made) > MOST_WORDS and made.learn_next:
        made = replace(made, learn_next=made.learn_next[:-1])
    return made


def _one_name_less(grips: tuple[HandoutGrip, ...]) -> tuple[HandoutGrip, ...]:
    """The same without the last name of the last grip that has most."""
    index = max(range(len(grips)), key=lambda index: (len(grips[index].names), index))
    fewer = replace(grips[index], names=grips[index].names[:-1])
    return (*grips[:index], fewer, *grips[index + 1 :])


def _grip(
    plan: Plan, places: Mapping[Shape, list[Chord]], numbers: Mapping[Chord, str]
) -> HandoutGrip:
    shape, chords = next(iter(places.items()))
    return HandoutGrip(
        places=tuple(
            GripPlace(there, tuple(its), tuple(numbers[chord] for chord in its))
            for there, its in places.items()
        ),
        names=grip_names(shape, chords),
        to_learn=shape.grip in plan.new,
    )


def count_words(made: Handout) -> int:
    """How many words stand on a hand-out."""
    return sum(len(text.split()) for text in made.texts(str))
