"""Lines of engraved music: a score becomes one SVG picture a system.

Conventions: the engraver is verovio. It is given a copy of our MusicXML made for paper: without
what the page says elsewhere (tempo, part names), with our own line breaks, and with bow marks only
where the strokes change. Pictures are in tenths of a millimetre; their text is in the one text font
of the pages, and no private-use sign is left in it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from lxml import etree

from accomp.score.written import Part, PartKind, Score
from accomp.write.engrave_breaks import line_starts
from accomp.write.engrave_svg import finished_system
from accomp.write.musicxml import musicxml_root

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
    measures = []
    before: object = None
    for measure in part.measures:
        strokes = tuple((e.start, e.direction) for e in measure.events if e.direction)
        events = measure.events
        if strokes and strokes == before and not measure.rehearsal:
            events = tuple(replace(event, direction=None) for event in events)
        before = strokes or before
        chords = tuple(replace(mark, shape=None) for mark in measure.chords)
        measures.append(replace(measure, events=events, chords=chords))
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
