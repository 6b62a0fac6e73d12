"""ABC lead sheets and tune books read into bars as written.

Conventions: ABC 2.1. A tune begins with `X:`, its header ends with `K:`, and an empty line ends it.
What stands before the first tune counts for all. Of several voices the one with the most chord
symbols is the lead sheet. The file is read directly: a general reader leaves out, without a word,
chord symbols it does not know, third endings and the order of parts.
"""

from __future__ import annotations

import html
import re
from collections import defaultdict
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
from accomp.intake.written import WrittenTune
from accomp.time import METERS, Meter

MOST_TUNES = 2000
_FIELD = re.compile(r"([A-Za-z+]):(.*)")
_VOICE = re.compile(r"\[V:\s*([^\]\[\s]+)[^\]\[]*\]")
_BODY_FIELDS = "KLMPQVwWIRmNrUsTC+"


@dataclass
class _Source:
    """The lines of a tune, with their numbers: header fields and the body by voice."""

    header: list[tuple[str, str, int]] = field(default_factory=list)
    body: dict[str, list[tuple[str, str, int]]] = field(default_factory=lambda: defaultdict(list))
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
                found=" ".join(text.split())[:40],
                expected="ABC, with X: and K: lines",
                hint="Is this the right file?",
            )
        )
    if len(sources) > MOST_TUNES:
        raise InputError(
            Problem(
                f"it holds {len(sources)} tunes.",
                str(path),
                found=f"{len(sources)} tunes",
                expected=f"at most {MOST_TUNES}",
                hint="Split it into several files.",
            )
        )
    tunes = [_tune(source, path) for source in sources]
    for line, index in stray:
        tunes[index].notices.append(
            f"line {line}: music after the empty line is no longer part of the tune and is left out"
        )
    return tunes


def _split(text: str) -> tuple[list[_Source], list[tuple[int, int]]]:
    """The tunes' lines, and (line, tune before it) of music that belongs to none."""
    lines = text.split("\n")
    has_numbers = any(line.startswith("X:") for line in lines)
    shared: list[tuple[str, str, int]] = []
    sources: list[_Source] = []
    stray: list[tuple[int, int]] = []
    now: _Source | None = None if has_numbers else _Source(line=1)
    in_header = True
    voice = ""
    for number, raw in enumerate(lines, 1):
        line = re.sub(r"(?<!\\)%.*", "", raw).rstrip()
        match = _FIELD.match(line)
        if match and match[1] == "X":
            now, in_header, voice = _Source(line=number), True, ""
            now.header += shared
            sources.append(now)
        elif not raw.strip():
            if now is not None and not in_header and has_numbers:
                now = None
        elif now is None:
            if match and not sources and match[1] in "CLMQR":
                shared.append((match[1], match[2], number))
            elif "|" in line and sources and (not stray or stray[-1][1] != len(sources) - 1):
                stray.append((number, len(sources) - 1))
        elif in_header and match:
            now.header.append((match[1], match[2], number))
            in_header = match[1] != "K"
        elif match and match[1] in _BODY_FIELDS:
            if match[1] == "V":
                voice = (match[2].split() or [""])[0]
            else:
                now.body[voice].append((match[1], match[2], number))
        elif line.strip():
            in_header = False
            pieces = _VOICE.split(line)
            for at, piece in enumerate(pieces):
                if at % 2:
                    voice = piece
                elif piece.strip():
                    now.body[voice].append(("", piece, number))
    if now is not None and not has_numbers and any(name == "K" for name, _, _ in now.header):
        sources.append(now)
    return sources, stray


def _tune(source: _Source, path: Path) -> WrittenTune:
    values: dict[str, str] = {}
    for name, value, _ in source.header:
        if name not in values or name in "KLMQP":
            values[name] = value
    title = _text(values.get("T", "")) or f"{path.stem} {values.get('X', '').strip()}".strip()
    tune = WrittenTune(title, _text(values.get("C", "")), line=source.line)
    meter = read_meter(values.get("M", ""))
    unit = read_unit(values.get("L", "")) or usual_unit(meter)
    beat = Meter.parse(meter).beat if meter in METERS else Fraction(1, 4)
    if "Q" in values:
        tune.tempo = read_tempo(values["Q"], beat)
        if values["Q"].strip().isdigit():
            tune.notices.append(f"the tempo {values['Q'].strip()} is taken as beats a minute")
    if "P" in values:
        parts = read_parts(values["P"])
        if parts is None:
            tune.notices.append(
                f"the order of parts {values['P'].strip()[:40]!r} is not understood"
            )
        tune.parts = parts or ()
    reader = MusicReader(tune, meter, unit, values.get("K", ""))
    for name, value, number in _lead_voice(source, tune):
        if name:
            reader.field(name, value)
        else:
            reader.line(value, number)
    reader.finish()
    marks = {bar.mark for bar in tune.bars}
    if not set(tune.parts) & marks:
        tune.parts = ()
    return tune


def _lead_voice(source: _Source, tune: WrittenTune) -> list[tuple[str, str, int]]:
    """The lines of the voice with the most chord symbols, with what stands before all voices."""
    voices = [voice for voice in source.body if voice]
    if not voices:
        return source.body.get("", [])
    counts = {
        voice: sum(text.count('"') for name, text, _ in source.body[voice] if not name)
        for voice in voices
    }
    chosen = max(voices, key=lambda voice: counts[voice])
    for voice in voices:
        if voice != chosen:
            tune.notices.append(f"the voice {voice[:20]!r} is not taken over")
    return source.body.get("", []) + source.body[chosen]


def _text(value: str) -> str:
    """A title or name on one line."""
    return " ".join(html.unescape(value).replace("\\", "").split())
