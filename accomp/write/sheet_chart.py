"""The chord chart: the form at a glance, chords large enough to be read at arm's length.

Conventions: type sizes in points; 14 is the least for a chord. Times in a bar are shown by place:
a chord stands where it begins. A bar in which nothing changes has a dash. One time through the
form is shown; sections that come again at once are written once, and when the page would be too
full, every section is written once and the form says the order.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from accomp.harmony import Interval, transpose_chord
from accomp.neck.naming import ordinal
from accomp.rhythm.stroke import Technique
from accomp.score.arrangement import ArrangedBar, Arrangement
from accomp.score.notate_layout import reading_interval
from accomp.score.readers import Reader
from accomp.write.page_text import PageText, chord_text, ems
from accomp.write.pages import Press
from accomp.write.sheet_pattern import stroke_sign
from accomp.write.sheet_tune import PagePlace, tune_data

LEAST_PT, MOST_PT = 14.0, 27.0
_MARGIN_MM = 21.0
_HEAD_MM = 34.0
_MM_PT = 72 / 25.4
# Heights in ems: a row, the least and the most white between two, and what a section adds.
_ROW_EMS, _LEAST_GAP, _MOST_GAP, _SECTION_EMS = 1.6, 0.42, 1.1, 0.35
_GAP_EMS = 0.55  # the least space after a chord

Cell = tuple[str, float]  # a text and its share of the bar


@dataclass(frozen=True)
class _Section:
    """A section to write: its name, what is said of its times, its bars."""

    name: str
    times: str
    bars: tuple[tuple[Cell, ...], ...]


@dataclass(frozen=True, slots=True)
class _Grid:
    """How many bars stand in a row, the size of type in points, and the width of a row."""

    per_row: int
    size_pt: float
    width_mm: float

    @property
    def room_ems(self) -> float:
        """Width of a bar."""
        return self.width_mm / self.per_row * _MM_PT / self.size_pt


def chart_page(
    arrangement: Arrangement,
    press: Press,
    place: PagePlace,
    *,
    reader: Reader,
    own: bool,
) -> dict[str, Any]:
    """The data of a chord chart for a reader."""
    blocks = _blocks(arrangement)
    played = [(bars[0].bar.section, _cells(bars, reader)) for bars in blocks]
    text = press.text
    width_mm = press.width_mm - _MARGIN_MM
    height_pt = (press.height_mm - _HEAD_MM) * _MM_PT
    sections = _side_by_side(played)
    per_row, size = _fitting(sections, width_mm, height_pt)
    if size < LEAST_PT:
        sections = _once_each(played)
        per_row, size = _fitting(sections, width_mm, height_pt)
    size = max(LEAST_PT, size)
    grid = _Grid(per_row, size, width_mm)
    names = [text(name, "A section's name") for name, _ in played]
    return {
        "kind": "chart",
        "name": "Chart",
        "first": place.first,
        "tune": tune_data(arrangement, text, place, reader, own=own),
        "form": "  ".join(names) + f"   ({sum(map(len, blocks))} bars)",
        "size-pt": size,
        "per-row": per_row,
        "gap": _gap(sections, per_row, height_pt / size),
        "sections": [
            _section_data(section, grid, text, _strokes(arrangement.bars[0]) if at == 0 else [])
            for at, section in enumerate(sections)
        ],
    }


def _blocks(arrangement: Arrangement) -> list[list[ArrangedBar]]:
    """The bars of the first chorus, section by section."""
    blocks: list[list[ArrangedBar]] = []
    for bar in arrangement.bars:
        if bar.bar.chorus > 1:
            break
        if bar.bar.opens or not blocks:
            blocks.append([])
        blocks[-1].append(bar)
    return blocks


def _cells(bars: Sequence[ArrangedBar], reader: Reader) -> tuple[tuple[Cell, ...], ...]:
    out = []
    for bar in bars:
        interval = reading_interval(reader, bar.bar.key)
        cells: list[Cell] = []
        for change in bar.changes:
            share = float(change.span.duration / bar.bar.meter.bar)
            if change.written:
                chord = change.chord
                if chord is not None and interval != Interval(0, 0):
                    chord = transpose_chord(chord, interval)
                cells.append((chord_text(chord), share))
            elif cells:
                cells[-1] = (cells[-1][0], cells[-1][1] + share)
            else:
                cells.append(("–", share))
        out.append(tuple(cells))
    return tuple(out)


def _side_by_side(played: Sequence[tuple[str, Any]]) -> list[_Section]:
    """Sections in order; those that come again at once, once."""
    out: list[tuple[str, Any, int]] = []
    for name, bars in played:
        if out and out[-1][:2] == (name, bars):
            out[-1] = (name, bars, out[-1][2] + 1)
        else:
            out.append((name, bars, 1))
    return [
        _Section(name, {1: "", 2: "twice"}.get(times, f"{times} times"), bars)
        for name, bars, times in out
    ]


def _once_each(played: Sequence[tuple[str, Any]]) -> list[_Section]:
    """Every different section once, with the places in the form at which it comes."""
    places: dict[tuple[str, Any], list[int]] = {}
    for place, (name, bars) in enumerate(played):
        places.setdefault((name, bars), []).append(place)
    sections = []
    for (name, bars), where in places.items():
        alike = [i for i, (other, _) in enumerate(played) if other == name]
        times = ""
        if len(where) < len(alike):  # the same name with other chords elsewhere
            words = [ordinal(alike.index(i) + 1) for i in where]
            times = f"{' and '.join(words)} time"
        sections.append(_Section(name, times, bars))
    return sections


def _fitting(sections: Sequence[_Section], width_mm: float, height_pt: float) -> tuple[int, float]:
    """Bars in a row, and the largest size at which everything fits on one page."""
    found = (4, 0.0)
    for per_row in (4, 2):
        room_pt = width_mm / per_row * _MM_PT
        widest = max(_bar_ems(cells) for section in sections for cells in section.bars)
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


def _bar_ems(cells: Sequence[Cell]) -> float:
    """How wide a bar's chords are side by side."""
    return sum(ems(text) + _GAP_EMS for text, _ in cells)


def _shares(cells: Sequence[Cell], room_ems: float) -> list[float]:
    """The columns of a bar: by time where each chord has room, else by the width of the chords."""
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
                for (word, _), share in zip(cells, _shares(cells, grid.room_ems), strict=True)
            ],
            "opens": place == 0,
            "closes": place == len(section.bars) - 1,
            "strokes": strokes if place == 0 else [],
        }
        for place, cells in enumerate(section.bars)
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
