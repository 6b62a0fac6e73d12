"""Lines of engraved music: a score becomes one SVG picture a system.

Conventions: the engraver is verovio. It is given a copy of our MusicXML made for paper: without
what the page says elsewhere (tempo, part names, degrees that a chord's text says), with our own
line breaks, and with bow marks only where the strokes change. Pictures are in tenths of a
millimetre; their text is in the one text font of the pages, and no private-use sign is left in it.

Phrases begin lines, and no line is crowded. Widths of measures are millimetres at the engraver's
usual size (a staff 7.2 mm high), as measured on its output: a guess that is only used to choose how
many measures share a line.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from lxml import etree

from accomp.score.written import Measure, Part, PartKind, Score
from accomp.write.engrave_svg import finished_system
from accomp.write.musicxml import musicxml_root
from accomp.write.musicxml_directions import HIDDEN

UNITS_A_MM = 10.0
# A bracket and a bar number stand left of the staff, outside what the engraver counts.
_BRACKET, _NUMBER = 18, 9


@dataclass(frozen=True, slots=True)
class System:
    """One line of music as an SVG document, with its size on paper."""

    svg: str
    width_mm: float
    height_mm: float


def engrave(
    score: Score, width_mm: float, *, boxes: bool = True, scale: float = 1.0
) -> tuple[System, ...]:
    """Engrave `score` in lines `width_mm` wide, chord boxes over the line when asked for.

    A `scale` under 1 makes everything smaller than the usual size.
    """
    import verovio

    size, breaks = line_starts(score.parts[0].measures, width_mm / scale)
    size *= scale
    verovio.enableLog(verovio.LOG_OFF)
    toolkit = verovio.toolkit()
    toolkit.setOptions(
        {
            "header": "none",
            "footer": "none",
            "breaks": "encoded",
            "svgViewBox": True,
            "svgRemoveXlink": True,
            "svgFormatRaw": True,
            "xmlIdSeed": 1,
            "scale": 100,
            "pageWidth": round(width_mm / size * UNITS_A_MM),
            "pageHeight": 100,
            "adjustPageHeight": True,
            "pageMarginLeft": _BRACKET if score.bracketed else _NUMBER,
            "pageMarginRight": 0,
            "pageMarginTop": 0,
            "pageMarginBottom": 0,
            "minLastJustification": 0.5,
            "spacingStaff": 7,
        }
    )
    if not toolkit.loadData(etree.tostring(paper_copy(score, breaks), encoding="unicode")):
        raise ValueError(f"{score.title!r} could not be engraved")
    systems = []
    last: object = None
    for page in range(1, toolkit.getPageCount() + 1):
        drawn, last = finished_system(toolkit.renderToSVG(page), score, last, boxes=boxes)
        unit_mm = size / UNITS_A_MM
        systems.append(System(drawn.svg, drawn.width * unit_mm, drawn.height * unit_mm))
    return tuple(systems)


def paper_copy(score: Score, breaks: Sequence[int]) -> etree._Element:
    """MusicXML for the engraver, with lines that begin at the measures of these indices."""
    root = musicxml_root(replace(score, parts=tuple(_plain(part) for part in score.parts)))
    for degree in root.findall(f".//degree[@{HIDDEN}='no']"):
        degree.getparent().remove(degree)  # the engraver would print it all the same
    for ending in root.iterfind(".//ending"):
        if ending.text:
            ending.set("number", ending.text)  # which is all that it prints
    for direction in root.findall(".//direction"):
        if direction.find("direction-type/metronome") is not None:
            direction.getparent().remove(direction)
    if not any(part.kind == PartKind.BASS for part in score.parts):
        for name in root.findall("part-list/score-part/part-name"):
            name.text = None
    for part, element in zip(score.parts, root.findall("part"), strict=True):
        measures = element.findall("measure")
        for index in breaks[1:]:
            line = etree.Element("print", {"new-page": "yes"})  # one system a page
            measures[index].insert(0, line)
        _tune_down(part, element)
    return root


def _plain(part: Part) -> Part:
    """The part without what the engraver does not draw (boxes), and with bow marks only in
    measures whose strokes differ from the measure's before."""
    measures: list[Measure] = []
    before: object = None
    for measure in part.measures:
        strokes = tuple((e.start, e.direction) for e in measure.events if e.direction)
        events = measure.events
        if strokes and strokes == before and not measure.rehearsal:
            events = tuple(replace(event, direction=None) for event in events)
        before = strokes or before
        chords = tuple(replace(mark, shape=None) for mark in measure.chords)
        measure = replace(measure, events=events, chords=chords)
        if measures and len(measures) == len(part.measures) - 1:
            measure = replace(measure, rehearsal="")  # its box has no room over a single last bar
        measures.append(measure)
    return replace(part, measures=tuple(measures))


def _tune_down(part: Part, element: etree._Element) -> None:
    """Leave the tuning out where the lowest line sounds above the highest: the engraver would take
    the instrument for a lute and draw it upside down."""
    if part.instrument is None or part.kind != PartKind.TAB:
        return
    strings = part.instrument.open_pitches
    if strings[0] > strings[-1]:
        for tuning in element.findall(".//staff-tuning"):
            tuning.getparent().remove(tuning)


Lines = list[tuple[int, int]]  # first and last measure, half-open

_EDGE_MM = 5.0  # bar line and the space around it
_CLEF_MM = 20.0  # clef, key and meter at the start of a line
_CHORD_MM = 12.0  # the least room for a symbol with its box
_ACCIDENTAL_MM = 1.6
_LINE = 4  # measures of a phrase, the usual line
_SIZES = (0.92, 0.86, 0.8)  # a staff of 6.6, 6.2, 5.8 mm


def line_starts(measures: Sequence[Measure], width_mm: float) -> tuple[float, tuple[int, ...]]:
    """(size, indices of the measures that begin a line, 0 among them).

    Size 1 is the engraver's own. Where four measures do not share a line at the usual size and
    would at a smaller one that is still easy to read, it is that one.
    """
    widths = [measure_mm(measure) for measure in measures]
    sections = _sections(measures)
    pickup = 1 if measures[0].implicit else 0
    size, per_line = next(
        (
            (size, _LINE)
            for size in _SIZES
            if _fits(_chunked(sections, _LINE, pickup), widths, width_mm / size)
        ),
        (_SIZES[0], _LINE // 2),
    )
    room = width_mm / size - _CLEF_MM
    lines: Lines = []
    for section in sections:
        lines += _lines(section, widths, room, per_line, pickup if section[0] == 0 else 0)
    return size, tuple(first for first, _ in _without_orphans(lines, widths, room))


def _chunked(sections: Sequence[tuple[int, int]], per_line: int, pickup: int) -> Lines:
    """Each section in lines of `per_line` measures; a pickup comes on top of the first."""
    lines: Lines = []
    for first, last in sections:
        at = first
        while at < last:
            end = min(last, at + per_line + (pickup if at == 0 else 0))
            lines.append((at, end))
            at = end
    return lines


def _fits(lines: Lines, widths: Sequence[float], width_mm: float) -> bool:
    return all(sum(widths[first:last]) <= width_mm - _CLEF_MM for first, last in lines)


def measure_mm(measure: Measure) -> float:
    """A guess at the width that a measure asks for."""
    if measure.rests or measure.events[0].whole_measure:
        notes = 12.0
    else:
        notes = sum(_event_mm(event.value.length) for event in measure.events)
        notes += _ACCIDENTAL_MM * sum(
            any(note.accidental is not None for note in event.notes) for event in measure.events
        )
    return _EDGE_MM + max(notes, _CHORD_MM * len(measure.chords))


def _event_mm(length: Fraction) -> float:
    """Longer notes take more room, by less than their length."""
    return 5.8 * math.pow(length * 4, 0.45)


def _sections(measures: Sequence[Measure]) -> Lines:
    starts = [i for i, measure in enumerate(measures) if i == 0 or measure.rehearsal]
    if len(starts) > 1 and measures[0].implicit and starts[1] == 1:
        starts.remove(1)  # a pickup shares the line of the first section
    return list(zip(starts, [*starts[1:], len(measures)], strict=True))


def _lines(
    section: tuple[int, int],
    widths: Sequence[float],
    room: float,
    per_line: int,
    pickup: int,
) -> Lines:
    """Lines of `per_line` measures where they fit, else of half as many."""
    while per_line > 1 and not _fits(
        _chunked([section], per_line, pickup), widths, room + _CLEF_MM
    ):
        per_line //= 2
    return _chunked([section], per_line, pickup)


def _without_orphans(lines: Lines, widths: Sequence[float], room: float) -> Lines:
    """The same lines, with a short one joined to the line before it where both fit."""
    out: Lines = []
    for first, last in lines:
        if out:
            before = out[-1]
            short = min(sum(widths[first:last]), sum(widths[before[0] : before[1]])) < room / 2.5
            if short and sum(widths[before[0] : last]) <= room * 1.08:
                out[-1] = (before[0], last)
                continue
        out.append((first, last))
    return out
