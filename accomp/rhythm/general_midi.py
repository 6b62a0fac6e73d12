"""The words of General MIDI for players and percussion sounds, and drum patterns in its keys.

Conventions: words are in lower case with dashes ("acoustic-bass", "bass-drum-1"); short words
("snare") stand for the sound most often meant. Programs count from 1 to 128 as the standard prints
them, percussion keys from 35 to 81. A hit has no length of its own, so its span (score time from
where the pattern begins) runs to the next place in the pattern.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from accomp.files.data import package_data
from accomp.rhythm.pattern import BandPattern
from accomp.rhythm.stroke import ForceStep
from accomp.time import Span

# What a drummer holds, and the drum set for it: a program, counted from 0, on the drums' channel.
# Source: "General MIDI 2", MIDI Manufacturers Association, 1999: Brush is set 40 (from memory);
# a synthesiser that knows only General MIDI 1 plays its one set.
DRUM_SETS = {"sticks": 0, "brushes": 40}


@dataclass(frozen=True)
class _Table:
    programs: Mapping[str, int]
    percussion: Mapping[str, int]
    short: Mapping[str, str]


@cache
def _table() -> _Table:
    data = package_data("general_midi.toml")
    return _Table(data["programs"], data["percussion"], data["short"])


def percussion_words() -> tuple[str, ...]:
    """Every word that names a percussion sound, the short ones first."""
    return _words(_table().percussion)


def program_words() -> tuple[str, ...]:
    """Every word that names a program, the short ones first."""
    return _words(_table().programs)


def _words(sounds: Mapping[str, int]) -> tuple[str, ...]:
    short = (word for word, full in _table().short.items() if full in sounds)
    return (*short, *sounds)


def percussion_key(word: str) -> int:
    """The key number (35 to 81) of a percussion sound. Raises `KeyError` for an unknown word."""
    table = _table()
    return table.percussion[table.short.get(word, word)]


def program_number(word: str) -> int:
    """The program (1 to 128) of a player's sound. Raises `KeyError` for an unknown word."""
    table = _table()
    return table.programs[table.short.get(word, word)]


@dataclass(frozen=True, slots=True)
class DrumHit:
    """One drum hit: General MIDI percussion `key` (35 to 81), `force`."""

    span: Span
    key: int
    force: ForceStep


def drum_hits(span: Span, pattern: BandPattern) -> tuple[DrumHit, ...]:
    """The hits that begin in `span` of a drum pattern, in order."""
    return tuple(
        DrumHit(note_span, percussion_key(note.what), note.force)
        for note_span, note in pattern.during(span)
    )
