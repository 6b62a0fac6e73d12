"""The notes of a page: when each begins and ends, at any speed.

Conventions: as in `accomp.web.timeline`; a time is two numbers, one that grows when the tune is
played slower and one that does not.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Container
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import Any, Literal

from accomp.harmony import Key
from accomp.rhythm.stroke import Technique
from accomp.score.arrangement import Arrangement
from accomp.score.clock import Clock, counted_in
from accomp.score.perform import perform
from accomp.score.performance import Note, Performance, Role, Track
from accomp.web.fonts import played
from accomp.write.audio.fonts import Fonts
from accomp.write.audio.hand import strings_apart

Json = dict[str, Any]

COUNT_IN = 1  # bars of a performance that is made for a page; the page counts in by itself
# The last string of a stroke sounds within this time after it, and a choking hand lets go in it.
_OF_A_STROKE_S = 0.2
_EARLY_S = 0.03  # a stroke may stray so far ahead of its time
# The players as the page mixes them, and the strokes to which their notes belong.
PageGroup = Literal["me", "melody", "drums", "bass", "comping"]
StruckPart = Literal["strums", "bass", "drums", "comping"]
_GROUPS: dict[Role, PageGroup] = {Role.PLAYER: "me", Role.MELODY: "melody"}
_STRUCK: dict[PageGroup, StruckPart] = {
    "me": "strums", "bass": "bass", "drums": "drums", "comping": "comping"
}  # fmt: skip


@dataclass(frozen=True)
class PageVersion:
    """The tune in one key and position, arranged and performed."""

    key: Key
    position: str
    arrangement: Arrangement

    @cached_property
    def performance(self) -> Performance:
        """The notes, after a bar of count-in."""
        return perform(self.arrangement, count_in=COUNT_IN)


class Times:
    """Times of one version in seconds from the first bar line, and the strokes that notes belong
    to. A time is [part that grows when the tune is played slower, part that does not]."""

    def __init__(self, version: PageVersion) -> None:
        self.arrangement = version.arrangement
        self.clock = clock_of(version)
        self.zero_s = self.clock(Fraction(0))
        self._strokes: dict[StruckPart, tuple[list[float], list[bool]]] = {}

    def whole(self, time_s: float) -> list[float]:
        """A time that grows as a whole when the tune is played slower."""
        return [rounded(time_s - self.zero_s), 0]

    def of_stroke(self, time_s: float, part: StruckPart) -> list[float]:
        """A time that belongs to a stroke: the time of the stroke, and how long after it. Another
        time grows as a whole. A note that strays a little ahead of a stroke belongs to it, too."""
        strokes_s, single = self._of_part(part)
        index = bisect_right(strokes_s, time_s + _EARLY_S) - 1
        if index < 0 or not single[index] or time_s - strokes_s[index] > _OF_A_STROKE_S:
            return self.whole(time_s)
        return [rounded(strokes_s[index] - self.zero_s), rounded(time_s - strokes_s[index])]

    def _of_part(self, part: StruckPart) -> tuple[list[float], list[bool]]:
        """The times of a part's strokes, and for each whether it is a single movement."""
        if part not in self._strokes:
            many = {Technique.TREMOLO, Technique.ROLL}
            found = sorted(
                (self.clock(stroke.span.start), getattr(stroke, "technique", "") not in many)
                for bar in self.arrangement.bars
                for stroke in getattr(bar, part)
            )
            self._strokes[part] = [at_s for at_s, _ in found], [single for _, single in found]
        return self._strokes[part]


def clock_of(version: PageVersion) -> Clock:
    """The clock of a version's performance."""
    arrangement = version.arrangement
    lead = counted_in(arrangement.bars[0].bar.meter, arrangement.pickup, COUNT_IN)
    return Clock(arrangement, lead.length)


def rounded(time_s: float) -> float:
    """A time to a tenth of a millisecond."""
    return round(time_s, 4) + 0.0  # no negative zero


def track_json(
    track: Track, times: Times, fonts: Fonts, basses: Container[int] = frozenset()
) -> Json:
    """A track: its sounds, and each note as [start, after, end, after, key, velocity, channel,
    bank]."""
    pitched: PageGroup = "bass" if track.program in basses else "comping"
    group = _GROUPS.get(track.role) or ("drums" if track.drums else pitched)
    part = _STRUCK.get(group)
    return {
        "group": group,
        "name": track.name,
        "program": fonts.program(track),
        "channels": list(track.channels),
        "voiced": bool(fonts.voice is not None and fonts.voices(track)),
        "drums": track.drums,
        "level": track.level,
        "pans": _pans(track),
        "notes": [_note(note, times, part) for note in played(track, fonts).notes],
    }


def _pans(track: Track) -> list[int]:
    """The pan of each channel; strings stand a little apart, as in the mix."""
    by_channel = {
        channel: string.pan for string in strings_apart(track) for channel in string.channels
    }
    return [by_channel[channel] for channel in track.channels]


def _note(note: Note, times: Times, part: StruckPart | None) -> list[float]:
    start = times.of_stroke(note.start_s, part) if part else times.whole(note.start_s)
    end = times.of_stroke(note.end_s, part) if part == "strums" else times.whole(note.end_s)
    return [*start, *end, note.pitch, note.velocity, note.channel, note.bank]
