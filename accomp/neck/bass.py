"""What the band's bass has of a chord that a grip has not, or not lowest.

Conventions: a slash chord's bass belongs to the bass player where the grip has another tone lowest;
so does the root of a chord that the grip has without it. What a grip has itself is not spoken of.
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
