"""The manifest: the files that a job made, for scripts.

Conventions: paths are relative to the manifest's folder; `sha256` is of the file's bytes; keys are
written as in a tune file; tempi are in beats a minute. Kinds and roles that are read back, of files
and of tracks, are plain texts: another version, whose manifest must be read to know which files may
be replaced, may have other ones.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

import msgspec

from accomp.files.plain import open_plain
from accomp.files.text import counted
from accomp.files.values import short
from accomp.write.formats import MixGroup

NAME = "manifest.json"
MOST_BYTES = 50_000_000


# Kinds of file that a user can ask for, and all kinds that a job makes: a cue sheet comes with
# sound, and "pages" are those of a tune before they are in a book.
AskedKind = Literal["midi", "musicxml", "audio", "pdf", "page"]
FileKind = Literal[AskedKind, "cue", "pages"]
# The use of a file: the group of players heard in a whole tune, or another use.
FileRole = Literal[MixGroup, "ladder", "drill", "audition", "tuning", "book"]


@dataclass(frozen=True)
class Label:
    """A file's entry in the manifest, without name and hashes.

    `kind` is None until the item that writes the file fills it in. `part` names the player whose
    part it is, None for a file of all players.
    """

    kind: FileKind | None
    role: FileRole
    key: str = ""
    tempo: float = 0.0
    position: str = ""
    style: str = ""
    part: str | None = None


@dataclass(frozen=True, repr=False)
class MadeFile:
    """One file of a job, with the fields of its label.

    `inputs` is a SHA-256 over everything that decided the bytes: a file with equal inputs is not
    made again. `soundfont` and `synth` are set for audio files.
    """

    path: str
    kind: str
    role: str
    part: str | None
    key: str
    tempo: float
    position: str
    style: str
    sha256: str
    inputs: str
    notices: tuple[str, ...] = ()
    soundfont: str | None = None
    synth: str | None = None

    def __repr__(self) -> str:
        return f"<MadeFile {self.path!r}: {self.kind}, {self.role}>"


@dataclass(frozen=True)
class MadeTrack:
    """One track of the MIDI and audio files; `program` is the General MIDI program, 1 to 128."""

    name: str
    role: str
    program: int


@dataclass(frozen=True, repr=False)
class Manifest:
    """All files that a job made, with the SoundFont and synthesiser used.

    `earlier` has the files of earlier jobs in the same folder, by name with their SHA-256: a later
    job may replace them as long as nobody has changed them.
    """

    tune: str
    files: tuple[MadeFile, ...]
    tracks: tuple[MadeTrack, ...] = ()
    soundfont: str | None = None
    synth: str | None = None
    notices: tuple[str, ...] = field(default=())
    earlier: dict[str, str] = field(default_factory=dict)

    def __repr__(self) -> str:
        return f"<Manifest of {short(self.tune)!r}: {counted(len(self.files), 'file')}>"

    def json(self) -> bytes:
        """The manifest as one JSON document, indented."""
        return msgspec.json.format(msgspec.json.encode(self), indent=2) + b"\n"


def known_files(manifest: Manifest | None) -> dict[str, str]:
    """The SHA-256 of every file in a manifest, by name."""
    if manifest is None:
        return {}
    return {**manifest.earlier, **{file.path: file.sha256 for file in manifest.files}}


def read_manifest(folder: Path) -> Manifest | None:
    """The manifest in a folder; None when there is none or it cannot be read."""
    try:
        with open_plain(folder / NAME) as stream:
            return msgspec.json.decode(stream.read(MOST_BYTES), type=Manifest)
    except (OSError, msgspec.DecodeError, UnicodeDecodeError):
        return None
