"""Chord symbols of ABC files as symbols of ours.

Conventions: ABC 2.1 wants a bass in capitals; older collections write it small, and some a sharp
after it as "+" and a flat as "-". Alternatives in brackets are left out, with a notice.
"""

from __future__ import annotations

import re

from accomp.errors import ChordError
from accomp.harmony import parse_chord, says_no_chord

_SMALL_BASS = re.compile(r"(.+)/\s*([A-Ga-g])([#b♯♭+-]?)\s*")
_ALTERNATIVE = re.compile(r"([^\s(;]+)\s*[(;]\s*([A-G][^\s()]*)\)?\s*")
_IN_BRACKETS = re.compile(r"\(\s*([^()]+?)\s*\)")
_LONGEST = 80  # characters; no chord symbol with an alternative comes near
_BASS_SIGNS = {"+": "#", "-": "b"}


def abc_symbol(text: str) -> tuple[str | None, str]:
    """A symbol (None for N.C., "" when it is none) and what to say about it ("" for nothing)."""
    if says_no_chord(text):
        return None, ""
    if len(text) > _LONGEST:
        return "", f"{text[:40]!r} ... is no chord symbol and is left out"
    found = _read(text)
    if found:
        return found, ""
    if (brackets := _IN_BRACKETS.fullmatch(text)) and (found := _read(brackets[1])):
        return found, ""
    if (match := _ALTERNATIVE.fullmatch(text)) and (found := _read(match[1])):
        return found, f"{match[2]} is only an alternative to {match[1]} and is left out"
    shown = " ".join(text.split())
    return "", f"{shown[:40]!r} is no chord symbol and is left out; the chord before it goes on"


def _read(text: str) -> str:
    """The symbol as we write it, "" when it is none."""
    word = "".join(text.split())
    candidates = [word]
    if match := _SMALL_BASS.fullmatch(word):
        sign = _BASS_SIGNS.get(match[3], match[3])
        candidates.append(f"{match[1]}/{match[2].upper()}{sign}")
    for candidate in candidates:
        try:
            return str(parse_chord(candidate))
        except ChordError:
            continue
    return ""
