"""The available voices, and the SoundFont of each.

The most common voice is shipped packed (`shipped.py`); the others are built on first use.
"""

from __future__ import annotations

import hashlib
from pathlib import Path

from accomp.errors import InputError, SoundError, reason
from accomp.files.data import DEFAULT_INSTRUMENT, find, names
from accomp.voice.reader import read_voice
from accomp.voice.sampling import Progress
from accomp.voice.shipped import KIND, shipped
from accomp.voice.store import built

# Modules that do not affect the bytes of a font.
KEEPERS = frozenset({"shipped.py", "store.py", "voices.py"})


def voice_names() -> tuple[str, ...]:
    """The names of the available voices, sorted."""
    return names(KIND)


def voice_font(name: str = DEFAULT_INSTRUMENT, *, progress: Progress | None = None) -> Path:
    """The file of a voice's SoundFont, unpacked or built on first use; during a build `progress` is
    called with the part done, 0 to 1.

    Raises `SoundError` for an unknown voice, wrong parameters, or when the font cannot be written
    anywhere.
    """
    parameters = find(KIND, name)
    if parameters is None:
        known = ", ".join(voice_names())
        raise SoundError(f"there is no voice {name!r}. Known are: {known}.")
    try:
        fingerprint = fingerprint_of(parameters)
    except OSError as error:
        raise SoundError(f"{parameters}: cannot be read ({reason(error)}).") from error
    return built(
        name, fingerprint, lambda: shipped(name, fingerprint) or _bytes(parameters, progress)
    )


def fingerprint_of(parameters: Path) -> str:
    """A hash of the parameters and the model's code: 12 hexadecimal digits. Raises `OSError`."""
    digest = hashlib.sha256(parameters.read_bytes())
    for module in sorted(Path(__file__).parent.glob("*.py")):
        if module.name not in KEEPERS:
            digest.update(module.read_bytes())
    return digest.hexdigest()[:12]


def _bytes(parameters: Path, progress: Progress | None) -> bytes:
    from accomp.voice.build import build

    try:
        voice = read_voice(parameters)
    except InputError as error:
        raise SoundError(f"the voice {parameters.stem!r} cannot be built. {error}") from error
    return build(voice, progress)
