"""What heads every page of a tune, and its name in contents and bookmarks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from accomp.score.arrangement import Arrangement
from accomp.score.notate_layout import reader_title, reading_interval, reading_key
from accomp.score.readers import Reader
from accomp.write.page_text import PageText, key_text


@dataclass(frozen=True, slots=True)
class Place:
    """Where a page stands: whether it is its tune's first, and that page's address in a book."""

    first: bool = True
    label: str | None = None


_VALUES = {1: "whole", 2: "half", 4: "quarter", 8: "eighth"}


def tune_data(
    arrangement: Arrangement, text: PageText, place: Place, reader: Reader, *, own: bool
) -> dict[str, Any]:
    """The data of a tune's head, as its reader has it; `own` says that he plays the strummed
    part."""
    title = text(arrangement.title, "The title") or "Untitled"
    composer = text(arrangement.composer, "The composer's name")
    key = arrangement.key
    read = key_text(reading_key(key, reading_interval(reader, key)))
    style = arrangement.bars[0].style if arrangement.bars else None
    facts = []
    if style is not None:
        swings = style.swing_at(arrangement.tempo) != 1 and "swing" not in style.title.lower()
        facts.append(text(style.title, "The style's title") + (", swing" if swings else ""))
    if own:
        positions = dict.fromkeys(plan.name for plan in arrangement.plans if plan.name)
        where = " and ".join(positions)
        facts.append(", ".join(filter(None, (arrangement.instrument.title, where))))
    elif reader_title(reader):
        facts.append(reader_title(reader))
    return {
        "title": title,
        "short": shortened(title, 70),
        "title-size": max(13.0, min(25.0, 1100.0 / max(len(title), 1))),
        "composer": composer,
        "key": read,
        "meter": str(arrangement.bars[0].bar.meter) if arrangement.bars else "",
        "tempo": tempo_data(arrangement),
        "facts": facts,
        "running": read,
        "entry": f"{shortened(title, 90)}, {read}",
        "label": place.label,
    }


def shortened(text: str, most: int) -> str:
    """A text of at most `most` signs, cut at a word where that is near."""
    if len(text) <= most:
        return text
    head = text[: most - 1]
    return f"{head[: head.rfind(' ')] if head.rfind(' ') > most * 0.6 else head}…"


def tempo_data(arrangement: Arrangement) -> dict[str, Any]:
    """The metronome mark: a note value, whether it has a dot, and the number."""
    beat = arrangement.beat
    dotted = beat.numerator == 3
    plain = beat * 2 / 3 if dotted else beat
    number = f"{arrangement.tempo:g}"
    return {"value": _VALUES[plain.denominator], "dotted": dotted, "number": number}
