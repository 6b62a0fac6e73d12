"""Performances and SoundFonts made by hand for the tests of sound."""

from __future__ import annotations

import struct
from pathlib import Path

from accomp.score.performance import MeterMark, Note, Performance, TempoMark, Track

BANJO, BASS = 105, 32  # General MIDI 1 programs, counted from 0
CLICK = 76  # high wood block, General MIDI 1 percussion
CHORDS = ((48, 55, 64, 72), (53, 57, 65, 69), (55, 59, 62, 65), (50, 57, 60, 66))


def player(notes: list[Note], **fields: int) -> Track:
    return Track("Tenor banjo", "player", BANJO, (0, 1, 2, 3), tuple(notes), **fields)


def clicks(notes: list[Note]) -> Track:
    return Track("Count-in", "click", 0, (9,), tuple(notes))


def band(notes: list[Note]) -> Track:
    return Track("Bass", "band", BASS, (10,), tuple(notes))


def performance(*tracks: Track, end_s: float, quarter_s: float = 0.5) -> Performance:
    return Performance(
        title="Test Piece",
        tracks=tracks,
        tempos=(TempoMark(0.0, quarter_s),),
        meters=(MeterMark(0.0, 4, 4),),
        keys=(),
        markers=(),
        chords=(),
        end_s=end_s,
    )


def small_band(bars: int = 2, *, bank: int = 0, tempo_bpm: float = 180) -> Performance:
    """A bar of clicks, then four strokes a bar with a bass on one and three."""
    quarter_s = 60 / tempo_bpm
    strokes, bass = [], []
    for beat in range(4 * bars):
        start_s = (4 + beat) * quarter_s
        chord = CHORDS[beat // 4 % 4]
        length_s = quarter_s * (0.45 if bank else 0.98)
        for string, pitch in enumerate(chord):
            at_s = start_s + 0.006 * string
            velocity = 100 if beat % 2 else 80
            strokes.append(Note(at_s, start_s + length_s, pitch, velocity, string, bank))
        if beat % 2 == 0:
            bass.append(Note(start_s, start_s + 1.9 * quarter_s, chord[0] - 12, 90, 10))
    count = [Note(n * quarter_s, n * quarter_s + 0.1, CLICK, 90, 9) for n in range(4)]
    tracks = (player(strokes, pan=40), band(bass), clicks(count))
    return performance(*tracks, end_s=(4 + 4 * bars) * quarter_s, quarter_s=quarter_s)


def chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack("<4sI", kind, len(data)) + data + b"\0" * (len(data) % 2)


def soundfont_file(
    path: Path,
    *,
    name: str = "Test Font",
    presets: tuple[tuple[int, int], ...] = ((0, 0),),
    frequency_hz: float = 441.0,
    amplitude: float = 0.6,
) -> Path:
    """A whole SoundFont 2.04 with one looped sine, at key 69, for every (bank, program).

    Written from the specification's tables, independently of the program.
    """
    from math import pi, sin

    rate, periods = 44_100, 20
    frames = round(periods * rate / frequency_hz)
    sine = [
        round(32_767 * amplitude * sin(2 * pi * frequency_hz * n / rate)) for n in range(frames)
    ]
    samples = struct.pack(f"<{frames + 46}h", *sine, *[0] * 46)
    info = chunk(b"ifil", struct.pack("<HH", 2, 4)) + chunk(b"isng", b"EMU8000\0")
    info += chunk(b"INAM", name.encode() + b"\0" * (2 - len(name.encode()) % 2))  # even, ends in 0
    phdr = b"".join(
        struct.pack("<20sHHHIII", f"P{index}".encode(), program, bank, index, 0, 0, 0)
        for index, (bank, program) in enumerate(presets)
    )
    phdr += struct.pack("<20sHHHIII", b"EOP", 0, 0, len(presets), 0, 0, 0)
    pgen = struct.pack("<HH", 41, 0) * len(presets) + struct.pack("<HH", 0, 0)  # instrument 0
    inst = struct.pack("<20sH", b"Sine", 0) + struct.pack("<20sH", b"EOI", 1)
    ibag = struct.pack("<HHHH", 0, 0, 2, 0)
    igen = struct.pack("<HHHHHH", 54, 1, 53, 0, 0, 0)  # loops, sample 0, end
    shdr = struct.pack("<20sIIIIIBbHH", b"Sine", 0, frames, 0, frames, rate, 69, 0, 0, 1)
    shdr += struct.pack("<20sIIIIIBbHH", b"EOS", 0, 0, 0, 0, 0, 0, 0, 0, 0)
    pbag = b"".join(struct.pack("<HH", index, 0) for index in range(len(presets) + 1))
    tables = (
        (b"phdr", phdr),
        (b"pbag", pbag),
        (b"pmod", bytes(10)),
        (b"pgen", pgen),
        (b"inst", inst),
        (b"ibag", ibag),
        (b"imod", bytes(10)),
        (b"igen", igen),
        (b"shdr", shdr),
    )
    body = chunk(b"LIST", b"INFO" + info)
    body += chunk(b"LIST", b"sdta" + chunk(b"smpl", samples))
    body += chunk(b"LIST", b"pdta" + b"".join(chunk(kind, data) for kind, data in tables))
    path.write_bytes(chunk(b"RIFF", b"sfbk" + body))
    return path
