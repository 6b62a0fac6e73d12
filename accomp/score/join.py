"""Several performances one after another, as one: speed ladders, drills, auditions.

Conventions: seconds are floats from the start of the whole. Each performance has its own gap after
it; a gap of a whole bar keeps bar lines on the beat.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

from accomp.score.performance import Note, Performance, TextMark, Track


@dataclass(frozen=True, slots=True)
class Segment:
    """One performance in a row; `name` becomes a marker where it begins, `gap_s` follows it."""

    name: str
    performance: Performance
    gap_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Cue:
    """Where a segment begins in the whole."""

    start_s: float
    name: str


def join(title: str, segments: Sequence[Segment]) -> tuple[Performance, tuple[Cue, ...]]:
    """All segments as one performance, and where each begins. Tracks of one name become one.

    Raises `ValueError` where there are no segments.
    """
    if not segments:
        raise ValueError("nothing to join")
    starts_s = [0.0]
    for segment in segments:
        starts_s.append(starts_s[-1] + segment.performance.end_s + segment.gap_s)
    tracks: dict[str, Track] = {}
    notes: dict[str, list[Note]] = {}
    for segment, by_s in zip(segments, starts_s, strict=False):
        for track in segment.performance.tracks:
            tracks.setdefault(track.name, track)
            notes.setdefault(track.name, []).extend(
                replace(note, start_s=note.start_s + by_s, end_s=note.end_s + by_s)
                for note in track.notes
            )
    cues = tuple(Cue(by_s, segment.name) for segment, by_s in zip(segments, starts_s, strict=False))
    whole = Performance(
        title=title,
        tracks=tuple(replace(track, notes=tuple(notes[name])) for name, track in tracks.items()),
        tempos=_moved(segments, starts_s, "tempos"),
        meters=_moved(segments, starts_s, "meters"),
        keys=_moved(segments, starts_s, "keys"),
        markers=tuple(TextMark(cue.start_s, cue.name) for cue in cues),
        chords=_moved(segments, starts_s, "chords"),
        end_s=starts_s[-1] - segments[-1].gap_s,
    )
    return whole, cues


_Marks = Literal["tempos", "meters", "keys", "chords"]


def _moved(segments: Sequence[Segment], starts_s: Sequence[float], what: _Marks) -> tuple[Any, ...]:
    """The marks of one kind from all segments, each moved by the start of its segment."""
    return tuple(
        replace(mark, start_s=mark.start_s + by_s)
        for segment, by_s in zip(segments, starts_s, strict=False)
        for mark in getattr(segment.performance, what)
    )
