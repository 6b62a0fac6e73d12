"""What the sections of an imported tune are called.

Conventions: a rehearsal mark is its section's name. Without one a section is "A", "B", ... in the
order played, "Intro" when nobody plays in it and others follow; an ending takes the name of the
passage before it and its number, "A-1". Equal bars have one name, unless marks say otherwise.
"""

from __future__ import annotations

import string
from collections.abc import Iterator, Mapping, Sequence

from accomp.files.text import one_line
from accomp.tune.leadsheet.layout import FormLayout
from accomp.tune.leadsheet.written import WrittenBar
from accomp.tune.model import Bar
from accomp.tune.read import TUNE_KEYS

_LONGEST = 30  # characters of a rehearsal mark that are kept


def section_names(
    bars: Sequence[WrittenBar], played: Sequence[FormLayout], made: Mapping[int, tuple[Bar, ...]]
) -> dict[int, str]:
    """A name for each segment, by its first bar."""
    names: dict[int, str] = {}
    known: dict[object, str] = {}
    taken: dict[str, object] = {}
    letters = _letters({_mark(bars[layout.first]) for layout in played})
    body = ""
    for number, layout in enumerate(played):
        if layout.first in names:
            body = _body(bars, layout, names, body)
            continue
        content = (layout.meter, bars[layout.first].key, made[layout.first])
        mark = _mark(bars[layout.first])
        endings = bars[layout.first].endings
        if mark:
            name = _free(mark, content, taken)
        elif endings and body:
            numbers = "+".join(str(ending) for ending in sorted(endings))
            name = _free(f"{body}-{numbers}", content, taken)
        elif content in known:
            name = known[content]
        elif number == 0 and _silent(made[layout.first]) and len(played) > 1:
            name = _free("Intro", content, taken)
        else:
            name = next(letters)
        taken[name] = content
        known.setdefault(content, name)
        names[layout.first] = name
        body = _body(bars, layout, names, body)
    return names


def _body(
    bars: Sequence[WrittenBar], layout: FormLayout, names: Mapping[int, str], body: str
) -> str:
    """The passage whose endings may follow."""
    return body if bars[layout.first].endings else names[layout.first]


def _mark(bar: WrittenBar) -> str:
    """A rehearsal mark fit for a name."""
    text = " ".join(one_line(bar.mark).split())
    text = text[:_LONGEST].strip()
    return text.capitalize() if text in TUNE_KEYS else text


def _free(name: str, content: object, taken: Mapping[str, object]) -> str:
    """`name`, or with a number after it when another section has it."""
    candidate, number = name, 1
    while candidate in taken and taken[candidate] != content:
        number += 1
        candidate = f"{name} {number}"
    return candidate


def _letters(marks: set[str]) -> Iterator[str]:
    """A, B, ... Z, A2, ... without those that are rehearsal marks."""
    number = 1
    while True:
        for letter in string.ascii_uppercase:
            name = letter if number == 1 else f"{letter}{number}"
            if name not in marks:
                yield name
        number += 1


def _silent(bars: tuple[Bar, ...]) -> bool:
    return all(span.chord is None for bar in bars for span in bar.chords)
