"""What makes the files of a job: this program and the libraries that decide bytes with it.

Conventions: each is a text that changes whenever what it names does. They are part of the inputs of
whatever is engraved, set or sounded, so that no file of another version is taken for one of this.
"""

from __future__ import annotations

import hashlib
import os
from functools import cache
from pathlib import Path

import accomp

_BYSTANDERS = frozenset({"cli", "__pycache__"})  # folders that have no say in any file's bytes
_COMPILED = (".pyc", ".pyo")


@cache
def program() -> str:
    """SHA-256 over the package's code and data, but for the command line's."""
    return fingerprint(Path(accomp.__file__).parent)


def fingerprint(package: Path) -> str:
    """SHA-256, in hexadecimal, over names and bytes of all that is in a package."""
    whole = hashlib.sha256()
    for folder, inside, files in os.walk(package):
        inside[:] = sorted(name for name in inside if name not in _BYSTANDERS)
        for name in sorted(files):
            if not name.endswith(_COMPILED):
                path = Path(folder, name)
                data = path.read_bytes()
                place = path.relative_to(package).as_posix()
                whole.update(f"{place}:{len(data)}:".encode() + data)
    return whole.hexdigest()


@cache
def libraries(*names: str) -> str:
    """Installed packages with their versions: "typst 0.15.2, verovio 6.4.1"."""
    from importlib.metadata import PackageNotFoundError, version  # late: only jobs ask

    found = []
    for name in names:
        try:
            found.append(f"{name} {version(name)}")
        except PackageNotFoundError:  # copied into place without a word about itself
            found.append(f"{name} of no version")
    return ", ".join(found)


def page_makers() -> str:
    """What engraves and sets pages."""
    return f"{program()}, {libraries('lxml', 'typst', 'verovio')}"


def sound_makers() -> str:
    """What mixes and encodes sound; the synthesiser is named by itself."""
    import soundfile  # late: it loads its library, whose version only that tells

    library = f"libsndfile {soundfile.__libsndfile_version__}"
    used = libraries("numpy", "pyfluidsynth", "scipy", "soundfile")
    return f"{program()}, {used}, {library}"
