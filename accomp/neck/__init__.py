"""Instruments, players, shapes, fingering and planning. Knows nothing of styles or meters."""

from accomp.neck.chord_shapes import ChordShapes, chord_shapes
from accomp.neck.cost import CostModel
from accomp.neck.hand import Hand, find_hand
from accomp.neck.instrument import Instrument
from accomp.neck.keys import KeyPosition, KeyPositions
from accomp.neck.lesson import Lesson, lesson
from accomp.neck.missing import no_shape
from accomp.neck.moves import Derivation, Move
from accomp.neck.plan import Plan
from accomp.neck.player import Player, Wish
from accomp.neck.positions import Neck
from accomp.neck.propose import propose
from accomp.neck.read import find_instrument, instrument_names, read_instrument
from accomp.neck.repertoire import Repertoire, find_repertoire, read_repertoire
from accomp.neck.search import playable_shapes, shape_at
from accomp.neck.shape import Shape
from accomp.neck.vocabulary import KnownShape, Vocabulary
from accomp.neck.weights import Weights, default_weights, read_weights

__all__ = [
    "ChordShapes",
    "CostModel",
    "Derivation",
    "Hand",
    "Instrument",
    "KeyPosition",
    "KeyPositions",
    "KnownShape",
    "Lesson",
    "Move",
    "Neck",
    "Plan",
    "Player",
    "Repertoire",
    "Shape",
    "Vocabulary",
    "Weights",
    "Wish",
    "chord_shapes",
    "default_weights",
    "find_hand",
    "find_instrument",
    "find_repertoire",
    "instrument_names",
    "lesson",
    "no_shape",
    "playable_shapes",
    "propose",
    "read_instrument",
    "read_repertoire",
    "read_weights",
    "shape_at",
]
