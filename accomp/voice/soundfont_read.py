"""Reading a SoundFont file into the types that `accomp.voice.soundfont` writes.

Conventions: as in `accomp.voice.soundfont`. Only plain 2.x files are read. All samples become mono:
the link between the sides of a stereo pair is dropped, since both sides have zones of their own.
The data of ROM samples are not in the file. Names are shortened and cleaned so that they can be
written again.
"""

from __future__ import annotations

import itertools
import struct
from collections.abc import Iterator, Mapping
from pathlib import Path

import numpy as np

from accomp.voice.soundfont import (
    FULL_SCALE,
    LOOP_MARGIN,
    Font,
    FontInstrument,
    Generator,
    Preset,
    Sample,
    Zone,
)

_LEAST = 2 * LOOP_MARGIN + 32  # samples; shorter ones are padded with silence
_ROWS = {
    "phdr": "<20sHHHIII", "pbag": "<HH", "pmod": "10s", "pgen": "<HH",
    "inst": "<20sH", "ibag": "<HH", "imod": "10s", "igen": "<HH", "shdr": "<20sIIIIIBbHH",
}  # fmt: skip
Rows = Mapping[str, list[tuple]]  # type: ignore[type-arg]  # rows of nine kinds


def read_font(path: Path) -> Font:
    """The font in a file. Raises `ValueError` if it is no SoundFont, `OSError` if unreadable."""
    return font_of(path.read_bytes(), path)


def font_of(data: bytes, path: Path) -> Font:
    """The font in a file's bytes. Raises `ValueError`, which names `path`, when it is none."""
    if data[:4] != b"RIFF" or data[8:12] != b"sfbk":
        raise ValueError(f"{path}: not a SoundFont")
    lists = {data[start : start + 4]: (start + 4, end) for _, start, end in _chunks(data, 12)}
    info = dict(_bodies(data, lists.get(b"INFO", (0, 0))))
    try:
        words = dict(_bodies(data, lists[b"sdta"]))["smpl"]
        tables = dict(_bodies(data, lists[b"pdta"]))
        rows = {name: list(struct.iter_unpack(form, tables[name])) for name, form in _ROWS.items()}
        return Font(
            name=_text(info.get("INAM", b""), 200) or path.stem,
            samples=tuple(_sample(row, words) for row in rows["shdr"][:-1]),
            instruments=tuple(_instruments(rows)),
            presets=tuple(_presets(rows)),
            author=_text(info.get("IENG", b""), 200),
            copyright=_text(info.get("ICOP", b""), 200),
            comment=_text(info.get("ICMT", b""), 200),
        )
    except (KeyError, IndexError, struct.error) as error:
        raise ValueError(f"{path}: a damaged SoundFont ({error!r})") from error


def _chunks(data: bytes, start: int, end: int | None = None) -> Iterator[tuple[str, int, int]]:
    """Name, and start and end of the body, of each chunk."""
    end = len(data) if end is None else end
    while start + 8 <= end:
        name, length = struct.unpack_from("<4sI", data, start)
        yield name.decode("latin-1"), start + 8, min(end, start + 8 + length)
        start += 8 + length + length % 2


def _bodies(data: bytes, place: tuple[int, int]) -> Iterator[tuple[str, bytes]]:
    for name, start, end in _chunks(data, *place):
        yield name, data[start:end]


def _text(raw: bytes, most: int) -> str:
    text = raw.split(b"\0")[0].decode("latin-1")
    return "".join(c if c.isascii() and c.isprintable() else "?" for c in text).strip()[:most]


def _sample(row: tuple, words: bytes) -> Sample:  # type: ignore[type-arg]  # a row of "shdr"
    name, start, end, loop_start, loop_end, rate_hz, key, cents, _, _ = row
    end = min(max(start, end), len(words) // 2)
    data = np.frombuffer(words[2 * start : 2 * end], "<i2").astype(np.float64) / FULL_SCALE
    data = np.maximum(data, -1.0)
    first, last = loop_start - start, loop_end - start
    sane = 0 <= first < last <= data.size
    if data.size < _LEAST:
        data = np.concatenate([data, np.zeros(_LEAST - data.size)])
    return Sample(
        name=_text(name, 19) or "sample",
        data=data,
        rate_hz=rate_hz or 44_100,
        root_key=key if key <= 127 else 60,
        correction_cents=cents,
        loop=(first, last) if sane else None,
    )


def _instruments(rows: Rows) -> Iterator[FontInstrument]:
    heads = rows["inst"]
    for (name, first), (_, after) in itertools.pairwise(heads):
        zones = tuple(_zones(rows, "i", first, after, Generator.SAMPLE))
        yield FontInstrument(_text(name, 19) or "instrument", zones)


def _presets(rows: Rows) -> Iterator[Preset]:
    heads = rows["phdr"]
    for head, after in itertools.pairwise(heads):
        name, program, bank, first, *_ = head
        zones = tuple(_zones(rows, "p", first, after[3], Generator.INSTRUMENT))
        yield Preset(_text(name, 19) or "preset", bank, program, zones)


def _zones(rows: Rows, table: str, first: int, after: int, target: Generator) -> Iterator[Zone]:
    """Zones of one instrument or preset. A zone is ignored when its target does not
    exist, or when it has none and is not the first (as the specification requires).
    """
    targets = len(rows["shdr" if target is Generator.SAMPLE else "inst"]) - 1
    bags = rows[f"{table}bag"]
    for place in range(first, after):
        (generators, modulators), (next_generators, next_modulators) = bags[place : place + 2]
        own_target: int | None = None
        keys, velocities = (0, 127), (0, 127)
        settings: list[tuple[int, int]] = []
        for number, amount in rows[f"{table}gen"][generators:next_generators]:
            if number == target:
                own_target = amount
            elif number == Generator.KEY_RANGE:
                keys = (amount & 0xFF, amount >> 8)
            elif number == Generator.VELOCITY_RANGE:
                velocities = (amount & 0xFF, amount >> 8)
            else:
                settings.append((number, amount))
        if (place > first) if own_target is None else (own_target >= targets):
            continue
        kept_modulators = tuple(row[0] for row in rows[f"{table}mod"][modulators:next_modulators])
        yield Zone(own_target, keys, velocities, tuple(settings), kept_modulators)
