"""MIDI and SoundFonts as sound is made of them, byte by byte."""

from __future__ import annotations

import io
import re
import struct
from dataclasses import replace
from pathlib import Path

import mido
import numpy as np
import pytest
from audio_pieces import BANJO, chunk, performance, player, soundfont_file

from accomp.errors import SoundError
from accomp.score.performance import Note, TextMark
from accomp.voice import voice_bank
from accomp.write.audio import hand, opening
from accomp.write.soundfont import SoundFont, read_soundfont

# The opening of a MIDI file: Standard MIDI Files 1.0


def midi_file(*tracks: bytes, division: int = 480) -> bytes:
    head = b"MThd" + struct.pack(">IHHH", 6, 1, len(tracks), division)
    return head + b"".join(b"MTrk" + struct.pack(">I", len(one)) + one for one in tracks)


@pytest.mark.parametrize(
    ("data", "value"),
    [("00", 0), ("40", 64), ("7f", 127), ("8100", 128), ("c000", 8192), ("ff7f", 16383),
     ("818000", 16384), ("ffff7f", 2097151), ("ffffff7f", 268435455)],
)  # fmt: skip
def test_numbers_of_variable_length(data: str, value: int):
    """The standard's own table."""
    raw = bytes.fromhex(data)
    assert opening._number(b"x" + raw + b"\x01", 1) == (value, 1 + len(raw))


def test_a_step_is_the_first_at_which_so_many_whole_milliseconds_have_gone_by():
    for rate in (22_050, 44_100, 48_000):
        for tenths in (-5, 0, 1, 9, 10, 11, 14, 15, 29, 30, 123, 999, 1_000, 1_001, 54_321):
            due_ms = tenths / 10
            step = opening._step(due_ms, rate)
            gone = [n * opening.STEP * 1_000 // rate for n in range(step + 1)]
            assert gone[-1] >= due_ms
            assert step == 0 or gone[-2] < due_ms


TRACK = bytes.fromhex(
    "00 ff 51 03 07 a1 20"  # 500,000 microseconds a quarter
    "00 ff 03 02 4142"  # a name, passed over
    "00 f0 03 010203"  # and a system message
    "00 c1 69"  # program
    "00 b1 07 64"  # level
    "83 60 91 3c 00"  # after a quarter a note of no velocity: an end
    "00 3c 50"  # the status goes on: a note
    "81 70 d1 20"  # pressure, one byte
    "00 81 3c 40"
    "00 ff 51 03 03 d0 90"  # twice as fast
    "83 60 91 40 50"
    "8f 00 91 43 50"
    "00 ff 2f 00"
)


def test_an_opening_has_what_is_asked_of_channels_up_to_its_end():
    found = opening.read_opening(midi_file(TRACK), 0.5, 44_100)
    assert found is not None

    def step(ms: float, tick_ms: float) -> int:
        return opening._step(ms - tick_ms / 2, 44_100)

    slow, fast = 500 / 480, 250 / 480
    setup, first, ring = step(0, slow), step(500, slow), step(750, slow)
    second = step(750 + 250, fast)
    assert found.start == first
    assert found.messages[:6] == (
        (setup, 0xC1, b"\x69"), (setup, 0xB1, b"\x07\x64"), (first, 0x91, b"\x3c\x00"),
        (first, 0x91, b"\x3c\x50"), (ring, 0xD1, b"\x20"), (ring, 0x81, b"\x3c\x40"),
    )  # fmt: skip
    # Half a second is over exactly there: what begins with its end is left out.
    inside = second < first + 0.5 * 44_100 / opening.STEP
    assert found.messages[6:] == (((second, 0x91, b"\x40\x50"),) if inside else ())
    longer = opening.read_opening(midi_file(TRACK), 9.0, 44_100)
    assert longer is not None
    assert len(longer.messages) == 8
    assert longer.messages[7][0] == step(1_000 + 250 * 1_920 / 480, fast)


def test_the_end_of_an_opening_is_no_part_of_it():
    """64 frames at 6,400 a second are 10 ms, so that steps and milliseconds fall together."""
    ticks = "00 90 3c 50 0a 90 3e 50 0a 90 40 50"  # 1 tick is 1 ms
    track = bytes.fromhex("00 ff 51 03 00 03 e8 " + ticks)
    data = midi_file(track, division=1)
    for seconds, count in ((0.01, 1), (0.0101, 2), (0.02, 2), (0.0201, 3)):
        found = opening.read_opening(data, seconds, 6_400)
        assert found is not None
        assert len(found.messages) == count


def test_the_lower_track_comes_first_and_without_a_note_there_is_nothing():
    tracks = [bytes.fromhex(f"00 9{n} 3c 50 00 ff 2f 00") for n in (1, 0)]
    found = opening.read_opening(midi_file(*tracks), 1.0, 44_100)
    assert found is not None
    assert [status for _, status, _ in found.messages] == [0x91, 0x90]
    silent = bytes.fromhex("00 c1 69 00 91 3c 00 00 ff 2f 00")
    assert opening.read_opening(midi_file(silent), 1.0, 44_100) is None
    assert opening.read_opening(midi_file(), 1.0, 44_100) is None
    # Bytes after the last whole head of a track are no track.
    whole = midi_file(*tracks)
    assert opening.read_opening(whole + b"MTrk\0\0\0", 1.0, 44_100) == found


# The player's hands


@pytest.mark.parametrize(
    ("pan", "pans"),
    [(64, [56, 62, 66, 72]), (1, [0, 0, 4, 8]), (126, [118, 124, 127, 127]), (44, [36, 42, 46, 52]),
     (7, [0, 4, 10, 14])],
)  # fmt: skip
def test_strings_stand_five_steps_apart(pan: int, pans: list[int]):
    track = player([Note(0.0, 1.0, 60, 80, channel) for channel in (0, 1, 2, 3)], pan=pan)
    assert [one.pan for one in hand.strings_apart(track)] == pans
    two = replace(track, channels=(0, 1))
    assert len(hand.strings_apart(two)) == 2
    assert hand.strings_apart(replace(track, channels=(0,))) == (replace(track, channels=(0,)),)


@pytest.mark.parametrize(
    ("velocity", "takes"),
    [(1, (1, 2)), (2, (3, 2)), (3, (3, 2)), (80, (81, 80)), (127, (127, 126))],
)
def test_takes_are_odd_and_even(velocity: int, takes: tuple[int, int]):
    assert (hand._take(velocity, 1), hand._take(velocity, 2)) == takes
    assert (hand._take(velocity, 3), hand._take(velocity, 4)) == takes


def test_takes_go_by_time_and_then_by_string_and_each_string_has_its_own():
    presets = {(bank, BANJO) for bank in (0, *(voice_bank(0, n) for n in (1, 2, 3, 4)))}
    font = SoundFont(Path("v.sf2"), "v", frozenset(presets) | {(voice_bank(0, 1), BANJO)})
    rows = [(1.0, 1), (0.0, 3), (0.0, 0), (2.0, 0), (0.5, 0)]
    track = player([Note(at, at + 1, 60, 80, channel) for at, channel in rows])
    played = [(n.start_s, n.channel, n.velocity, n.bank) for n in hand.by_hand(track, font).notes]
    assert played == [
        (0.0, 0, 81, voice_bank(0, 4)),
        (0.0, 3, 81, voice_bank(0, 1)),
        (0.5, 0, 80, voice_bank(0, 4)),
        (1.0, 1, 81, voice_bank(0, 3)),
        (2.0, 0, 81, voice_bank(0, 4)),
    ]


# SoundFont 2.04, 9.6.3: NRPN 120 reaches generators, the coarse half of the value sets it.
CHOKED = [(99, 120), (98, 38), (38, (8192 - 2200) % 128), (6, (8192 - 2200) // 128)]
PLAIN_FILTER = [(99, 120), (98, 8), (38, 0), (6, 64)]
DULL_FILTER = [(99, 120), (98, 8), (38, (8192 - 1200) % 128), (6, (8192 - 1200) // 128)]
RINGING = [(99, 120), (98, 38), (38, 0), (6, 64), *PLAIN_FILTER]


@pytest.mark.parametrize(
    ("bank", "sent"),
    [(0, RINGING), (1, CHOKED + PLAIN_FILTER), (2, CHOKED + DULL_FILTER), (3, RINGING)],
)
def test_a_bank_that_a_font_lacks_is_said_by_release_and_filter(bank: int, sent: list):
    def file(*messages: mido.Message) -> bytes:
        made, buffer = mido.MidiFile(type=1, ticks_per_beat=480), io.BytesIO()
        made.tracks.append(mido.MidiTrack(messages))
        made.save(file=buffer)
        return buffer.getvalue()

    def control(number: int, value: int, channel: int = 3, time: int = 0) -> mido.Message:
        return mido.Message(
            "control_change", control=number, value=value, channel=channel, time=time
        )

    others = [
        control(7, bank, time=5), control(0, bank, 2, time=6),
        mido.Message("note_on", channel=3, note=60, time=7),
        mido.MetaMessage("end_of_track", time=9),
    ]  # fmt: skip
    before = file(control(0, bank, time=4), *others)
    after = file(control(0, bank, time=4), *(control(*one) for one in sent), *others)
    assert hand.shortened(before, {3}) == after
    assert hand.shortened(before, {1}) == before


# SoundFonts


def font_file(path: Path, *lists: bytes, size: int | None = None, after: bytes = b"") -> Path:
    body = b"sfbk" + b"".join(lists)
    path.write_bytes(
        b"RIFF" + struct.pack("<I", len(body) if size is None else size) + body + after
    )
    return path


def preset(bank: int, program: int) -> bytes:
    return struct.pack("<20sHHHIII", b"P", program, bank, 0, 0, 0, 0)


def listed(form: bytes, *chunks: bytes) -> bytes:
    return chunk(b"LIST", form + b"".join(chunks))


SOUND = listed(b"sdta", chunk(b"smpl", b"\0\0"))
TWO = listed(b"pdta", chunk(b"phdr", preset(0, 5) + preset(128, 9) + preset(1, 1)))
NO_PRESETS = "damaged: its list of presets (phdr) is missing or cut"
NO_SOUNDS = "this SoundFont holds no sounds"


@pytest.mark.parametrize(
    ("lists", "said"),
    [
        ([SOUND, TWO], ""),
        ([TWO, SOUND], ""),
        ([chunk(b"LIST", b"INF"), SOUND, TWO], ""),  # too short to have a form
        ([chunk(b"JUNK", b"pdta" + chunk(b"phdr", preset(7, 7) * 2)), SOUND, TWO], ""),
        ([listed(b"sdta", chunk(b"sm24", b"\0\0")), TWO], ""),
        ([listed(b"sdta", chunk(b"smpl", b"\0\0"), chunk(b"sm24", b"")), TWO], ""),
        ([listed(b"sdta", chunk(b"junk", b"1")), SOUND, TWO], ""),  # padded to even
        ([SOUND, listed(b"pdta", chunk(b"xhdr", preset(0, 5) * 2))], NO_PRESETS),
        ([SOUND, listed(b"xdta", chunk(b"phdr", preset(0, 5) * 2))], NO_PRESETS),
        ([SOUND, listed(b"pdta", chunk(b"phdr", b""))], NO_PRESETS),
        ([SOUND, listed(b"pdta", chunk(b"phdr", preset(0, 5)[:-1]))], NO_PRESETS),
        ([SOUND, listed(b"pdta", chunk(b"phdr", preset(0, 5) * 2 + b"\0"))], NO_PRESETS),
        ([SOUND, listed(b"pdta", chunk(b"phdr", preset(0, 5)))], NO_SOUNDS),  # only the last one
        ([listed(b"sdta", chunk(b"smpl", b"")), TWO], NO_SOUNDS),
        ([listed(b"INFO", chunk(b"smpl", b"\0\0")), TWO], NO_SOUNDS),
        ([TWO], NO_SOUNDS),
    ],
)
def test_a_font_is_what_its_lists_hold(lists: list[bytes], said: str, tmp_path: Path):
    path = font_file(tmp_path / "a.sf2", *lists)
    if not said:
        assert read_soundfont(path) == SoundFont(path, "a", frozenset({(0, 5), (128, 9)}))
        return
    with pytest.raises(SoundError) as caught:
        read_soundfont(path)
    choose = "Choose another .sf2 file, or name none."
    assert str(caught.value) == f"{path}: {said}. {choose}"


@pytest.mark.parametrize(
    ("data", "name"),
    [(b"Voice\0", "Voice"), (b"A\xe9\0junk", "Aé"), (b"\0\0", "a"), (b"x" * 300, "x" * 256),
     (b" \n ", "a")],
)  # fmt: skip
def test_the_name_in_a_font_ends_with_its_first_nought(data: bytes, name: str, tmp_path: Path):
    info = listed(b"INFO", chunk(b"INAM", data))
    other = listed(b"xdta", chunk(b"INAM", b"Other"))
    assert read_soundfont(font_file(tmp_path / "a.sf2", info, other, SOUND, TWO)).name == name


def test_a_font_is_read_as_far_as_its_head_promises(tmp_path: Path):
    whole = len(b"sfbk" + SOUND + TWO)
    path = tmp_path / "a.sf2"
    assert read_soundfont(font_file(path, SOUND, TWO, after=b"more")).presets
    with pytest.raises(SoundError) as caught:
        read_soundfont(font_file(path, SOUND, TWO, size=whole + 1))
    assert str(caught.value) == (
        f"{path}: damaged: {whole + 8} bytes are there and its head promises {whole + 9}. "
        "Copy or download the file again, or choose another."
    )
    with pytest.raises(SoundError, match=re.escape(NO_PRESETS)):
        read_soundfont(font_file(path, SOUND, TWO, size=whole - 1))
    for cut in (1, 8, 11):
        path.write_bytes((b"RIFF" + struct.pack("<I", 4) + b"sfbk")[:cut])
        with pytest.raises(SoundError, match="not a SoundFont: it begins with"):
            read_soundfont(path)


def test_chunks_end_where_their_list_ends(tmp_path: Path):
    """A chunk that goes on beyond its list is none; one that ends with it is one."""
    from accomp.write.soundfont import _chunks

    data = chunk(b"aaaa", b"123") + chunk(b"bbbb", b"") + chunk(b"cccc", b"12")
    found = [
        (kind, start, length) for kind, start, length in _chunks(io.BytesIO(data), 0, len(data))
    ]
    assert found == [(b"aaaa", 8, 3), (b"bbbb", 20, 0), (b"cccc", 28, 2)]
    assert len(list(_chunks(io.BytesIO(data), 0, len(data) - 1))) == 2
    assert len(list(_chunks(io.BytesIO(data), 0, 20))) == 2
    assert len(list(_chunks(io.BytesIO(data), 0, 19))) == 1
    assert len(list(_chunks(io.BytesIO(data), 12, 20))) == 1


def test_the_font_file_of_the_other_tests_is_whole(tmp_path: Path):
    read = read_soundfont(soundfont_file(tmp_path / "b.sf2", presets=((0, 1), (3, 2))))
    assert read.presets == {(0, 1), (3, 2)}


# A stem's MIDI


def test_a_stem_s_file_goes_to_its_last_note_with_the_tempos_up_to_there():
    from accomp.score.performance import TempoMark
    from accomp.write.audio.fonts import Fonts
    from accomp.write.audio.stems import track_midi

    piece = performance(player([Note(0.0, 1.0, 60, 80, 0), Note(0.5, 2.0, 64, 80, 1)]), end_s=9.0)
    tempos = tuple(TempoMark(at, 0.5) for at in (0.0, 2.0, 2.5))
    piece = replace(piece, tempos=tempos, markers=(TextMark(0.0, "A"),))
    plain = SoundFont(Path("a.sf2"), "a", frozenset({(0, BANJO)}))
    file = mido.MidiFile(file=io.BytesIO(track_midi(piece, piece.tracks[0], Fonts(plain))))
    assert [m.type for m in file.tracks[0]] == [
        "track_name", "set_tempo", "set_tempo", "end_of_track",
    ]  # fmt: skip
    assert file.length == pytest.approx(2.0)
    assert len(file.tracks) == 5  # one a string
    assert np.unique([m.channel for t in file.tracks for m in t if m.type == "note_on"]).size == 2
