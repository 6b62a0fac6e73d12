"""Tunes, styles, lessons, scores and pieces as HTML for a notebook.

Conventions: text from files is never markup: the serialiser escapes it, and characters that XML
cannot hold are replaced. Colours and fonts are set on the elements themselves, since the style
sheet of a notebook may be dark.
"""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Iterable
from functools import singledispatch

from lxml import etree
from lxml.builder import ElementMaker

from accomp.files.text import word_list, xml_text
from accomp.neck import Lesson, Plan
from accomp.neck.handout import CAUTION
from accomp.neck.lesson import ChangeLesson, PositionLesson
from accomp.notebook.audio import Audio
from accomp.notebook.drawing import drawing, drawn_boxes
from accomp.notebook.keys import Keys
from accomp.notebook.piece import Piece
from accomp.notebook.positions import Positions
from accomp.rhythm import Style, describe_style
from accomp.score.written import Score
from accomp.tune import Section, Tune
from accomp.tune.write import bar_tokens
from accomp.write.engrave import engrave
from accomp.write.page_text import chord_text, key_text, sentence_text

E = ElementMaker()

_PAGE = (
    "background:#fffdf8;color:#26211c;padding:0.6em 0.9em;max-width:60em;overflow-x:auto;"
    "font-family:'Libertinus Serif',Georgia,serif;line-height:1.35"
)
_SMALL = "font-size:0.85em;color:#6b6259"
_CELL = (
    "border:none;border-left:1px solid #8d857b;border-right:1px solid #8d857b;min-width:6em;"
    "padding:0.25em 0.7em;text-align:left;white-space:pre;font-size:1.1em;color:inherit"
)
_BARS_A_LINE = 4
_SCORE_MM = 180.0
_MOST_HEARD = 12_000_000  # bytes of a sound file in a page: a minute and a half of FLAC
_QUIETLY = "Start quietly, on headphones above all, and rest your ears."


def page_piece(value: object) -> str:
    """A value as HTML."""
    page = E.div(*nodes(value), style=_PAGE)
    return str(etree.tostring(page, encoding="unicode", method="html"))


@singledispatch
def nodes(value: object) -> Iterable[etree._Element]:
    """The elements that show a value. Raises `TypeError` for a type that has none."""
    raise TypeError(f"a {type(value).__name__} is not shown as a page")


@nodes.register
def _of_tune(tune: Tune) -> Iterable[etree._Element]:
    facts = f"{key_text(tune.key)}, {tune.meter}, {tune.tempo:g} beats a minute"
    yield _title(tune.title, tune.composer, facts)
    if tune.form != tuple(tune.sections):
        yield E.div(xml_text(f"Form: {' '.join(tune.form)}"), style=_SMALL)
    for section in tune.sections.values():
        yield from _section(section, tune)
    yield from _notices(tune.notices)


@nodes.register
def _of_style(style: Style) -> Iterable[etree._Element]:
    first, *lines = describe_style(style)
    yield _title(first)
    yield E.pre(xml_text("\n".join(lines)), style="background:none;color:inherit;margin:0.4em 0")


@nodes.register
def _of_positions(positions: Positions) -> Iterable[etree._Element]:
    tune = positions.tune
    yield _title(tune.title, f"{key_text(tune.key)}, on {positions.player.instrument.title}")
    for plan in positions:
        yield from _plan(plan)
    yield from _notices(positions.notices)


@nodes.register
def _of_keys(keys: Keys) -> Iterable[etree._Element]:
    tune, home = keys.tune, keys.neck.chords.home
    at = keys.neck.chords.chords.index(home)
    yield _title(tune.title, f"the home chord on {keys.player.instrument.title}")
    for row in keys:
        yield E.div(xml_text(key_text(row.key)), style="margin-top:0.5em")
        if row.problem:
            yield E.div(xml_text(row.problem), style=_SMALL)
            continue
        boxes = [(one.plan.name, one.plan.path[at]) for one in row.positions]
        words = ", ".join(f"{name}: {shape}" for name, shape in boxes)
        yield E.div(etree.fromstring(drawn_boxes(boxes, f"{key_text(row.key)}: {words}")))
        for one in row.positions:
            slid = f", slid from {' '.join(one.slid_from)}" if one.slid_from else ""
            yield E.div(xml_text(f"{one.plan.facts}{slid}"), style=_SMALL)
    yield from _notices((*keys.neck.chords.notices, *keys.player.instrument.notices))


@nodes.register
def _of_lesson(lesson: Lesson) -> Iterable[etree._Element]:
    yield _title("The chords by their place in the key")
    yield E.div(xml_text("; ".join(f"{chord_text(one)}: {said}" for one, _, said in lesson.names)))
    for position in lesson.positions:
        yield from _plan(position.plan)
        yield from _teaching(position)


@nodes.register
def _of_score(score: Score) -> Iterable[etree._Element]:
    yield _title(score.title, score.composer, f"{score.feel}, {score.tempo:g} beats a minute")
    for number, system in enumerate(engrave(score, _SCORE_MM), 1):
        # Pictures, not inline SVG: the element ids that the engraver writes are the same in each.
        yield E.img(
            src=f"data:image/svg+xml;base64,{b64encode(system.svg.encode()).decode()}",
            alt=f"Line {number} of the score",
            style=f"display:block;width:{system.width_mm:.1f}mm;max-width:100%;margin:0.5em 0",
        )


@nodes.register
def _of_piece(piece: Piece) -> Iterable[etree._Element]:
    yield from nodes(piece.tune)
    told = set(piece.tune.notices)
    for index, plan in enumerate(piece.plans):
        if plan not in piece.plans[:index]:
            yield from _plan(plan)
            told.update(plan.notices)
    yield from _notices(one for one in piece.notices if one not in told)


@nodes.register
def _of_audio(audio: Audio) -> Iterable[etree._Element]:
    yield _title(audio.title, audio.format.upper())
    if len(audio.data) <= _MOST_HEARD:
        yield E.audio(controls="controls", preload="metadata", src=audio.address)
        yield E.div(xml_text(_QUIETLY), style=_SMALL)
    else:
        size = f"{len(audio.data) / 1e6:.0f} MB"
        yield E.div(xml_text(f"{size} are too many to be kept in a page: write it with to_file()."))
    yield from _notices(audio.notices)


def _section(section: Section, tune: Tune) -> Iterable[etree._Element]:
    """A section's heading and its bars, four to a line."""
    own = [key_text(section.key)] if section.key != tune.key else []
    own += [str(section.meter)] if section.meter != tune.meter else []
    own += [section.style] if section.style else []
    yield E.div(xml_text(f"{section.name}  {', '.join(own)}".strip()), style="margin-top:0.5em")
    table = E.table(style="border-collapse:collapse;margin:0;background:none")
    for start in range(0, len(section.bars), _BARS_A_LINE):
        row = etree.SubElement(table, "tr", style="background:none")
        for bar in section.bars[start : start + _BARS_A_LINE]:
            names = {
                one.chord.symbol: chord_text(one.chord)
                for one in bar.chords
                if one.chord is not None
            }
            words = [names.get(token, token) for token in bar_tokens(bar, section.meter)]
            cell = E.td(xml_text("  ".join(words)), style=_CELL)
            row.append(cell)
    yield table


def _plan(plan: Plan) -> Iterable[etree._Element]:
    yield E.div(xml_text(plan.facts), style="margin-top:0.5em")
    yield E.div(etree.fromstring(drawing(plan)))
    yield from _notices(plan.notices)


def _teaching(one: PositionLesson) -> Iterable[etree._Element]:
    """The lesson of a position, in words."""
    said = [f"Families: {word_list(one.families)}."]
    if one.met:
        said.append(f"Met before: {word_list(one.met)}.")
    yield E.div(xml_text(" ".join(said)))
    if one.hardest:
        strings = len(one.plan.path[0].frets)
        rows = (E.li(xml_text(_change(change, strings))) for change in one.hardest)
        yield E.div(xml_text("Drill first, to and fro, slowly, then in the tune:"))
        yield E.ul(*rows, style="margin:0.2em 0")
    if any(one.plan.wide):
        yield E.div(xml_text(CAUTION), style=_SMALL)


def _change(one: ChangeLesson, strings: int) -> str:
    return f"{chord_text(one.from_chord)} to {chord_text(one.to_chord)}: {one.words(strings)}."


def _title(title: str, *more: str) -> etree._Element:
    heading = E.div(E.strong(xml_text(title)))
    for text in filter(None, more):
        heading.append(E.span(xml_text(f"  {text}"), style=_SMALL))
    return heading


def _notices(notices: Iterable[str]) -> Iterable[etree._Element]:
    for notice in dict.fromkeys(notices):
        yield E.div(xml_text(f"Note: {sentence_text(notice)}"), style=_SMALL)
