"""Tones that the band's bass plays because a grip leaves them out or has another one lowest.

Conventions: the bass player has the bass of a slash chord when another tone of the grip is lowest,
and the root of any other chord when the grip leaves it out. Tones of the grip are not named.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from accomp.files.text import word_list
from accomp.harmony import Chord, Spelling, parse_chord
from accomp.neck.shape import Shape


def left_to_the_bass(chord: Chord, shape: Shape) -> Spelling | None:
    """The tone of a chord that the band's bass has to play, None where the shape has it."""
    if chord.bass is not None:
        return None if shape.voices[-1] % 12 == chord.bass.pc else chord.bass
    return chord.root if shape.rootless else None


def bass_has(pairs: Iterable[tuple[Chord, Shape]], say: Callable[[Chord], str] = str) -> list[str]:
    """One sentence about some chords and their shapes: "The bass has the A of Dm/A.", or none."""
    told = [
        f"the {say(parse_chord(str(tone.plain)))} of {say(chord)}"
        for chord, shape in dict.fromkeys(pairs)
        for tone in [left_to_the_bass(chord, shape)]
        if tone is not None
    ]
    return [f"The bass has {word_list(told)}."] if told else []
