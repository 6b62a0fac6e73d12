"""Lines of engraved music: a score becomes one SVG picture a system.

Conventions: the engraver is verovio. It gets a copy of our MusicXML made for paper: without tempo,
part names and degrees, which the page says elsewhere, with our own line breaks, and with bow marks
only where the strokes change. Pictures are in tenths of a millimetre; their text is in the one text
font of the pages, and no private-use sign is left in it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from lxml import etree

from accomp.score.written import Measure, Part, PartKind, Score
from accomp.write.engrave_lines import Lines, ways_to_break
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
    score: Score, width_mm: float, lines: Lines | None = None, *, boxes: bool = True
) -> tuple[System, ...]:
    """Engrave `score` in lines `width_mm` wide, chord boxes over each change when asked for.

    Without `lines` they are broken in the way that reads best. Raises `ValueError` when the
    engraver refuses the score.
    """
    import verovio

    lines = lines or ways_to_break(score.parts[0].measures, width_mm)[0]
    size = lines.size
    verovio.enableLog(verovio.LOG_OFF)
    # verovio keeps this path for each thread, and sets it only in the thread that imports it.
    verovio.setDefaultResourcePath(str(Path(verovio.__file__).parent / "data"))
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
            "minLastJustification": 0.3,
            "spacingStaff": 4,
        }
    )
    if not toolkit.loadData(etree.tostring(paper_copy(score, lines.starts), encoding="unicode")):
        raise ValueError(f"{score.title!r} could not be engraved")
    systems = []
    last: object = None
    for page in range(1, toolkit.getPageCount() + 1):
        drawn, last = finished_system(toolkit.renderToSVG(page), score, last, boxes=boxes)
        unit_mm = size / UNITS_A_MM
        systems.append(System(drawn.svg, drawn.width * unit_mm, drawn.height * unit_mm))
    return tuple(systems)


def paper_copy(score: Score, starts: Sequence[int]) -> etree._Element:
    """MusicXML for the engraver, with lines that begin at the measures of these indices."""
    root = musicxml_root(replace(score, parts=tuple(_plain(part) for part in score.parts)))
    for degree in root.findall(f".//degree[@{HIDDEN}='no']"):
        degree.getparent().remove(degree)  # the engraver would print it all the same
    for ending in root.iterfind(".//ending"):
        if ending.text:
            ending.set("number", ending.text)  # the engraver prints the number and not the text
    for direction in root.findall(".//direction"):
        if direction.find("direction-type/metronome") is not None:
            direction.getparent().remove(direction)
    if not any(part.kind == PartKind.BASS for part in score.parts):
        for name in root.findall("part-list/score-part/part-name"):
            name.text = None
    for part, element in zip(score.parts, root.findall("part"), strict=True):
        measures = element.findall("measure")
        for index in starts[1:]:
            line = etree.Element("print", {"new-page": "yes"})  # one system a page
            measures[index].insert(0, line)
        _thin_bows(part, measures)
        if part.kind == PartKind.TAB:
            _tune_down(part, element)
            _put_rhythm(part, measures, alone=len(score.parts) == 1)
    return root


def _plain(part: Part) -> Part:
    """The part without chord boxes, which the engraver does not draw, and without the rehearsal
    mark of a last measure."""
    measures: list[Measure] = []
    for measure in part.measures:
        chords = tuple(replace(mark, shape=None) for mark in measure.chords)
        measure = replace(measure, chords=chords)
        if measures and len(measures) == len(part.measures) - 1:
            measure = replace(measure, rehearsal="")  # its box has no room over a single last bar
        measures.append(measure)
    return replace(part, measures=tuple(measures))


def _thin_bows(part: Part, elements: Sequence[etree._Element]) -> None:
    """Remove the bow marks of measures whose strokes are those of the measure before. The strokes
    themselves stay: the arrow of a rolled chord is drawn by them."""
    before: object = None
    for measure, element in zip(part.measures, elements, strict=True):
        strokes = tuple((e.start, e.direction) for e in measure.events if e.direction)
        if strokes and strokes == before and not measure.rehearsal:
            for bow in (*element.iter("down-bow"), *element.iter("up-bow")):
                technical = bow.getparent()
                technical.remove(bow)
                notations = technical.getparent()
                if not len(technical):
                    notations.remove(technical)
                if not len(notations):
                    notations.getparent().remove(notations)
        before = strokes or before


def _put_rhythm(part: Part, elements: Sequence[etree._Element], *, alone: bool) -> None:
    """Give TAB that stands alone stems and beams; under notation, which shows the rhythm, take its
    ties away."""
    if not alone:
        for element in elements:
            for tied in list(element.iter("tied")):
                tied.getparent().remove(tied)
        return
    for measure, element in zip(part.measures, elements, strict=True):
        notes = (note for note in element.findall("note") if note.find("chord") is None)
        for event, note in zip(measure.events, notes, strict=True):
            stem = note.find("stem")  # a rest has none, and no beams either
            for number, word in reversed(list(enumerate(event.beams, 1))):
                beam = etree.Element("beam", {"number": str(number)})
                beam.text = word
                stem.addnext(beam)
        for stem in element.iter("stem"):
            stem.text = "up"


def _tune_down(part: Part, element: etree._Element) -> None:
    """Remove the tuning where the lowest line sounds above the highest: the engraver would take
    the instrument for a lute and draw it upside down."""
    if part.instrument is None:
        return
    strings = part.instrument.open_pitches
    if strings[0] > strings[-1]:
        for tuning in element.findall(".//staff-tuning"):
            tuning.getparent().remove(tuning)
