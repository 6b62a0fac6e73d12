"""ABC lead sheets and tune books read into bars as written.

Conventions: ABC 2.1. A tune begins with `X:`, its header ends with `K:`, and an empty line ends it.
Fields before the first tune count for all tunes. Of several voices the one with the most chord
symbols is the lead sheet. The file is read directly, because a general reader silently leaves out
unknown chord symbols, third endings and the order of parts.
"""

from __future__ import annotations

import html
import re
import sys
from collections import defaultdict
from contextlib import AbstractContextManager
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path

from accomp.errors import InputError, Problem
from accomp.intake.abc_fields import (
    read_meter,
    read_parts,
    read_tempo,
    read_unit,
    usual_unit,
)
from accomp.intake.abc_music import MusicReader
from accomp.intake.numbers import read_whole
from accomp.intake.written import MOST_BARS_IN_ALL, MOST_LOST_IN_ALL, WrittenTune, too_many
from accomp.time import METERS, Meter

MOST_TUNES = 2000
_FIELD = re.compile(r"([A-Za-z+]):(.*)")
_COMMENT = re.compile(r"(?<!\\)%.*")
_VOICE = re.compile(r"(\[V:\s*+[^\]\[\s]++[^\]\[]*+\])")
_BODY_FIELDS = "KLMPQVwWIRmNrUsTC+"
_LONG_ENTITY = re.compile(r"&#([xX][0-9a-fA-F]{8,}|[0-9]{9,})")  # no character has a number as long


@dataclass(frozen=True, slots=True)
class _Line:
    """A field, or a piece of a line of music (`name` is empty), and where it begins."""

    name: str
    text: str
    line: int
    column: int = 1


def _field(match: re.Match[str], line: int) -> _Line:
    return _Line(match[1], match[2], line, match.start(2) + 1)


@dataclass
class _Source:
    """The lines of a tune: header fields, and the body by voice."""

    header: list[_Line] = field(default_factory=list)
    body: dict[str, list[_Line]] = field(default_factory=lambda: defaultdict(list))
    line: int = 0


def read_abc(text: str, path: Path) -> list[WrittenTune]:
    """All tunes of a file. Raises `InputError` when there is none."""
    sources, stray = _split(text)
    if not sources:
        raise InputError(
            Problem(
                "there is no tune in it: no line begins with X: or K:.",
                str(path),
                1,
                1,
                found=" ".join(text[:1000].split())[:40],
                expected="ABC, with X: and K: lines",
                hint="Is this the right file?",
            )
        )
    if len(sources) > MOST_TUNES:
        raise too_many(path, sources[-1].line, f"{MOST_TUNES:,} tunes")
    tunes: list[WrittenTune] = []
    bars = 0
    lost: set[str] = set()
    for source in sources:
        tunes.append(_tune(source, path))
        bars += len(tunes[-1].bars)
        lost |= tunes[-1].lost
        if len(lost) > MOST_LOST_IN_ALL:
            raise too_many(
                path, source.line, f"{MOST_LOST_IN_ALL:,} chord symbols that cannot be read"
            )
        if bars > MOST_BARS_IN_ALL:
            raise too_many(path, source.line, f"{MOST_BARS_IN_ALL:,} bars in all its tunes")
    for line, index in stray:
        tunes[index].say(
            f"line {line}: music after the empty line is no longer part of the tune and is left out"
        )
    return tunes


def _split(text: str) -> tuple[list[_Source], list[tuple[int, int]]]:
    """The tunes' lines, and (line, tune before it) of music that belongs to none.

    When there are more than `MOST_TUNES`, one more than that is returned.
    """
    lines = text.split("\n")
    has_numbers = any(line.startswith("X:") for line in lines)
    shared: dict[str, _Line] = {}
    sources: list[_Source] = []
    stray: list[tuple[int, int]] = []
    now: _Source | None = None if has_numbers else _Source(line=1)
    in_header = True
    voice = ""
    for number, raw in enumerate(lines, 1):
        line = _COMMENT.sub("", raw).rstrip()
        match = _FIELD.match(line)
        if match and match[1] == "X":
            now, in_header, voice = _Source(line=number), True, ""
            now.header += shared.values()
            sources.append(now)
            if len(sources) > MOST_TUNES:
                break
        elif not raw.strip():
            if now is not None and not in_header and has_numbers:
                now = None
        elif now is None:
            if match and not sources and match[1] in "CLMQR":
                # As within a tune, of two composers the first counts, of other fields the last.
                if match[1] != "C" or "C" not in shared:
                    shared[match[1]] = _field(match, number)
            elif "|" in line and sources and (not stray or stray[-1][1] != len(sources) - 1):
                stray.append((number, len(sources) - 1))
        elif in_header and match:
            now.header.append(_field(match, number))
            in_header = match[1] != "K"
        elif match and match[1] in _BODY_FIELDS:
            if match[1] == "V":
                voice = (match[2].split() or [""])[0]
            else:
                now.body[voice].append(_field(match, number))
        elif line.strip():
            in_header = False
            column = 1
            for at, piece in enumerate(_VOICE.split(line)):
                if at % 2:
                    voice = piece[3:-1].split()[0]
                elif piece.strip():
                    now.body[voice].append(_Line("", piece, number, column))
                column += len(piece)
    if now is not None and not has_numbers and any(one.name == "K" for one in now.header):
        sources.append(now)
    return sources, stray


def _tune(source: _Source, path: Path) -> WrittenTune:
    values: dict[str, _Line] = {}
    for one in source.header:
        if one.name not in values or one.name in "KLMQP":
            values[one.name] = one
    nothing = _Line("", "", source.line)

    def said(name: str) -> _Line:
        return values.get(name, nothing)

    def at(name: str) -> AbstractContextManager[None]:
        return tune.reading(said(name).line, said(name).column)

    tune = WrittenTune(path.stem, "", line=source.line)
    with at("T"):
        tune.title = _text(said("T").text) or path.stem
    with at("C"):
        tune.composer = _text(said("C").text)
    meter = read_meter(said("M").text)
    unit = usual_unit(meter)
    with at("L"):
        unit = read_unit(said("L").text) or unit
    beat = Meter.parse(meter).beat if meter in METERS else Fraction(1, 4)
    with at("Q"):
        _take_tempo(tune, said("Q").text, beat)
    with at("P"):
        _take_parts(tune, said("P").text)
    reader = MusicReader(tune, meter, unit, said("K").text)
    for one in _lead_voice(source, tune):
        with tune.reading(one.line, one.column):
            if one.name:
                reader.field(one.name, one.text)
            else:
                reader.line(one.text, one.line)
        if tune.hopeless or reader.full:
            break  # refused whatever follows
    reader.finish()
    marks = {bar.signs.mark for bar in tune.bars}
    if not set(tune.parts) & marks:
        tune.parts = ()
    return tune


def _take_tempo(tune: WrittenTune, text: str, beat: Fraction) -> None:
    tune.tempo = read_tempo(text, beat)
    words = text.strip()
    if tune.tempo is not None and words.isdecimal():
        tune.say(f"the tempo {words} is taken as beats a minute")
    elif tune.tempo is None and any(sign.isdecimal() for sign in words):
        tune.say(f"the tempo {words[:40]!r} is not understood")


def _take_parts(tune: WrittenTune, text: str) -> None:
    parts = read_parts(text)
    if parts is None:
        tune.say(f"the order of parts {text.strip()[:40]!r} is not understood")
    tune.parts = parts or ()


def _lead_voice(source: _Source, tune: WrittenTune) -> list[_Line]:
    """The lines before all voices and those of the voice with the most chord symbols."""
    voices = [voice for voice in source.body if voice]
    if not voices:
        return source.body.get("", [])
    counts = {
        voice: sum(one.text.count('"') for one in source.body[voice] if not one.name)
        for voice in voices
    }
    chosen = max(voices, key=lambda voice: counts[voice])
    for voice in voices:
        if voice != chosen:
            tune.say(f"the voice {voice[:20]!r} is not taken over")
    return source.body.get("", []) + source.body[chosen]


def _text(value: str) -> str:
    """A title or name on one line, HTML entities decoded.

    Raises `WrongNumberError` for an entity of more digits than any character has.
    """
    entity = _LONG_ENTITY.search(value)
    if entity is not None:
        read_whole(entity[1], "the number of a character", 0, sys.maxunicode)
    return " ".join(html.unescape(value).replace("\\", "").split())
