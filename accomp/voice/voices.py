"""The voices there are, and the SoundFont of each."""

from __future__ import annotations

import hashlib
from pathlib import Path

from accomp.errors import InputError, SoundError
from accomp.files.data import find, names
from accomp.voice.reader import read_voice
from accomp.voice.sampling import Progress
from accomp.voice.store import built, reason

KIND = "soundfonts"
_KEEPERS = {"store.py", "voices.py"}  # modules that decide nothing of a voice's sound


def voice_names() -> tuple[str, ...]:
    """The voices there are, sorted."""
    return names(KIND)


def voice_font(name: str = "tenor-banjo", *, progress: Progress | None = None) -> Path:
    """The SoundFont of a voice, built on first use (`progress` hears parts done, 0 to 1).

    Raises `SoundError` for an unknown voice, wrong parameters, or when there is no room to write it
    anywhere.
    """
    parameters = find(KIND, name)
    if parameters is None:
        known = ", ".join(voice_names())
        raise SoundError(f"there is no voice {name!r}. Known are: {known}.")
    try:
        fingerprint = _fingerprint(parameters)
    except OSError as error:
        raise SoundError(f"{parameters}: cannot be read ({reason(error)}).") from error
    return built(name, fingerprint, lambda: _bytes(parameters, progress))


def _fingerprint(parameters: Path) -> str:
    """Twelve letters that change with the parameters and with the code of the model."""
    digest = hashlib.sha256(parameters.read_bytes())
    for module in sorted(Path(__file__).parent.glob("*.py")):
        if module.name not in _KEEPERS:
            digest.update(module.read_bytes())
    return digest.hexdigest()[:12]


def _bytes(parameters: Path, progress: Progress | None) -> bytes:
    from accomp.voice.build import build

    try:
        voice = read_voice(parameters)
    except InputError as error:
        raise SoundError(f"the voice {parameters.stem!r} cannot be built. {error}") from error
    return build(voice, progress)
