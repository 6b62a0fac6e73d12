"""One grip, several names: the chords that the same frets are.

Conventions: a name is a chord with the tones that are left out of it. Besides its own name a grip
has at most one of each sort: another whole chord of the same tones (Dm7b5 is Fm6, Am7 is C6), a
chord whose root is not sounded (E flat is Cm7 without root, Bdim7 is G7b9 without root), and for a
triad the chord that it is the top of (E flat is fifth, seventh and ninth of Abmaj9). Common
practice, no source: these are the names that players use; that each is true follows from its tones.

A pupil is told another name only where it teaches something in the tune (`TuneContext`): when
the tune has that chord; when it is a seventh chord without its root and of the tune's key (with or
without a flat ninth); or when it is a whole triad, sixth or seventh chord, worth knowing anywhere.
That a triad is the top of a ninth chord is told in a tune that has the chord, and nowhere else.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from accomp.files.text import word_list
from accomp.harmony import Chord, Key, Spelling, join_symbol, parse_chord
from accomp.neck.naming import degree_name
from accomp.neck.shape import Shape

MOST = 3  # names of one grip: more are no help
# Suffixes in the order in which they are tried.
_WHOLE = ("", *"6 m6 m7 m7b5 7 maj7 dim7 m(maj7) 7sus4 7b5 m dim + sus4 sus2".split())
_WITHOUT_ROOT = "7 maj7 m7 m(maj7) 9 maj9 m9 7b9".split()
_TOP = "maj9 9".split()
_SIMPLE = frozenset(["", *"m dim + 6 m6 7 m7 maj7 m7b5 dim7".split()])
_NEAR = frozenset("7 m7 maj7 7b9".split())  # of chords without their root
_UP_TO_THE_SEVENTH = ("1", "3", "5", "6", "7")
_FROM_THE_FIFTH = 2  # the top of a ninth chord has neither root nor third
_TRIAD = 3


@dataclass(frozen=True, slots=True)
class GripName:
    """A chord that a grip is: without some of its tones, or as the `top` of it."""

    chord: Chord
    without: tuple[str, ...] = ()
    top: bool = False

    def words(self, name: str) -> str:
        """ "Cm7 without root", for a chord that is written `name`."""
        if self.top:
            return f"the top of {name}"
        left = word_list([degree_name(degree) for degree in self.without]) if self.without else ""
        return f"{name} without {left}" if left else name


class TuneContext:
    """The tune in which a grip is named: its key and all its chords."""

    def __init__(self, key: Key, chords: Iterable[Chord]) -> None:
        self._scale = {tone.pc for tone in key.scale}
        if key.minor:
            self._scale.add((key.tonic.pc - 1) % 12)  # the leading note
        self._chords = {_body(chord): chord.root for chord in chords}

    def spelled(self, name: GripName) -> GripName:
        """The name with its root as the tune spells it: Eb7b9 for D#7b9, where it has Eb7."""
        root = self._chords.get(_body(name.chord), name.chord.root)
        return replace(name, chord=parse_chord(join_symbol(str(root), name.chord.suffix)))

    def teaches(self, name: GripName) -> bool:
        """Whether another name says something in this tune; see the rule above."""
        body = _body(name.chord)
        if body in self._chords:
            return True
        if name.without:
            near = not name.top and name.chord.suffix in _NEAR
            return near and body[1] <= self._scale
        return name.chord.suffix in _SIMPLE


def _body(chord: Chord) -> tuple[int, frozenset[int]]:
    """A chord's root and tones up to its seventh: to a learner Bb9 and Bb7 are one chord."""
    tones = [tone for tone in chord.tones if tone.degree.lstrip("b#") in _UP_TO_THE_SEVENTH]
    return chord.root.pc, frozenset(tone.pc for tone in tones)


def grip_names(
    shape: Shape, chords: Iterable[Chord], context: TuneContext | None = None
) -> tuple[GripName, ...]:
    """The names of a shape that stands for `chords`, theirs first.

    Other names follow when they teach something in the tune of `context`, or all without one.
    """
    sounding = frozenset(pitch % 12 for pitch in shape.pitches if pitch is not None)
    found: dict[tuple[int, str, bool], GripName] = {}
    own = list(chords)
    for chord in own:
        without = tuple(tone.degree for tone in chord.tones if tone.pc not in sounding)
        found.setdefault(_mark(chord), GripName(chord, without))
    tones = [tone.spelling for tone in own[0].tones if tone.pc in sounding]
    for sort in (_whole, _rootless, _tops):
        for name in sort(sounding, tones):
            if context is not None and not context.teaches(name):
                continue
            if _mark(name.chord, top=name.top) not in found:
                told = name if context is None else context.spelled(name)
                found[_mark(name.chord, top=name.top)] = told
                break
    return tuple(found.values())[: max(MOST, len({_mark(chord) for chord in own}))]


def names_sentence(names: Iterable[str]) -> str:
    """ "This grip is Eb, Cm7 without root, and the top of Abmaj9." """
    *before, last = names
    comma = "," if len(before) > 1 else ""
    return f"This grip is {', '.join(before)}{comma} and {last}."


def _mark(chord: Chord, *, top: bool = False) -> tuple[int, str, bool]:
    """A key that is the same for chords that differ only in bass and spelling."""
    return chord.root.pc, " ".join(tone.degree for tone in chord.tones), top


def _whole(sounding: frozenset[int], tones: Sequence[Spelling]) -> Iterator[GripName]:
    for suffix in _WHOLE:
        for tone in tones:
            chord = parse_chord(join_symbol(str(tone.plain), suffix))
            if sounding == chord.by_pc.keys():
                yield GripName(chord)


def _rootless(sounding: frozenset[int], tones: Sequence[Spelling]) -> Iterator[GripName]:
    for suffix in _WITHOUT_ROOT:
        for chord in _with_tone(suffix, tones[0]):
            if sounding == chord.by_pc.keys() - {chord.root.pc}:
                yield GripName(chord, ("1",))


def _tops(sounding: frozenset[int], tones: Sequence[Spelling]) -> Iterator[GripName]:
    if len(sounding) == _TRIAD:
        for suffix in _TOP:
            for chord in _with_tone(suffix, tones[0]):
                if sounding == {tone.pc for tone in chord.tones[_FROM_THE_FIFTH:]}:
                    below = chord.tones[:_FROM_THE_FIFTH]
                    yield GripName(chord, tuple(tone.degree for tone in below), top=True)


@lru_cache(maxsize=1024)
def _with_tone(suffix: str, tone: Spelling) -> tuple[Chord, ...]:
    """The chords of a kind that have a tone, each spelled so that the tone keeps its name."""
    model = parse_chord(f"C{suffix}")
    roots = [tone.up(-model.root.to(one.spelling)).plain for one in model.tones]
    return tuple(parse_chord(join_symbol(str(root), suffix)) for root in roots)
