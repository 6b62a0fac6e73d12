"""Planning and arranging against the number of bars: the time for a bar must not grow.

The measuring tune at 32, 64, 128 and 256 bars, one chorus, planned as `accomp make` does by itself
(fixed) and with a new choice at each change (free). Each length takes turns with 32 bars.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from benchmarks.measure import Measure, in_turns
from benchmarks.pieces import asked_for

ROUNDS = 7
AT_MOST = 1.25  # a bar of a long tune against a bar of 32: linear, with room for noise


def run() -> list[Measure]:
    """Seconds for each length, held against as many times the time for 32 bars."""
    return [
        *_lengths("fixed planning", plan, "fixed"),
        *_lengths("free planning", plan, "free"),
        *_lengths("planning, arranging, performing, notating", whole, "fixed"),
    ]


def _lengths(what: str, work: Callable[..., None], kind: str) -> list[Measure]:
    short = asked_for(32, plan=kind)
    measures = []
    for bars in (64, 128, 256):
        long = asked_for(bars, plan=kind)
        shorter, longer = in_turns([partial(work, short), partial(work, long)], ROUNDS)
        if not measures:
            measures.append(Measure(f"{what}, 32 bars", shorter.median, "s"))
        linear = shorter.median * bars / 32
        measures.append(
            Measure(
                f"{what}, {bars} bars",
                longer.median,
                "s",
                f"{bars // 32} times 32 bars",
                linear,
                longer.over(shorter) * 32 / bars,
                at_most=AT_MOST,
            )
        )
    return measures


def plan(request) -> None:
    """Positions and shapes, nothing else."""
    from accomp.job.versions import versions

    versions(request)


def whole(request) -> None:
    """Everything short of writing."""
    from accomp.job.versions import versions
    from accomp.score.notate import notate
    from accomp.score.perform import perform

    for version in versions(request):
        perform(version.arrangement)
        notate(version.arrangement)
