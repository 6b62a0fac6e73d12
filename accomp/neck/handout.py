"""The hand-out: what a pupil takes home of one position, on one page.

Conventions: a hand-out is pictures with few words: the grips, each with its chords of the tune by
name and number, and with its other names; the changes to drill; what to learn next. Long matter
(how shapes are made, every change, costs) stays in the lesson. `say` writes a chord as the page
does. `Handout.texts` holds all words but the chords over the pictures. With these chords and the
page's own heading a hand-out never has more than `MOST_WORDS` words. Where it would, parts are left
out in this order: other names of grips; what to learn next; the third change; the notes, for which
the full lesson is named; the second change; the words beside the pictures of grips.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import chain

from accomp.harmony import Chord
from accomp.neck.bass import bass_has
from accomp.neck.grip_names import GripName, TuneContext, grip_names, names_sentence
from accomp.neck.learn_next import NextFamily
from accomp.neck.lesson import ChangeLesson, Lesson, PositionLesson
from accomp.neck.plan import Plan
from accomp.neck.shape import Shape

MOST_WORDS = 250
HEADING_WORDS = 15  # of the page: the instrument and the tune's title, even a long one
GRIPS_HEAD = "Grips"
NEW_TO_LEARN = "New to learn"
NEW_MEANS = "“new to learn”: not a first shape, nor made from one"
_FEW = 2  # changes to drill, where there is no room for more
DRILL_HEAD = "Drill these changes, to and fro, then in the tune"
NEXT_HEAD = "Learn next"
CAUTION = (
    "Go slowly into wide stretches, stop when the hand hurts; a teacher's or physiotherapist's "
    "word goes first."
)
MORE_NOTES = "There is more to know of this position: see its full lesson."

Say = Callable[[Chord], str]


@dataclass(frozen=True, slots=True)
class StandingGrip:
    """A grip at one place, with the chords that it is there and the number of each."""

    shape: Shape
    chords: tuple[Chord, ...]
    numbers: tuple[str, ...]

    def title(self, say: Say) -> str:
        """The chords over its picture: "F, F/C"."""
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

    places: tuple[StandingGrip, ...]
    names: tuple[GripName, ...]
    to_learn: bool
    brief: bool = False
    silent: bool = False

    def words(self, say: Say) -> str:
        """Its chords and their numbers, whether it is to be learnt, what the bass plays of it, and
        its names where it has several. A `brief` grip only says whether it is to be learnt, a
        `silent` one not even that."""
        names = [name.words(say(name.chord)) for name in self.names]
        said = [] if self.brief else [f"{', '.join(one.counted(say) for one in self.places)}."]
        if self.to_learn and not self.silent:
            said.append(f"{NEW_TO_LEARN}.")
        if not self.brief:
            pairs = [(chord, place.shape) for place in self.places for chord in place.chords]
            said += bass_has(pairs, say)
        if len(names) > 1 and not self.brief:
            said.append(names_sentence(names))
        return " ".join(said)


@dataclass(frozen=True, slots=True)
class Handout:
    """All that stands on one position's hand-out, for an instrument of so many `strings`.

    `caution`: it has a stretch beyond the hand's comfort. `few_notes`: there is no room for notes.
    """

    plan: Plan
    strings: int
    grips: tuple[HandoutGrip, ...]
    changes: tuple[ChangeLesson, ...]
    learn_next: tuple[NextFamily, ...]
    caution: bool
    few_notes: bool = False

    @property
    def title(self) -> str:
        """The page's own title: the position."""
        return f"{self.plan.name} position"

    @property
    def grips_head(self) -> str:
        """The heading of the grips; it says what "new" means where a grip is new."""
        new = any(grip.to_learn for grip in self.grips)
        return f"{GRIPS_HEAD} ({NEW_MEANS})" if new else GRIPS_HEAD

    @property
    def facts(self) -> str:
        """Where the position lies, and whether it slides and chokes."""
        low, high = self.plan.frets
        kind = "with open strings" if self.plan.open else "closed: slides and chokes"
        return f"frets {low} to {high}, {kind}"

    def change(self, one: ChangeLesson, say: Say) -> str:
        """One change to drill, in words."""
        return f"{say(one.from_chord)} to {say(one.to_chord)}: {one.brief(self.strings)}."

    @property
    def notes(self) -> tuple[str, ...]:
        """The notices of the plan, and a caution where it has wide stretches."""
        said = [notice.removeprefix(f"{self.plan.name}: ") for notice in self.plan.notices]
        said = [notice[:1].upper() + notice[1:] for notice in said]
        if said and self.few_notes:
            said = [MORE_NOTES]
        return (*said, *([CAUTION] if self.caution else []))

    def texts(self, say: Say) -> Iterator[str]:
        """All words on it but the chords over the pictures."""
        yield self.title
        yield self.facts
        yield self.grips_head
        yield from (grip.words(say) for grip in self.grips)
        if self.changes:
            yield DRILL_HEAD
            yield from (self.change(one, say) for one in self.changes)
        if self.learn_next:
            yield NEXT_HEAD
            yield from (one.sentence(say) for one in self.learn_next)
        yield from self.notes


def handouts(lesson: Lesson, strings: int, comfort_mm: float) -> tuple[Handout, ...]:
    """The hand-outs of a lesson's positions."""
    numbers = {chord: said for chord, _, said in lesson.names}
    context = TuneContext(lesson.key, numbers)
    return tuple(
        _short(
            Handout(
                plan=one.plan,
                strings=strings,
                grips=_grips(one, numbers, context),
                changes=one.hardest,
                learn_next=one.learn_next,
                caution=one.plan.stretch_mm > comfort_mm,
            )
        )
        for one in lesson.positions
    )


def _grips(
    one: PositionLesson, numbers: Mapping[Chord, str], context: TuneContext
) -> tuple[HandoutGrip, ...]:
    """The grips of a position with their places; `numbers` are those of the chords in the key."""
    families: dict[str, dict[Shape, list[Chord]]] = {}
    for shape in one.shapes:
        places = families.setdefault(shape.family, {})
        same = next((there for there in places if there.frets == shape.shape.frets), shape.shape)
        places.setdefault(same, []).append(shape.chord)
    grips = []
    for places in families.values():
        first, chords = next(iter(places.items()))
        standing = tuple(
            StandingGrip(there, tuple(its), tuple(numbers[chord] for chord in its))
            for there, its in places.items()
        )
        to_learn = first.grip in one.plan.new
        grips.append(HandoutGrip(standing, grip_names(first, chords, context), to_learn))
    return tuple(grips)


def _short(made: Handout) -> Handout:
    """The hand-out with as much left out as `MOST_WORDS` demands."""
    for shorter in chain([made], _shorter(made)):
        made = shorter
        if count_words(made) <= MOST_WORDS:
            break
    return made


def _shorter(made: Handout) -> Iterator[Handout]:
    """A hand-out with less and less on it; what is missed least is left out first."""
    while any(len(grip.names) > 1 for grip in made.grips):
        made = replace(made, grips=_one_name_less(made.grips))
        yield made
    while made.learn_next:
        made = replace(made, learn_next=made.learn_next[:-1])
        yield made
    # The third change to drill is missed less than the notes, the second one more.
    if len(made.changes) > _FEW:
        made = replace(made, changes=made.changes[:_FEW])
        yield made
    made = replace(made, few_notes=True)
    yield made
    made = replace(made, changes=made.changes[:1])
    yield made
    # From the last on: the first chords are those that a pupil meets first.
    for index in reversed(range(len(made.grips))):
        short = replace(made.grips[index], brief=True)
        made = replace(made, grips=(*made.grips[:index], short, *made.grips[index + 1 :]))
        yield made
    yield replace(made, grips=tuple(replace(grip, silent=True) for grip in made.grips))


def _one_name_less(grips: tuple[HandoutGrip, ...]) -> tuple[HandoutGrip, ...]:
    """The grips without the last name of the grip with most names, the last such grip."""
    index = max(range(len(grips)), key=lambda index: (len(grips[index].names), index))
    fewer = replace(grips[index], names=grips[index].names[:-1])
    return (*grips[:index], fewer, *grips[index + 1 :])


def count_words(made: Handout) -> int:
    """How many words stand on a hand-out, with the chords over its pictures and its heading."""
    over = [place.title(str) for grip in made.grips for place in grip.places]
    over += [str(chord) for one in made.changes for chord in (one.from_chord, one.to_chord)]
    over += [str(chord) for one in made.learn_next for _, its in one.by_shape for chord in its]
    words = sum(len(text.split()) for text in chain(made.texts(str), over))
    return HEADING_WORDS + words
