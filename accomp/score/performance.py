"""A performance: timed notes, in seconds.

Conventions: seconds are floats from the start of the file; velocities 1 to 127; MIDI channels
0 to 15 (9 is the drums); programs 0 to 127 and banks as sent on the wire.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Literal, get_args, overload

from accomp.files.paths import StrPath
from accomp.files.saving import saved
from accomp.files.text import counted
from accomp.files.values import short
from accomp.outward import made

if TYPE_CHECKING:
    import mido
    import pretty_midi

DRUM_CHANNEL = 9  # MIDI channel 10, counted from 0

# On which side of the band the strummed player sits, as the listener hears it.
Side = Literal["left", "right"]
SIDES: tuple[Side, ...] = get_args(Side)


@dataclass(frozen=True, slots=True)
class Note:
    """One sounding note. `bank` chooses the variant of the sound (0 ring, 1 choked, 2 dead); `up`
    says that an up-stroke sounds it (a MIDI file cannot say so, but our own voices use it).
    """

    start_s: float
    end_s: float
    pitch: int
    velocity: int
    channel: int
    bank: int = 0
    up: bool = False


class Role(StrEnum):
    """What a track is for: the strummed player's part is the one to be played along with."""

    PLAYER = "player"
    BAND = "band"
    CLICK = "click"
    MELODY = "melody"


@dataclass(frozen=True, slots=True)
class Track:
    """One player. `level` is 0 to 127 (controller 7), `pan` 0 left to 127 right (controller 10);
    `channels` are all that the track uses (one a string when strummed)."""

    name: str
    role: Role
    program: int
    channels: tuple[int, ...]
    notes: tuple[Note, ...]
    level: int = 100
    pan: int = 64

    @property
    def drums(self) -> bool:
        """Whether the track is on the drum channel alone: a drummer's, or the count-in."""
        return self.channels == (DRUM_CHANNEL,)


@dataclass(frozen=True, slots=True)
class TempoMark:
    """From `start_s` on, a quarter lasts `quarter_s` seconds."""

    start_s: float
    quarter_s: float


@dataclass(frozen=True, slots=True)
class MeterMark:
    """A time signature from `start_s` on."""

    start_s: float
    count: int
    unit: int


@dataclass(frozen=True, slots=True)
class KeyMark:
    """A key signature from `start_s` on."""

    start_s: float
    key: str


@dataclass(frozen=True, slots=True)
class TextMark:
    """A text at a moment: a marker (section, chorus) or a chord symbol."""

    start_s: float
    text: str


@dataclass(frozen=True)
class Performance:
    """A whole performance, count-in included. `end_s` is the last bar line."""

    title: str
    tracks: tuple[Track, ...]
    tempos: tuple[TempoMark, ...]
    meters: tuple[MeterMark, ...]
    keys: tuple[KeyMark, ...]
    markers: tuple[TextMark, ...]
    chords: tuple[TextMark, ...]
    end_s: float

    def __repr__(self) -> str:
        tracks = counted(len(self.tracks), "track")
        return f"<Performance of {short(self.title)!r}: {tracks}, {self.end_s:.1f} s>"

    @overload
    def to_midi(self) -> bytes: ...
    @overload
    def to_midi(self, path: StrPath) -> Path: ...
    def to_midi(self, path: StrPath | None = None) -> bytes | Path:
        """A Standard MIDI File, format 1, 480 ticks a quarter: its bytes, or the path that it is
        written to. Raises `OutputError`."""
        return saved(made("midi", self), path)

    def to_mido(self) -> mido.MidiFile:
        """The MIDI file as mido's object: track 0 is the conductor's, then one a player."""
        return made("mido", self)

    def to_pretty_midi(self) -> pretty_midi.PrettyMIDI:
        """The MIDI file as pretty_midi's object, in seconds.

        pretty_midi has one instrument for each program of a track. Raises `NotInstalledError`
        without it (the extra `accomp[bridges]`).
        """
        return made("pretty_midi", self)


def mirrored(performance: Performance) -> Performance:
    """The same with left and right exchanged."""
    tracks = (replace(track, pan=min(127, 128 - track.pan)) for track in performance.tracks)
    return replace(performance, tracks=tuple(tracks))
