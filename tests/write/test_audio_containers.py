"""What stands in sound files about themselves, byte by byte."""

from __future__ import annotations

import struct

import pytest
from audio_pieces import chunk

from accomp.score.performance import TextMark
from accomp.write.audio import ogg, tags
from accomp.write.audio.tags import Chapter, Tags, tags_of

# Tags


def test_tags_are_clean_texts_and_chapters_in_order():
    marks = [TextMark(2.0, "C\nD"), TextMark(0.0, "A"), TextMark(1.0, "x" * 201)]
    made = tags_of({"title": "T\x00", "key": "", "tempo": " 9 "}, marks, duration_s=2.5)
    assert made == Tags(
        "T",
        (("tempo", "9"),),
        (Chapter(0.0, 1.0, "A"), Chapter(1.0, 2.0, "x" * 200), Chapter(2.0, 2.5, "C D")),
    )
    assert tags_of({}, [TextMark(2.5, "at the end")], duration_s=2.5) == tags.NO_TAGS
    assert Tags("T", (("key", "F"), ("tempo", "90"))).comment == "key: F; tempo: 90"


def test_an_mp3_has_255_chapters_at_most():
    marks = [TextMark(n / 10, f"{n}") for n in range(300)]
    made = tags_of({}, marks, duration_s=60.0).chapters
    assert len(made) == 255
    assert made[-1] == Chapter(25.4, 60.0, "254")
    whole = tags.id3_tag(Tags("", (), made))
    assert b"toc\0\x03\xffc001\0" in whole
    assert b"c255\0" in whole


def utf_16(text: str) -> bytes:
    return b"\x01\xff\xfe" + text.encode("utf-16-le") + b"\0\0"


def frame(kind: str, body: bytes) -> bytes:
    return kind.encode() + len(body).to_bytes(4, "big") + b"\0\0" + body


def test_an_id3_tag_byte_by_byte():
    """ID3v2.3.0, section 3.3: sizes of seven bits a byte in the head, of eight in the frames."""
    chapter = Chapter(0.0625, 70_000.0, "A")
    made = Tags("T♭", (("key", "F#m"), ("tempo", "168"), ("position", "x")), (chapter,))
    comment = "key: F#m; tempo: 168; position: x"
    frames = [
        frame("TIT2", utf_16("T♭")),
        frame("TKEY", utf_16("F#m")),
        frame("TBPM", utf_16("168")),
        frame("TXXX", utf_16("position") + utf_16("x")[1:]),
        frame("COMM", b"\x01eng" + utf_16("")[1:] + utf_16(comment)[1:]),
        frame("CTOC", b"toc\0\x03\x01c001\0"),
        frame("CHAP", b"c001\0" + struct.pack(">IIII", 62, 70_000_000, 2**32 - 1, 2**32 - 1)
              + frame("TIT2", utf_16("A"))),
    ]  # fmt: skip
    body = b"".join(frames)
    assert 128 < len(body) < 256
    size = bytes([0, 0, len(body) // 128, len(body) % 128])
    assert tags.id3_tag(made) == b"ID3\x03\0\0" + size + body
    long = tags.id3_tag(Tags("x" * 20_000, ()))
    assert long[6:10] == bytes([0, 2, (40_015 >> 7) & 127, 40_015 & 127])
    assert tags.id3_tag(Tags("x" * 1_100_000, ()))[6:8] == bytes([1, 6])
    assert tags.id3_tag(tags.NO_TAGS) == b""


@pytest.mark.parametrize(
    ("name", "text", "kind"),
    [
        ("key", "Bbm", b"TKEY"), ("key", "Bbmi", None), ("tempo", "9", b"TBPM"),
        ("tempo", "168", b"TBPM"), ("tempo", "1680", None), ("tempo", "9.5", None),
        ("other", "Bb", b"TXXX"),
    ],
)  # fmt: skip
def test_a_frame_has_only_what_its_rule_allows(name: str, text: str, kind: bytes | None):
    whole = tags.id3_tag(Tags("", ((name, text),)))
    assert whole[10:14] == (kind or b"COMM")


@pytest.mark.parametrize(
    ("time_s", "clock"),
    [
        (0, "00:00:00.000"), (0.0004, "00:00:00.000"), (0.0006, "00:00:00.001"),
        (59.9994, "00:00:59.999"), (59.9996, "00:01:00.000"), (61.5, "00:01:01.500"),
        (3_599.9996, "01:00:00.000"), (36_061.007, "10:01:01.007"),
    ],
)  # fmt: skip
def test_the_clock_of_a_chapter(time_s: float, clock: str):
    assert tags._clock(time_s) == clock


def test_vorbis_comments_byte_by_byte():
    """Vorbis I, section 5.2.1: lengths of four bytes before vendor and each comment."""
    made = Tags("", (("key", "B♭"),), (Chapter(0.0, 1.0, "A"), Chapter(61.5, 90.0, "B")))
    rows = [
        "KEY=B♭", "COMMENT=key: B♭", "CHAPTER001=00:00:00.000", "CHAPTER001NAME=A",
        "CHAPTER002=00:01:01.500", "CHAPTER002NAME=B",
    ]  # fmt: skip
    expected = struct.pack("<I", 6) + b"accomp" + struct.pack("<I", 6)
    for row in rows:
        expected += struct.pack("<I", len(row.encode())) + row.encode()
    assert tags.vorbis_comments(made) == expected


def block(kind: int, body: bytes, *, last: bool = False) -> bytes:
    return bytes([kind | 0x80 * last]) + len(body).to_bytes(3, "big") + body


@pytest.mark.parametrize("where", [(1, 4), (4,), ()])
def test_a_flac_has_one_block_of_comments_second_and_the_last_block_says_so(where):
    """RFC 9639, section 8.1; whatever blocks of comments were there are gone."""
    ours = tags.vorbis_comments(Tags("T", ()))
    streaminfo, picture, sound = b"s" * 34, b"p" * 70_000, b"\xff\xf8sound"
    others = [(kind, b"old" if kind == 4 else picture) for kind in where]
    rows = [(0, streaminfo), *others]
    data = b"fLaC" + b"".join(
        block(kind, body, last=at == len(rows) - 1) for at, (kind, body) in enumerate(rows)
    )
    expected = b"fLaC" + block(0, streaminfo)
    expected += block(4, ours, last=1 not in where)
    if 1 in where:
        expected += block(1, picture, last=True)
    assert tags.flac_with_tags(data + sound, Tags("T", ())) == expected + sound


def test_wav_chunks_are_padded_to_even():
    data = b"RIFF" + struct.pack("<I", 4) + b"WAVE"
    made = tags.wav_with_cues(data, (Chapter(0.0, 1.0, "A"), Chapter(1.00006, 2.0, "BC")), 8_000)
    labels = chunk(b"labl", b"\x01\0\0\0A\0") + chunk(b"labl", b"\x02\0\0\0BC\0")
    assert len(labels) == 14 + 16
    points = struct.pack("<I", 2) + struct.pack("<II4sIII", 1, 0, b"data", 0, 0, 0)
    points += struct.pack("<II4sIII", 2, 8_000, b"data", 0, 0, 8_000)
    expected = b"WAVE" + chunk(b"cue ", points) + chunk(b"LIST", b"adtl" + labels)
    assert made == b"RIFF" + struct.pack("<I", len(expected)) + expected
    assert tags.wav_with_cues(data, (), 8_000) == data


# Ogg: RFC 3533, section 6


def page(kind: int, granule: int, number: int, segments: bytes, body: bytes, serial=7) -> bytes:
    head = struct.pack("<4sBBqIII", b"OggS", 0, kind, granule, serial, number, 0)
    whole = head + bytes([len(segments)]) + segments + body
    crc = 0
    for byte in whole:  # the polynomial, bit by bit
        crc ^= byte << 24
        for _ in range(8):
            crc = (crc << 1) ^ (0x04C11DB7 if crc & 0x80000000 else 0)
            crc &= 0xFFFFFFFF
    return whole[:22] + struct.pack("<I", crc) + whole[26:]


@pytest.mark.parametrize("setup", [0, 1, 254, 255, 256, 510, 700])
def test_packets_are_laced_with_segments_of_255_bytes(setup: int):
    """A packet of 255 bytes needs an empty segment to end it."""
    packets = [b"\x03vorbis" + b"c" * 93, b"s" * setup]
    old = b"\x03vorbis" + b"o" * 300
    lacing = bytes([255] * (307 // 255) + [307 % 255])
    lacing += bytes([255] * (setup // 255) + [setup % 255])
    data = page(2, 0, 0, b"\x01", b"i") + page(0, 0, 1, lacing, old + packets[1])
    data += page(4, 99, 2, b"\x03", b"end")
    ours = b"\x03vorbis" + tags.vorbis_comments(Tags("T", ())) + b"\x01"
    own = bytes([len(ours)]) + bytes([255] * (setup // 255) + [setup % 255])
    expected = page(2, 0, 0, b"\x01", b"i", 1) + page(0, 0, 1, own, ours + packets[1], 1)
    expected += page(4, 99, 2, b"\x03", b"end", 1)
    assert ogg.ogg_with_tags(data, Tags("T", ())) == expected


@pytest.mark.parametrize("length", [0, 254, 255, 254 * 255, 255 * 255 - 1, 255 * 255, 130_100])
def test_headers_are_paged_by_255_segments(length: int):
    packets = [b"a" * length, b"b" * 300]
    made = ogg._paged(packets)
    assert b"".join(one.body for one in made) == b"".join(packets)
    lacing = b"".join(one.segments for one in made)
    assert [len(one.segments) for one in made[:-1]] == [255] * (len(made) - 1)
    assert 1 <= len(made[-1].segments) <= 255
    found, open_packet = [], 0
    continued = False
    for one in made:
        assert one.kind == continued
        assert len(one.body) == sum(one.segments)
        assert one.granule == (-1 if set(one.segments) == {255} else 0)
        continued = one.segments[-1] == 255
    for segment in lacing:
        open_packet += segment
        if segment < 255:
            found.append(open_packet)
            open_packet = 0
    assert found == [length, 300]


def test_what_is_no_ogg_vorbis_is_refused_with_its_place():
    first = page(2, 0, 0, b"\x01", b"i")
    comments = b"\x03vorbis"
    with pytest.raises(ValueError, match=r"^no Ogg page at byte 29$"):
        list(ogg._pages(first + b"Oggs" + bytes(40)))
    for packets in ([b"\x04vorbis", b"s"], [comments, b"s", b"more"]):
        ended = packets if len(packets) == 2 else [*packets[:2], packets[2]]
        lacing = bytes(len(one) for one in ended[:2])
        if len(packets) == 3:  # a third packet goes on after this page
            lacing += b"\xff"
            ended = [*ended[:2], b"m" * 255]
        bad = first + page(0, 0, 1, lacing, b"".join(ended))
        with pytest.raises(ValueError, match="not an Ogg Vorbis file as encoders write it"):
            ogg.ogg_with_tags(bad, tags.NO_TAGS)
