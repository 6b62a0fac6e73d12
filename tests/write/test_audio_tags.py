"""Tags and chapters, read back by libsndfile, by SDL, and by parsers written from the formats.

(mutagen 1.48 reads the same from all of them; it is no dependency, so that was tried by hand.)
"""

from __future__ import annotations

import io
import struct
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile
from audio_pieces import small_band

from accomp.score.performance import TextMark
from accomp.write.audio import write_audio
from accomp.write.audio.encode import encode
from accomp.write.audio.tags import Tags, tags_of
from accomp.write.formats import AUDIO_FORMATS

RATE = 44_100
MARKS = (TextMark(0.0, "Count-in"), TextMark(0.5, "A, 1st time"), TextMark(1.25, "B ♯"))
TEXTS = {"title": 'Straße ♭ "Q"', "key": "Bb", "tempo": "168", "position": "root-top"}
CHAPTERS = [(0.0, "Count-in"), (0.5, "A, 1st time"), (1.25, "B ♯")]


def _file(kind: str, tags: Tags) -> bytes:
    time_s = np.arange(2 * RATE) / RATE
    tone = (0.2 * np.sin(2 * np.pi * 440 * time_s)).astype(np.float32)
    return encode([np.stack([tone, tone], axis=1)], kind, sample_rate=RATE, tags=tags)


@pytest.fixture(scope="module")
def tags() -> Tags:
    return tags_of(TEXTS, MARKS, duration_s=2.0)


@pytest.mark.parametrize("kind", AUDIO_FORMATS)
def test_libsndfile_reads_title_and_comment(kind: str, tags: Tags) -> None:
    data = _file(kind, tags)
    with soundfile.SoundFile(io.BytesIO(data)) as file:
        found = file.copy_metadata()
        sound = file.read()
    assert found["title"] == TEXTS["title"]
    assert found["comment"] == "key: Bb; tempo: 168; position: root-top"
    assert not found.get("artist")
    assert len(sound) == 2 * RATE
    assert np.abs(sound).max() == pytest.approx(0.2, abs=0.02)  # and the sound is still there


@pytest.mark.parametrize("kind", AUDIO_FORMATS)
def test_sdl_reads_the_title(
    kind: str, tags: Tags, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SDL_AUDIODRIVER", "dummy")
    monkeypatch.setenv("PYGAME_HIDE_SUPPORT_PROMPT", "1")
    import pygame

    path = tmp_path / f"a.{kind}"
    path.write_bytes(_file(kind, tags))
    pygame.mixer.init()
    try:
        pygame.mixer.music.load(path)
        assert pygame.mixer.music.get_metadata()["title"] == TEXTS["title"]
    finally:
        pygame.mixer.quit()


@pytest.mark.parametrize("kind", AUDIO_FORMATS)
def test_titles_are_data(kind: str) -> None:
    title = "A\nB\0C\x1b[31m" + "x" * 500
    data = _file(kind, tags_of({"title": title, "key": ""}))
    with soundfile.SoundFile(io.BytesIO(data)) as file:
        found = file.copy_metadata()["title"]
    assert found.startswith("A B C [31mxxx")
    assert len(found) == 200


@pytest.mark.parametrize("kind", AUDIO_FORMATS)
def test_without_tags_there_are_none(kind: str) -> None:
    with soundfile.SoundFile(io.BytesIO(_file(kind, tags_of({})))) as file:
        assert not any(file.copy_metadata().values())


def _comments(block: bytes) -> dict[str, str]:
    """Source: Vorbis I specification, 5.2.1."""
    vendor = struct.unpack_from("<I", block)[0]
    at = 4 + vendor
    (count,) = struct.unpack_from("<I", block, at)
    at += 4
    found = {}
    for _ in range(count):
        (length,) = struct.unpack_from("<I", block, at)
        name, text = block[at + 4 : at + 4 + length].decode().split("=", 1)
        found[name] = text
        at += 4 + length
    return found


EXPECTED = {
    "TITLE": TEXTS["title"],
    "KEY": "Bb",
    "TEMPO": "168",
    "POSITION": "root-top",
    "COMMENT": "key: Bb; tempo: 168; position: root-top",
    "CHAPTER001": "00:00:00.000",
    "CHAPTER001NAME": "Count-in",
    "CHAPTER002": "00:00:00.500",
    "CHAPTER002NAME": "A, 1st time",
    "CHAPTER003": "00:00:01.250",
    "CHAPTER003NAME": "B ♯",
}


def test_flac_holds_comments_and_chapters(tags: Tags) -> None:
    # Source: RFC 9639, section 8: STREAMINFO first, then blocks up to the one flagged last.
    data = _file("flac", tags)
    at, kinds, last = 4, [], False
    while not last:
        kind, length = data[at] & 0x7F, int.from_bytes(data[at + 1 : at + 4], "big")
        last = data[at] >= 0x80
        kinds.append(kind)
        if kind == 4:
            assert _comments(data[at + 4 : at + 4 + length]) == EXPECTED
        at += 4 + length
    assert kinds[0] == 0
    assert kinds.count(4) == 1
    assert data[at] == 0xFF  # a frame's sync code follows
    assert data[at + 1] >> 2 == 0b111110


def _pages(data: bytes) -> Iterator[tuple[int, int, int, bytes, bytes]]:
    """(type, granule, sequence, segment lengths, body). Source: RFC 3533, section 6."""
    at = 0
    while at < len(data):
        kind, granule, serial, sequence = struct.unpack_from("<BqII", data, at + 5)
        assert serial == 1
        count = data[at + 26]
        segments = data[at + 27 : at + 27 + count]
        body = data[at + 27 + count : at + 27 + count + sum(segments)]
        yield kind, granule, sequence, segments, body
        at += 27 + count + sum(segments)


def test_ogg_holds_comments_and_chapters(tags: Tags) -> None:
    pages = list(_pages(_file("ogg", tags)))
    assert [page[2] for page in pages] == list(range(len(pages)))
    assert pages[0][0] == 2  # begins the stream
    assert pages[-1][0] & 4  # ends it
    assert pages[1][4].startswith(b"\x03vorbis")
    assert _comments(pages[1][4][7:]) == EXPECTED


def test_a_long_ogg_comment_spans_pages() -> None:
    # 65,025 bytes are the most that one page holds.
    many = tuple(TextMark(n / 200, f"{n:03d} " + "♪" * 190) for n in range(200))
    data = _file("ogg", tags_of(TEXTS, many, duration_s=2.0))
    pages = list(_pages(data))
    assert pages[1][1] == -1  # no packet ends on it
    assert pages[2][0] == 1  # continued
    assert len(soundfile.read(io.BytesIO(data))[0]) == 2 * RATE
    (comments,) = [_comments((pages[1][4] + pages[2][4])[7:])]
    assert comments["CHAPTER200NAME"] == many[-1].text[:200]


def _id3_frames(data: bytes) -> list[tuple[str, bytes]]:
    """Source: ID3 tag version 2.3.0, section 3.3."""
    frames, at = [], 0
    while at < len(data):
        kind, size = data[at : at + 4].decode("ascii"), int.from_bytes(data[at + 4 : at + 8], "big")
        frames.append((kind, data[at + 10 : at + 10 + size]))
        at += 10 + size
    return frames


def test_mp3_holds_frames_and_chapters(tags: Tags) -> None:
    data = _file("mp3", tags)
    assert data[:6] == b"ID3\x03\x00\x00"
    size = data[6] << 21 | data[7] << 14 | data[8] << 7 | data[9]
    frames = _id3_frames(data[10 : 10 + size])
    texts = {
        kind: body[1:].decode("utf-16").rstrip("\0") for kind, body in frames if kind[0] == "T"
    }
    assert texts["TIT2"] == TEXTS["title"]
    assert texts["TKEY"] == "Bb"
    assert texts["TBPM"] == "168"
    assert data[10 + size] == 0xFF  # a frame of sound follows
    # Source: ID3v2 Chapter Frame Addendum, 3.1 and 3.2.
    (contents,) = [body for kind, body in frames if kind == "CTOC"]
    assert contents == b"toc\0\x03\x03c001\0c002\0c003\0"
    found = []
    for kind, body in frames:
        if kind == "CHAP":
            start, end = struct.unpack_from(">II", body, 5)
            ((title, text),) = _id3_frames(body[21:])
            assert title == "TIT2"
            found.append((start / 1000, text[1:].decode("utf-16").rstrip("\0")))
            assert end > start
    assert found == CHAPTERS


@pytest.mark.parametrize("tempo", ["120.5", "fast", ""])
def test_mp3_keeps_odd_tempos_out_of_the_number(tempo: str) -> None:
    data = _file("mp3", tags_of({"title": "A", "tempo": tempo, "key": "F sharp minor"}))
    assert b"TBPM" not in data[:200]
    assert b"TKEY" not in data[:200]


def test_wav_holds_cue_points(tags: Tags) -> None:
    data = _file("wav", tags)
    assert struct.unpack_from("<I", data, 4)[0] == len(data) - 8
    at, points, labels = 12, {}, {}
    while at < len(data):
        kind, size = struct.unpack_from("<4sI", data, at)
        body = data[at + 8 : at + 8 + size]
        if kind == b"cue ":
            (count,) = struct.unpack_from("<I", body)
            for n in range(count):
                number, _, chunk, _, _, frame = struct.unpack_from("<II4sIII", body, 4 + 24 * n)
                assert chunk == b"data"
                points[number] = frame
        if kind == b"LIST" and body[:4] == b"adtl":
            inner = 4
            while inner < len(body):
                (length,) = struct.unpack_from("<I", body, inner + 4)
                label = body[inner + 8 : inner + 8 + length]
                labels[label[0]] = label[4:].rstrip(b"\0").decode()
                inner += 8 + length + length % 2
        at += 8 + size + size % 2
    assert [(points[n] / RATE, labels[n]) for n in sorted(points)] == CHAPTERS


def test_marks_outside_the_file_or_without_a_name_make_no_chapter() -> None:
    marks = (TextMark(3.0, "later"), TextMark(0.5, " \n"), TextMark(1.0, "A"))
    (chapter,) = tags_of({}, marks, duration_s=2.0).chapters
    assert (chapter.start_s, chapter.end_s, chapter.name) == (1.0, 2.0, "A")


def test_what_is_marked_in_the_music_is_in_the_file(tmp_path: Path) -> None:
    from dataclasses import replace

    piece = replace(small_band(1), markers=(TextMark(0.0, "Count-in"), TextMark(4 / 3, "A")))
    write_audio(piece, tmp_path / "a.flac", tags={"key": "F"})
    data = (tmp_path / "a.flac").read_bytes()
    for text in (
        b"KEY=F",
        b"CHAPTER001=00:00:00.000",
        b"CHAPTER002=00:00:01.733",
        b"CHAPTER002NAME=A",
    ):
        assert text in data
