"""Changes to an engraved system before it goes on a page.

Conventions: the engraver's inner picture counts hundredths of a millimetre. Signs of the music font
(which only the engraver has) become real signs of the page's font; dead strokes get a cross on the
TAB; chord boxes stand in a strip above everything else in the system.
"""

from __future__ import annotations

import itertools
import re
from dataclasses import dataclass

from lxml import etree

from accomp.score.written import ChordMark, Mark, PartKind, Score
from accomp.write.box import box_frets
from accomp.write.diagram import (
    FRET_GAP,
    MARKS_HEIGHT,
    SIDE,
    STRING_GAP,
    TITLE_HEIGHT,
    box_group,
)

TEXT_FONT = "Libertinus Serif"
_SVG = "{http://www.w3.org/2000/svg}"
_INNER = 10  # inner units to one outer
# SMuFL's signs in the engraver's texts (chord symbols, metronome marks), and the real signs.
_SIGNS = {
    "\uea64": "♭",
    "\uea65": "♮",
    "\uea66": "♯",
    "\ue260": "♭",
    "\ue261": "♮",
    "\ue262": "♯",
    "\ueca5": "♩",
}
_SCALE = 20.0  # inner units to one unit of a chord box: strings 2.2 mm apart
_STRIP_GAP = 120.0
_SYMBOL_HEIGHT = 330.0
_GLYPH = re.compile(r'<use href="#([0-9A-F]+)[^>]*translate\([-\d.]+, ([-\d.]+)\)')
# How far signs reach above their place, with a little white: most signs, and lower ones by the
# start of their SMuFL code (1.4, chapters "Noteheads", "Articulation", "String techniques").
_SIGN_ABOVE = 320.0
_LOWER_SIGNS = (("E0A", 140.0), ("E4A2", 110.0), ("E4A0", 210.0), ("E610", 215.0))
_LINE = re.compile(r'd="M[-\d.]+ ([-\d.]+) L[-\d.]+ ([-\d.]+)"')
_LINE_PIECE = re.compile(r"M([-\d.]+) ([-\d.]+) L([-\d.]+) ([-\d.]+)")
_LINES_APART, _STAFF_LINES_APART = 315.0, 180.0  # of TAB and of a staff, inner units
_TEXT_SIZE = 405.0  # of symbols and words, inner units
_SIGN_SHARE = 1.3  # of sharps and flats, which are small in a text font
_POLYGON = re.compile(r'points="([^"]+)"')
_BETWEEN = re.compile(r">\n\s*<")
_ROOT_ID = re.compile(r'<svg [^>]*id="([a-z0-9]+)"')
_ANY_ID = re.compile(r' id="([a-z0-9]+)"')
_OUR_ID = re.compile(r' id="p\d+-m[^"]*"')
_NUMBER_TEXT = re.compile(
    r'(<text [^>]*)font-size="0px"><tspan( font-size="\d+px")>(\d+)</tspan></text>'
)
_ACCIDENTAL = re.compile("([♭♮♯])")
_POINT = re.compile(r"([-\d.]+),([-\d.]+)")


@dataclass(frozen=True, slots=True)
class DrawnPicture:
    """A finished picture and its size in outer units."""

    svg: str
    width: float
    height: float


def finished_system(
    svg: str, score: Score, last: object, *, boxes: bool
) -> tuple[DrawnPicture, object]:
    """The picture ready for the page, and the last chord with its shape.

    `last` is the last chord that the call for the system before returned.
    """
    svg = _lightened(svg)
    top = _content_top(svg)
    root = etree.fromstring(svg.encode())
    inner = root.find(f"{_SVG}svg")
    _real_text(root)
    if all(part.kind == PartKind.TAB for part in score.parts):
        _usual_size(inner)
    _mark_numbers(inner, score)
    width, height = (float(n) for n in root.get("viewBox").split()[2:])
    _pull_in(inner)
    strip, last = _add_strip(inner, score, last, top, boxes=boxes)
    root.set("viewBox", f"0 {-strip / _INNER:g} {width:g} {height + strip / _INNER:g}")
    inner.set("viewBox", f"0 {-strip:g} {width * _INNER:g} {height * _INNER + strip:g}")
    for name, value in (("x", 0.0), ("y", -strip / _INNER), ("width", width)):
        inner.set(name, f"{value:g}")
    inner.set("height", f"{height + strip / _INNER:g}")
    inner.set("font-family", TEXT_FONT)
    root.set("width", f"{width:g}")
    root.set("height", f"{height + strip / _INNER:g}")
    text = _OUR_ID.sub("", etree.tostring(root, encoding="unicode"))
    return DrawnPicture(text, width, height + strip / _INNER), last


def _lightened(svg: str) -> str:
    """The picture without spaces and ids that nothing needs, half of its bytes, and with each
    number of TAB as one text."""
    keep = _ROOT_ID.search(svg)
    root = keep[1] if keep else ""
    svg = _BETWEEN.sub("><", svg)
    svg = _ANY_ID.sub(lambda match: match[0] if match[1] == root else "", svg)
    return _NUMBER_TEXT.sub(r"\1\2>\3</text>", svg)


def _real_text(root: etree._Element) -> None:
    """Make every text one piece, in the page's font."""
    for text in root.iter(f"{_SVG}text"):
        if not len(text):
            continue
        pieces = [(span.text or "", span) for span in text.iter(f"{_SVG}tspan") if not len(span)]
        whole = "".join(_SIGNS.get(sign, sign) for piece, _ in pieces for sign in piece)
        sizes = [s.get("font-size") for _, s in pieces if s.get("font-family") is None]
        for child in list(text):
            text.remove(child)
        size = next((size for size in sizes if size), f"{_TEXT_SIZE:g}px")
        text.set("font-size", size)
        _put_text(text, whole.strip(), float(size.removesuffix("px")))


def _size(text: etree._Element) -> float:
    """The size of a text's type in inner units; 0 where it has none."""
    return float(text.get("font-size", "0").removesuffix("px"))


def _usual_size(inner: etree._Element) -> None:
    """Make text and section frames as large as elsewhere. Over TAB alone the engraver draws them
    larger, in the ratio of the distance of TAB's lines to that of a staff's."""
    share = _STAFF_LINES_APART / _LINES_APART
    for text in inner.iter(f"{_SVG}text"):
        size = _size(text)
        if size > _TEXT_SIZE:
            text.set("font-size", f"{size * share:g}px")
            for span in text:
                span.set("font-size", f"{size * share * _SIGN_SHARE:g}px")
    for frame in inner.iter(f"{_SVG}rect"):
        x, y, width, height = (float(frame.get(name)) for name in ("x", "y", "width", "height"))
        frame.set("x", f"{x + width * (1 - share) / 2:g}")
        frame.set("y", f"{y + height * (1 - share):g}")
        frame.set("width", f"{width * share:g}")
        frame.set("height", f"{height * share:g}")
        for text in frame.getparent().iter(f"{_SVG}text"):
            below = (y + height - float(text.get("y"))) * share
            text.set("y", f"{y + height - below:g}")


def _put_text(text: etree._Element, whole: str, size: float) -> None:
    """Write a text with its sharps and flats larger."""
    pieces = _ACCIDENTAL.split(whole)
    text.text = pieces[0]
    for sign, after in zip(pieces[1::2], pieces[2::2], strict=True):
        span = etree.SubElement(text, f"{_SVG}tspan")
        span.set("font-size", f"{size * _SIGN_SHARE:g}px")
        span.text, span.tail = sign, after


@dataclass(frozen=True, slots=True)
class _Numbers:
    """The notes on TAB that do not show their plain number, by their names in the picture."""

    dead: frozenset[str]  # these show a cross
    bracketed: frozenset[str]  # held from the line before: the number in brackets
    held: frozenset[str]  # held from a note on the same line: nothing


def _unusual_numbers(score: Score, first: str) -> _Numbers:
    """`first` is the name of the line's first measure, as in "m17"."""
    dead: set[str] = set()
    bracketed: set[str] = set()
    held: set[str] = set()
    for number, part in enumerate(score.parts, 1):
        for measure in part.measures if part.kind == PartKind.TAB else ():
            order = 0
            for event in measure.events:
                for _ in event.notes or (None,):  # a rest has a number too
                    order += 1
                    name = f"p{number}-m{measure.number}-n{order}"
                    if event.tied_from:
                        opens = event.start == 0 and first == f"m{measure.number}"
                        (bracketed if opens else held).add(name)
                    if Mark.DEAD in event.marks:
                        dead.add(name)
    return _Numbers(frozenset(dead), frozenset(bracketed), frozenset(held))


def _mark_numbers(inner: etree._Element, score: Score) -> None:
    """On TAB show a cross for each note of a dead stroke, and a held note's number only once on
    each line, in brackets where the note is held from the line before."""
    opening = next((g for g in inner.iter(f"{_SVG}g") if g.get("class") == "measure"), None)
    if opening is None:
        return
    numbers = _unusual_numbers(score, opening.get("id", "").rpartition("-")[2])
    for staff in [g for g in inner.iter(f"{_SVG}g") if g.get("class") == "staff"]:
        for group in list(staff.iter(f"{_SVG}g")):
            name = group.get("id")
            for text in list(group.iter(f"{_SVG}text")) if name else ():
                if name in numbers.dead:
                    text.text = "×"
                if name in numbers.held:
                    _gap(staff, text, 0.0)
                    text.getparent().remove(text)
                elif name in numbers.bracketed:
                    text.text = f"({text.text})"
                    _gap(staff, text, _size(text) * (0.26 * len(text.text) + 0.08))


def _gap(staff: etree._Element, text: etree._Element, half: float) -> None:
    """Let the TAB line end `half` before the number's middle and go on `half` after it; where
    `half` is 0, join its two pieces."""
    x, y = float(text.get("x")), float(text.get("y"))
    pieces = []
    for path in staff.findall(f"{_SVG}path"):
        match = _LINE_PIECE.fullmatch(path.get("d", ""))
        if match and abs(float(match[2]) - y) < _LINES_APART / 2 and match[2] == match[4]:
            pieces.append((float(match[1]), float(match[3]), match[2], path))
    before = max((piece for piece in pieces if piece[0] < x), default=None, key=lambda p: p[0])
    after = min((piece for piece in pieces if piece[1] > x), default=None, key=lambda p: p[1])
    if before is None or after is None or before is after:
        return
    height = before[2]
    if half:
        before[3].set("d", f"M{before[0]:g} {height} L{min(before[1], x - half):g} {height}")
        after[3].set("d", f"M{max(after[0], x + half):g} {height} L{after[1]:g} {height}")
    else:
        before[3].set("d", f"M{before[0]:g} {height} L{after[1]:g} {height}")
        staff.remove(after[3])


def _pull_in(inner: etree._Element) -> None:
    """Move the frame of a long section name to the right where it begins left of the picture."""
    for group in inner.iter(f"{_SVG}g"):
        frame = group.find(f"{_SVG}rect") if group.get("class") == "reh" else None
        if frame is None or float(frame.get("x")) >= 0:
            continue
        by = -float(frame.get("x"))
        for element in (frame, *group.iter(f"{_SVG}text")):
            element.set("x", f"{float(element.get('x')) + by:g}")


def _add_strip(
    inner: etree._Element, score: Score, last: object, content_top: float, *, boxes: bool
) -> tuple[float, object]:
    """Put chord symbols in one row over the system and, with `boxes`, chord boxes in a strip over
    that row.

    Returns how far this reaches above the picture, in inner units, and the last chord.
    """
    placed: list[tuple[float, ChordMark]] = []
    texts: list[etree._Element] = []
    marks = {f"p1-m{m.number}": m.chords for m in score.parts[0].measures}
    for measure in inner.iter(f"{_SVG}g"):
        chords = marks.get(measure.get("id"), ())
        if measure.get("class") != "measure" or not chords:
            continue
        symbols = [g for g in measure.iter(f"{_SVG}g") if g.get("class") == "harm"]
        texts += [text for group in symbols for text in group.iter(f"{_SVG}text")]
        for group, mark in zip(symbols, chords, strict=False):
            if mark.shape is None:
                last = None
                continue
            if (mark.chord, mark.shape) != last:
                text = group.find(f"{_SVG}text")
                placed.append((float(text.get("x")), mark))
            last = (mark.chord, mark.shape)
    row = _symbol_row(inner, texts, content_top)
    for text in texts:
        text.set("y", f"{row:g}")
    top = row - _SYMBOL_HEIGHT
    if not placed or not boxes:
        return max(0.0, -top), last
    scale = _scale(placed)
    tallest = max(box_frets(mark.shape) for _, mark in placed if mark.shape is not None)
    height = (MARKS_HEIGHT + FRET_GAP * tallest) * scale + _STRIP_GAP
    strip = etree.SubElement(inner, f"{_SVG}g", {"class": "boxes"})
    for x, mark in placed:
        assert mark.shape is not None, "only chords with shapes were kept"
        lower = FRET_GAP * (tallest - box_frets(mark.shape))
        y = top - height - (TITLE_HEIGHT - lower) * scale
        left = max(0.0, x - (SIDE - STRING_GAP / 4) * scale)
        strip.append(box_group(mark.shape, "", left, y, scale, small=True))
    return max(0.0, height - top), last


def _symbol_row(inner: etree._Element, texts: list[etree._Element], content_top: float) -> float:
    """The height of a base line on which all chord symbols of the system touch nothing."""
    if not texts:
        return _SYMBOL_HEIGHT
    own = set(texts)
    under = [min(float(text.get("y")) for text in texts), content_top]
    for text in inner.iter(f"{_SVG}text"):
        # Texts that are anchored at their end stand left of the staff.
        if text not in own and text.get("text-anchor") != "end":
            under.append(float(text.get("y")) - 0.7 * _size(text) - 120)
    for frame in inner.iter(f"{_SVG}rect"):
        under.append(float(frame.get("y")) - 120)
    return min(under)


def _content_top(svg: str) -> float:
    """The height over which there is no note, mark, bracket or beam of the picture."""
    tops = [float(y) - _above(sign) for sign, y in _GLYPH.findall(svg)]
    tops += [min(float(a), float(b)) - 120 for a, b in _LINE.findall(svg)]
    tops += [
        min(float(y) for _, y in _POINT.findall(points)) - 120 for points in _POLYGON.findall(svg)
    ]
    return min(tops, default=0.0)


def _above(sign: str) -> float:
    return next((high for name, high in _LOWER_SIGNS if sign.startswith(name)), _SIGN_ABOVE)


def _scale(placed: list[tuple[float, ChordMark]]) -> float:
    """The scale of the boxes: the usual one, or smaller where two boxes would touch."""
    xs = [x for x, _ in placed]
    gap = min((b - a for a, b in itertools.pairwise(xs)), default=float("inf"))
    widest = max(len(m.shape.frets) for _, m in placed if m.shape is not None)
    wide = STRING_GAP * (widest - 1) + SIDE + 4
    return max(_SCALE / 2, min(_SCALE, gap / wide))
