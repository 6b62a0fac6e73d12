"""Files: what is put in comes out, in every format, with equal bytes for equal sound."""

from __future__ import annotations

import io
import signal
import struct

import numpy as np
import pytest
import soundfile

from accomp.write.audio import libsndfile
from accomp.write.audio.bus import READ
from accomp.write.audio.encode import dithered, encode
from accomp.write.audio.ogg import checksum, ogg_with_tags
from accomp.write.audio.spool import Samples
from accomp.write.audio.tags import tags_of
from accomp.write.formats import AUDIO_FORMATS

RATE = 44_100
TAGS = tags_of({"title": "Test Piece", "key": "F", "tempo": "168"})


def _tone(seconds: float = 1.0, level: float = 0.25) -> Samples:
    time_s = np.arange(round(seconds * RATE)) / RATE
    left, right = np.sin(2 * np.pi * 440 * time_s), np.sin(2 * np.pi * 660 * time_s)
    return (level * np.stack([left, right], axis=1)).astype(np.float32)


@pytest.mark.parametrize("kind", AUDIO_FORMATS)
def test_every_format_reads_back(kind: str) -> None:
    tone = _tone()
    data = encode([tone[:30_000], tone[30_000:]], kind, sample_rate=RATE, tags=TAGS)
    sound, rate = soundfile.read(io.BytesIO(data))
    assert rate == RATE
    assert sound.shape == tone.shape
    if kind in {"flac", "wav"}:
        # 16 bits: half a step of rounding and one of dither
        assert np.abs(sound - tone).max() <= 1.6 / 32_768
    else:
        error = sound[2_000:-2_000] - tone[2_000:-2_000]
        assert 20 * np.log10(np.sqrt(np.mean(error**2)) / np.sqrt(np.mean(tone**2))) < -30


@pytest.mark.parametrize("kind", AUDIO_FORMATS)
def test_the_kind_is_what_it_says(kind: str) -> None:
    # Sources: RFC 9639 (FLAC), RFC 3533 (Ogg), RIFF WAVE, ID3v2 or an MPEG frame for MP3.
    data = encode([_tone(0.2)], kind, sample_rate=RATE)
    starts = {
        "flac": (b"fLaC",),
        "wav": (b"RIFF",),
        "ogg": (b"OggS",),
        "mp3": (b"ID3", b"\xff\xfb"),
    }
    assert data.startswith(starts[kind])


@pytest.mark.parametrize("kind", AUDIO_FORMATS)
def test_equal_sound_gives_equal_bytes(kind: str) -> None:
    first, second = (encode([_tone()], kind, sample_rate=RATE, tags=TAGS) for _ in range(2))
    assert first == second


@pytest.mark.parametrize("kind", AUDIO_FORMATS)
def test_almost_nothing_is_a_file_too(kind: str) -> None:
    for frames in (0, 1, 100):
        data = encode([np.zeros((frames, 2), np.float32)], kind, sample_rate=RATE)
        sound, _ = soundfile.read(io.BytesIO(data))
        assert len(sound) >= max(frames, 1)
        assert np.abs(sound).max() <= 1.6 / 32_768


def test_dither_is_triangular_and_hides_rounding() -> None:
    silence = np.zeros((200_000, 2), np.float32)
    (steps,) = dithered([silence])
    values, counts = np.unique(steps, return_counts=True)
    # Two even numbers subtracted, rounded: -1, 0, 1 with 1/8, 3/4, 1/8.
    assert values.tolist() == [-1, 0, 1]
    assert counts / steps.size == pytest.approx([1 / 8, 3 / 4, 1 / 8], abs=0.005)
    quiet = silence + np.float32(0.3 / 32_768)  # less than half a step, yet not lost
    (steps,) = dithered([quiet])
    assert steps.mean() == pytest.approx(0.3, abs=0.01)


def test_every_file_has_the_same_noise_however_many_were_written(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("accomp.write.audio.encode._DRAWN", {})
    monkeypatch.setattr("accomp.write.audio.encode._DRAWN_MOST", 2)

    def noise(*lengths: int) -> np.ndarray:
        steps = dithered(np.full((length, 2), 0.01, np.float32) for length in lengths)
        return np.concatenate(list(steps))

    random = np.random.default_rng(16)
    expected = []
    for length in (READ, READ, READ, 700):
        drawn = random.random((length, 2), np.float32) - random.random((length, 2), np.float32)
        expected.append(np.rint(np.float32(0.01) * np.float32(32_768) + drawn))
    for _ in range(2):
        assert np.array_equal(noise(READ, 700)[:READ], expected[0])
        assert np.array_equal(noise(READ, READ, READ, 700), np.concatenate(expected))
    other = noise(700, READ)  # as it is drawn, not as the whole blocks of other files have it
    assert not np.array_equal(other[700:], expected[1])
    assert np.array_equal(noise(700, READ), other)


def test_dither_does_not_wrap_at_full_scale() -> None:
    (steps,) = dithered([np.array([[1.2, -1.2]], np.float32)])
    assert steps.tolist() == [[32_767, -32_768]]


def test_the_checksum_is_ogg_s() -> None:
    # Source: the polynomial of RFC 3533, worked bit by bit.
    def bitwise(data: bytes) -> int:
        crc = 0
        for byte in data:
            crc ^= byte << 24
            for _ in range(8):
                crc = (crc << 1 ^ (0x04C11DB7 if crc >> 31 else 0)) & 0xFFFFFFFF
        return crc

    for data in (b"", b"\0", b"OggS", bytes(range(256))):
        assert checksum(data) == bitwise(data)


def test_every_page_gets_the_serial() -> None:
    data = encode([_tone(3)], "ogg", sample_rate=RATE, tags=TAGS)
    serials = set()
    at = 0
    while at < len(data):
        assert data[at : at + 4] == b"OggS"
        serials.add(struct.unpack_from("<I", data, at + 14)[0])
        segments = data[at + 26]
        at += 27 + segments + sum(data[at + 27 : at + 27 + segments])
    assert serials == {1}
    with pytest.raises(ValueError, match="no Ogg page at byte 0"):
        ogg_with_tags(b"RIFFxxxx", TAGS)


@pytest.mark.many(2, 99)
@pytest.mark.parametrize("kind", AUDIO_FORMATS)
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_who_is_told_to_end_while_the_library_writes_ends(
    kind: str, number: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is raised in the library's calls back is lost there: the file came out damaged, and as
    if nothing had been."""
    calls, stop = 0, 0

    def write(self: io.BytesIO, data: bytes) -> int:
        nonlocal calls
        calls += 1
        if calls == stop:
            signal.raise_signal(number)
        return io.BytesIO.write(self, data)

    def told(which: int, frame: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("accomp.write.audio.libsndfile._Sink.write", write)
    before = signal.signal(number, told)
    try:
        encode([_tone()], kind, sample_rate=RATE)
        for moment in (1, calls // 2, calls):
            calls, stop = 0, moment
            with pytest.raises(KeyboardInterrupt):
                encode([_tone()], kind, sample_rate=RATE)
        assert signal.getsignal(number) == told
    finally:
        signal.signal(number, before)


def test_memory_that_is_not_there_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    calls = 0

    class Small(io.BytesIO):
        def write(self, data: bytes) -> int:
            nonlocal calls
            calls += 1
            if calls > 5:
                raise MemoryError
            return super().write(data)

    sink = type("SmallSink", (libsndfile._Sink, Small), {})
    monkeypatch.setattr(libsndfile, "_Sink", sink)
    with pytest.raises(MemoryError):
        encode([_tone()], "mp3", sample_rate=RATE)
