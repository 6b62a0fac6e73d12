"""Parts that all pages of a tune share: head, name in contents and bookmarks, pictures of boxes."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from accomp.harmony import Chord
from accomp.neck import Shape
from accomp.score.arrangement import Arrangement
from accomp.score.notate_layout import ScoreLayout, reader_title, reading_interval, reading_key
from accomp.score.readers import Reader
from accomp.write.diagram import box_size, chord_box_svg
from accomp.write.formats import BoxLayout
from accomp.write.page_text import PageText, chord_text, ems, key_text
from accomp.write.pages import Pictures


@dataclass(frozen=True, slots=True)
class PageAddress:
    """Whether a page is the first of its tune, and the address of that first page in a book."""

    first: bool = True
    label: str | None = None


@dataclass(frozen=True, slots=True)
class Printing:
    """How parts are printed: one page or more for each layout, and where their boxes stand.

    The first layout's reader is the one that all pages are for.
    """

    layouts: tuple[ScoreLayout, ...] = (ScoreLayout(bass=False),)
    boxes: BoxLayout = "top"

    @property
    def reader(self) -> Reader:
        """For whom the pages are."""
        return self.layouts[0].reader


OWN = Printing()  # the player's own pages: notation with TAB


_PT_MM = 25.4 / 72
_VALUES = {1: "whole", 2: "half", 4: "quarter", 8: "eighth"}


def tune_data(
    arrangement: Arrangement, text: PageText, address: PageAddress, reader: Reader, *, own: bool
) -> dict[str, Any]:
    """The data of a tune's head for a reader; `own` says that they play the strummed part."""
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
        "title-size": _title_pt(title),
        "composer": composer,
        "key": read,
        "meter": str(arrangement.bars[0].bar.meter) if arrangement.bars else "",
        "tempo": tempo_data(arrangement),
        "facts": facts,
        "running": read,
        "entry": f"{shortened(title, 90)}, {read}",
        "label": address.label,
    }


def _title_pt(title: str) -> float:
    return max(13.0, min(25.0, 1100.0 / max(len(title), 1)))


# Measured on the typesetter's output: the height of the facts under the title, the white between
# title and composer, and in ems a line of the title and the white between two lines.
_FACTS_MM, _COMPOSER_MM, _LINE_EMS, _LEADING_EMS = 8.3, 8.0, 0.66, 0.6
_WRAPPED = 1.1  # lines that break at words are not full


def title_mm(arrangement: Arrangement, width_mm: float) -> float:
    """The estimated height in mm of a tune's title and the facts under it."""
    title, composer = arrangement.title, arrangement.composer
    em_mm = _title_pt(title) * _PT_MM
    beside_mm = ems(composer) * 10 * _PT_MM + _COMPOSER_MM
    room_mm = max(width_mm / 6, width_mm - beside_mm)
    lines = math.ceil(ems(title) * em_mm * _WRAPPED / room_mm) or 1
    return _FACTS_MM + em_mm * (lines * _LINE_EMS + (lines - 1) * _LEADING_EMS)


def shortened(text: str, most: int) -> str:
    """A text of at most `most` signs, cut at the end of a word where one is near."""
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


_USUAL_WIDTH = 63.0  # of a box with four strings, in its own units


def shapes_in_order(arrangement: Arrangement) -> tuple[tuple[Chord, Shape], ...]:
    """Each chord with each of its shapes, in order of first use."""
    pairs = (
        (change.chord, change.shape)
        for bar in arrangement.bars
        for change in bar.changes
        if change.chord is not None and change.shape is not None
    )
    return tuple(dict.fromkeys(pairs))


def box_data(
    pairs: Iterable[tuple[Chord | str, Shape]], pictures: Pictures
) -> list[dict[str, Any]]:
    """A picture for each pair; `scale` is its width, `high` its height, both as shares of the width
    of a box with four strings."""
    return [
        {
            "picture": pictures.add(
                chord_box_svg(shape, name if isinstance(name, str) else chord_text(name))
            ),
            "scale": box_size(shape).width / _USUAL_WIDTH,
            "high": box_size(shape).height / _USUAL_WIDTH,
        }
        for name, shape in pairs
    ]
