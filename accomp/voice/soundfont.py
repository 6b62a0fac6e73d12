"""Writing a SoundFont file: samples, instruments, presets.

The layout is that of the "SoundFont Technical Specification 2.01" (E-mu Systems, 1998): INFO names
the font, sdta holds all samples one after another, pdta holds nine tables that refer to one another
by index, each ended by a terminal record.

With packed samples the file has the compressed form SF3, version 3.0. A sample is then a stream of
another coding (Ogg Vorbis): its type has the bit 0x10, its start and end count bytes, its loop
counts samples from its own beginning. SF3 is no standard; this follows the page "SoundFont3Format"
of FluidSynth's wiki, and the readers FluidSynth and sf2utils. Packed and plain samples may stand in
one file.

Conventions: sample data are float arrays within ±1, written as 16-bit words; positions are counted
in samples; MIDI 60 = middle C; envelope times are given in seconds and written as timecents,
1200·log2(seconds). A zone without a sample (instrument) or without an instrument (preset) is the
global zone and comes first; preset generators are added to the instrument's.
"""

from __future__ import annotations

import math
import struct
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from enum import IntEnum

import numpy as np
import numpy.typing as npt

from accomp.voice import riff

Floats = npt.NDArray[np.float64]

SILENCE_AFTER = 46  # zeros after every sample, as the specification requires (6.1)
LOOP_MARGIN = 8  # samples before and after a loop, required likewise (6.2)
FULL_SCALE = 32767
DRUM_BANK = 128  # the percussion bank, beside the 128 banks of MIDI
PACKED = 0x10  # bit of the sample type of SF3
MOST_ROWS = 65500  # of 65535: one zone more must fit
_BYTE, _WORD = 2**8 - 1, 2**16 - 1
_MODULATOR = 10  # bytes of a record


class Generator(IntEnum):
    """The generators used here, by their numbers in the specification (8.1.2)."""

    PAN = 17
    VOLUME_RELEASE = 38
    INSTRUMENT = 41
    KEY_RANGE = 43
    VELOCITY_RANGE = 44
    ATTENUATION = 48
    FINE_TUNE = 52
    SAMPLE = 53
    SCALE_TUNING = 56
    EXCLUSIVE_CLASS = 57
    ROOT_KEY = 58


@dataclass(frozen=True, slots=True, eq=False)
class Sample:
    """One mono sample; `root_key` is its MIDI pitch, playback adds `correction_cents` to it.

    `loop` is the half-open range of samples to repeat in zones that loop.
    """

    name: str
    data: Floats
    rate_hz: int
    root_key: int
    correction_cents: int = 0
    loop: tuple[int, int] | None = None


Pack = Callable[[Sample], bytes | None]


@dataclass(frozen=True, slots=True)
class Zone:
    """The keys and velocities of a sample (in an instrument) or an instrument (in a preset).

    `target` is an index into the font's samples or instruments, None for a global zone. `settings`
    pairs generators with their 16-bit amounts. `modulators` are modulator records of 10 bytes, kept
    unchanged from fonts that were read.
    """

    target: int | None
    keys: tuple[int, int] = (0, 127)
    velocities: tuple[int, int] = (0, 127)
    settings: tuple[tuple[int, int], ...] = ()
    modulators: tuple[bytes, ...] = ()


@dataclass(frozen=True, slots=True)
class FontInstrument:
    """Samples laid out over keys and velocities."""

    name: str
    zones: tuple[Zone, ...]


@dataclass(frozen=True, slots=True)
class Preset:
    """The instruments of one bank and program."""

    name: str
    bank: int
    program: int
    zones: tuple[Zone, ...]


@dataclass(frozen=True, slots=True)
class Font:
    """A whole SoundFont."""

    name: str
    samples: tuple[Sample, ...]
    instruments: tuple[FontInstrument, ...]
    presets: tuple[Preset, ...]
    author: str = ""
    copyright: str = ""
    comment: str = ""
    tool: str = "accomp"


def timecents(seconds: float) -> int:
    """Envelope time in timecents, within the specification's −12000 (1 ms) to 8000 (101 s)."""
    return round(min(max(1200.0 * math.log2(max(seconds, 1e-6)), -12000.0), 8000.0))


def encode(font: Font, pack: Pack | None = None) -> bytes:
    """The bytes of a font; the same font always gives the same bytes.

    `pack` gives a sample's bytes in the other coding, or None to leave the sample plain. Raises
    `ValueError` for values that the format cannot hold: an empty or too long name, samples outside
    ±1 or not finite, a rate, key, velocity, bank, program or setting out of range, a zone whose
    target does not exist, tables of more than 65535 rows.
    """
    _check(font)
    return riff.group("RIFF", "sfbk", (_info(font, packed=pack is not None), *_waves(font, pack)))


def _check(font: Font) -> None:
    for sample in font.samples:
        if not np.all(np.isfinite(sample.data)):
            raise ValueError(f"sample {sample.name} holds a value that is not a number")
        if sample.data.size < 2 * LOOP_MARGIN + 32 or np.abs(sample.data).max() > 1.0:
            raise ValueError(f"sample {sample.name} is too short (48 at least) or exceeds ±1")
        if sample.loop and not 0 <= sample.loop[0] < sample.loop[1] <= sample.data.size:
            raise ValueError(f"sample {sample.name}: its loop {sample.loop} lies outside it")
        _within(f"sample {sample.name}: its rate", sample.rate_hz, 1, riff.LONGEST)
        _within(f"sample {sample.name}: its key", sample.root_key, 0, _BYTE)
        _within(f"sample {sample.name}: its correction", sample.correction_cents, -128, 127)
    for instrument in font.instruments:
        _check_zones(f"instrument {instrument.name}", instrument.zones, len(font.samples))
    for preset in font.presets:
        if not (0 <= preset.bank <= DRUM_BANK and 0 <= preset.program <= 127):
            raise ValueError(
                f"preset {preset.name}: a bank lies between 0 and 128, a program 0 and 127"
            )
        _check_zones(f"preset {preset.name}", preset.zones, len(font.instruments))
    places = [(preset.bank, preset.program) for preset in font.presets]
    if len(set(places)) != len(places):
        raise ValueError("two presets have one bank and program")


def _check_zones(whose: str, zones: Iterable[Zone], targets: int) -> None:
    for zone in zones:
        if zone.target is not None:
            _within(f"{whose}: what a zone points at", zone.target, 0, min(targets - 1, _WORD))
        for bound in (*zone.keys, *zone.velocities):
            _within(f"{whose}: a key or velocity of a zone", bound, 0, _BYTE)
        for generator, amount in zone.settings:
            _within(f"{whose}: a generator", generator, 0, _WORD)
            _within(f"{whose}: the amount of generator {generator}", amount, -(2**15), _WORD)
        if any(len(row) != _MODULATOR for row in zone.modulators):
            raise ValueError(f"{whose}: a row of modulators has {_MODULATOR} bytes")


def _within(what: str, number: int, least: int, most: int) -> None:
    if not least <= number <= most:
        raise ValueError(f"{what} must lie between {least} and {most}, and this is {number}")


def _info(font: Font, *, packed: bool) -> bytes:
    chunks = [
        riff.chunk("ifil", struct.pack("<HH", *((3, 0) if packed else (2, 1)))),
        riff.text("isng", "EMU8000"),
        riff.text("INAM", font.name),
    ]
    extra = (("IENG", font.author), ("ICOP", font.copyright), ("ICMT", font.comment))
    chunks += [riff.text(name, words) for name, words in (*extra, ("ISFT", font.tool)) if words]
    return riff.group("LIST", "INFO", chunks)


def _waves(font: Font, pack: Pack | None) -> tuple[bytes, bytes]:
    """The sample data and the tables that point into them."""
    pieces: list[bytes] = []
    headers: list[bytes] = []
    place = 0  # in bytes; plain samples start at even places
    for sample in font.samples:
        stream = None if pack is None else pack(sample)
        # A sample without a loop gets a valid one near its end, in case another program's zone asks
        # for it.
        size = sample.data.size
        loop = sample.loop or (size - LOOP_MARGIN - 32, size - LOOP_MARGIN)
        if stream is None:
            pieces += [_sample_words(sample), bytes(2 * SILENCE_AFTER)]
            start = place // 2
            bounds = (start, start + size, start + loop[0], start + loop[1])
            place += 2 * (size + SILENCE_AFTER)
        else:
            pieces.append(stream + bytes(len(stream) % 2))
            bounds = (place, place + len(stream), *loop)
            place += len(pieces[-1])
        kind = 1 if stream is None else 1 | PACKED
        headers.append(
            struct.pack(
                "<20sIIIIIBbHH", _name(sample.name), *bounds, sample.rate_hz,
                sample.root_key, sample.correction_cents, 0, kind,
            )
        )  # fmt: skip
    headers.append(struct.pack("<20sIIIIIBbHH", _name("EOS"), 0, 0, 0, 0, 0, 0, 0, 0, 0))
    data = riff.group("LIST", "sdta", (riff.chunk("smpl", b"".join(pieces)),))
    tables = riff.group(
        "LIST",
        "pdta",
        (*_presets(font), *_instruments(font), riff.chunk("shdr", b"".join(headers))),
    )
    return data, tables


def _sample_words(sample: Sample) -> bytes:
    return np.rint(sample.data * FULL_SCALE).astype("<i2").tobytes()


@dataclass(slots=True)
class _Bags:
    """The bag, modulator and generator tables of instruments or presets."""

    prefix: str
    target: Generator
    bags: list[bytes] = field(default_factory=list)
    generators: list[bytes] = field(default_factory=list)
    modulators: list[bytes] = field(default_factory=list)

    def add(self, zones: Iterable[Zone]) -> int:
        """Append zones; returns the index of the first."""
        first = len(self.bags)
        for zone in zones:
            self._check_rows(MOST_ROWS - 1)
            self.bags.append(struct.pack("<HH", len(self.generators), len(self.modulators)))
            self.modulators += zone.modulators
            # Required order: key range first, velocity range second, the target last (8.1.2).
            if zone.keys != (0, 127):
                self._generator(Generator.KEY_RANGE, zone.keys[0] | zone.keys[1] << 8)
            if zone.velocities != (0, 127):
                low, high = zone.velocities
                self._generator(Generator.VELOCITY_RANGE, low | high << 8)
            for generator, amount in zone.settings:
                self._generator(generator, amount & 0xFFFF)
            if zone.target is not None:
                self._generator(self.target, zone.target)
        return first

    def _generator(self, generator: int, amount: int) -> None:
        self.generators.append(struct.pack("<HH", generator, amount))

    def _check_rows(self, most: int) -> None:
        if max(len(self.bags), len(self.generators), len(self.modulators)) > most:
            raise ValueError(f"more than {MOST_ROWS} rows in a table that 16 bits must count")

    def chunks(self) -> tuple[bytes, bytes, bytes]:
        self._check_rows(_WORD)
        last = struct.pack("<HH", len(self.generators), len(self.modulators))
        bags = [*self.bags, last]
        return (
            riff.chunk(f"{self.prefix}bag", b"".join(bags)),
            riff.chunk(f"{self.prefix}mod", b"".join(self.modulators) + bytes(10)),
            riff.chunk(f"{self.prefix}gen", b"".join(self.generators) + bytes(4)),
        )


def _presets(font: Font) -> Sequence[bytes]:
    table = _Bags("p", Generator.INSTRUMENT)
    rows = []
    for preset in sorted(font.presets, key=lambda preset: (preset.bank, preset.program)):
        first = table.add(preset.zones)
        place = (preset.program, preset.bank, first)
        rows.append(struct.pack("<20sHHHIII", _name(preset.name), *place, 0, 0, 0))
    rows.append(struct.pack("<20sHHHIII", _name("EOP"), 0, 0, len(table.bags), 0, 0, 0))
    return (riff.chunk("phdr", b"".join(rows)), *table.chunks())


def _instruments(font: Font) -> Sequence[bytes]:
    table = _Bags("i", Generator.SAMPLE)
    rows = []
    for instrument in font.instruments:
        first = table.add(instrument.zones)
        rows.append(struct.pack("<20sH", _name(instrument.name), first))
    rows.append(struct.pack("<20sH", _name("EOI"), len(table.bags)))
    return (riff.chunk("inst", b"".join(rows)), *table.chunks())


def _name(name: str) -> bytes:
    raw = name.encode("ascii", "replace")
    if not 0 < len(raw) < 20:
        raise ValueError(f"{name!r}: a name in a SoundFont has 1 to 19 letters")
    return raw
