"""The band's drums and bass, computed from models and put into a General MIDI font.

    accomp/data/kit.toml, upright-bass.toml ─► blows and plucks in layers ─┐
                                               a General MIDI font ────────┴─► the band's font

Free General MIDI fonts of a few megabytes have one sample for each drum: a harder blow is only
louder. Here each drum has five velocity layers, and harder blows are brighter. The same parameters,
font and library versions give the same bytes. The modelled sounds are shipped packed, as a font of
their own (`accomp.voice.shipped`); on first use they are merged into the General MIDI font.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from pathlib import Path

from accomp.files.data import package_file
from accomp.voice.shipped import shipped
from accomp.voice.soundfont import encode
from accomp.voice.store import built
from accomp.voice.voices import KEEPERS

Progress = Callable[[float], None]

MODELLED_FONT = "kit-and-bass"
_DATA = ("kit.toml", "upright-bass.toml")


def band_font(base: Path, progress: Progress | None = None) -> Path:
    """The file of the General MIDI font `base` with the modelled drums and bass. It is built on
    first use; `progress` is then called with the part done, 0 to 1.

    Raises `SoundError` when it cannot be written, `OSError` and `ValueError` when `base` cannot be
    read.
    """
    return built("band", _fingerprint(base), lambda: _bytes(base, progress))


def _fingerprint(base: Path) -> str:
    """A hash of the modelled sounds' sources and of the font: 12 hexadecimal digits."""
    digest = hashlib.sha256(modelled_fingerprint().encode("ascii"))
    digest.update(base.read_bytes())
    return digest.hexdigest()[:12]


def modelled_fingerprint() -> str:
    """A hash of the parameters and the models' code: 12 hexadecimal digits."""
    here = Path(__file__).parent
    code = [*sorted(here.glob("*.py")), *sorted(here.parent.glob("*.py"))]
    digest = hashlib.sha256()
    for file in (*map(package_file, _DATA), *code):
        if file.parent == here or file.name not in KEEPERS:
            digest.update(hashlib.sha256(file.read_bytes()).digest())
    return digest.hexdigest()[:12]


def _bytes(base: Path, progress: Progress | None = None) -> bytes:
    from accomp.voice.kit.merge import merged
    from accomp.voice.kit.parameters import read_kit
    from accomp.voice.soundfont_read import font_of, read_font

    data = shipped(MODELLED_FONT, modelled_fingerprint()) or modelled(progress)
    return encode(merged(read_font(base), read_kit(), font_of(data, Path(MODELLED_FONT))))


def modelled(progress: Progress | None = None) -> bytes:
    """Compute the font of the modelled drums and bass alone; its bytes."""
    from accomp.voice.kit.bass import bass_notes, read_bass
    from accomp.voice.kit.merge import modelled_font
    from accomp.voice.kit.parameters import read_kit
    from accomp.voice.kit.sounds import layered

    kit = read_kit()
    sounds = []
    for made in layered(kit):
        sounds.append(made)
        if progress is not None:
            progress(len(sounds) / (2 * len(kit.sounds)))  # the bass takes as long as all drums
    return encode(modelled_font(sounds, bass_notes(read_bass(), kit.bass_db)))
