"""A job's audio files, and the fonts, synthesiser and format they are made with.

Conventions: fonts and synthesiser are checked before any work begins. The player's part has a voice
of its own if there is one for the instrument; the band has modelled drums and bass. A SoundFont
named by option plays all parts.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property, partial
from pathlib import Path

import msgspec

from accomp.errors import SoundError
from accomp.files.plain import is_still, sha256
from accomp.job.items import Item, Outcome, Progress, digest, sound_makers
from accomp.job.manifest import Label
from accomp.job.options import Options
from accomp.job.request import Request
from accomp.neck import Instrument
from accomp.score.performance import Performance
from accomp.write.formats import AudioFormat, MixGroup

# The nearest voice by General MIDI program (1 to 128), for an instrument without a voice.
_BY_PROGRAM = {106: "tenor-banjo"}


@dataclass(frozen=True)
class Sound:
    """Everything audio is made with: fonts and their SHA-256, the format, the synthesiser and other
    `makers` with their versions, the number of `threads` (None for the usual one)."""

    soundfont: Path | None = None
    soundfont_sha256: str = ""
    voice: Path | None = None
    voice_sha256: str = ""
    format: AudioFormat = "flac"
    synth: str = ""
    makers: str = ""
    threads: int | None = None
    notices: tuple[str, ...] = ()

    @property
    def files(self) -> dict[str, Path]:
        """The fonts, by their SHA-256."""
        fonts = ((self.soundfont_sha256, self.soundfont), (self.voice_sha256, self.voice))
        return {sha: path for sha, path in fonts if path is not None}

    def at(self, paths: Mapping[str, Path]) -> Sound:
        """The same sound with other paths of the fonts, in one thread: on that machine the other
        processors have workers of their own."""
        font, voice = paths.get(self.soundfont_sha256), paths.get(self.voice_sha256)
        return replace(self, soundfont=font, voice=voice, threads=1)

    def check(self) -> None:
        """Raise `SoundError` when a font has changed since the work began: the audio files would
        not fit the hash of their inputs."""
        for wanted, path in self.files.items():
            if not is_still(path, wanted):
                raise SoundError(
                    f"{path}: this font has changed, or is gone, since the work began. Do "
                    f"this again."
                )


def sound_of(request: Request, progress: Callable[[str, float], None]) -> Sound:
    """The sound of a request; see `sound_for`."""
    return sound_for(request.player.instrument, request.options, progress)


def sound_for(
    instrument: Instrument, options: Options, progress: Callable[[str, float], None]
) -> Sound:
    """Fonts and synthesiser; a voice is built on first use. Raises `SoundError`."""
    from accomp.write.audio.fonts import bands_own_font
    from accomp.write.soundfont import read_soundfont
    from accomp.write.synth import synth_name

    voice: Path | None = None
    notices: list[str] = []
    if options.soundfont is not None:
        font = read_soundfont(options.soundfont)
    else:
        building = "Building the band's drums and bass, once and for all"
        font, said = bands_own_font(partial(progress, building))
        notices += said
        building = f"Building the voice of the {instrument.title.lower()}, once and for all"
        try:
            voice = _voice(instrument, partial(progress, building))
        except SoundError as error:
            notices.append(f"The General MIDI sound is used for the player: {error}")
    return Sound(
        soundfont=font.path,
        soundfont_sha256=sha256(font.path),
        voice=voice,
        voice_sha256=sha256(voice) if voice else "",
        format=options.audio_format,
        synth=synth_name(),
        makers=sound_makers(),
        threads=1 if options.jobs > 1 else None,
        notices=tuple(notices),
    )


def _voice(instrument: Instrument, progress: Progress) -> Path | None:
    """The voice for an instrument: its own, its family's, its General MIDI sound's; or none."""
    from accomp.voice import voice_font, voice_names

    names = voice_names()
    family = [name for name in names if instrument.name.startswith(name)]
    name = max(family, key=len) if family else _BY_PROGRAM.get(instrument.program)
    return voice_font(name, progress=progress) if name in names else None


def load_sound() -> None:
    """Load the libraries for sound, in a process that is started ahead of its first item."""
    import accomp.write.audio  # noqa: F401
    from accomp.write.synth import load_synth

    load_synth()


@dataclass(frozen=True)
class SoundingItem(Item):
    """An item that reads fonts."""

    sound: Sound

    @property
    def reads(self) -> Mapping[str, Path]:
        """The fonts."""
        return self.sound.files

    def reading(self, paths: Mapping[str, Path]) -> Item:
        """The same item with other paths of its fonts."""
        return replace(self, sound=self.sound.at(paths))


@dataclass(frozen=True)
class SoundItem(SoundingItem):
    """Audio files of one performance, by group: "full", "without-player", "player"."""

    performance: Performance
    groups: Mapping[MixGroup, str]
    tags: Mapping[MixGroup, Mapping[str, str]]

    @cached_property
    def inputs(self) -> str:
        """Hash of the notes, the groups and tags, the fonts, the format and the makers."""
        sound = self.sound
        return digest(
            "sound",
            msgspec.json.encode(self.performance),
            *(f"{group}={name}" for group, name in self.groups.items()),
            *(f"{name}:{sorted(tags.items())}" for name, tags in self.tags.items()),
            sound.soundfont_sha256,
            sound.voice_sha256,
            sound.format,
            sound.synth,
            sound.makers,
        )

    @property
    def weight(self) -> float:
        """Seconds of sound."""
        return self.performance.end_s

    def write(self, paths: Mapping[str, Path], progress: Progress) -> Outcome:
        """Render all groups together, with one gain."""
        # late: loading the synthesiser is slow
        from accomp.write.audio import Rendering, write_groups

        self.sound.check()
        reports = write_groups(
            self.performance,
            {group: paths[name] for group, name in self.groups.items()},
            Rendering(self.sound.soundfont, self.sound.voice, threads=self.sound.threads),
            format=self.sound.format,
            tags=self.tags,
            progress=progress,
        )
        notices = tuple(dict.fromkeys(n for report in reports.values() for n in report.notices))
        first = next(iter(reports.values()))
        return Outcome(notices, first.soundfont, first.synth)


def sound_item(
    files: Mapping[MixGroup, tuple[str, Label]], performance: Performance, sound: Sound
) -> Item:
    """The audio files of a performance: stem of the file name and label of each group."""
    names = {group: f"{stem}.{sound.format}" for group, (stem, _) in files.items()}
    return SoundItem(
        labels={names[group]: replace(label, kind="audio") for group, (_, label) in files.items()},
        performance=performance,
        groups=names,
        tags={group: _tags(label) for group, (_, label) in files.items()},
        sound=sound,
    )


def _tags(label: Label) -> dict[str, str]:
    """The tags of a sound file; empty ones are left out."""
    tempo = f"{label.tempo:g}" if label.tempo else ""
    tags = {"key": label.key, "tempo": tempo, "position": label.position}
    return {name: value for name, value in tags.items() if value}
