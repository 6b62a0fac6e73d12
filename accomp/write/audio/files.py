"""From a performance to sound files: the mix, each group under the ceiling, the encoder, the
report.
"""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import ExitStack
from dataclasses import dataclass, replace
from math import inf, isfinite
from pathlib import Path

from accomp.errors import SoundError
from accomp.files.folders import output_errors, working_here
from accomp.score.performance import Performance, TextMark
from accomp.write.audio.bus import LimitedSource, blocks, measured, spooled
from accomp.write.audio.encode import decoded, encode
from accomp.write.audio.fonts import Fonts, choose_fonts
from accomp.write.audio.limiter import CEILING
from accomp.write.audio.loudness import decibels, true_peak
from accomp.write.audio.mix import AS_USUAL, GROUPS, Mix, Progress, Rendering, mixed
from accomp.write.audio.render import SAMPLE_RATE
from accomp.write.audio.tags import Tags, tags_of
from accomp.write.formats import AUDIO_FORMATS, LOSSY, SILENCE_S, AudioFormat, MixGroup
from accomp.write.synth import synth_name


@dataclass(frozen=True, slots=True)
class AudioReport:
    """The facts of a sound file that was written.

    `loudness_lufs` and `true_peak_dbtp` are None for silence, and for a part of the mix, where they
    are not measured; `gain_db` is the one gain of the whole mix, `limited_db` the most that the
    limiter took away (0 when it did nothing).
    """

    duration_s: float
    loudness_lufs: float | None
    true_peak_dbtp: float | None
    gain_db: float
    limited_db: float
    synth: str
    soundfont: str
    notices: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Heard:
    """The measures of a file's sound, -inf where nothing was measured."""

    limited_db: float
    peak_db: float = -inf
    lufs: float = -inf


_PEAK_DBTP = -1.0  # a peak above this makes a notice
_LOSSY_ROOM_DB = 0.5  # left for peaks that lossy coding lifts, by 0.1 to 0.4 dB as measured
_RENDERING = 0.7  # part of the whole work, for the progress


def write_audio(
    performance: Performance,
    path: Path,
    rendering: Rendering = AS_USUAL,
    *,
    format: AudioFormat = "flac",
    tags: Mapping[str, str] | None = None,
    progress: Progress | None = None,
) -> AudioReport:
    """Write the full mix to `path`; arguments and errors as for `write_groups`."""
    full: MixGroup = "full"
    reports = write_groups(
        performance, {full: path}, rendering, format=format, tags={full: tags or {}},
        progress=progress,
    )  # fmt: skip
    return reports[full]


def write_groups(
    performance: Performance,
    paths: Mapping[MixGroup, Path],
    rendering: Rendering = AS_USUAL,
    *,
    format: AudioFormat = "flac",
    tags: Mapping[MixGroup, Mapping[str, str]] | None = None,
    progress: Progress | None = None,
) -> dict[MixGroup, AudioReport]:
    """Write one file a group: `paths` by the group's name, tags likewise.

    `format` is one of `AUDIO_FORMATS`; the path's own ending does not matter. The title is always a
    tag, and the markers of the performance make chapters. `progress` gets the part of the work
    done, 0 to 1, from this thread. Raises `SoundError` (no synthesiser, unusable font, unknown
    format), `OutputError` (disk full, no permission).
    """
    if format not in AUDIO_FORMATS:
        raise SoundError(
            f"{format!r} is no audio format here. Choose one of: {', '.join(AUDIO_FORMATS)}."
        )
    fonts = choose_fonts(rendering.soundfont, rendering.voice)
    reports: dict[MixGroup, AudioReport] = {}
    with mixed(
        performance,
        {name: GROUPS[name] for name in paths},
        fonts,
        replace(rendering, silence_s=SILENCE_S),
        ceiling=CEILING * 10 ** (-_LOSSY_ROOM_DB / 20) if format in LOSSY else CEILING,
        progress=progress and (lambda done: progress(_RENDERING * done)),
    ) as mix:
        for done, (name, path) in enumerate(paths.items(), 1):
            own_tags = tags_of(
                {"title": performance.title, **(tags or {}).get(name, {})},
                map(_later, performance.markers),
                duration_s=mix.full.source.frames / SAMPLE_RATE,
            )
            data, sound = _encoded(mix, name, format, own_tags)
            with output_errors(path):
                path.write_bytes(data)
            reports[name] = AudioReport(
                duration_s=mix.full.source.frames / SAMPLE_RATE,
                loudness_lufs=_finite(sound.lufs),
                true_peak_dbtp=_finite(sound.peak_db),
                gain_db=mix.gain_db,
                limited_db=sound.limited_db,
                synth=synth_name(),
                soundfont=fonts.name,
                notices=_notices(performance, fonts, name, sound),
            )
            if progress is not None:
                progress(_RENDERING + (1 - _RENDERING) * done / len(paths))
    return reports


def _encoded(mix: Mix, name: MixGroup, kind: AudioFormat, tags: Tags) -> tuple[bytes, _Heard]:
    """The bytes of a group's file, and the measures of the sound that is decoded from it."""
    with ExitStack() as stack, working_here():
        if name == "full":
            full = mix.full
            data = encode(blocks(full.source), kind, sample_rate=SAMPLE_RATE, tags=tags)
            if kind in LOSSY:
                full = measured(spooled(decoded(data), stack), SAMPLE_RATE, full.limited_db)
            return data, _Heard(full.limited_db, full.peak_db, full.lufs)
        part = LimitedSource(mix.sounds[name], mix.gain_db, mix.ceiling)
        data = encode(part, kind, sample_rate=SAMPLE_RATE, tags=tags)
        if kind not in LOSSY:
            return data, _Heard(part.limited_db)
        peak_db = decibels(true_peak(spooled(decoded(data), stack)))
        return data, _Heard(part.limited_db, peak_db)


def _later(mark: TextMark) -> TextMark:
    """The mark at its place in the file; a mark at time 0 stays at the start of the file."""
    return replace(mark, start_s=mark.start_s + SILENCE_S) if mark.start_s > 0 else mark


def _finite(value: float) -> float | None:
    return value if isfinite(value) else None


def _notices(
    performance: Performance, fonts: Fonts, name: MixGroup, sound: _Heard
) -> tuple[str, ...]:
    notices = [*fonts.notices, *filter(None, map(fonts.missing, performance.tracks))]
    if not any(track.notes for track in performance.tracks):
        notices.append("Nothing sounds: the audio file is silent.")
    if sound.peak_db > _PEAK_DBTP:
        notices.append(
            f"The coding lifted the peaks of the {name} file to {sound.peak_db:.1f} dBTP; "
            f"choose FLAC or WAV where that matters."
        )
    return tuple(notices)
