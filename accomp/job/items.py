"""Items of a job: an item knows its files, the hash of what decides their bytes, and their writer.

Conventions: an item is a value that can be sent to another process. `inputs` is a SHA-256 over
everything that decides the item's bytes, so that equal inputs mean equal files. Items that are
engraved, set or sounded include the makers (this program and the libraries that decide bytes) in
their inputs, so that a file of another version is made again.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields, is_dataclass, replace
from functools import cache, cached_property
from pathlib import Path

import accomp
from accomp.files.folders import output_errors
from accomp.files.text import one_line
from accomp.job.manifest import Label
from accomp.score.performance import Performance
from accomp.write.midi import midi_bytes

Progress = Callable[[float], None]
# Folders that decide no file's bytes; the last exists where the practice page is developed.
_BYSTANDERS = frozenset({"cli", "__pycache__", "node_modules"})
_COMPILED = (".pyc", ".pyo")


@dataclass(frozen=True)
class Outcome:
    """The result of writing an item: notices, and the SoundFont and synthesiser that were used."""

    notices: tuple[str, ...] = ()
    soundfont: str | None = None
    synth: str | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "notices", tuple(map(one_line, self.notices)))


@dataclass(frozen=True)
class Item:
    """Files that are made together: `labels` by file name, in order."""

    labels: Mapping[str, Label]

    @property
    def inputs(self) -> str:
        """SHA-256, in hexadecimal, over everything that decides the bytes of the files."""
        raise NotImplementedError

    @property
    def weight(self) -> float:
        """The amount of work, in seconds of sound, for the progress bar."""
        return 1.0

    def usable(self, paths: Mapping[str, Path]) -> bool:
        """Whether the files that an earlier run recorded for this item can be used."""
        return True

    @property
    def at_hand(self) -> bool:
        """Whether its bytes are known, so that sending it to another machine gains nothing."""
        return False

    @property
    def reads(self) -> Mapping[str, Path]:
        """The files that `write` reads on this machine, by their SHA-256."""
        return {}

    def reading(self, paths: Mapping[str, Path]) -> Item:
        """The same item with other paths of the files that it reads, by their SHA-256."""
        return self

    def write(self, paths: Mapping[str, Path], progress: Progress) -> Outcome:
        """Write each file to its path. Raises `OutputError` or `SoundError`."""
        raise NotImplementedError


@dataclass(frozen=True)
class BytesItem(Item):
    """One small file whose bytes are known: MIDI, MusicXML, a cue sheet."""

    data: bytes

    @cached_property
    def inputs(self) -> str:
        """Hash of the bytes themselves."""
        return digest("bytes", *self.labels, self.data)

    @property
    def at_hand(self) -> bool:
        """True: its bytes are known."""
        return True

    def write(self, paths: Mapping[str, Path], progress: Progress) -> Outcome:
        """Write the bytes."""
        for path in paths.values():
            with output_errors(path.parent):
                path.write_bytes(self.data)
        return Outcome()


def midi_item(name: str, label: Label, performance: Performance) -> Item:
    """The MIDI file of a performance."""
    return BytesItem({name: replace(label, kind="midi")}, midi_bytes(performance))


def digest(*parts: object) -> str:
    """SHA-256 over texts and bytes, each with its length, and over the program's version."""
    whole = hashlib.sha256()
    for one in (accomp.__version__, *parts):
        # File names need not be Unicode; Python has surrogates for such bytes.
        data = one if isinstance(one, bytes) else str(one).encode("utf-8", "surrogatepass")
        whole.update(f"{len(data)}:".encode() + data)
    return whole.hexdigest()


def spelt(value: object) -> str:
    """A value with all its fields as a text, for hashing; `repr` is shortened for readers."""
    if is_dataclass(value) and not isinstance(value, type):
        inside = (f"{one.name}={spelt(getattr(value, one.name))}" for one in fields(value))
        return f"{type(value).__name__}({', '.join(inside)})"
    if isinstance(value, Mapping):
        return f"{{{', '.join(f'{spelt(key)}: {spelt(one)}' for key, one in value.items())}}}"
    if isinstance(value, tuple | list):
        return f"({', '.join(map(spelt, value))})"
    if isinstance(value, set | frozenset):
        return f"{{{', '.join(sorted(map(spelt, value)))}}}"
    return repr(value)


@cache
def program() -> str:
    """SHA-256 over the package's code and data without the command line."""
    return fingerprint(Path(accomp.__file__).parent)


def fingerprint(package: Path) -> str:
    """SHA-256, in hexadecimal, over names and bytes of the files in a package that decide bytes."""
    whole = hashlib.sha256()
    for folder, inside, files in os.walk(package):
        inside[:] = sorted(name for name in inside if name not in _BYSTANDERS)
        for name in sorted(files):
            if not name.endswith(_COMPILED):
                path = Path(folder, name)
                data = path.read_bytes()
                relative = path.relative_to(package).as_posix()
                whole.update(f"{relative}:{len(data)}:".encode() + data)
    return whole.hexdigest()


@cache
def libraries(*names: str) -> str:
    """Installed packages with their versions: "typst 0.15.2, verovio 6.4.1"."""
    from importlib.metadata import PackageNotFoundError, version  # late: only jobs ask

    found = []
    for name in names:
        try:
            found.append(f"{name} {version(name)}")
        except PackageNotFoundError:  # copied into place without its metadata
            found.append(f"{name} of no version")
    return ", ".join(found)


def page_makers() -> str:
    """This program and the libraries that engrave and set pages, with versions."""
    return f"{program()}, {libraries('lxml', 'typst', 'verovio')}"


def sound_makers() -> str:
    """This program and the libraries that mix and encode sound, without the synthesiser."""
    import soundfile  # late: it loads libsndfile, which alone knows its version

    library = f"libsndfile {soundfile.__libsndfile_version__}"
    used = libraries("numpy", "pyfluidsynth", "soundfile")
    return f"{program()}, {used}, {library}"
