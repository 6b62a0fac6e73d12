"""The chord chart: the form at a glance, chords large enough to be read at arm's length.

Conventions: type sizes in points; 14 is the least for a chord. Times in a bar are shown by place:
a chord stands where it begins. A bar in which nothing changes has a dash. The road map is shown as
in the part, with repeats, endings and jumps (`accomp.score.notate_chart`). When the page would be
too full, every section is written once, and a line with the form says the order.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby
from typing import Any

from accomp.neck.naming import ordinal
from accomp.rhythm.stroke import Technique
from accomp.score.arrangement import ArrangedBar, Arrangement
from accomp.score.notate_chart import chart_measures, of_form, times_through
from accomp.score.readers import Reader
from accomp.score.written import Measure
from accomp.write.page_text import PageText, chord_text, ems
from accomp.write.pages import PageMaterials
from accomp.write.sheet_pattern import stroke_sign
from accomp.write.sheet_signs import stroke_signs
from accomp.write.sheet_tune import PageAddress, tune_data

LEAST_PT, MOST_PT = 14.0, 27.0
_MARGIN_MM = 21.0
_HEAD_MM = 34.0
_MM_PT = 72 / 25.4
# Heights in ems: a row, the least and the most white between two, and what a section adds.
_ROW_EMS, _LEAST_GAP, _MOST_GAP, _SECTION_EMS = 1.6, 0.42, 1.1, 0.35
_GAP_EMS = 0.55  # the least space after a chord

ChartCell = tuple[str, float]  # a text and its share of the bar


@dataclass(frozen=True)
class _ChartBar:
    """A bar to write: its chords, repeat signs (how often in all), the words over and after it.

    `bracket` says that the bar is in an ending, `bracket_start` that the ending begins here; `sign`
    is "segno", "coda" or "".
    """

    cells: tuple[ChartCell, ...]
    repeat_start: bool = False
    repeat_end: int = 0
    over: str = ""
    after: str = ""
    bracket: bool = False
    bracket_start: bool = False
    sign: str = ""


@dataclass(frozen=True)
class _Section:
    """A section to write: its name, the words about its times ("1st time"), its bars."""

    name: str
    times: str
    bars: tuple[_ChartBar, ...]


@dataclass(frozen=True, slots=True)
class _Grid:
    """How many bars stand in a row, the size of type in points, and the width of a row."""

    per_row: int
    size_pt: float
    width_mm: float

    @property
    def room_ems(self) -> float:
        """Width of a bar in ems."""
        return self.width_mm / self.per_row * _MM_PT / self.size_pt


def chart_page(
    arrangement: Arrangement,
    materials: PageMaterials,
    address: PageAddress,
    *,
    reader: Reader,
    own: bool,
) -> dict[str, Any]:
    """The data of a chord chart for a reader."""
    text = materials.text
    width_mm = materials.width_mm - _MARGIN_MM
    height_pt = (materials.height_mm - _HEAD_MM) * _MM_PT
    sections = _sections(chart_measures(arrangement, reader))
    per_row, size = _fitting(sections, width_mm, height_pt)
    if size < LEAST_PT and not _leads_elsewhere(sections):
        sections = _once_each(arrangement, reader)
        per_row, size = _fitting(sections, width_mm, height_pt)
    size = max(LEAST_PT, size)
    grid = _Grid(per_row, size, width_mm)
    strokes = _strokes(arrangement.bars[0])
    return {
        "kind": "chart",
        "name": "Chart",
        "first": address.first,
        "tune": tune_data(arrangement, text, address, reader, own=own),
        "form": _form(arrangement, text),
        "size-pt": size,
        "per-row": per_row,
        "gap": _gap(sections, per_row, height_pt / size),
        "signs": stroke_signs({one["sign"] for one in strokes}),
        "sections": [
            _section_data(section, grid, text, strokes if at == 0 else [])
            for at, section in enumerate(sections)
        ],
    }


def _form(arrangement: Arrangement, text: PageText) -> str:
    """The order of the sections, how often the form is played, and how many bars that makes."""
    bars = arrangement.bars
    opening = [bar for bar in bars if bar.bar.opens and (bar.bar.chorus == 1 or not of_form(bar))]
    parts = []
    times = times_through(arrangement)
    for inside, run in groupby(opening, key=of_form):
        names = "  ".join(text(bar.bar.section, "A section's name") for bar in run)
        several = f"({names})" if "  " in names else names
        parts.append(f"{times} x {several}" if inside and times > 1 else names)
    once = sum(of_form(bar) and bar.bar.chorus == 1 for bar in bars)
    count = f"{len(bars)} bars"
    if once != len(bars):  # bars played: with repeats, without the bars that a coda leaves out
        count = f"{once} bars once through, {len(bars)} bars played in all"
    return "  ".join(parts) + f"   ({count})"


def _sections(measures: Sequence[Measure]) -> list[_Section]:
    """The measures as sections, one for each name."""
    found: list[tuple[str, list[_ChartBar]]] = []
    for measure in measures:
        if measure.rehearsal or not found:
            found.append((measure.rehearsal, []))
        found[-1][1].append(_chart_bar(measure))
    return [_Section(name, "", tuple(bars)) for name, bars in found]


def _chart_bar(measure: Measure) -> _ChartBar:
    over = [measure.words]
    if measure.ending_edge.startswith("start"):
        over.insert(0, _times(measure.ending))
    after = [
        "To Coda" if measure.to_coda else "",
        "Fine" if measure.fine else "",
        measure.jump or "",
    ]
    return _ChartBar(
        cells=_cells(measure),
        repeat_start=measure.repeat_start,
        repeat_end=measure.repeat_end,
        over=" ".join(filter(None, over)),
        after=" ".join(filter(None, after)),
        bracket=bool(measure.ending),
        bracket_start=measure.ending_edge.startswith("start"),
        sign="segno" if measure.segno else "coda" if measure.coda else "",
    )


def _times(times: Sequence[int]) -> str:
    """The text over a bracket: "1.", "1. 2.", "1.–4."."""
    if len(times) > 2 and times[-1] - times[0] == len(times) - 1:
        return f"{times[0]}.–{times[-1]}."
    return " ".join(f"{time}." for time in times)


def _cells(measure: Measure) -> tuple[ChartCell, ...]:
    """The chords of a measure with their shares of it; a dash where nothing changes."""
    starts = [mark.start for mark in measure.chords]
    texts = [chord_text(mark.chord) for mark in measure.chords]
    if not starts or starts[0] > 0:
        starts, texts = [Fraction(0), *starts], ["–", *texts]
    ends = [*starts[1:], measure.length]
    return tuple(
        (text, float((end - start) / measure.length))
        for text, start, end in zip(texts, starts, ends, strict=True)
    )


def _leads_elsewhere(sections: Sequence[_Section]) -> bool:
    """Whether there are endings, jumps or signs, which cannot be left out."""
    return any(bar.bracket or bar.after or bar.sign for one in sections for bar in one.bars)


def _once_each(arrangement: Arrangement, reader: Reader) -> list[_Section]:
    """Every different section once, with the places in the form at which it comes."""
    played = list(_played_once(arrangement, reader))
    places: dict[tuple[str, Any], list[int]] = {}
    for index, (name, bars) in enumerate(played):
        places.setdefault((name, bars), []).append(index)
    sections = []
    for (name, bars), where in places.items():
        alike = [i for i, (other, _) in enumerate(played) if other == name]
        times = ""
        if len(where) < len(alike):  # the same name with other chords elsewhere
            words = [ordinal(alike.index(i) + 1) for i in where]
            times = f"{' and '.join(words)} time"
        sections.append(_Section(name, times, bars))
    return sections


def _played_once(
    arrangement: Arrangement, reader: Reader
) -> Iterator[tuple[str, tuple[_ChartBar, ...]]]:
    """The sections before, in and after the first time through, as they are played."""
    bars: list[_ChartBar] = []
    name = ""
    for measure in chart_measures(arrangement, reader, fold=False):
        if measure.rehearsal and bars:
            yield name, tuple(bars)
            bars = []
        name = measure.rehearsal or name
        bars.append(_ChartBar(_cells(measure)))
    yield name, tuple(bars)


def _fitting(sections: Sequence[_Section], width_mm: float, height_pt: float) -> tuple[int, float]:
    """Bars in a row, and the largest size at which everything fits on one page."""
    found = (4, 0.0)
    for per_row in (4, 2):
        room_pt = width_mm / per_row * _MM_PT
        widest = max(_bar_ems(bar.cells) for section in sections for bar in section.bars)
        rows = sum(-(-len(section.bars) // per_row) for section in sections)
        ems_high = rows * (_ROW_EMS + _LEAST_GAP) + len(sections) * _SECTION_EMS
        size = min(MOST_PT, room_pt / widest, height_pt / ems_high)
        if size > found[1]:
            found = (per_row, size)
        if room_pt / widest >= LEAST_PT:
            break
    return found


def _gap(sections: Sequence[_Section], per_row: int, room_ems: float) -> float:
    """White between two rows, in ems: more where the page has room."""
    rows = sum(-(-len(section.bars) // per_row) for section in sections)
    left = room_ems - rows * _ROW_EMS - len(sections) * _SECTION_EMS
    return max(_LEAST_GAP, min(_MOST_GAP, left / rows))


def _bar_ems(cells: Sequence[ChartCell]) -> float:
    """The width of a bar's chords side by side, in ems."""
    return sum(ems(text) + _GAP_EMS for text, _ in cells)


def _shares(cells: Sequence[ChartCell], room_ems: float) -> list[float]:
    """The widths of a bar's columns as shares: by time where each chord has room, else by the width
    of the chords."""
    needed = [ems(text) + _GAP_EMS for text, _ in cells]
    if all(share * room_ems >= need for (_, share), need in zip(cells, needed, strict=True)):
        return [share for _, share in cells]
    return needed


def _section_data(
    section: _Section, grid: _Grid, text: PageText, strokes: list[dict[str, Any]]
) -> dict[str, Any]:
    """A section as rows of bars; `strokes` stand over its first bar."""
    per_row = grid.per_row
    bars = [
        {
            "cells": [
                {"text": word, "share": share}
                for (word, _), share in zip(
                    bar.cells, _shares(bar.cells, grid.room_ems), strict=True
                )
            ],
            "opens": index == 0,
            "closes": index == len(section.bars) - 1,
            "repeat-start": bar.repeat_start,
            "repeat-end": bar.repeat_end > 0,
            "over": bar.over,
            "after": bar.after,
            "bracket": bar.bracket,
            "bracket-start": bar.bracket_start,
            "sign": bar.sign,
            "strokes": strokes if index == 0 else [],
        }
        for index, bar in enumerate(section.bars)
    ]
    rows = [bars[at : at + per_row] for at in range(0, len(bars), per_row)]
    return {
        "name": text(section.name, "A section's name"),
        "times": section.times,
        "rows": rows,
        "breakable": len(rows) > 4,
    }


def _strokes(bar: ArrangedBar) -> list[dict[str, Any]]:
    """The strokes of a bar, each at its share of it."""
    return [
        {
            "share": float((strum.span.start - bar.bar.start) / bar.bar.meter.bar),
            "sign": stroke_sign(strum.direction, strum.sound),
        }
        for strum in bar.strums
        if strum.technique != Technique.REST
    ]
