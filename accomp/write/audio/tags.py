"""What a sound file says about itself: title, key, tempo, position, and chapters.

Conventions: tags are text by name, "title" and whatever else the caller has; text comes from a
user's file and is data: one line, no control signs, 200 characters at most. Chapters begin at
seconds from the start of the file, in order; each lasts to the next.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from accomp.score.performance import TextMark

_LONGEST = 200
_CHAPTERS_MOST = 255  # an MP3's table of contents holds no more; 99 a cue sheet


@dataclass(frozen=True, slots=True)
class Chapter:
    """A named stretch of the file."""

    start_s: float
    end_s: float
    name: str


@dataclass(frozen=True, slots=True)
class Tags:
    """A title, other things by name, and chapters; made by `tags_of`."""

    title: str
    others: tuple[tuple[str, str], ...]
    chapters: tuple[Chapter, ...] = ()

    @property
    def comment(self) -> str:
        """All but the title in one line, for players that show no more."""
        return "; ".join(f"{name}: {text}" for name, text in self.others)


NO_TAGS = Tags("", ())


def tags_of(
    texts: Mapping[str, str], marks: Iterable[TextMark] = (), *, duration_s: float = 0.0
) -> Tags:
    """Tags from texts by name, and chapters from what is marked in the music."""
    clean = {name: one_line(text) for name, text in texts.items()}
    title = clean.pop("title", "")
    starts = [mark for mark in marks if one_line(mark.text) and mark.start_s < duration_s]
    starts = sorted(starts, key=lambda mark: mark.start_s)[:_CHAPTERS_MOST]
    ends = [*(mark.start_s for mark in starts[1:]), duration_s]
    chapters = tuple(
        Chapter(mark.start_s, end_s, one_line(mark.text))
        for mark, end_s in zip(starts, ends, strict=False)  # without marks the end alone is left
    )
    return Tags(title, tuple((name, text) for name, text in clean.items() if text), chapters)


def one_line(text: str) -> str:
    """Text fit for a tag."""
    return "".join(sign if sign.isprintable() else " " for sign in text).strip()[:_LONGEST]
