"""From a performance to sound files or arrays: stems, the bus, the encoder.

Conventions: a group is a choice of tracks heard together: "full", "without-player", "player". All
groups are equally long and share the gain that the full mix needs; before the limiter "player" and
"without-player" add up to "full".
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from math import inf
from pathlib import Path

import numpy as np

from accomp.errors import SoundError
from accomp.files.aside import output_errors
from accomp.score.performance import Performance, Track
from accomp.write.audio.bus import TARGET_LUFS, Scaled, blocks, finished, gain_for, in_room
from accomp.write.audio.encode import FORMATS, encode
from accomp.write.audio.fonts import Fonts, choose_fonts
from accomp.write.audio.render import SAMPLE_RATE
from accomp.write.audio.report import AudioReport
from accomp.write.audio.spool import Sound, Source, Spool, Sum
from accomp.write.audio.stems import render_stems_to
from accomp.write.synth import synth_name

Group = Callable[[Track], bool]
Progress = Callable[[float], None]

GROUPS: Mapping[str, Group] = {
    "full": lambda track: True,
    "without-player": lambda track: track.role != "player",
    "player": lambda track: track.role == "player",
}
_ALLOWED_LU = 0.5  # further off the target than this is said in a notice
_RENDERING = 0.7  # part of the whole work, for the progress


@dataclass(frozen=True, slots=True)
class _Mix:
    """Groups after the room, before their common gain."""

    sources: Mapping[str, Source]
    gain_db: float
    fonts: Fonts


def write_audio(
    performance: Performance,
    path: Path,
    *,
    soundfont: Path | None = None,
    voice: Path | None = None,
    format: str = "flac",
    tags: Mapping[str, str] | None = None,
    room: bool = True,
    progress: Progress | None = None,
    threads: int | None = None,
) -> AudioReport:
    """Write the full mix to `path`; arguments and errors as for `write_groups`."""
    reports = write_groups(
        performance,
        {"full": path},
        soundfont=soundfont,
        voice=voice,
        format=format,
        tags={"full": tags or {}},
        room=room,
        progress=progress,
        threads=threads,
    )
    return reports["full"]


def write_groups(
    performance: Performance,
    paths: Mapping[str, Path],
    *,
    groups: Mapping[str, Group] = GROUPS,
    soundfont: Path | None = None,
    voice: Path | None = None,
    format: str = "flac",
    tags: Mapping[str, Mapping[str, str]] | None = None,
    room: bool = True,
    progress: Progress | None = None,
    threads: int | None = None,
) -> dict[str, AudioReport]:
    """Write one file a group: `paths` by the group's name, tags likewise.

    `soundfont` plays the band (default: the General MIDI font that comes along), `voice` the
    player. `format` is one of `FORMATS`; the path's own ending is not looked at. The title is a tag
    by itself. `progress` gets the part of the work done, 0 to 1, from this thread. Raises
    `SoundError` (no synthesiser, unusable font), `OutputError` (disk full, no permission).
    """
    if format not in FORMATS:
        raise SoundError(
            f"{format!r} is no audio format here. Choose one of: {', '.join(FORMATS)}."
        )
    reports = {}
    with _mixed(
        performance,
        {name: groups[name] for name in paths},
        choose_fonts(soundfont, voice),
        room=room,
        progress=progress,
        threads=threads,
    ) as mix:
        for done, (name, path) in enumerate(paths.items()):
            with ExitStack() as stack:
                with _working_disk():
                    result = finished(mix.sources[name], mix.gain_db, SAMPLE_RATE, stack)
                data = encode(
                    blocks(result.source),
                    format,
                    sample_rate=SAMPLE_RATE,
                    tags={"title": performance.title, **(tags or {}).get(name, {})},
                )
                with output_errors(path):
                    path.write_bytes(data)
            reports[name] = AudioReport(
                duration_s=result.source.frames / SAMPLE_RATE,
                loudness_lufs=_finite(result.lufs),
                true_peak_dbtp=_finite(result.peak_db),
                gain_db=mix.gain_db,
                limited_db=result.limited_db,
                synth=synth_name(),
                soundfont=mix.fonts.name,
                notices=_notices(performance, mix.fonts, name, result.lufs),
            )
            if progress is not None:
                progress(_RENDERING + (1 - _RENDERING) * (done + 1) / len(paths))
    return reports


def render_stems(
    performance: Performance,
    groups: Mapping[str, Group] = GROUPS,
    *,
    soundfont: Path | None = None,
    voice: Path | None = None,
    room: bool = True,
    progress: Progress | None = None,
    threads: int | None = None,
) -> dict[str, Sound]:
    """Each group as float32 sound (frames, 2) at 44,100 Hz, all by the full mix's gain, unlimited.

    Groups that share out the tracks add up to the mix before its limiter. Raises `SoundError`.
    """
    fonts = choose_fonts(soundfont, voice)
    with _mixed(performance, groups, fonts, room=room, progress=progress, threads=threads) as mix:
        gain = 10 ** (mix.gain_db / 20)
        return {
            name: np.concatenate(list(blocks(Scaled(mix.sources[name], gain)))) for name in groups
        }


@contextmanager
def _mixed(
    performance: Performance,
    groups: Mapping[str, Group],
    fonts: Fonts,
    *,
    room: bool,
    progress: Progress | None,
    threads: int | None,
) -> Iterator[_Mix]:
    """The groups after the room, as long as the context lasts, and their gain."""
    with ExitStack() as stack:
        with _working_disk():
            spools = [stack.enter_context(Spool()) for _ in performance.tracks]
            render_stems_to(
                spools,
                performance,
                fonts,
                threads=threads,
                progress=progress and (lambda part: progress(_RENDERING * part)),
            )
            frames = max(
                [round(performance.end_s * SAMPLE_RATE), *(spool.frames for spool in spools)]
            )
            sources: dict[str, Source] = {}
            for name, group in {**groups, "full": GROUPS["full"]}.items():
                chosen = [
                    spool
                    for spool, track in zip(spools, performance.tracks, strict=True)
                    if group(track)
                ]
                dry = Sum(chosen, at_least=frames)
                sources[name] = in_room(dry, SAMPLE_RATE, stack) if room else dry
            gain_db = gain_for(sources["full"], SAMPLE_RATE)
        yield _Mix(sources, gain_db, fonts)


@contextmanager
def _working_disk() -> Iterator[None]:
    """A full disk under the working files is said with their place."""
    with output_errors(Path(tempfile.gettempdir())):
        yield


def _finite(value: float) -> float | None:
    return value if abs(value) < inf else None


def _notices(performance: Performance, fonts: Fonts, name: str, lufs: float) -> tuple[str, ...]:
    notices = [*fonts.notices, *filter(None, map(fonts.missing, performance.tracks))]
    if not any(track.notes for track in performance.tracks):
        notices.append("Nothing sounds: the audio file is silent.")
    elif name == "full" and abs(lufs - TARGET_LUFS) > _ALLOWED_LU:
        notices.append(
            f"The mix has {lufs:.1f} LUFS instead of {TARGET_LUFS:.0f}: its peaks stand so high "
            f"above its average that the limiter would have to take more than 3 dB."
        )
    return tuple(notices)
