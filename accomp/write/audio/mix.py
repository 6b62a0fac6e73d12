"""From a performance to mixed sound: stems rendered once, the mixer, the room, one gain.

Conventions: a group is a choice of tracks heard together. The groups of `GROUPS` are written into
files; others may be mixed under names of their own. All groups are equally long and share the gain
that the full mix needs; before the limiter "player" and "without-player" add up to "full".
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path

from accomp.files.folders import working_here
from accomp.score.performance import Performance, Role, Track
from accomp.write.audio.bus import MeasuredSound, level, spooled
from accomp.write.audio.fonts import Fonts
from accomp.write.audio.limiter import CEILING
from accomp.write.audio.mixer import BusGains, PannedSource, centred, set_up
from accomp.write.audio.render import SAMPLE_RATE
from accomp.write.audio.room import bus_response, convolved
from accomp.write.audio.spool import DelayedSource, Source, Spool, SummedSource
from accomp.write.audio.stems import render_stems_to
from accomp.write.audio.strokes import onsets_s, rounded_tops, strummed
from accomp.write.formats import MixGroup

TrackChoice = Callable[[Track], bool]
Progress = Callable[[float], None]

GROUPS: Mapping[MixGroup, TrackChoice] = {
    "full": lambda track: True,
    "without-player": lambda track: track.role != Role.PLAYER,
    "player": lambda track: track.role == Role.PLAYER,
}


@dataclass(frozen=True, slots=True)
class Rendering:
    """How a performance is rendered.

    `soundfont` plays the band (default: the General MIDI font that comes along), `voice` plays the
    player's track; `room` puts all in a small room; `threads` is how many tracks are rendered at
    once (default: one for each processor); the sound begins with `silence_s` of silence.
    """

    soundfont: Path | None = None
    voice: Path | None = None
    room: bool = True
    threads: int | None = None
    silence_s: float = 0.0


AS_USUAL = Rendering()


@dataclass(frozen=True, slots=True)
class Mix:
    """Groups after the room, before their common gain; after it none may go above `ceiling`.

    `full` is the full mix after its gain and limiter.
    """

    sounds: Mapping[str, Source]
    full: MeasuredSound
    gain_db: float
    ceiling: float


@contextmanager
def mixed(
    performance: Performance,
    groups: Mapping[str, TrackChoice],
    fonts: Fonts,
    rendering: Rendering = AS_USUAL,
    *,
    ceiling: float = CEILING,
    progress: Progress | None = None,
) -> Iterator[Mix]:
    """The mix of the groups; its working files last as long as the context.

    Each group begins with the rendering's silence. `progress` gets the part rendered, 0 to 1, from
    this thread. Raises `SoundError`, and `OSError` when the disk for working files is full.
    """
    with ExitStack() as stack:
        with working_here():
            spools = [stack.enter_context(Spool()) for _ in performance.tracks]
            render_stems_to(
                spools, performance, fonts, threads=rendering.threads, progress=progress
            )
            frames = max(
                [round(performance.end_s * SAMPLE_RATE), *(spool.frames for spool in spools)]
            )
            every = {**groups, "full": GROUPS["full"]}
            buses = _buses(spools, performance, stack)
            levels = set_up(
                {role: SummedSource(tuple(bus.values())) for role, bus in buses.items()},
                SAMPLE_RATE,
            )
            dry = _by_groups(buses, performance, every, levels)
            sounds = _in_room(dry, every, frames, stack, room=rendering.room)
            silent = round(rendering.silence_s * SAMPLE_RATE)
            sounds = {name: DelayedSource(sound, silent) for name, sound in sounds.items()}
            gain_db, full = level(sounds["full"], levels.about_lufs, SAMPLE_RATE, stack, ceiling)
        yield Mix(sounds, full, gain_db, ceiling)


_DRUMS_BENT_DB = 6.0  # the hardest strokes of a kit are as short as a pluck, but peak higher
_Buses = Mapping[Role, Mapping[int, Source]]  # by the track's place


def _buses(spools: Sequence[Spool], performance: Performance, stack: ExitStack) -> _Buses:
    """The tracks by their bus; strokes that stand out are levelled, and tops bent."""
    buses: dict[Role, dict[int, Source]] = {}
    for index, (spool, track) in enumerate(zip(spools, performance.tracks, strict=True)):
        sound: Source = spool
        if track.role == Role.PLAYER:
            sound = spooled(strummed(spool, onsets_s(track.notes), SAMPLE_RATE), stack)
        elif track.role == Role.CLICK:
            sound = spooled(rounded_tops(spool), stack)
        elif track.drums:
            sound = centred(spooled(rounded_tops(spool, _DRUMS_BENT_DB), stack))
        role = track.role if track.role in (Role.PLAYER, Role.CLICK) else Role.BAND
        buses.setdefault(role, {})[index] = sound
    return buses


def _by_groups(
    buses: _Buses, performance: Performance, groups: Mapping[str, TrackChoice], levels: BusGains
) -> dict[frozenset[str], list[Source]]:
    """The tracks at their levels, by the names of the groups in which they are heard."""
    together: dict[frozenset[str], list[Source]] = {}
    for role, bus in buses.items():
        for index, dry in bus.items():
            track = performance.tracks[index]
            heard = frozenset(name for name, group in groups.items() if group(track))
            together.setdefault(heard, []).append(PannedSource(dry, levels.gains[role]))
    return together


def _in_room(
    dry: Mapping[frozenset[str], Sequence[Source]],
    groups: Iterable[str],
    frames: int,
    stack: ExitStack,
    *,
    room: bool,
) -> dict[str, Source]:
    """Each group through the room. Tracks that are heard in the same groups go through it once,
    as one sum."""
    response = bus_response(SAMPLE_RATE, room=room)
    wet = {
        heard: spooled(convolved(SummedSource(sources, at_least=frames), response), stack)
        for heard, sources in dry.items()
    }
    longest = max([frames, *(sound.frames for sound in wet.values())])
    return {
        name: SummedSource(
            [sound for heard, sound in wet.items() if name in heard], at_least=longest
        )
        for name in groups
    }
