"""The work of a process, perhaps on another machine, that makes an item for this one.

Conventions: items are sent by value and results return as bytes; paths of the sending machine mean
nothing to a worker. The files that an item reads (SoundFonts) are sent ahead, once to each worker,
and found by their SHA-256. A worker without them, or with another program, makes nothing and does
not unpickle the item.
"""

from __future__ import annotations

import hashlib
import pickle
import platform
import tempfile
import threading
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import accomp
from accomp.errors import SoundError
from accomp.files.folders import working_here
from accomp.job.items import Item, Outcome, libraries, program, sound_makers

_PACKAGES = ("lxml", "numpy", "pyfluidsynth", "soundfile", "typst", "verovio")
# One item at a time in a process: engraver and typesetter are not safe for several threads.
_ALONE = threading.Lock()
_kept: dict[str, Path] = {}


@dataclass(frozen=True)
class Parcel:
    """An item as it is sent: the hash of the sender's program, the SHA-256 of the files it reads,
    and the item itself, pickled without their paths."""

    program: str
    reads: tuple[str, ...]
    packed: bytes


@dataclass(frozen=True)
class MadeElsewhere:
    """The bytes of an item's files by their names, and the outcome of writing them."""

    files: Mapping[str, bytes]
    outcome: Outcome


@dataclass(frozen=True)
class SentFile:
    """A file that items read. Its name is kept: it names a font that has no name of its own."""

    name: str
    sha256: str
    data: bytes


@dataclass(frozen=True)
class WorkerFacts:
    """A worker's program and libraries that decide bytes, with versions, and the SHA-256 of the
    files it has."""

    makers: Mapping[str, str]
    files: frozenset[str]


def parcel(item: Item) -> Parcel:
    """An item packed for another process."""
    reads = item.reads
    names = {sha: Path(path.name) for sha, path in reads.items()}
    return Parcel(program(), tuple(reads), pickle.dumps(item.reading(names)))


def worker_facts() -> WorkerFacts:
    """The facts of this process as a worker."""
    from accomp.write.synth import synth_name  # late: loading the synthesiser is slow

    makers = {"accomp": accomp.__version__, "Python": ".".join(platform.python_version_tuple()[:2])}
    makers |= {name: libraries(name).removeprefix(f"{name} ") for name in _PACKAGES}
    try:
        makers |= {"FluidSynth": synth_name(), "sound": sound_makers()}
    except (SoundError, ImportError, OSError) as error:
        makers["FluidSynth"] = f"missing ({error})"
    return WorkerFacts(makers | {"program": program()}, frozenset(_kept))


def keep(file: SentFile) -> None:
    """Keep a file for later items, as long as this worker lives; a damaged one is not kept."""
    if hashlib.sha256(file.data).hexdigest() == file.sha256:
        with working_here():
            folder = Path(tempfile.mkdtemp(prefix="accomp-", dir=_scratch()))
            path = folder / Path(file.name).name
            path.write_bytes(file.data)
        _kept[file.sha256] = path


def make_elsewhere(sent: Parcel) -> MadeElsewhere | None:
    """Make an item; None if this worker is not prepared for it. Raises `AccompError`s."""
    if sent.program != program() or not _kept.keys() >= set(sent.reads):
        return None
    item: Item = pickle.loads(sent.packed)
    item = item.reading({sha: _kept[sha] for sha in sent.reads})
    with _ALONE, working_here(), tempfile.TemporaryDirectory(dir=_scratch()) as name:
        paths = {file: Path(name, str(at)) for at, file in enumerate(item.labels)}
        outcome = item.write(paths, lambda share: None)
        files = {file: path.read_bytes() for file, path in paths.items()}
    return MadeElsewhere(files, outcome)


def _scratch() -> str | None:
    """The worker's own folder, which the engine removes after it; None outside of a worker."""
    from distributed import get_worker

    try:
        return get_worker().local_directory
    except ValueError:
        return None
