"""From a performance to mixed sound: stems rendered once, groups of them in the room, one gain.

Conventions: a group is a choice of tracks heard together. All groups are equally long and share the
gain that the full mix needs; before the limiter "player" and "without-player" add up to "full".
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path

from accomp.files.folders import output_errors
from accomp.score.performance import Performance, Role, Track
from accomp.write.audio.bus import Measured, in_room, level, measured
from accomp.write.audio.fonts import Fonts
from accomp.write.audio.limiter import CEILING
from accomp.write.audio.render import SAMPLE_RATE
from accomp.write.audio.spool import Source, Spool, Sum
from accomp.write.audio.stems import render_stems_to
from accomp.write.formats import MixGroup

Group = Callable[[Track], bool]
Progress = Callable[[float], None]

GROUPS: Mapping[str, Group] = {
    MixGroup.FULL: lambda track: True,
    MixGroup.WITHOUT_PLAYER: lambda track: track.role != Role.PLAYER,
    MixGroup.PLAYER: lambda track: track.role == Role.PLAYER,
}


@dataclass(frozen=True, slots=True)
class Rendering:
    """What a performance is rendered with.

    `soundfont` plays the band (default: the General MIDI font that comes along), `voice` the
    player; `room` puts all in a small room; `threads` is how many tracks are rendered at once.
    """

    soundfont: Path | None = None
    voice: Path | None = None
    room: bool = True
    threads: int | None = None


AS_USUAL = Rendering()


@dataclass(frozen=True, slots=True)
class Mix:
    """Groups after the room, before their common gain; none may go above `ceiling`.

    `full` is the full mix after its gain and limiter.
    """

    sounds: Mapping[str, Measured]
    full: Measured
    gain_db: float
    ceiling: float


@contextmanager
def mixed(
    performance: Performance,
    groups: Mapping[str, Group],
    fonts: Fonts,
    rendering: Rendering = AS_USUAL,
    *,
    ceiling: float = CEILING,
    progress: Progress | None = None,
) -> Iterator[Mix]:
    """The groups after the room and their gain; working files last as long as the context.

    `progress` gets the part rendered, 0 to 1, from this thread.
    """
    with ExitStack() as stack:
        with working_disk():
            spools = [stack.enter_context(Spool()) for _ in performance.tracks]
            render_stems_to(
                spools, performance, fonts, threads=rendering.threads, progress=progress
            )
            frames = max(
                [round(performance.end_s * SAMPLE_RATE), *(spool.frames for spool in spools)]
            )
            sounds: dict[str, Measured] = {}
            for name, group in {**groups, MixGroup.FULL: GROUPS[MixGroup.FULL]}.items():
                chosen = [
                    spool
                    for spool, track in zip(spools, performance.tracks, strict=True)
                    if group(track)
                ]
                dry = Sum(chosen, at_least=frames)
                source: Source = in_room(dry, SAMPLE_RATE, stack) if rendering.room else dry
                sounds[name] = measured(source, SAMPLE_RATE)
            gain_db, full = level(sounds[MixGroup.FULL], SAMPLE_RATE, stack, ceiling)
        yield Mix(sounds, full, gain_db, ceiling)


@contextmanager
def working_disk() -> Iterator[None]:
    """A full disk under the working files is said with their place."""
    with output_errors(Path(tempfile.gettempdir())):
        yield
