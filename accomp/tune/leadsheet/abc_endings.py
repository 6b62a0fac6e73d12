"""Where the last ending of an ABC tune ends.

Conventions: ABC ends a bracket at the next double bar line or repeat sign, and many files go on
after a last ending without one. A later ending is therefore taken to be as long as the first one.
"""

from __future__ import annotations

from dataclasses import replace

from accomp.tune.leadsheet.written import WrittenBar, WrittenTune


def cut_endings(bars: list[WrittenBar], tune: WrittenTune) -> list[WrittenBar]:
    """The bars with later endings cut to the length of the first; a notice where it matters."""
    result = list(bars)
    first = inside = 0
    for at, bar in enumerate(bars):
        if not bar.endings:
            first = inside = 0
            continue
        if bar.opens_ending:
            first, inside = first or inside, 0
        inside += 1
        if first and inside > first:
            result[at] = replace(bar, endings=frozenset())
            if inside == first + 1 and _goes_back(bars, at):
                tune.notice(
                    bar.number, "the ending before it is taken to be as long as the first one"
                )
    return result


def _goes_back(bars: list[WrittenBar], at: int) -> bool:
    """Whether the bracket over bar `at` closes with a repeat sign."""
    end = at + 1
    while end < len(bars) and bars[end].endings and not bars[end].opens_ending:
        end += 1
    return bars[end - 1].repeat_end > 0
