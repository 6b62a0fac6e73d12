"""From a way through the tune to a `Plan` with its costs term by term and its notices.

Conventions: notices are whole sentences for the player.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from accomp.harmony import Chord
from accomp.neck.naming import frets_text, join
from accomp.neck.plan import Plan
from accomp.neck.pools import Candidate
from accomp.neck.pricing import Pricing


def make_plan(
    name: str,
    chords: Sequence[Chord],
    path: Sequence[Candidate],
    pricing: Pricing,
    fallen_back: Sequence[Chord],
    gap: float,
    *,
    fixed: bool,
) -> Plan:
    """The plan of a way. `gap` is how much cheaper another way could be, in cost."""
    shapes = tuple(one.shape for one in path)
    terms: Counter[str] = Counter()
    for place, (chord, one) in enumerate(zip(chords, path, strict=True)):
        terms.update(pricing.shape_terms(one.shape, chord, one.known is not None))
        there = shapes[(place + 1) % len(shapes)]
        if there is not one.shape:
            terms.update(pricing.change_terms(one.shape, there))
    cost = sum(terms.values())
    share = min(1.0, gap / cost) if cost > 0 else 0.0
    proved = share < 1e-9  # what rounding leaves
    notices = []
    if fallen_back:
        taken = {
            f"{chord} {frets_text(one.shape.frets)}"
            for chord, one in zip(chords, path, strict=True)
            if chord in fallen_back
        }
        notices.append(
            f"{name}: nothing made from the repertoire lies in this area for "
            f"{join([str(chord) for chord in fallen_back])}; taken from all playable shapes: "
            f"{join(sorted(taken))}."
        )
    if not proved:
        notices.append(
            f"{name}: the search stopped before the proof; another plan could be at most "
            f"{share:.1%} cheaper."
        )
    return Plan(
        name=name,
        path=shapes,
        cost=cost,
        terms=dict(terms),
        proved=proved,
        gap=0.0 if proved else share,
        notices=tuple(notices),
        known=tuple(one.known for one in path),
        fixed=fixed,
    )
