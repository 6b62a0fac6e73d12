"""Instruments, shapes, fingering and planning. Knows nothing of styles or meters."""

from accomp.neck.costs import Costs, default_costs, read_costs
from accomp.neck.derivation import Derivation, Move
from accomp.neck.derive import Knowledge, Known
from accomp.neck.hand import Hand, find_hand, hand_names
from accomp.neck.instrument import Instrument
from accomp.neck.keys import KeyPosition, KeyPositions, keys
from accomp.neck.lesson import Lesson, lesson
from accomp.neck.missing import no_shape
from accomp.neck.plan import Plan
from accomp.neck.positions import plan_at, positions
from accomp.neck.pricing import Pricing
from accomp.neck.propose import propose, repertoire_for
from accomp.neck.read import find_instrument, instrument_names, read_instrument
from accomp.neck.repertoire import Repertoire, find_repertoire, read_repertoire
from accomp.neck.search import playable_shapes, shape_at
from accomp.neck.shape import Shape

__all__ = [
    "Costs",
    "Derivation",
    "Hand",
    "Instrument",
    "KeyPosition",
    "KeyPositions",
    "Knowledge",
    "Known",
    "Lesson",
    "Move",
    "Plan",
    "Pricing",
    "Repertoire",
    "Shape",
    "default_costs",
    "find_hand",
    "find_instrument",
    "find_repertoire",
    "hand_names",
    "instrument_names",
    "keys",
    "lesson",
    "no_shape",
    "plan_at",
    "playable_shapes",
    "positions",
    "propose",
    "read_costs",
    "read_instrument",
    "read_repertoire",
    "repertoire_for",
    "shape_at",
]
