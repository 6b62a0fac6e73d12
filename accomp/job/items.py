"""What a job writes: each item knows its files, what decides their bytes, and how to write them.

Conventions: an item is a value that can be sent to another process. `inputs` is a SHA-256 over
everything that decides the item's bytes, so that equal inputs mean equal files.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path

import msgspec

from accomp import __version__
from accomp.errors import SoundError
from accomp.job.makers import page_makers
from accomp.job.manifest import is_still
from accomp.score.arrangement import Arrangement
from accomp.score.notate import notate
from accomp.score.notate_layout import ScoreLayout
from accomp.score.performance import Performance
from accomp.write.formats import Paper
from accomp.write.midi import midi_bytes
from accomp.write.musicxml import musicxml_bytes, zipped
from accomp.write.sheet_lesson import LessonText

Progress = Callable[[float], None]


@dataclass(frozen=True)
class Label:
    """What the manifest says of a file besides its name and bytes."""

    kind: str
    role: str
    key: str
    tempo: float
    position: str
    style: str
    part: str | None = None


@dataclass(frozen=True)
class Said:
    """What writing an item brought to light."""

    notices: tuple[str, ...] = ()
    soundfont: str | None = None
    synth: str | None = None


@dataclass(frozen=True)
class Item:
    """Files that are made together: `labels` by file name, in order."""

    labels: Mapping[str, Label]

    @property
    def inputs(self) -> str:
        """SHA-256, in hexadecimal, over all that decides the bytes of the files."""
        raise NotImplementedError

    @property
    def weight(self) -> float:
        """How much work it is, in seconds of sound; for the progress bar."""
        return 1.0

    def write(self, paths: Mapping[str, Path], progress: Progress) -> Said:
        """Write each file to its path. Raises `OutputError` or `SoundError`."""
        raise NotImplementedError


def digest(*parts: object) -> str:
    """SHA-256 over texts and bytes, each with its length, and over the program's version."""
    whole = hashlib.sha256()
    for part in (__version__, *parts):
        data = part if isinstance(part, bytes) else str(part).encode()
        whole.update(f"{len(data)}:".encode() + data)
    return whole.hexdigest()


@dataclass(frozen=True)
class BytesItem(Item):
    """One small file whose bytes are known: MIDI, MusicXML, a cue sheet."""

    data: bytes = b""

    @cached_property
    def inputs(self) -> str:
        """The bytes themselves decide."""
        return digest("bytes", *self.labels, self.data)

    def write(self, paths: Mapping[str, Path], progress: Progress) -> Said:
        """Write the bytes."""
        from accomp.files.folders import output_errors

        for path in paths.values():
            with output_errors(path.parent):
                path.write_bytes(self.data)
        return Said()


def midi_item(name: str, label: Label, performance: Performance) -> Item:
    """The MIDI file of a performance."""
    return BytesItem({name: replace(label, kind="midi")}, midi_bytes(performance))


def score_item(name: str, label: Label, arrangement: Arrangement, layout: ScoreLayout) -> Item:
    """The MusicXML file of an arrangement, packed (.mxl) by its name."""
    data = musicxml_bytes(notate(arrangement, layout))
    data = zipped(data) if name.endswith(".mxl") else data
    return BytesItem({name: replace(label, kind="musicxml")}, data)


@dataclass(frozen=True)
class SheetItem(Item):
    """The pages of one version as PDF: chord chart, part, lesson."""

    arrangement: Arrangement | None = None
    layout: ScoreLayout = field(default_factory=ScoreLayout)
    paper: str = "a4"
    lesson: LessonText | None = None

    @cached_property
    def inputs(self) -> str:
        """What is notated, the lesson, the paper and what makes pages decide."""
        assert self.arrangement is not None
        score = musicxml_bytes(notate(self.arrangement, self.layout))
        return digest("sheet", *self.labels, score, repr(self.lesson), self.paper, page_makers())

    @property
    def weight(self) -> float:
        """About as much work as so many seconds of sound."""
        return 30.0

    def write(self, paths: Mapping[str, Path], progress: Progress) -> Said:
        """Engrave and set the pages."""
        from accomp.files.folders import output_errors
        from accomp.write.sheet import write_sheet  # late: engraver and typesetter

        assert self.arrangement is not None
        notices: list[str] = []
        for path in paths.values():
            with output_errors(path.parent):
                notices += write_sheet(
                    self.arrangement,
                    path,
                    layout=self.layout,
                    paper=Paper(self.paper),
                    lesson=self.lesson,
                )
        return Said(tuple(notices))


@dataclass(frozen=True)
class Sound:
    """How audio is made: files and their hashes, the format, the synthesiser and the other
    `makers` with their versions, worker threads."""

    soundfont: Path | None = None
    soundfont_sha256: str = ""
    voice: Path | None = None
    voice_sha256: str = ""
    format: str = "flac"
    synth: str = ""
    makers: str = ""
    threads: int | None = None

    def check(self) -> None:
        """Raises `SoundError` when a font is not the one any more that the work began with: its
        files would be taken for others later on.
        """
        fonts = ((self.soundfont, self.soundfont_sha256), (self.voice, self.voice_sha256))
        for path, wanted in fonts:
            if path is not None and not is_still(path, wanted):
                raise SoundError(
                    f"{path}: this font has changed, or is gone, since the work began. Run the "
                    f"command again."
                )


@dataclass(frozen=True)
class SoundItem(Item):
    """Audio files of one performance, by group: "full", "without-player", "player"."""

    performance: Performance | None = None
    groups: Mapping[str, str] = field(default_factory=dict)
    tags: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    sound: Sound = field(default_factory=Sound)

    @cached_property
    def inputs(self) -> str:
        """The notes, the groups and tags, the fonts, the format and what makes sound decide."""
        assert self.performance is not None
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
        assert self.performance is not None
        return self.performance.end_s

    def write(self, paths: Mapping[str, Path], progress: Progress) -> Said:
        """Render all groups in one go, with one gain."""
        from accomp.write.audio import (  # late: the synthesiser takes a while
            Rendering,
            write_groups,
        )

        assert self.performance is not None
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
        return Said(notices, first.soundfont, first.synth)
