"""The player, and their wish for positions.

Conventions: a player has one instrument. What they know is a repertoire; their vocabulary is all
that can be made from it on that instrument by that hand, and follows from these. A position is
named by the degree that its home chord has on top ("third-top"), or by the lowest fret of the
index finger ("5").
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from typing import Literal, get_args

from accomp.errors import InputError, Problem
from accomp.files.text import word_list
from accomp.harmony import Chord
from accomp.neck.cost import CostModel
from accomp.neck.fingering import Frets
from accomp.neck.hand import Hand
from accomp.neck.instrument import Instrument
from accomp.neck.propose import propose
from accomp.neck.repertoire import Repertoire, find_repertoire
from accomp.neck.search import playable_shapes
from accomp.neck.shape import Shape
from accomp.neck.vocabulary import Vocabulary
from accomp.neck.weights import Weights, default_weights

SPAN_FRETS = 3  # the index finger stays within so many frets of its lowest place
ALL = "all"
# Each vocabulary includes the one before it: the first shapes and what is made from them, the
# inversions, every playable shape.
VocabularyName = Literal["first", "inversions", "all"]
VOCABULARIES: tuple[VocabularyName, ...] = get_args(VocabularyName)
FIRST: VocabularyName = "first"
INVERSIONS: VocabularyName = "inversions"
EVERY: VocabularyName = "all"


@dataclass(frozen=True)
class Player:
    """Who plays on what.

    `repertoire` holds the shapes they know already; `mute` allows shapes that leave one string more
    out; `weights` say what is hard for them. Raises `InputError` when the repertoire is for another
    tuning.
    """

    instrument: Instrument
    hand: Hand
    repertoire: Repertoire
    mute: bool = False
    weights: Weights = field(default_factory=default_weights)

    def __post_init__(self) -> None:
        if self.repertoire.strings != self.instrument.strings:
            found, tuning = (
                " ".join(map(str, one.strings)) for one in (self.repertoire, self.instrument)
            )
            title = self.instrument.title
            raise InputError(
                Problem(
                    f"the repertoire {self.repertoire.title!r} is not for {title}, tuned {tuning}.",
                    found=found,
                    expected=tuning,
                    hint="Choose another repertoire or another instrument.",
                )
            )

    def __repr__(self) -> str:
        return f"<Player of {self.instrument.name}, {self.hand.name} hand>"

    @classmethod
    def on(
        cls,
        instrument: Instrument,
        hand: Hand,
        repertoire: Repertoire | None = None,
        *,
        mute: bool = False,
        weights: Weights | None = None,
    ) -> Player:
        """A player; the repertoire and weights are the usual ones where none are given.

        The usual repertoire is that of the instrument's data file or, without one, a proposal.
        """
        return cls(
            instrument,
            hand,
            repertoire or find_repertoire(instrument) or propose(instrument, hand),
            mute,
            weights or default_weights(),
        )

    @property
    def vocabulary(self) -> Vocabulary:
        """All shapes they know or can make; the same value for all players who know the same."""
        return _vocabulary(self.repertoire, self.instrument, self.hand, self.mute)

    def cost_model(self, *, choked: bool = False, rings: bool = False) -> CostModel:
        """The costs of shapes and changes for them; `choked` and `rings` as in `CostModel`."""
        return CostModel(self.instrument, self.hand, self.weights, choked=choked, rings=rings)

    def playable(self, chord: Chord) -> tuple[Shape, ...]:
        """Every shape of a chord that they can play, known or not, from the nut upward."""
        return playable_shapes(chord, self.instrument, self.hand, mute=self.mute)


@lru_cache(maxsize=16)
def _vocabulary(
    repertoire: Repertoire, instrument: Instrument, hand: Hand, mute: bool
) -> Vocabulary:
    """Kept, since a tune is planned in many keys and positions for one player."""
    return Vocabulary(repertoire, instrument, hand, mute=mute)


@dataclass(frozen=True, slots=True)
class Wish:
    """A wish: which positions, and of which shapes.

    `positions` names them; without any, all that there are, as with "all". `closed`: no open
    strings at all (True), open strings anywhere (False), or as the home chord has them (None).
    `one_shape`: a chord has one shape; otherwise it may differ at each change. `vocabulary` says
    which shapes may be taken: the `first` ones that the repertoire makes, these and `inversions`,
    or `all` playable ones; what the repertoire does not make has to be learnt. The index finger
    stays within `span_frets` of its lowest place. `choked` says that the style chokes.
    `pins` are shapes to be kept for a chord, `tops` pitch classes wished on top, each with the
    index of its chord in the sequence. Where a top is wished, a chord may have a shape of its own
    even with `one_shape`.

    Raises `InputError` for a wish that makes no sense.
    """

    positions: tuple[str, ...] = ()
    closed: bool | None = None
    one_shape: bool = True
    vocabulary: VocabularyName = INVERSIONS
    span_frets: int = SPAN_FRETS
    choked: bool = False
    pins: tuple[tuple[Chord, Frets], ...] = ()
    tops: tuple[tuple[int, int], ...] = ()

    def __post_init__(self) -> None:
        if not all(name.strip() for name in self.positions):
            expected = 'the name of a position, as "third-top", or a fret'
            raise InputError(Problem("a position has no name.", found="", expected=expected))
        if self.vocabulary not in VOCABULARIES:
            raise InputError(
                Problem(
                    f"{self.vocabulary!r} is no vocabulary.",
                    found=self.vocabulary,
                    expected=word_list(VOCABULARIES, " or "),
                )
            )
        if self.span_frets < 0:
            raise InputError(
                Problem(
                    f"the index finger cannot stay within {self.span_frets} frets.",
                    found=str(self.span_frets),
                    expected="0 frets or more",
                )
            )


NO_WISH = Wish()
