"""The cheapest way round a cycle, and the cheapest fixed choice, by trying every combination."""

from __future__ import annotations

from itertools import product


def cheapest_cycle(candidates, own, change):
    """Least sum over all combinations, one candidate a place, last to first included."""
    return min(
        sum(own(i, path[i]) + change(path[i], path[(i + 1) % len(path)]) for i in range(len(path)))
        for path in product(*candidates)
    )


def cheapest_fixed(sequence, candidates, own, change):
    """Least sum when each symbol of `sequence` keeps one of its candidates."""
    symbols = list(dict.fromkeys(sequence))
    best = None
    for choice in product(*(candidates[symbol] for symbol in symbols)):
        chosen = dict(zip(symbols, choice, strict=True))
        total = sum(own(symbol, chosen[symbol]) for symbol in sequence) + sum(
            change(chosen[a], chosen[b])
            for a, b in zip(sequence, sequence[1:] + sequence[:1], strict=True)
        )
        if best is None or total < best:
            best = total
    return best
