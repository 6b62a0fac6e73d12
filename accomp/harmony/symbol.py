"""Chord symbols as they stand on printed lead sheets, read into chords.

Conventions: a symbol is a root (A to G, with b or # or neither), a suffix from the chord table
with alterations in brackets or not, and a bass after `/`. Real signs ♭ ♯ ° ø Δ − are read as well;
the chord keeps its symbol as it came. Columns count characters inside the symbol, from 1.
"""

from __future__ import annotations

from functools import lru_cache

from accomp.harmony.alter import ChordContent, ConflictError, altered
from accomp.harmony.chord import Chord, Tone
from accomp.harmony.complaint import conflict, no_root, no_text, not_understood, too_long
from accomp.harmony.kind import alterations
from accomp.harmony.pitch import Spelling
from accomp.harmony.suffix import UnreadSuffix, read_suffix, split_symbol

LONGEST = 60  # characters; no printed symbol comes near


def parse_chord(text: str) -> Chord:
    """Read a chord symbol, as "Bb", "F#m7b5", "C7(b9)/E", "A♭Δ7".

    Raises `ChordError`, and nothing else, for anything else; its column counts inside the symbol.
    """
    if not isinstance(text, str):
        raise no_text(text)
    if len(text) > LONGEST:
        raise too_long(text)
    return read_symbol(text)


@lru_cache(maxsize=4096)
def read_symbol(text: str) -> Chord:
    """Read a symbol of any length: in another key it may be longer than `LONGEST`."""
    parts = split_symbol(text)
    if parts is None:
        raise no_root(text)
    root_name, suffix_text, bass_name = parts
    start = len(root_name)
    suffix = read_suffix(suffix_text)
    if isinstance(suffix, UnreadSuffix):
        raise not_understood(text, start, suffix)
    try:
        content = altered(suffix.row, suffix.changes, vague=suffix.vague)
    except ConflictError as clash:
        raise conflict(text, start + suffix.starts[clash.index], str(clash)) from None
    root = Spelling.parse(root_name)
    bass = Spelling.parse(bass_name) if bass_name else None
    if bass is not None and bass.pc == root.pc:  # the root is the bass of a chord that names none
        return read_symbol(text[: start + len(suffix_text)])
    return Chord(
        symbol=text,
        root=root,
        suffix=text[start : start + len(suffix_text)],
        kind=content.kind,
        alterations=alterations(content.kind, content.degrees),
        tones=_tones(root, content),
        drop_order=tuple(str(degree) for degree in content.drop),
        bass=bass,
    )


def _tones(root: Spelling, content: ChordContent) -> tuple[Tone, ...]:
    return tuple(
        Tone(
            degree=str(degree),
            semitones=degree.semitones,
            spelling=root.up(degree.interval),
            essential=degree in content.essential,
        )
        for degree in content.degrees
    )
