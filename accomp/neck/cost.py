"""The cost model: what shapes and changes cost one player, term by term.

Conventions: the cost of a shape or change is the sum of amount x weight over its terms. Amounts are
never negative: lengths are counted in units of 10 mm, pitches in semitones, the rest in pieces. The
terms are those of `accomp.neck.weights`, in that order. Costs have no unit; only their order
matters.

Learning is a cost of the tune and not of a shape: `learning` is paid once for each new family (see
`accomp.neck.learning`), however often its shapes are played.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

from accomp.harmony import Chord
from accomp.neck.hand import Hand
from accomp.neck.instrument import Instrument
from accomp.neck.shape import Shape, another_triad
from accomp.neck.weights import CHANGE_TERMS, SHAPE_TERMS, ChangeTerm, Term, Weights

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_THIRDS_AND_SEVENTHS = frozenset({"b3", "3", "bb7", "b7", "7"})
_ONE_EACH = 4  # on more strings than a chord has tones, some tone has to sound twice
_FOUR_STRINGS = 4
_BASS_BELOW = 48  # C3: a lowest note under it is heard as the bass of a chord
UNIT_MM = 10.0
# Small enough to decide only between equal costs, for the plan on the lower frets.
TIE = 1e-9
FINGERS = (1, 2, 3, 4)
_SILENT = -1  # stands for the fret of a string that is not sounded


class CostModel:
    """Costs of shapes and changes on one instrument for one hand; each is worked out once.

    `choked`: the style chokes, and open strings would ring on. `rings`: open strings are to ring
    on, as in a folk tune of few chords.
    """

    def __init__(
        self,
        instrument: Instrument,
        hand: Hand,
        weights: Weights,
        *,
        choked: bool = False,
        rings: bool = False,
    ) -> None:
        self.instrument = instrument
        self.hand = hand
        self.weights = weights
        self.choked = choked
        self.rings = rings
        self._shapes: dict[tuple[int, Chord], float] = {}
        self._changes: dict[tuple[int, int], float] = {}
        self._kept: dict[int, Shape] = {}  # ids are keys only while their shapes live

    def shape(self, shape: Shape, chord: Chord) -> float:
        """Cost of playing a shape once."""
        key = (id(shape), chord)
        cost = self._shapes.get(key)
        if cost is None:
            self._kept[id(shape)] = shape
            cost = _weigh(self._shape_amounts(shape, chord), self.weights.shape)
            self._shapes[key] = cost
        return cost

    def shape_terms(self, shape: Shape, chord: Chord) -> dict[Term, float]:
        """Cost of playing a shape once by term, without those that are zero."""
        amounts = self._shape_amounts(shape, chord)
        return _by_name(SHAPE_TERMS, amounts, self.weights.shape)

    def change(self, here: Shape, there: Shape) -> float:
        """Cost of going from one shape to another; nothing when the hand stays as it is."""
        key = (id(here), id(there))
        cost = self._changes.get(key)
        if cost is None:
            self._kept[id(here)], self._kept[id(there)] = here, there
            cost = _weigh(change_amounts(here, there, self.instrument), self.weights.change)
            self._changes[key] = cost
        return cost

    def change_terms(self, here: Shape, there: Shape) -> dict[Term, float]:
        """Cost of a change by term, without those that are zero."""
        amounts = change_amounts(here, there, self.instrument)
        return _by_name(CHANGE_TERMS, amounts, self.weights.change)

    def change_table(self, here: ShapeRow, there: ShapeRow) -> Floats:
        """Cost of going from each shape of `here` to each of `there`, as an array."""
        return _change_table(here, there, dict(zip(CHANGE_TERMS, self.weights.change, strict=True)))

    def _shape_amounts(self, shape: Shape, chord: Chord) -> tuple[float, ...]:
        return shape_amounts(
            shape, chord, self.instrument, self.hand, choked=self.choked, rings=self.rings
        )


def tie_break(shape: Shape) -> float:
    """A tiny cost that only planning adds, so that ties go to the lower frets."""
    return TIE * sum(shape.fretted)


def _weigh(amounts: Sequence[float], weights: Sequence[float]) -> float:
    return sum(map(float.__mul__, amounts, weights))


def _by_name(
    terms: Sequence[Term], amounts: Sequence[float], weights: Sequence[float]
) -> dict[Term, float]:
    return {
        term: amount * weight
        for term, amount, weight in zip(terms, amounts, weights, strict=True)
        if amount * weight
    }


def shape_amounts(
    shape: Shape,
    chord: Chord,
    instrument: Instrument,
    hand: Hand,
    *,
    choked: bool = False,
    rings: bool = False,
) -> tuple[float, ...]:
    """The amounts of `SHAPE_TERMS` for one shape; `choked` and `rings` as in `CostModel`."""
    used = [finger for finger in shape.fingers if finger]
    sounding = [degree for degree in shape.degrees if degree is not None]
    doubled = sum(max(0, sounding.count(degree) - 1) for degree in _THIRDS_AND_SEVENTHS)
    return (
        shape.stretch_mm / UNIT_MM,
        max(0.0, shape.stretch_mm - hand.comfort_mm) / UNIT_MM,
        float(len(set(used))),
        float(sum(used.count(finger) > 1 for finger in set(used))),
        float(_across(shape)),
        float(max(0, shape.lowest_fret - 1)),
        float(shape.rootless),
        float(another_triad({pitch % 12 for pitch in shape.voices}, chord.root.pc)),
        float("5" in chord.degrees and "5" not in sounding),
        float(max(0, doubled - max(0, len(sounding) - _ONE_EACH))),
        float(_inverted(shape, chord)),
        float(_crossed(shape, instrument)),
        mud(shape),
        float(shape.frets.count(0) if choked else 0),
        float(len(shape.fretted) if rings else 0),
        float(_bass_elsewhere(shape, chord)),
    )


def mud(shape: Shape) -> float:
    """How much too close low neighbouring notes lie: the sum, in semitones.

    Below middle C a clear interval is at least (60 - lower note) / 3 semitones: a major third on
    C3, a fifth on E2. From memory of low-interval limits in arranging textbooks.
    """
    pitches = shape.voices[::-1]
    return sum(max(0.0, (60 - low) / 3.0 - (high - low)) for low, high in pairwise(pitches))


def _crossed(shape: Shape, instrument: Instrument) -> int:
    opens = instrument.open_pitches
    count = 0
    for index in range(len(opens) - 1):
        low, high = shape.pitches[index], shape.pitches[index + 1]
        if low is not None and high is not None and opens[index] < opens[index + 1]:
            count += low >= high
    return count


def _across(shape: Shape) -> int:
    """How many strings beyond four each finger lies over, added up; it is as long as four."""
    over = [strings[-1] - strings[0] + 1 for _, strings in shape.stops]
    return sum(max(0, count - _FOUR_STRINGS) for count in over)


def _inverted(shape: Shape, chord: Chord) -> int:
    """1 when a third is lowest where a bass is heard, 4 for any other tone.

    It is 0 for the root, the fifth, and the bass that the chord names.
    """
    low = shape.voices[-1]
    if low >= _BASS_BELOW or low % 12 in {chord.root.pc, chord.bass and chord.bass.pc}:
        return 0
    degree = chord.by_pc[low % 12].degree.lstrip("b#")
    return {"5": 0, "3": 1}.get(degree, 4)


def _bass_elsewhere(shape: Shape, chord: Chord) -> bool:
    if chord.bass is None or chord.bass.pc not in chord.by_pc:
        return False
    return shape.voices[-1] % 12 != chord.bass.pc


def change_amounts(here: Shape, there: Shape, instrument: Instrument) -> tuple[float, ...]:
    """The amounts of `CHANGE_TERMS` for going from one shape to another.

    The hand's place is that of its lowest fretted fret; when one of the shapes frets nothing, the
    hand does not move.
    """
    put_down, lifted, slid = finger_counts(here, there)
    return (
        abs(shift_mm(here, there, instrument)) / UNIT_MM,
        float(put_down),
        float(lifted),
        float(slid),
        float(abs(here.top_pitch - there.top_pitch)),
        float(_voices(here, there)),
        float(_beside_the_line(here, there)),
    )


def shift_mm(here: Shape, there: Shape, instrument: Instrument) -> float:
    """How far the hand moves toward the bridge, in mm; negative toward the nut."""
    low, lower = here.lowest_fret, there.lowest_fret
    return instrument.fret_mm(lower) - instrument.fret_mm(low) if low and lower else 0.0


def shift_frets(here: Shape, there: Shape) -> int:
    """How far the hand moves toward the bridge, in frets; negative toward the nut."""
    low, lower = here.lowest_fret, there.lowest_fret
    return lower - low if low and lower else 0


def finger_counts(here: Shape, there: Shape) -> tuple[int, int, int]:
    """How many fingers come down, lift and slide; see `accomp.neck.fingers` for each word."""
    put_down = slid = lifted = 0
    before, after = here.frets, there.frets
    taken: set[int] = set()  # strings of fingers that stay or take over
    for finger, strings in there.stops:
        if all(before[index] == after[index] for index in strings):
            taken.update(strings)
            continue
        if any(here.fingers[i] == finger and before[i] != after[i] for i in strings):
            slid += 1
        else:
            put_down += 1
    for finger, strings in here.stops:
        if finger not in there.fingers and not taken.issuperset(strings):
            lifted += 1
    return put_down, lifted, slid


def _voices(here: Shape, there: Shape) -> int:
    """Semitones that the voices move in all, paired from the highest down."""
    return sum(abs(a - b) for a, b in zip(here.voices, there.voices, strict=False))


def _beside_the_line(here: Shape, there: Shape) -> int:
    """Between chords on one root: how many strings move besides the one that carries the line.

    In I I+ I6 I7, or i i(maj7) i7 i6, one voice moves on one string and the rest stays.
    """
    if here.root_pc != there.root_pc:
        return 0
    moving = sum(a != b for a, b in zip(here.frets, there.frets, strict=True))
    return max(0, moving - 1)


class ShapeRow:
    """Very many shapes: each property from which changes are counted, as an array.

    Only six strings, many of them open, give so many shapes that this pays.
    """

    def __init__(self, shapes: Sequence[Shape], instrument: Instrument) -> None:
        import numpy as np  # late: the usual tune never needs it

        self.frets = np.array(
            [[_SILENT if fret is None else fret for fret in shape.frets] for shape in shapes]
        )
        self.fingers = np.array([shape.fingers for shape in shapes])
        self._bits = 1 << np.arange(self.fingers.shape[1], dtype=np.int64)
        self.low = np.array([shape.lowest_fret for shape in shapes])
        self.place = np.array([instrument.fret_mm(shape.lowest_fret) for shape in shapes])
        self.root = np.array([shape.root_pc for shape in shapes])
        self.top = np.array([float(shape.top_pitch) for shape in shapes])
        most = len(instrument.strings)
        missing = float("nan")
        self.voices = np.array(
            [[*map(float, s.voices), *[missing] * (most - len(s.voices))] for s in shapes]
        )

    def strings_of(self, finger: int) -> NDArray[np.int64]:
        """For each shape the strings that a finger stops, as the bits of a number."""
        on: NDArray[np.int64] = (self.fingers == finger) @ self._bits
        return on


def _change_table(here: ShapeRow, there: ShapeRow, weights: Mapping[ChangeTerm, float]) -> Floats:
    """The weighted sums of `change_amounts` for all pairs, an array of shape (here, there).

    The strings on which a pair differs are the bits of one number, so that one operation asks
    about all strings.
    """
    import numpy as np

    differs = np.zeros((len(here.frets), len(there.frets)), dtype=np.int64)
    many = np.zeros(differs.shape, dtype=np.int64)
    for string in range(here.frets.shape[1]):
        unlike = here.frets[:, string, None] != there.frets[None, :, string]
        differs |= unlike.astype(np.int64) << string
        many += unlike
    moving = (here.low[:, None] > 0) & (there.low[None, :] > 0)
    shift = np.abs(here.place[:, None] - there.place[None, :]) * moving / UNIT_MM
    total: Floats = weights["shift"] * shift
    total += weights["top"] * np.abs(here.top[:, None] - there.top[None, :])
    one_root = here.root[:, None] == there.root[None, :]
    if one_root.any():
        total += weights["line"] * one_root * np.maximum(many - 1, 0)
    for voice in range(here.voices.shape[1]):
        apart = np.abs(here.voices[:, voice, None] - there.voices[None, :, voice])
        total += weights["voices"] * np.fmax(apart, 0.0)  # nothing for a voice that one shape lacks
    taken = np.zeros_like(differs)
    for finger in FINGERS:
        on, before = there.strings_of(finger), here.strings_of(finger)
        moved = differs & on[None, :]
        slides = (moved & before[:, None]) != 0
        total += weights["slid"] * slides + weights["put_down"] * ((moved != 0) & ~slides)
        taken |= np.where(moved == 0, on[None, :], 0)
    for finger in FINGERS:
        on, before = there.strings_of(finger), here.strings_of(finger)
        left = ((before[:, None] & ~taken) != 0) & (on == 0)[None, :]
        total += weights["lifted"] * left
    return total
