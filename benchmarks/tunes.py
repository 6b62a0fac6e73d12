"""Tune files of any length for the benchmarks: a 32-bar form made for this, repeated.

Conventions: bars in 4/4; the text is a whole tune file.
"""

from __future__ import annotations

_BRIDGE = "| Am7 | D7 | Am7 | D7 | Gm7 | C7 | Gm7 / C7 / | C7#5 |"
_OUT = "| F | F#dim7 | Gm7 | C7 | F / F7 / | Bb / Bbm6 / | F / D7 / | G7 / C7 / |"


def tune_text(bars: int = 32, title: str = "Measuring Mile") -> str:
    """A tune of `bars` bars (a multiple of 32), AABA each 32."""
    if bars % 32 or bars <= 0:
        raise ValueError(f"a multiple of 32 bars, not {bars}")
    form = ", ".join(['"A", "A", "B", "A"'] * (bars // 32))
    return (
        f'title = "{title}"\nkey = "F"\nmeter = "4/4"\ntempo = 168\nform = [{form}]\n\n'
        f'[sections]\nA = "{_OUT}"\nB = "{_BRIDGE}"\n'
    )
