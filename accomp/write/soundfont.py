"""SoundFonts: which one plays, whether the file is whole, and which presets it holds.

Conventions: a preset is (bank, program), program 0 to 127 as sent on the wire, bank 128 the drums.
Structure after the SoundFont 2.04 specification (E-mu, 2006): a RIFF file of form "sfbk" with the
lists INFO, sdta and pdta; pdta's "phdr" has 38 bytes a preset and a last one that only ends it.
"""

from __future__ import annotations

import importlib.util
import os
import struct
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from io import BufferedIOBase
from pathlib import Path

from accomp.errors import SoundError, reason
from accomp.files.plain import open_plain
from accomp.files.text import one_line

DRUM_BANK = 128
_PRESET = struct.Struct("<20sHHHIII")


@dataclass(frozen=True, slots=True)
class SoundFont:
    """A SoundFont that has been read: `name` is from the file itself, else its file name."""

    path: Path
    name: str
    presets: frozenset[tuple[int, int]]

    def has(self, bank: int, program: int) -> bool:
        """Whether the font holds this very preset."""
        return (bank, program) in self.presets


def default_soundfont() -> SoundFont:
    """The General MIDI font that pretty_midi ships. Raises `SoundError` when it is not there."""
    spec = importlib.util.find_spec("pretty_midi")  # found, not imported: that takes a while
    if spec is None or spec.origin is None:
        raise SoundError(
            "The default SoundFont is missing, because pretty_midi, which ships it, is not "
            "installed. Install it (python -m pip install pretty_midi) or name a font.",
            helps=("soundfont",),
        )
    return read_soundfont(Path(spec.origin).parent / "TimGM6mb.sf2")


def band_soundfont(progress: Callable[[float], None] | None = None) -> SoundFont:
    """The band's default font: `default_soundfont` with modelled drums and bass.

    It is built on first use; `progress` gets the part done, 0 to 1. Raises `SoundError` when it
    cannot be built.
    """
    from accomp.voice.kit import band_font  # late: the model takes a while

    base = default_soundfont()
    try:
        return read_soundfont(band_font(base.path, progress))
    except (OSError, ValueError) as error:
        raise _error(base.path, f"cannot be read ({error})") from error


def read_soundfont(path: Path) -> SoundFont:
    """Read what a SoundFont holds. Raises `SoundError` that says what is wrong with the file."""
    try:
        with open_plain(path) as file:
            return _read(path, file)
    except FileNotFoundError:
        raise _error(path, "there is no such file", "Check the name of the SoundFont") from None
    except IsADirectoryError:
        raise _error(path, "this is a folder, and a SoundFont file is needed") from None
    except OSError as error:
        raise _error(path, f"cannot be read ({reason(error)})") from error


def _error(path: Path, what: str, hint: str = "") -> SoundError:
    hint = hint or "Choose another .sf2 file, or name none"
    return SoundError(f"{path}: {what}. {hint}.", helps=("soundfont",))


def _read(path: Path, file: BufferedIOBase) -> SoundFont:
    size = os.fstat(file.fileno()).st_size
    head = file.read(12)
    if head[:4] != b"RIFF" or head[8:] != b"sfbk":
        found = "it is empty" if not head else f"it begins with {head[:12]!r}"
        raise _error(path, f"not a SoundFont: {found}, expected RIFF ... sfbk")
    promised = struct.unpack("<I", head[4:8])[0] + 8
    if promised > size:
        raise _error(
            path,
            f"damaged: {size} bytes are there and its head promises {promised}",
            "Copy or download the file again, or choose another",
        )
    name, presets, samples = "", None, False
    for kind, start, length in _chunks(file, 12, promised):
        if kind != b"LIST":
            continue
        file.seek(start)
        form = file.read(4)
        for inner, inner_start, inner_length in _chunks(file, start + 4, start + length):
            if form == b"INFO" and inner == b"INAM":
                file.seek(inner_start)
                name = _text(file.read(min(inner_length, 256)))
            elif form == b"sdta" and inner in (b"smpl", b"sm24"):
                samples = samples or inner_length > 0
            elif form == b"pdta" and inner == b"phdr":
                file.seek(inner_start)
                presets = _presets(file.read(inner_length))
    if presets is None:
        raise _error(path, "damaged: its list of presets (phdr) is missing or cut")
    if not presets or not samples:
        raise _error(path, "this SoundFont holds no sounds")
    return SoundFont(path, name or path.stem, presets)


def _chunks(file: BufferedIOBase, start: int, end: int) -> Iterator[tuple[bytes, int, int]]:
    """Chunks between two places: (kind, start of its data, length); chunks are padded to even."""
    while start + 8 <= end:
        file.seek(start)
        kind, length = struct.unpack("<4sI", file.read(8))
        if start + 8 + length > end:
            return
        yield kind, start + 8, length
        start += 8 + length + length % 2


def _presets(data: bytes) -> frozenset[tuple[int, int]] | None:
    if len(data) < _PRESET.size or len(data) % _PRESET.size:
        return None
    rows = [_PRESET.unpack_from(data, at) for at in range(0, len(data), _PRESET.size)]
    return frozenset((bank, program) for _, program, bank, *_ in rows[:-1])


def _text(data: bytes) -> str:
    return one_line(data.split(b"\0")[0].decode("latin-1"))
