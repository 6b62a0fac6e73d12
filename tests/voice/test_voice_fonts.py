"""Fonts to the last bit: what each bound lets through, where each sound lies, what is cut away."""

from __future__ import annotations

import os
import struct
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from accomp.errors import SoundError
from accomp.voice import riff, shipped, store, voices
from accomp.voice.layout import lay_out, voice_bank
from accomp.voice.parameters import Voice
from accomp.voice.sampling import FretCorrection, Take, nearest
from accomp.voice.soundfont import (
    Font,
    FontInstrument,
    Preset,
    Sample,
    Zone,
    encode,
    timecents,
)
from accomp.voice.soundfont_read import font_of
from accomp.voice.trim import trimmed

RATE = 22_050


def wave(size: int = 60) -> np.ndarray:
    return np.linspace(-1.0, 1.0, size)


def font(*samples: Sample, **more: object) -> Font:
    zones = tuple(Zone(at) for at in range(len(samples)))
    values = {
        "name": "F", "samples": samples, "instruments": (FontInstrument("i", zones),),
        "presets": (Preset("p", 0, 0, (Zone(0),)),), **more,
    }  # fmt: skip
    return Font(**values)  # type: ignore[arg-type]


def chunks(data: bytes) -> dict[str, bytes]:
    """The bodies of all chunks, those of lists too."""
    found, at = {}, 12
    while at < len(data):
        name, size = struct.unpack_from("<4sI", data, at)
        if name == b"LIST":
            at += 12
            continue
        found[name.decode()] = data[at + 8 : at + 8 + size]
        at += 8 + size + size % 2
    return found


def test_chunks_have_four_letters_a_length_and_are_even() -> None:
    assert riff.chunk("abcd", b"") == b"abcd\0\0\0\0"
    assert riff.chunk("abcd", b"xy") == b"abcd\2\0\0\0xy"
    for name in ("abc", "abcde", "abcé"):
        with pytest.raises(ValueError, match="four ASCII letters"):
            riff.chunk(name, b"")
    assert riff.LONGEST == 0xFFFFFFFF
    assert riff.group("LIST", "sdta", [b"ab", b"cd"]) == b"LIST\x08\0\0\0sdtaabcd"
    assert riff.text("INAM", "odd") == b"INAM\x04\0\0\0odd\0"
    assert riff.text("INAM", "é") == b"INAM\x02\0\0\0?\0"
    assert riff.text("INAM", "") == b"INAM\x02\0\0\0\0\0"
    for count in (253, 254, 300):
        assert riff.text("INAM", "a" * count)[8:].rstrip(b"\0") == b"a" * min(count, 254)


@pytest.mark.parametrize(
    ("seconds", "cents"),
    [(1.0, 0), (2.0, 1200), (0.5, -1200), (0.001, -11959), (0.0009765625, -12000), (0.0, -12000),
     (-1.0, -12000), (101.6, 8000), (1e6, 8000), (100.0, 7973)],
)  # fmt: skip
def test_times_of_envelopes_in_their_own_unit(seconds: float, cents: int) -> None:
    assert timecents(seconds) == cents


def zoned(zone: Zone) -> Font:
    """A font of one sample and an instrument of one zone."""
    return font(Sample("s", wave(), RATE, 60), instruments=(FontInstrument("i", (zone,)),))


@pytest.mark.parametrize(
    ("made", "wrong"),
    [
        (font(Sample("s", wave(48), RATE, 60)), ""),
        (font(Sample("s", wave(47), RATE, 60)), "too short (48 at least)"),
        (font(Sample("s", wave() * 1.0000001, RATE, 60)), "exceeds ±1"),
        (font(Sample("s", wave(), RATE, 60, loop=(0, 60))), ""),
        (font(Sample("s", wave(), RATE, 60, loop=(0, 61))), "its loop (0, 61) lies outside it"),
        (font(Sample("s", wave(), RATE, 60, loop=(-1, 60))), "lies outside it"),
        (font(Sample("s", wave(), RATE, 60, loop=(5, 5))), "lies outside it"),
        (font(Sample("s", wave(), RATE, 60, loop=(5, 6))), ""),
        (font(Sample("s", wave() * np.inf, RATE, 60)), "holds a value that is not a number"),
        (font(Sample("s" * 19, wave(), RATE, 60)), ""),
        (font(Sample("s" * 20, wave(), RATE, 60)), "a name in a SoundFont has 1 to 19 letters"),
        (font(Sample("", wave(), RATE, 60)), "a name in a SoundFont has 1 to 19 letters"),
        *((font(Sample("s", wave(), RATE, 60), presets=(Preset("p", bank, program, ()),)), wrong)
          for bank, program, wrong in (
              (0, 0, ""), (128, 127, ""), (129, 0, "a bank lies between 0 and 128"),
              (-1, 0, "a bank lies between"), (0, 128, "a program 0 and 127"),
              (0, -1, "a program 0 and 127"))),
        (font(Sample("s", wave(), RATE, 60),
              presets=(Preset("p", 1, 2, ()), Preset("q", 2, 1, ()))), ""),
        (font(Sample("s", wave(), RATE, 60),
              presets=(Preset("p", 1, 2, ()), Preset("q", 1, 2, ()))),
         "two presets have one bank and program"),
        *((font(Sample("s", wave(), rate, key, cents)), wrong)
          for rate, key, cents, wrong in (
              (1, 255, -128, ""), (RATE, 60, 127, ""), (0, 60, 0, "sample s: its rate must lie"),
              (2**32, 60, 0, "its rate"), (RATE, 256, 0, "its key must lie between 0 and 255"),
              (RATE, -1, 0, "its key"), (RATE, 60, 128, "its correction"),
              (RATE, 60, -129, "its correction"))),
        *((zoned(zone), wrong)
          for zone, wrong in (
              (Zone(0, (0, 255), (255, 0), ((65535, 65535), (0, -32768)), (bytes(10),)), ""),
              (Zone(None), ""),
              (Zone(1), "instrument i: what a zone points at must lie between 0 and 0"),
              (Zone(-1), "what a zone points at"),
              (Zone(0, (0, 256)), "a key or velocity of a zone must lie between 0 and 255"),
              (Zone(0, (-1, 9)), "a key or velocity"),
              (Zone(0, velocities=(0, 256)), "a key or velocity"),
              (Zone(0, settings=((65536, 0),)), "a generator must lie between 0 and 65535"),
              (Zone(0, settings=((17, 65536),)), "the amount of generator 17 must lie between"),
              (Zone(0, settings=((17, -32769),)), "the amount of generator 17"),
              (Zone(0, modulators=(bytes(9),)), "a row of modulators has 10 bytes"),
              (Zone(0, settings=((17, 1),) * 65_536), "more than 65500 rows"),
              (Zone(0, modulators=(bytes(10),) * 65_536), "more than 65500 rows"))),
        (font(Sample("s", wave(), RATE, 60), presets=(Preset("p", 0, 0, (Zone(7),)),)),
         "preset p: what a zone points at must lie between 0 and"),
    ],
)  # fmt: skip
def test_what_a_font_can_hold(made: Font, wrong: str) -> None:
    if not wrong:
        assert encode(made)
        return
    with pytest.raises(ValueError) as caught:
        encode(made)
    assert wrong in str(caught.value)


@pytest.mark.parametrize("table", ["pgen", "igen"])
def test_a_zone_that_points_beyond_all_there_are_is_nothing(table: str) -> None:
    """As in a damaged file: what is left of the font can be played, cut and written."""
    good = font(
        Sample("s", wave(), RATE, 60),
        instruments=(FontInstrument("i", (Zone(0, (0, 60)), Zone(0, (61, 127)))),),
        presets=(Preset("p", 0, 0, (Zone(0, (0, 60)), Zone(0, (61, 127)))),),
    )
    data = bytearray(encode(good))
    at = data.index(table.encode()) + 8 + 4 + 2  # the first zone's target, after its range of keys
    assert data[at : at + 2] == bytes(2)
    data[at] = 1
    found = font_of(bytes(data), Path("x.sf2"))
    zones = {"pgen": found.presets[0].zones, "igen": found.instruments[0].zones}
    kept = {name: [zone.keys for zone in each] for name, each in zones.items()}
    other = "igen" if table == "pgen" else "pgen"
    assert kept == {table: [(61, 127)], other: [(0, 60), (61, 127)]}
    assert encode(trimmed(found, [(0, 0, 40, 90), (0, 0, 80, 90)]))


@pytest.mark.slow
def test_tables_count_up_to_their_end() -> None:
    def zones(count: int) -> Font:
        instruments = (FontInstrument("i", (Zone(0),) * count),)
        return font(Sample("s", wave(), RATE, 60), instruments=instruments)

    assert len(chunks(encode(zones(65_500)))["ibag"]) == 4 * 65_501
    with pytest.raises(ValueError, match="more than 65500 rows in a table that 16 bits must count"):
        encode(zones(65_501))
    for settings, fits in ((65_498, True), (65_499, False)):
        full = Zone(0, settings=((17, 1),) * settings)
        instruments = (FontInstrument("i", (full, Zone(0))),)
        made = font(Sample("s", wave(), RATE, 60), instruments=instruments)
        if fits:
            assert encode(made)
        else:
            with pytest.raises(ValueError, match="65500 rows"):
                encode(made)


def test_where_samples_lie_and_what_follows_them() -> None:
    made = font(
        Sample("one", wave(50), RATE, 60, -3), Sample("two", wave(100), 2 * RATE, 72, loop=(10, 90))
    )
    found = chunks(encode(made))
    words = np.frombuffer(found["smpl"], "<i2")
    assert words.size == 50 + 46 + 100 + 46
    assert words[:50].tolist() == np.rint(wave(50) * 32767).tolist()
    assert not words[50:96].any()
    rows = list(struct.iter_unpack("<20sIIIIIBbHH", found["shdr"]))
    assert [row[1:] for row in rows] == [
        (0, 50, 10, 42, RATE, 60, -3, 0, 1), (96, 196, 106, 186, 2 * RATE, 72, 0, 0, 1),
        (0, 0, 0, 0, 0, 0, 0, 0, 0),
    ]  # fmt: skip
    assert rows[-1][0].rstrip(b"\0") == b"EOS"
    assert found["ifil"] == struct.pack("<HH", 2, 1)
    packed = chunks(encode(made, lambda sample: b"abc" if sample.name == "one" else None))
    assert packed["ifil"] == struct.pack("<HH", 3, 0)
    rows = list(struct.iter_unpack("<20sIIIIIBbHH", packed["shdr"]))
    assert [row[1:] for row in rows[:2]] == [
        (0, 3, 10, 42, RATE, 60, -3, 0, 0x11), (2, 102, 12, 92, 2 * RATE, 72, 0, 0, 1),
    ]  # fmt: skip
    assert packed["smpl"][:4] == b"abc\0"


def test_settings_stand_in_the_order_that_is_laid_down() -> None:
    zone = Zone(0, (10, 20), (1, 99), ((48, -2), (17, 7)), (bytes(range(10)),))
    made = font(
        Sample("s", wave(), RATE, 60),
        instruments=(FontInstrument("i", (Zone(None, settings=((38, 5),)), zone)),),
        presets=(
            Preset("b", 1, 5, (Zone(0, velocities=(0, 126)),)), Preset("a", 0, 9, (Zone(0),)),
        ),
        author="A", copyright="C", comment="M",
    )  # fmt: skip
    found = chunks(encode(made))
    assert list(struct.iter_unpack("<HH", found["igen"])) == [
        (38, 5), (43, 10 | 20 << 8), (44, 1 | 99 << 8), (48, 0xFFFE), (17, 7), (53, 0), (0, 0),
    ]  # fmt: skip
    assert list(struct.iter_unpack("<HH", found["ibag"])) == [(0, 0), (1, 0), (6, 1)]
    assert found["imod"] == bytes(range(10)) + bytes(10)
    heads = list(struct.iter_unpack("<20sHHHIII", found["phdr"]))
    assert [(row[0].rstrip(b"\0"), *row[1:4]) for row in heads] == [
        (b"a", 9, 0, 0), (b"b", 5, 1, 1), (b"EOP", 0, 0, 2),
    ]  # fmt: skip
    assert list(struct.iter_unpack("<HH", found["pgen"])) == [
        (41, 0), (44, 126 << 8), (41, 0), (0, 0),
    ]  # fmt: skip
    heads = list(struct.iter_unpack("<20sH", found["inst"]))
    assert [(name.rstrip(b"\0"), first) for name, first in heads] == [(b"i", 0), (b"EOI", 2)]
    texts = {name: found[name].rstrip(b"\0") for name in ("INAM", "IENG", "ICOP", "ICMT", "ISFT")}
    assert list(texts.values()) == [b"F", b"A", b"C", b"M", b"accomp"]
    assert "IENG" not in chunks(encode(font(Sample("s", wave(), RATE, 60))))
    again = font_of(encode(made), Path("x.sf2"))
    assert encode(again) == encode(made)


def raw_font(row: tuple[object, ...], words: np.ndarray) -> Font:
    """A font whose one sample's row is as given."""
    data = encode(font(Sample("s", wave(), RATE, 60)))
    at = data.index(b"shdr") + 8
    data = data[:at] + struct.pack("<20sIIIIIBbHH", *row) + data[at + 46 :]
    at = data.index(b"smpl") + 8
    before = struct.unpack_from("<I", data, at - 4)[0]
    assert before == 2 * words.size
    return font_of(data[:at] + words.astype("<i2").tobytes() + data[at + before :], Path("x.sf2"))


@pytest.mark.parametrize(
    ("row", "size", "loop", "key", "rate"),
    [
        ((b"a", 0, 60, 8, 52, RATE, 60, 0, 0, 1), 60, (8, 52), 60, RATE),
        ((b"a", 2, 60, 8, 52, RATE, 127, 0, 0, 1), 58, (6, 50), 127, RATE),
        ((b"a", 0, 60, 8, 60, RATE, 128, 0, 0, 1), 60, (8, 60), 60, RATE),
        ((b"a", 0, 60, 8, 61, RATE, 255, 0, 0, 1), 60, None, 60, RATE),
        ((b"a", 0, 60, 8, 8, 0, 60, 0, 0, 1), 60, None, 60, 44_100),
        ((b"a", 10, 60, 9, 52, RATE, 60, 0, 0, 1), 50, None, 60, RATE),
        ((b"a", 0, 500, 0, 0, RATE, 60, 0, 0, 1), 106, None, 60, RATE),
        ((b"a", 60, 20, 0, 0, RATE, 60, 0, 0, 1), 48, None, 60, RATE),
        ((b"a", 0, 47, 0, 0, RATE, 60, 0, 0, 1), 48, None, 60, RATE),
    ],
)
def test_a_sample_is_read_as_far_as_it_makes_sense(
    row: tuple[object, ...], size: int, loop: tuple[int, int] | None, key: int, rate: int
) -> None:
    words = np.arange(1, 107)
    words[0] = -32768
    (sample,) = raw_font(row, words).samples
    assert (sample.data.size, sample.loop, sample.root_key, sample.rate_hz) == (
        size, loop, key, rate,
    )  # fmt: skip
    start = int(row[1])  # type: ignore[call-overload]
    there = words[start : max(start, min(int(row[2]), 106))] / 32767  # type: ignore[call-overload]
    assert sample.data[: there.size] == pytest.approx(np.maximum(there, -1.0))
    assert not sample.data[there.size :].any()


def test_what_is_no_font_is_told_with_its_path() -> None:
    good = encode(font(Sample("s", wave(), RATE, 60)))
    for data in (b"", b"RIFX" + good[4:], good[:8] + b"sfbx" + good[12:]):
        with pytest.raises(ValueError, match=r"^x\.sf2: not a SoundFont$"):
            font_of(data, Path("x.sf2"))
    for name in (b"sdta", b"pdta", b"shdr", b"igen"):
        with pytest.raises(ValueError, match=r"^x\.sf2: a damaged SoundFont \("):
            font_of(good.replace(name, b"none"), Path("x.sf2"))
    assert font_of(good.replace(b"INFO", b"none"), Path("dir/mine.sf2")).name == "mine"
    named = font(Sample("s", wave(), RATE, 60), name="a\tb ")
    assert font_of(encode(named), Path("x.sf2")).name == "a?b"


def test_a_font_is_cut_down_to_what_is_played() -> None:
    samples = tuple(Sample(f"s{at}", wave(), RATE, 60) for at in range(4))
    whole = Font(
        "F", samples,
        (
            FontInstrument("unused", (Zone(0),)),
            FontInstrument("keys", (
                Zone(None), Zone(3, (0, 60)), Zone(1, (61, 127), (0, 64)),
                Zone(2, (61, 127), (65, 127)),
            )),
            FontInstrument("soft", (Zone(3, (50, 50), (10, 20)),)),
        ),
        (
            Preset("a", 0, 5, (Zone(None), Zone(1, velocities=(1, 127)), Zone(2))),
            Preset("b", 0, 6, (Zone(0),)), Preset("c", 1, 5, (Zone(1),)),
        ),
    )  # fmt: skip
    cut = trimmed(whole, [(0, 5, 61, 64)])
    assert [one.name for one in cut.samples] == ["s1"]
    assert [one.name for one in cut.instruments] == ["keys", "soft"]
    assert cut.instruments[0].zones == (Zone(None), Zone(0, (61, 127), (0, 64)))
    assert cut.instruments[1].zones == ()
    assert cut.presets == (Preset("a", 0, 5, (Zone(None), Zone(0, velocities=(1, 127)), Zone(1))),)
    for key, loud, names in (
        (60, 1, ["s3"]), (61, 1, ["s1"]), (61, 64, ["s1"]), (61, 65, ["s2"]), (127, 127, ["s2"]),
        (50, 10, ["s3"]), (0, 9, ["s3"]),
    ):  # fmt: skip
        assert [one.name for one in trimmed(whole, [(0, 5, key, loud)]).samples] == names
    both = trimmed(whole, [(1, 5, 61, 65), (0, 5, 61, 64)])
    assert [one.name for one in both.samples] == ["s1", "s2"]
    assert [(one.bank, one.program) for one in both.presets] == [(0, 5), (1, 5)]
    nothing = trimmed(whole, [(0, 7, 60, 60), (0, 5, 60, 0)])
    assert [one.name for one in nothing.presets] == ["a"]
    assert trimmed(whole, [(0, 7, 60, 60)]).samples == ()


# ------------------------------------------------------------------ a voice's own font


def test_a_fret_has_the_two_nearest_takes(banjo: Voice) -> None:
    voice = replace(banjo, layout=replace(banjo.layout, roots=(0, 4, 10)))
    assert [nearest(voice, fret) for fret in (0, 1, 2, 3, 5, 7, 9, 12)] == [
        (0, 4), (0, 4), (4, 0), (4, 0), (4, 10), (10, 4), (10, 4), (10, 4),
    ]  # fmt: skip
    alone = replace(banjo, layout=replace(banjo.layout, roots=(3,)))
    assert nearest(alone, 0) == (3, 3)


@pytest.fixture(scope="module")
def laid(banjo_of_two: Voice) -> Font:
    voice = banjo_of_two
    frets = range(voice.neck.frets + 1)
    takes = [
        Take(string, fret, force, up, None, wave(), RATE, 1.4,
             tuple(FretCorrection(at, at / 2, at - 2.6) for at in frets))
        for string in range(2)
        for fret in voice.layout.roots
        for up in (False, True)
        for force in range(len(voice.plectrum.force))
    ]  # fmt: skip
    takes += [
        Take(string, 12, force, False, number, wave(), RATE, 0.0)
        for string in range(2)
        for number in range(voice.dead.takes)
        for force in range(len(voice.plectrum.force))
    ]
    return lay_out(voice, takes)


@pytest.fixture(scope="module")
def banjo_of_two() -> Voice:
    """Two strings, the lower written first, three frets, two levels of force."""
    from voice_texts import parameters

    from accomp.files.toml import parse_toml
    from accomp.voice.reader import voice_of

    voice = voice_of(parse_toml(parameters(), "tenor-banjo.toml"), "tenor-banjo")
    forces = tuple(
        replace(level, up_to=up_to)
        for level, up_to in zip(voice.plectrum.force, (70, 127), strict=False)
    )
    return replace(
        voice,
        title="A Banjo of Two Strings",
        strings=tuple(
            replace(string, pitch=pitch)
            for string, pitch in zip(voice.strings, (48, 51), strict=False)
        ),
        neck=replace(voice.neck, frets=3),
        layout=replace(voice.layout, roots=(0, 2), program=105, ring_ms=150.0, choke_ms=30.0),
        plectrum=replace(voice.plectrum, force=forces),
        dead=replace(voice.dead, takes=3),
    )


def test_banks_are_numbered_by_variant_stroke_and_string() -> None:
    assert [voice_bank(0), voice_bank(2), voice_bank(1, up=True), voice_bank(2, 4, up=True)] == [
        0, 2, 5, 38,
    ]  # fmt: skip


def test_a_voices_font_has_its_sounds_by_name(laid: Font) -> None:
    assert laid.name == "A Banjo of Two Strings"
    names = [one.name for one in laid.samples]
    assert names[:4] == ["s2 00 dn f1", "s2 00 dn f2", "s2 00 up f1", "s2 00 up f2"]
    assert names[8] == "s1 00 dn f1"
    assert names[16:18] == ["s2 dead 1 f1", "s2 dead 1 f2"]
    first = laid.samples[4]
    assert (first.name, first.root_key, first.correction_cents, first.rate_hz) == (
        "s2 02 dn f1", 50, 1, RATE,
    )  # fmt: skip
    assert [one.name for one in laid.instruments] == [
        f"String {number} {which}"
        for number in (2, 1)
        for which in ("down A", "down B", "up A", "up B", "dead 1", "dead 2", "dead 3")
    ]


def test_every_fret_sounds_its_nearest_take(laid: Font) -> None:
    release = Zone(None, settings=((38, timecents(0.25)),))
    near, far = laid.instruments[0], laid.instruments[1]
    assert near.zones[0] == far.zones[0] == release
    keys = [(0, 0), (49, 49), (50, 50), (51, 127)]
    keys[0] = (0, 48)
    for instrument, roots in ((near, (0, 2, 2, 2)), (far, (2, 0, 0, 0))):
        wanted = []
        for fret, root in enumerate(roots):
            softer = round(fret / 2 * 10 / 0.4)
            sharper = round(fret - 2.6 + 0.4)
            settings = tuple(
                (name, amount) for name, amount in ((48, softer), (52, sharper)) if amount
            )
            wanted += [
                Zone(2 * root + force, keys[fret], ((0, 70), (71, 127))[force], settings)
                for force in (0, 1)
            ]
        wanted = [
            replace(zone, target={0: 0, 1: 1, 4: 4, 5: 5}[zone.target or 0]) for zone in wanted
        ]
        assert list(instrument.zones[1:]) == wanted
    dead = laid.instruments[5]
    assert dead.zones == tuple(
        Zone(18 + force, velocities=((0, 70), (71, 127))[force], settings=((56, 15),))
        for force in (0, 1)
    )


def test_presets_take_turns_by_velocity(laid: Font) -> None:
    presets = {one.bank: one for one in laid.presets}
    assert [one.bank for one in laid.presets] == [
        variant + up + 8 * string for string in (0, 1, 2) for up in (0, 4) for variant in (0, 1, 2)
    ]
    assert {one.program for one in laid.presets} == {105}
    assert [presets[bank].name for bank in (0, 1, 6, 8, 21)] == [
        "A Banjo of  ring", "A Banjo of  chok", "A Banjo of  dead up", "ring string 1",
        "choke string 2 up",
    ]  # fmt: skip
    quicker = ((38, timecents(0.03) - timecents(0.15)),)
    plain = presets[0].zones
    assert len(plain) == 2 * 127
    assert plain[0] == Zone(0, (0, 50), (1, 1))
    assert plain[1] == Zone(1, (0, 50), (2, 2))
    assert plain[126] == Zone(0, (0, 50), (127, 127))
    assert plain[127] == Zone(7, (51, 127), (1, 1))
    assert presets[1].zones[0] == Zone(0, (0, 50), (1, 1), quicker)
    assert presets[4].zones[:2] == (Zone(2, (0, 50), (1, 1)), Zone(3, (0, 50), (2, 2)))
    # Three takes of a dead stroke, the same for both strokes.
    assert [zone.target for zone in presets[2].zones[:4]] == [6, 4, 5, 6]
    assert presets[6].zones == presets[2].zones
    assert presets[16].zones[0] == Zone(0, (0, 127), (1, 1))
    assert presets[8].zones[0] == Zone(7, (0, 127), (1, 1))


# ------------------------------------------------------------------ fonts that are kept


@pytest.fixture
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(store.homes, "cache_folder", lambda: tmp_path)
    return tmp_path / "voices"


def test_a_font_is_made_once_and_again_when_it_is_damaged(cache: Path) -> None:
    made: list[int] = []

    def make() -> bytes:
        made.append(1)
        return b"font"

    path = store.built("one", "a" * 12, make)
    assert path == cache / f"one-{'a' * 12}.sf2"
    assert store.built("one", "a" * 12, make) == path
    assert len(made) == 1
    assert path.stat().st_mode & 0o777 == 0o644
    line = path.with_name(f"{path.name}.sha256").read_text("ascii")
    assert line.endswith(f"  {path.name}\n")
    path.write_bytes(b"other")
    assert store.built("one", "a" * 12, make).read_bytes() == b"font"
    assert len(made) == 2
    path.with_name(f"{path.name}.sha256").write_text("", "ascii")
    assert not store.is_whole(path)
    assert store.built("one", "a" * 12, make).read_bytes() == b"font"
    assert [entry.name for entry in cache.iterdir() if entry.name.startswith(".b")] == []


def test_older_fonts_of_a_name_go_after_a_day(cache: Path) -> None:
    cache.mkdir()
    now = time.time()
    ages = {
        f"one-{'b' * 12}.sf2": 86_500, f"one-{'b' * 12}.sf2.sha256": 86_500,
        f"one-{'c' * 12}.sf2": 86_300, f"two-{'b' * 12}.sf2": 90_000, "one-short.sf2": 90_000,
        f"one-more-{'b' * 12}.sf2": 90_000,
    }  # fmt: skip
    for name, age_s in ages.items():
        (cache / name).write_bytes(b"x")
        os.utime(cache / name, (now - age_s, now - age_s))
    path = store.built("one", "a" * 12, lambda: b"font")
    left = {entry.name for entry in cache.iterdir()} & set(ages)
    assert left == set(list(ages)[2:])
    assert store.SPARED_S == 86_400.0
    assert path.exists()


def test_without_room_to_keep_it_a_font_is_this_processs_own(
    cache: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    cache.write_text("a file in the way")
    own = tmp_path / "own"
    own.mkdir()
    monkeypatch.setattr(store, "_private_folder", own)
    made: list[int] = []
    for _ in range(2):
        path = store.built("one", "a" * 12, lambda: (made.append(1), b"font")[1])
        assert path == own / f"one-{'a' * 12}.sf2"
        assert path.read_bytes() == b"font"
    assert len(made) == 1
    monkeypatch.setattr(store, "_private_folder", tmp_path / "gone")
    with pytest.raises(SoundError) as caught:
        store.built("one", "a" * 12, lambda: b"font")
    assert str(caught.value) == (
        f"the font one-{'a' * 12}.sf2 cannot be written, neither to {cache} (file exists) nor to a "
        "temporary folder (no such file or directory). Make room, or choose another font."
    )
    assert caught.value.helps == ("soundfont",)
    assert store.WAIT_S == 180


def test_a_font_is_packed_as_one_long_sound(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    data = encode(font(Sample("s", wave(), RATE, 60)))
    small = shipped.packed(data)
    assert small.startswith(b"fLaC")
    assert shipped.unpacked(small) == data
    with pytest.raises(ValueError, match="a packed font cannot be read"):
        shipped.unpacked(b"nothing")
    for damaged in (b"RIFX" + data[4:], data + b"\0\0", data[:-2]):
        with pytest.raises(ValueError, match="a packed font is not whole"):
            shipped.unpacked(shipped.packed(damaged))
    one, two = tmp_path / "one", tmp_path / "two"
    for folder in (one, two):
        folder.mkdir()
    monkeypatch.setattr(shipped, "folders", lambda kind: [one, two] if kind == "soundfonts" else [])
    assert shipped.shipped("v", "a") is None
    (two / "v-a.flac").write_bytes(small)
    assert shipped.shipped("v", "a") == data
    (one / "v-a.flac").write_bytes(b"damaged")
    assert shipped.shipped("v", "a") == data
    assert shipped.shipped("v", "b") is None


def test_a_voice_is_known_by_its_name_and_what_it_is_made_from(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    names = ", ".join(voices.voice_names())
    with pytest.raises(SoundError) as caught:
        voices.voice_font("none-such")
    assert str(caught.value) == f"there is no voice 'none-such'. Known are: {names}."
    mine = tmp_path / "mine.toml"
    mine.write_text("title = ")
    first = voices.fingerprint_of(mine)
    assert len(first) == 12
    mine.write_text("title = 1")
    assert voices.fingerprint_of(mine) != first
    asked: list[tuple[str, str]] = []

    def built(name: str, fingerprint: str, make: object) -> Path:
        asked.append((name, fingerprint))
        return Path("font")

    monkeypatch.setattr(voices, "find", lambda kind, name: mine if name == "mine" else None)
    monkeypatch.setattr(voices, "built", built)
    assert voices.voice_font("mine") == Path("font")
    assert asked == [("mine", voices.fingerprint_of(mine))]
    with pytest.raises(SoundError, match=r"^the voice 'mine' cannot be built\. "):
        voices._bytes(mine, None)
    mine.unlink()
    with pytest.raises(SoundError, match=r"mine\.toml: cannot be read \(no such file"):
        voices.voice_font("mine")


def test_names_are_read_as_long_as_they_may_be() -> None:
    name = "nineteen letters ok"
    assert len(name) == 19
    made = font(
        Sample(name, wave(), RATE, 60),
        instruments=(FontInstrument(name, (Zone(0),)),),
        presets=(Preset(name, 0, 0, (Zone(0),)),),
        name="n" * 200,
        author="a" * 200,
        copyright="c" * 200,
        comment="m" * 200,
    )
    again = font_of(encode(made), Path("x.sf2"))
    assert [one.name for one in (*again.samples, *again.instruments, *again.presets)] == [name] * 3
    texts = (again.name, again.author, again.copyright, again.comment)
    assert texts == tuple(letter * 200 for letter in "nacm")
    long = replace(made, name="n" * 201, author="a" * 201, copyright="c" * 201, comment="m" * 201)
    assert font_of(encode(long), Path("x.sf2")).name == "n" * 200
    assert font_of(encode(long), Path("x.sf2")).comment == "m" * 200
    blank = encode(replace(made, samples=(Sample(" ", wave(), RATE, 60),)))
    assert font_of(blank, Path("x.sf2")).samples[0].name == "sample"
    bare = encode(
        font(
            Sample("s", wave(), RATE, 60),
            instruments=(FontInstrument(" ", (Zone(0),)),),
            presets=(Preset(" ", 0, 0, (Zone(0),)),),
        )
    )
    read = font_of(bare, Path("x.sf2"))
    assert (read.instruments[0].name, read.presets[0].name) == ("instrument", "preset")


def test_a_zone_without_a_target_is_the_first_or_nothing() -> None:
    zones = (Zone(None, settings=((38, 5),)), Zone(0), Zone(None, settings=((17, 1),)), Zone(0))
    made = font(Sample("s", wave(), RATE, 60), instruments=(FontInstrument("i", zones),))
    read = font_of(encode(made), Path("x.sf2"))
    assert read.instruments[0].zones == (zones[0], zones[1], zones[3])


def test_a_font_that_cannot_be_put_into_place_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*paths: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(store.os, "replace", full)
    with pytest.raises(OSError, match="No space left"):
        store._write_whole(tmp_path / "a.sf2", b"font")
    assert list(tmp_path.iterdir()) == []
