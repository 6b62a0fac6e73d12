"""A piece: a tune as one player and the band play it, and all files that can be made of it.

Conventions: the methods `to_...` give the same bytes as the main job for the same request. Without
a path they return the bytes; with a path they write them, and an existing file is replaced.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TypeVar, overload

from accomp.files import values
from accomp.files.paths import StrPath, as_path
from accomp.files.saving import saved
from accomp.files.text import counted
from accomp.files.values import setting_taken, short
from accomp.job.build import JobProgress
from accomp.job.make import only_group
from accomp.job.options import Options
from accomp.job.paper import layout_of, sheet_item
from accomp.job.sound import sound_for
from accomp.job.versions import Version
from accomp.neck import Lesson, Plan, Player
from accomp.notebook.audio import Audio, item_bytes, rendered
from accomp.notebook.wanted import asked_for, options_of
from accomp.outward import Shown
from accomp.score.arrangement import Arrangement
from accomp.score.notate import notate
from accomp.score.perform import perform
from accomp.score.performance import Performance
from accomp.score.readers import PartName, Reader
from accomp.score.written import Score
from accomp.tune import Tune
from accomp.write.formats import AUDIO_FORMATS, MIX_GROUPS, AudioFormat, MixGroup, Paper

Word = TypeVar("Word", bound=str)


@dataclass(frozen=True, repr=False)
class Piece(Shown):
    """A tune in one key, position and tempo (beats a minute), arranged for a player and a band."""

    version: Version

    def __repr__(self) -> str:
        return (
            f"<Piece {short(self.tune.title)!r}: {self.tune.key}, {self.position}, "
            f"{self.tempo:g} beats a minute, {counted(len(self.plans), 'chorus', 'choruses')}, "
            f"{self.player.instrument.name}>"
        )

    @property
    def tune(self) -> Tune:
        """The tune, in the key of the piece."""
        return self.version.tune

    @property
    def player(self) -> Player:
        """Who plays the strummed part."""
        return self.version.request.player

    @property
    def position(self) -> str:
        """The name of its position; names of several are joined by +."""
        return self.version.position

    @property
    def tempo(self) -> float:
        """The tempo in beats a minute."""
        return self.version.tempo

    @property
    def plans(self) -> tuple[Plan, ...]:
        """The plan of each chorus."""
        return self.version.plans

    @property
    def arrangement(self) -> Arrangement:
        """What everybody plays, bar by bar, in written time."""
        return self.version.arrangement

    @property
    def lesson(self) -> Lesson:
        """The lesson of all positions of the tune, one after another."""
        return self.version.neck.lesson

    @property
    def notices(self) -> tuple[str, ...]:
        """Notices about the tune, the player and the style, in whole sentences."""
        every = (*self.version.request.notices, *self.arrangement.notices)
        return tuple(dict.fromkeys(every))

    def perform(self, *, count_in: int | None = None, group: MixGroup = "full") -> Performance:
        """The piece in seconds, as a band plays it, after `count_in` bars of clicks.

        `group` is who is heard: "full", "without-player" or "player". Raises `InputError`.
        """
        heard = setting_taken("group", values.word(MIX_GROUPS), group)
        performance = self.version.performance
        if count_in is not None:
            bars = asked_for(lambda: Options(count_in=count_in)).count_in
            performance = perform(self.arrangement, count_in=bars)
        return only_group(performance, heard)

    def score(
        self, part: PartName = "score", reader: Reader = "concert", *, plain_clef: bool = False
    ) -> Score:
        """The written part.

        `part` is "score" (notation, TAB, bass), "both" (notation, TAB), "notation", "tab", "slash"
        or "bass"; `reader` is its reader ("concert", "Bb", "Eb", "bass"). One chorus is written if
        the right hand does the same in all. Raises `InputError`.
        """
        given = {"part": part, "reader": reader, "plain_clef": plain_clef}
        options = asked_for(lambda: options_of(given))
        (word,), (who,) = options.parts, options.readers
        layout = layout_of(word, who, plain_clef=options.plain_clef)
        return notate(self.version.on_paper, layout)

    def audio(
        self,
        *,
        format: AudioFormat = "flac",
        group: MixGroup = "full",
        soundfont: StrPath | None = None,
        progress: JobProgress | None = None,
    ) -> Audio:
        """The piece as sound, mixed: start quietly.

        `format` is "flac", "wav", "ogg" or "mp3"; `group` is who is heard, as in `perform`;
        `soundfont` is a SoundFont for all parts. The voice of the player's instrument is built on
        first use, which takes half a minute at most. `progress` is called with what is being done
        and the finished share (0 to 1). Raises `SoundError`, `InputError`.
        """
        given = {"audio_format": format, "soundfont": soundfont}
        options = asked_for(lambda: options_of(given))
        heard = setting_taken("group", values.word(MIX_GROUPS), group)
        tell = progress or (lambda what, share: None)
        sound = sound_for(self.player.instrument, options, tell)
        label = self.version.label(heard)
        return rendered(self.version.performance, sound, label, heard, tell)

    @overload
    def to_midi(self) -> bytes: ...
    @overload
    def to_midi(self, path: StrPath) -> Path: ...
    def to_midi(self, path: StrPath | None = None) -> bytes | Path:
        """All players as a Standard MIDI File: its bytes, or the path to which it was written."""
        performance = self.version.performance
        return performance.to_midi() if path is None else performance.to_midi(path)

    @overload
    def to_musicxml(self) -> bytes: ...
    @overload
    def to_musicxml(self, path: StrPath) -> Path: ...
    def to_musicxml(self, path: StrPath | None = None) -> bytes | Path:
        """Notation, TAB and bass as MusicXML 4.0, packed for a path that ends in ".mxl".

        `score` has other parts and readers.
        """
        score = self.score()
        return score.to_musicxml() if path is None else score.to_musicxml(path)

    @overload
    def to_pdf(self, *, paper: Paper = "a4") -> bytes: ...
    @overload
    def to_pdf(self, path: StrPath, *, paper: Paper = "a4") -> Path: ...
    def to_pdf(self, path: StrPath | None = None, *, paper: Paper = "a4") -> bytes | Path:
        """Chord chart, part and lesson as a PDF on "a4" or "letter"."""
        size = asked_for(lambda: options_of({"paper": paper})).paper
        data, _ = item_bytes(replace(sheet_item(self.version), paper=size))
        return saved(data, path)

    @overload
    def to_audio(self, *, group: MixGroup = "full") -> bytes: ...
    @overload
    def to_audio(self, path: StrPath, *, group: MixGroup = "full") -> Path: ...
    def to_audio(self, path: StrPath | None = None, *, group: MixGroup = "full") -> bytes | Path:
        """The mix as a sound file in the format of the path's ending, or FLAC without a path.

        `audio` has more options. Raises `SoundError`, `InputError`.
        """
        kind: AudioFormat = "flac"
        if path is not None:
            ending = as_path(path, "the sound file to write").suffix.lower().removeprefix(".")
            kind = setting_taken("path", values.word(AUDIO_FORMATS), ending)
        return saved(self.audio(format=kind, group=group).data, path)
