"""A style in words: its count with the strokes under it, as a player would say it.

Conventions: lines of plain text, columns aligned, `|` at bar lines, `.` where nothing stands. What
is shown for a pattern can be written into a style file as it is.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction

from accomp.rhythm.passage import Ending, Passage, PassageKind
from accomp.rhythm.pattern import Approach, BandPattern, Pattern
from accomp.rhythm.read_parts import STROKE_WORDS
from accomp.rhythm.rows import BAR_LINE, BETWEEN, NOTHING
from accomp.rhythm.stroke import Stroke
from accomp.rhythm.style import Style
from accomp.time import Meter

_WORDS = {at: word for word, at in BETWEEN.items()}
_STROKES = {meaning: word for word, meaning in STROKE_WORDS.items()}


def stroke_word(stroke: Stroke) -> str:
    """The word of the stroke row that a stroke was written with."""
    return _STROKES[stroke.direction, stroke.technique, stroke.value]


def count_word(at: Fraction, meter: Meter) -> str:
    """How a place, counted from the bar line, is said: "1", "&", "let"; "?" where no word fits."""
    counts = at / meter.unit
    if counts.denominator == 1:
        return str(counts + 1)
    return _WORDS.get(counts % 1, "?")


def describe_style(style: Style) -> tuple[str, ...]:
    """Everything about a style, one line of text each."""
    lines = [
        f"{style.title} ({style.name})",
        f"{style.meter}, {style.tempo[0]:g} to {style.tempo[1]:g} beats a minute, {_feel(style)}",
    ]
    if style.right_hand:
        lines.append(f"Right hand: {style.right_hand}")
    if style.mood:
        lines.append(f"Mood: {style.mood}")
    if style.players:
        lines.append(f"With it: {', '.join(_plain(player) for player in style.players)}")
    if style.jitter_ms or style.jitter_force:
        lines.append(
            f"Loose by about {style.jitter_ms:g} ms in time and by up to {style.jitter_force:g} in "
            f"velocity"
        )
    lines += ["", *describe_strum(style.strum, style.meter)]
    lines += _band(style, style.meter)
    for passage in style.passages:
        lines += ["", _passage_head(passage), *_changed(passage, style.meter)]
    if style.lead_in is not None:
        lines += ["", "Lead-in: drums in the last bar of the count-in"]
        lines += _drum_lines(style.lead_in, style.meter)
    ending = style.ending
    if ending != Ending():
        lines += ["", _ending_head(ending), *_changed(ending, style.meter)]
    return tuple(lines)


def _plain(player: str) -> str:
    return player.replace("-", " ")


def _band(patterns: Style | Passage | Ending, meter: Meter) -> list[str]:
    """The tables of the band's players, each under its name."""
    lines: list[str] = []
    for name, pattern in (("Bass", patterns.bass), ("Comping", patterns.comping)):
        if pattern is not None:
            player = f": {_plain(pattern.player)}" if isinstance(patterns, Style) else ""
            free = ", chords need not begin on their root" if pattern.free else ""
            if pattern.approach == Approach.SCALE:
                free += ", approach notes from the scale"
            row = "note" if name == "Bass" else "play"
            lines += ["", f"{name}{player}{free}", *_band_lines(pattern, meter, row)]
    if patterns.drums is not None:
        held = f": {patterns.drums.player}" if patterns.drums.player == "brushes" else ""
        lines += ["", f"Drums{held}", *_drum_lines(patterns.drums, meter)]
    return lines


def _changed(patterns: Passage | Ending, meter: Meter) -> list[str]:
    strum = [] if patterns.strum is None else list(describe_strum(patterns.strum, meter))
    return [*strum, *_band(patterns, meter)]


def _passage_head(passage: Passage) -> str:
    """When a passage comes, in one line."""
    when = []
    if passage.bars:
        bars = ", ".join(str(bar) for bar in passage.bars)
        word = "bar" if len(passage.bars) == 1 else "bars"
        if passage.name == PassageKind.ANSWER and passage.bars == (passage.phrase,):
            when.append(f"the end of each phrase of {passage.phrase}")
        else:
            when.append(f"{word} {bars} of each {passage.phrase}")
    if passage.last:
        when.append("the last chorus")
    elif passage.choruses:
        when.append(f"chorus {', '.join(str(chorus) for chorus in passage.choruses)}")
    elif passage.since > 1:
        when.append(f"from chorus {passage.since} on")
    if passage.louder:
        steps = abs(passage.louder)
        way = "harder" if passage.louder > 0 else "softer"
        when.append(f"{steps} step{'s' * (steps > 1)} {way}")
    if passage.over:
        when.append("over what is played already")
    name = passage.name.capitalize()
    return f"{name}: {', '.join(when)}" if when else name


def _ending_head(ending: Ending) -> str:
    parts = []
    if ending.tag:
        times = "once more" if ending.tag == 1 else f"{ending.tag} times more"
        parts.append(f"the last four bars {times}")
    if ending.ritard:
        bars = "bar" if ending.ritard == 1 else f"{ending.ritard} bars"
        parts.append(f"slowing over the last {bars} to {ending.slow_to:.0%} of the tempo")
    return f"Ending: {', '.join(parts)}" if parts else "Ending: the last bar"


def describe_strum(pattern: Pattern, meter: Meter) -> tuple[str, ...]:
    """The count of a pattern with its strokes under it; rows that say nothing new are left out."""
    strokes = pattern.strokes
    rows: dict[str, dict[Fraction, str]] = {
        "stroke": {stroke.start: stroke_word(stroke) for stroke in strokes},
        "strings": {stroke.start: stroke.strings for stroke in strokes},
        "force": {stroke.start: stroke.force for stroke in strokes},
        "sound": {stroke.start: stroke.sound for stroke in strokes},
    }
    return _table(pattern.length, meter, _telling(rows, strings="all", sound="ring"))


def _band_lines(pattern: BandPattern, meter: Meter, what: str) -> tuple[str, ...]:
    rows: dict[str, dict[Fraction, str]] = {
        what: {note.start: note.what for note in pattern.notes},
        "force": {note.start: note.force for note in pattern.notes},
        "sound": {note.start: note.sound for note in pattern.notes},
    }
    return _table(pattern.length, meter, _telling(rows, sound="long"))


def _telling(rows: dict[str, dict[Fraction, str]], **usual: str) -> dict[str, dict[Fraction, str]]:
    """The rows without those that say the usual word everywhere."""
    usual |= {"force": "plain"}
    return {name: row for name, row in rows.items() if {*row.values()} != {usual.get(name, "")}}


def _drum_lines(pattern: BandPattern, meter: Meter) -> tuple[str, ...]:
    rows: dict[str, dict[Fraction, str]] = {}
    for note in pattern.notes:
        rows.setdefault(note.what, {})[note.start] = {"plain": "x", "accent": "X"}.get(
            note.force, note.force
        )
    return _table(pattern.length, meter, rows)


def _feel(style: Style) -> str:
    if style.swing_by_tempo:
        return "swing by tempo"
    return "straight" if style.swing == 1.0 else f"swing {style.swing:g} to 1"


def _columns(length: Fraction, meter: Meter, places: Iterable[Fraction]) -> list[Fraction]:
    """The places to count: those given, every beat, and the number before each other word."""
    said = set(places)
    said |= {Fraction(0)}
    beats = -(-length // meter.beat)
    said |= {meter.beat * beat for beat in range(beats) if meter.beat * beat < length}
    said |= {at // meter.unit * meter.unit for at in said}
    return sorted(said)


def _table(
    length: Fraction, meter: Meter, rows: Mapping[str, Mapping[Fraction, str]]
) -> tuple[str, ...]:
    """Rows under a count, in columns."""
    columns = _columns(length, meter, (at for row in rows.values() for at in row))
    whole_bars = length % meter.bar == 0
    heads = [count_word(at % meter.bar if whole_bars else at, meter) for at in columns]
    cells = {"count": heads}
    for name, row in rows.items():
        cells[name] = [row.get(at, NOTHING) for at in columns]
    widths = [max(len(row[i]) for row in cells.values()) for i in range(len(columns))]
    label = max(len(name) for name in (*cells, *(() if whole_bars else ("length",))))
    lines = []
    for name, words in cells.items():
        text = f"  {name:<{label}} "
        for index, (word, width) in enumerate(zip(words, widths, strict=True)):
            if whole_bars and index and columns[index] % meter.bar == 0:
                text += f" {BAR_LINE}"
            text += f" {word:<{width}}"
        lines.append(text.rstrip())
    if not whole_bars:
        lines.append(f"  {'length':<{label}}  {_number(length / meter.unit)}")
    return tuple(lines)


def _number(counts: Fraction) -> str:
    return f"{float(counts):g}"
