"""The bass as noteheads: a tone of the chord keeps its name in it, others have the key's."""

from __future__ import annotations

from accomp.harmony import Pitch
from accomp.score.arrangement import ArrangedBar, BandStroke
from accomp.score.notate_rhythm import Sounding
from accomp.score.written import WrittenNote


def bass_sounds(arranged: ArrangedBar) -> list[Sounding]:
    """What the bass plays in a bar, in order, counted from the bar line."""
    start = arranged.bar.start
    return [
        Sounding(
            span=stroke.span.shifted(-start),
            notes=(WrittenNote(_pitch(stroke, arranged)),),
            marks=frozenset({"accent"} if stroke.force == "accent" else ()),
        )
        for stroke in arranged.bass
    ]


def _pitch(stroke: BandStroke, arranged: ArrangedBar) -> Pitch:
    pc = stroke.pitch % 12
    for change in arranged.changes:
        if change.chord is None or stroke.span.start not in change.span:
            continue
        names = [change.chord.bass, change.chord.root]
        names += [tone.spelling for tone in change.chord.tones]
        for name in names:
            if name is not None and name.pc == pc:
                return Pitch.spelled(stroke.pitch, name)
    return Pitch.spelled(stroke.pitch, arranged.bar.key.spell(pc))
