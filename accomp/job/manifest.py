"""The manifest: what a job made, for people's scripts.

Conventions: paths are relative to the manifest's folder; `sha256` is of the file's bytes; keys as
in a tune file, tempi in beats a minute.
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


# What sort of file can be asked for, and what sort a job makes: a cue sheet comes with sound, and
# "pages" are a tune's on their way into a book.
AskedKind = Literal["midi", "musicxml", "audio", "pdf", "page"]
FileKind = Literal[AskedKind, "cue", "pages"]
# What a file is for: who is heard of a whole tune, or what else it is.
FileRole = Literal[MixGroup, "ladder", "drill", "audition", "tuning", "book"]


@dataclass(frozen=True)
class Label:
    """What the manifest says of a file besides its name and bytes.

    `kind` is None until the item that writes the file says it; `part` says which player's it is,
    where it is one's.
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
    """One file of a job, with what its label says of it.

    `inputs` is a SHA-256 over all that decided the bytes: a file with equal inputs is not made
    again. `notices`, `soundfont` and `synth` are said of audio files. `kind` and `role` are plain
    texts, so that the manifest of another version, with kinds of its own, can be read.
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
    """One track of the MIDI and audio files; `program` is the General MIDI one, 1 to 128."""

    name: str
    role: str
    program: int


@dataclass(frozen=True, repr=False)
class Manifest:
    """Everything a job made, and what it was made with.

    `earlier` has the files of earlier jobs that lie beside these, by name with their SHA-256: who
    makes them again later may replace them as long as nobody has changed them.
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
    """The SHA-256 of every file that a manifest speaks of, by name."""
    if manifest is None:
        return {}
    return {**manifest.earlier, **{file.path: file.sha256 for file in manifest.files}}


def read_manifest(folder: Path) -> Manifest | None:
    """The manifest in a folder; None where there is none, or none that can be read."""
    try:
        with open_plain(folder / NAME) as stream:
            return msgspec.json.decode(stream.read(MOST_BYTES), type=Manifest)
    except (OSError, msgspec.DecodeError, UnicodeDecodeError):
        return None
