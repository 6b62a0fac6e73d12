"""The vocabulary: all shapes of a chord that a player knows or can make from those they know.

Conventions: a known shape moves to every place where the neck has room. The table of moves then
makes other chords from it, step by step. Where the table has no row for a chord, or makes no shape
of it in an area, shapes are made by the fewest moves from any shape that the table makes. A made
shape that is wider than the hand's comfort, has no root and sounds a tone twice is replaced by its
easier form: the doubled tone goes to the root. A made shape that sounds as a plain triad on another
root (Cm7 from Cm is E flat) is known with its doubled tone on the root as well.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import combinations, product

from accomp.harmony import Chord, Spelling, join_symbol
from accomp.harmony.degree import Degree
from accomp.neck.fingering import Frets, finger
from accomp.neck.hand import Hand
from accomp.neck.instrument import Instrument
from accomp.neck.moves import Derivation, Move, MoveRow, MoveRule, apply, default_moves
from accomp.neck.repertoire import Repertoire
from accomp.neck.search import heard_as, shape_at
from accomp.neck.shape import Grip, Shape, another_triad, grip_of

Degrees = list[str | None]

FARTHEST = 4  # frets that one note may go: further, and it is another shape
MOST_MOVES = 2


@dataclass(frozen=True, slots=True)
class KnownShape:
    """A shape and how it is made; `family` names its family.

    `new`: the player has to learn it, because only the fewest moves make it and not the table, or
    because it comes from a shape that they know in one place only.
    """

    shape: Shape
    derivation: Derivation
    family: str
    new: bool


class Vocabulary:
    """All shapes that one player knows on one instrument, each chord worked out once."""

    def __init__(
        self,
        repertoire: Repertoire,
        instrument: Instrument,
        hand: Hand,
        *,
        mute: bool = False,
    ) -> None:
        self.repertoire = repertoire
        self.instrument = instrument
        self.hand = hand
        self.mute = mute
        self.table = default_moves()
        self._fixed = {shape.name for shape in repertoire.shapes if not shape.movable}
        self._elsewhere = {
            shape.name: shape.frets for shape in repertoire.shapes if shape.new_elsewhere
        }
        self._shapes: dict[Chord, tuple[KnownShape, ...]] = {}
        self._fewest: dict[Chord, tuple[KnownShape, ...]] = {}
        self._made: dict[tuple[str, Spelling], list[Derivation]] = {}

    def shapes(self, chord: Chord) -> tuple[KnownShape, ...]:
        """All known shapes of a chord, from the nut upward, each by its shortest way."""
        if chord not in self._shapes:
            found = self._work_out(chord)
            found.sort(key=lambda known: (known.shape.lowest_fret, str(known.shape)))
            self._shapes[chord] = tuple(found)
        return self._shapes[chord]

    def grips(self, chords: Iterable[Chord]) -> frozenset[Grip]:
        """The grips that the player knows anywhere on the neck: the repertoire's, and those made
        for `chords`.

        Shapes that do not move, or have to be learnt where they move to, do not count.
        """
        stay = self._fixed | self._elsewhere.keys()
        own = {grip_of(shape.frets) for shape in self.repertoire.shapes if shape.name not in stay}
        made = {
            one.shape.grip
            for chord in chords
            for one in self.shapes(chord)
            if not one.new and one.derivation.family not in stay
        }
        return frozenset(own | made)

    def _work_out(self, chord: Chord) -> list[KnownShape]:
        rows = self.table.making(chord.degrees)
        ways = self._all_ways(chord.degrees, rows, chord.root)
        for root in _alike(chord):
            name = join_symbol(str(root), chord.suffix)
            ways += [replace(way, alike=name) for way in self._all_ways(chord.degrees, rows, root)]
        if not rows:
            ways += self._by_fewest(chord)
        return self._playable(chord, ways, new=not rows)

    def by_fewest_moves(self, chord: Chord) -> tuple[KnownShape, ...]:
        """Shapes made by the fewest moves, for places where the table makes none; none is wide."""
        if chord not in self._fewest:
            self._fewest[chord] = tuple(self._playable(chord, self._by_fewest(chord), new=True))
        return self._fewest[chord]

    def _by_fewest(self, chord: Chord) -> list[Derivation]:
        """Ways of fewest moves that end in a shape within the hand's comfort."""
        sources = self._sources(chord.root)
        return fewest_moves(chord, sources, self.instrument, self._fingered)

    def _fingered(self, frets: Frets) -> bool:
        """Whether the hand can finger these frets within its comfort."""
        return self._comfortable(frets) and finger(frets, self.instrument, self.hand) is not None

    def _playable(self, chord: Chord, ways: Iterable[Derivation], *, new: bool) -> list[KnownShape]:
        """The ways that end in a playable shape of the chord, each shape by its shortest.

        `new`: those that need any moves have to be learnt.
        """
        found: dict[Frets, KnownShape] = {}
        for way in sorted(ways, key=lambda way: (self._moved(way), *_length(way))):
            frets = way.result
            if frets not in found:
                shape = shape_at(frets, chord, self.instrument, self.hand, mute=self.mute)
                if shape is not None and heard_as(shape, chord):
                    learnt = (new and bool(way.moves)) or self._moved(way)
                    found[frets] = self._known(shape, way, chord, learnt)
        return list(found.values())

    def _all_ways(
        self, tones: frozenset[str], rows: Sequence[MoveRow], root: Spelling
    ) -> list[Derivation]:
        """The repertoire's own shapes with these degrees on a root, and what the table makes."""
        ways = list(self._own(tones, root))
        for row in rows:
            ways += [self._easier(way, tones, root) or way for way in self._ways(row, root)]
        return ways

    def _moved(self, way: Derivation) -> bool:
        """Whether a way starts from a shape that has to be learnt where it has moved to."""
        return way.frets != self._elsewhere.get(way.family, way.frets)

    def _known(self, shape: Shape, way: Derivation, chord: Chord, new: bool) -> KnownShape:
        family = way.family
        if way.moves or way.eased:
            family = f"{chord.suffix or 'major'} from {family}"
        return KnownShape(shape, way, family, new)

    def _own(self, tones: frozenset[str], root: Spelling) -> Iterator[Derivation]:
        """The repertoire's own shapes that have exactly these degrees, on a root."""
        for shape in self.repertoire.shapes:
            if shape.chord.degrees == tones:
                name = join_symbol(str(root), shape.chord.suffix)
                for up, frets in shape.moved_to(root.pc, self.instrument.frets):
                    yield Derivation(shape.name, name, frets, up)

    def _sources(self, root: Spelling) -> Iterator[Derivation]:
        """Every shape on a root that is known or made by the table, easier forms included."""
        for tones in dict.fromkeys(shape.chord.degrees for shape in self.repertoire.shapes):
            yield from self._own(tones, root)
        for row in self.table.rows:
            for way in self._ways(row, root):
                yield self._easier(way, row.tones, root) or way

    def _ways(self, row: MoveRow, root: Spelling) -> list[Derivation]:
        """All ways to the chord of a row on a root, by the table, wide ones as they are."""
        key = (row.name, root)
        if key not in self._made:
            made = list(self._make(row, root)) if row.source else []
            rooted = [form for way in made for form in self._rooted(way, row.tones, root)]
            self._made[key] = made + rooted
        return self._made[key]

    def _make(self, row: MoveRow, root: Spelling) -> Iterator[Derivation]:
        source = self.table.named(row.source)
        starts = [*self._own(source.tones, root)]
        for made in self._ways(source, root):
            starts.append(made)
            easier = self._easier(made, source.tones, root)
            if easier is not None:
                starts.append(easier)
        after = _by_semitones(row.tones)
        for start in starts:
            frets = start.result
            degrees = self._degrees(frets, source.tones, root)
            for rule in row.rules:
                for strings in _strings(rule, degrees):
                    moves = []
                    for string in strings:
                        fret = frets[string]
                        assert fret is not None
                        if not 0 <= fret + rule.frets <= self.instrument.frets:
                            break
                        interval = self._interval(string, fret + rule.frets, root)
                        moves.append(Move(string, rule.frets, rule.degree, after.get(interval, "")))
                    else:
                        if all(move.after for move in moves):
                            yield start.then(tuple(moves))

    def _easier(self, way: Derivation, tones: frozenset[str], root: Spelling) -> Derivation | None:
        """The easier form of a wide shape without root, None when it needs or has none."""
        if way.eased:
            return None
        frets = way.result
        degrees = self._degrees(frets, tones, root)
        if "1" in degrees or self._comfortable(frets):
            return None
        moves = self._to_the_root(frets, degrees, root)
        return replace(way, eased=(moves[0],)) if moves else None

    def _rooted(self, way: Derivation, tones: frozenset[str], root: Spelling) -> list[Derivation]:
        """The forms with the root, for a shape that sounds as another triad.

        A player makes them in one step: the doubled tone goes to the root.
        """
        degrees = self._degrees(way.result, tones, root)
        pitches = self.instrument.pitches(way.result)
        sounding = {pitch % 12 for pitch in pitches if pitch is not None}
        if "1" in degrees or not another_triad(sounding, root.pc):
            return []
        moves = self._to_the_root(way.result, degrees, root)
        return [way.then((move,)) for move in moves if abs(move.frets) <= FARTHEST]

    def _to_the_root(self, frets: Frets, degrees: Degrees, root: Spelling) -> list[Move]:
        """The ways in which a doubled tone may go to the root, the least first."""
        found = []
        for string, degree in enumerate(degrees):
            fret = frets[string]
            if degree is None or fret is None or degrees.count(degree) < 2:
                continue
            for to in range(self.instrument.frets + 1):
                if self._interval(string, to, root) == 0:
                    move = Move(string, to - fret, degree, "1")
                    after = apply(frets, (move,))
                    if self._fingered(after):
                        found.append(move)
        return sorted(found, key=lambda move: (abs(move.frets), move.string, move.frets))

    def _comfortable(self, frets: Frets) -> bool:
        return self.instrument.stretch_mm(frets) <= self.hand.comfort_mm

    def _degrees(self, frets: Frets, tones: frozenset[str], root: Spelling) -> Degrees:
        """The degree on each string, None where it is not sounded or no tone of the chord."""
        names = _by_semitones(tones)
        return [
            None if fret is None else names.get(self._interval(string, fret, root))
            for string, fret in enumerate(frets)
        ]

    def _interval(self, string: int, fret: int, root: Spelling) -> int:
        """Semitones above the root, 0 to 11, of a fret on a string."""
        return (self.instrument.open_pitches[string] + fret - root.pc) % 12


def _strings(rule: MoveRule, degrees: Degrees) -> Iterable[tuple[int, ...]]:
    """The sets of strings that a rule moves, one set for each way of doing it."""
    having = tuple(string for string, degree in enumerate(degrees) if degree == rule.degree)
    if not having or (rule.without and rule.without in degrees):
        return ()
    return (having,) if rule.every else tuple((string,) for string in having)


def _length(way: Derivation) -> tuple[int, int, int, bool]:
    """The order of ways: fewer moves, fewer of them for ease, less far, on the own root."""
    moves = way.moves + way.eased
    return len(moves), len(way.eased), sum(abs(move.frets) for move in moves), bool(way.alike)


def _alike(chord: Chord) -> list[Spelling]:
    """Other roots on which a chord has the very same tones.

    Diminished sevenths repeat every three frets, augmented triads every four (common practice, no
    source; it follows from equal steps).
    """
    pcs = {tone.pc for tone in chord.tones}
    return [
        tone.spelling.plain
        for tone in chord.tones
        if tone.pc != chord.root.pc and {(pc + tone.pc - chord.root.pc) % 12 for pc in pcs} == pcs
    ]


@lru_cache(maxsize=256)
def _by_semitones(tones: frozenset[str]) -> dict[int, str]:
    """The degree by semitones above the root, 0 to 11."""
    return {Degree.parse(degree).semitones % 12: degree for degree in sorted(tones)}


def fewest_moves(
    chord: Chord,
    sources: Iterable[Derivation],
    instrument: Instrument,
    suits: Callable[[Frets], bool],
) -> list[Derivation]:
    """The ways to `chord` from the sources; only results that suit the player count.

    A note that is no tone of the chord has to move, any other may. From each place of each known
    shape the results with the fewest moves are kept, and of these those that move the fewest frets
    in all.
    """
    best: dict[tuple[str, Frets], tuple[int, int]] = {}
    found: dict[tuple[str, Frets], list[Derivation]] = {}
    seen: set[tuple[str, Frets, Frets]] = set()
    for source in sorted(sources, key=lambda way: len(way.moves) + len(way.eased)):
        family = (source.family, source.frets)
        if (*family, source.result) in seen:
            continue
        seen.add((*family, source.result))
        for count, distance, way in _from(source, chord, instrument):
            effort = (count, distance)
            if (family in best and effort > best[family]) or not suits(way.result):
                continue
            if family not in best or effort < best[family]:
                best[family], found[family] = effort, []
            found[family].append(way)
    return [way for ways in found.values() for way in ways]


def _from(
    source: Derivation, chord: Chord, instrument: Instrument
) -> Iterator[tuple[int, int, Derivation]]:
    """Ways from one shape, fewer moves first, each with their number and how far they go."""
    frets = source.result
    opens = instrument.open_pitches
    strings = [string for string, fret in enumerate(frets) if fret is not None]
    wrong = {s for s in strings if chord.degree_of(opens[s] + (frets[s] or 0)) is None}
    for count in range(max(1, len(wrong)), MOST_MOVES + 1):
        for moved in combinations(strings, count):
            if not wrong <= set(moved):
                continue
            kept = {(opens[s] + (frets[s] or 0)) % 12 for s in strings if s not in moved}
            for goals in product(*(_goals(frets[s] or 0, s, chord, instrument) for s in moved)):
                sounding = kept | {(opens[s] + to) % 12 for s, to in zip(moved, goals, strict=True)}
                if chord.essential_pcs <= sounding:
                    moves = tuple(
                        _move(s, frets[s] or 0, to, chord, instrument)
                        for s, to in zip(moved, goals, strict=True)
                    )
                    yield count, sum(abs(move.frets) for move in moves), source.then(moves)


def _goals(fret: int, string: int, chord: Chord, instrument: Instrument) -> list[int]:
    """The frets that a note may go to."""
    low, high = max(0, fret - FARTHEST), min(instrument.frets, fret + FARTHEST)
    pitch = instrument.open_pitches[string]
    return [to for to in range(low, high + 1) if to != fret and chord.degree_of(pitch + to)]


def _move(string: int, fret: int, to: int, chord: Chord, instrument: Instrument) -> Move:
    pitch = instrument.open_pitches[string]
    after = chord.degree_of(pitch + to)
    assert after is not None
    before = chord.degree_of(pitch + fret) or _plain_degree((pitch + fret - chord.root.pc) % 12)
    return Move(string, to - fret, before, after)


def _plain_degree(semitones: int) -> str:
    """The degree of a note that is no tone of the chord, by its distance from the root."""
    return ("1", "b9", "9", "b3", "3", "4", "b5", "5", "#5", "6", "b7", "7")[semitones]
