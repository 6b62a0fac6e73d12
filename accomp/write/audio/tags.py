"""The tags of a sound file (title, key, tempo, position, chapters), and how each container holds
them.

Conventions: tags are texts by name, "title" and others. Texts come from a user's file, so they are
cut to one line without control signs, of 200 characters at most. Chapters begin at seconds from the
start of the file, in order; each lasts to the next.

- MP3: ID3v2.3.0 (id3.org, 1999), frames TIT2, TKEY (three signs at most), TBPM (a whole number),
  COMM, TXXX; chapters after the "ID3v2 Chapter Frame Addendum" (2005), CTOC and CHAP. Text is
  UTF-16 with a byte order mark.
- FLAC and Ogg: Vorbis comments after the Vorbis I specification, section 5.2.1 (lengths of 4
  bytes, little-endian, UTF-8), in FLAC as metadata block 4 (RFC 9639, section 8.6) without the
  framing bit. Chapters as CHAPTER001=00:00:00.000 and CHAPTER001NAME=..., the convention of Xiph's
  wiki ("Chapter Extension"), which common players read. For Ogg see `accomp.write.audio.ogg`.
- WAV: "cue " and "LIST adtl labl" chunks of the RIFF WAVE specification (IBM and Microsoft,
  "Multimedia Programming Interface and Data Specifications 1.0", 1991), places in frames.
"""

from __future__ import annotations

import struct
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from accomp.files.text import one_line
from accomp.score.performance import TextMark

_LONGEST = 200
_CHAPTERS_MOST = 255  # an MP3's table of contents holds no more; 99 a cue sheet


@dataclass(frozen=True, slots=True)
class Chapter:
    """A named stretch of the file."""

    start_s: float
    end_s: float
    name: str


@dataclass(frozen=True, slots=True)
class Tags:
    """A title, other texts by name, and chapters; made by `tags_of`."""

    title: str
    others: tuple[tuple[str, str], ...]
    chapters: tuple[Chapter, ...] = ()

    @property
    def comment(self) -> str:
        """All texts except the title in one line, for programs that show only a comment."""
        return "; ".join(f"{name}: {text}" for name, text in self.others)


NO_TAGS = Tags("", ())


def tags_of(
    texts: Mapping[str, str], marks: Iterable[TextMark] = (), *, duration_s: float = 0.0
) -> Tags:
    """Tags from texts by name, and chapters from the `marks` before the file ends."""
    clean = {name: _tag_text(text) for name, text in texts.items()}
    title = clean.pop("title", "")
    starts = [mark for mark in marks if _tag_text(mark.text) and mark.start_s < duration_s]
    starts = sorted(starts, key=lambda mark: mark.start_s)[:_CHAPTERS_MOST]
    ends = [*(mark.start_s for mark in starts[1:]), duration_s]
    chapters = tuple(
        Chapter(mark.start_s, end_s, _tag_text(mark.text))
        for mark, end_s in zip(starts, ends, strict=False)  # without marks there is still one end
    )
    return Tags(title, tuple((name, text) for name, text in clean.items() if text), chapters)


def _tag_text(text: str) -> str:
    return one_line(text)[:_LONGEST]


_UTF_16 = b"\x01"
_ORDERED_TOP = b"\x03"  # flags of a table of contents
_NO_OFFSET = 0xFFFFFFFF
_FRAMES = {"key": "TKEY", "tempo": "TBPM"}


def id3_tag(tags: Tags) -> bytes:
    """The whole tag, for the place before the first frame of sound; empty without tags."""
    frames = [_text("TIT2", tags.title)] if tags.title else []
    for name, text in tags.others:
        kind = _FRAMES.get(name)
        if kind is None:
            frames.append(_frame("TXXX", _UTF_16 + _utf_16(name) + _utf_16(text)))
        elif len(text) <= 3 and (kind != "TBPM" or text.isdecimal()):
            frames.append(_text(kind, text))
    if tags.comment:
        frames.append(_frame("COMM", _UTF_16 + b"eng" + _utf_16("") + _utf_16(tags.comment)))
    if tags.chapters:
        frames += _chapters(tags.chapters)
    body = b"".join(frames)
    if not body:
        return b""
    size = bytes(len(body) >> shift & 0x7F for shift in (21, 14, 7, 0))  # 7 bits a byte
    return b"ID3\x03\x00\x00" + size + body


def _chapters(chapters: tuple[Chapter, ...]) -> list[bytes]:
    names = [f"c{number:03d}".encode() + b"\0" for number in range(1, len(chapters) + 1)]
    contents = b"toc\0" + _ORDERED_TOP + bytes([len(names)]) + b"".join(names)
    frames = [_frame("CTOC", contents)]
    for name, chapter in zip(names, chapters, strict=True):
        times = (round(chapter.start_s * 1000), round(chapter.end_s * 1000))
        times_and_offsets = struct.pack(">IIII", *times, _NO_OFFSET, _NO_OFFSET)
        frames.append(_frame("CHAP", name + times_and_offsets + _text("TIT2", chapter.name)))
    return frames


def _text(kind: str, text: str) -> bytes:
    return _frame(kind, _UTF_16 + _utf_16(text))


def _frame(kind: str, body: bytes) -> bytes:
    return kind.encode() + struct.pack(">IH", len(body), 0) + body


def _utf_16(text: str) -> bytes:
    return b"\xff\xfe" + text.encode("utf-16-le") + b"\0\0"


_VENDOR = "accomp"
_COMMENTS = 4  # type of the metadata block
_LAST = 0x80


def vorbis_comments(tags: Tags) -> bytes:
    """The comment structure: vendor, then NAME=text."""
    fields = [("TITLE", tags.title)]
    fields += [(name.upper(), text) for name, text in tags.others]
    fields.append(("COMMENT", tags.comment))
    for number, chapter in enumerate(tags.chapters, 1):
        fields.append((f"CHAPTER{number:03d}", _clock(chapter.start_s)))
        fields.append((f"CHAPTER{number:03d}NAME", chapter.name))
    rows = [f"{name}={text}".encode() for name, text in fields if text]
    vendor = _VENDOR.encode()
    return b"".join(
        [
            struct.pack("<I", len(vendor)) + vendor,
            struct.pack("<I", len(rows)),
            *(struct.pack("<I", len(row)) + row for row in rows),
        ]
    )


def flac_with_tags(data: bytes, tags: Tags) -> bytes:
    """A FLAC file with these tags in place of its own."""
    blocks: list[tuple[int, bytes]] = []
    at, last = 4, False
    while not last:
        kind, length = data[at] & ~_LAST, int.from_bytes(data[at + 1 : at + 4], "big")
        last = bool(data[at] & _LAST)
        if kind != _COMMENTS:
            blocks.append((kind, data[at + 4 : at + 4 + length]))
        at += 4 + length
    blocks.insert(1, (_COMMENTS, vorbis_comments(tags)))  # the stream's own block stays first
    pieces = [data[:4]]
    for number, (kind, body) in enumerate(blocks, 1):
        flag = _LAST if number == len(blocks) else 0
        pieces += [bytes([kind | flag]), len(body).to_bytes(3, "big"), body]
    return b"".join([*pieces, data[at:]])


def _clock(time_s: float) -> str:
    minutes, milliseconds = divmod(round(time_s * 1000), 60_000)
    hours, minutes = divmod(minutes, 60)
    return f"{hours:02d}:{minutes:02d}:{milliseconds // 1000:02d}.{milliseconds % 1000:03d}"


def wav_with_cues(data: bytes, chapters: tuple[Chapter, ...], sample_rate: int) -> bytes:
    """The same file with a labelled cue point where each chapter begins."""
    if not chapters:
        return data
    points, labels = [], []
    for number, chapter in enumerate(chapters, 1):
        frame = round(chapter.start_s * sample_rate)
        points.append(struct.pack("<II4sIII", number, frame, b"data", 0, 0, frame))
        labels.append(_chunk(b"labl", struct.pack("<I", number) + chapter.name.encode() + b"\0"))
    cues = _chunk(b"cue ", struct.pack("<I", len(points)) + b"".join(points))
    whole = data + cues + _chunk(b"LIST", b"adtl" + b"".join(labels))
    return whole[:4] + struct.pack("<I", len(whole) - 8) + whole[8:]


def _chunk(kind: bytes, body: bytes) -> bytes:
    return kind + struct.pack("<I", len(body)) + body + b"\0" * (len(body) % 2)
