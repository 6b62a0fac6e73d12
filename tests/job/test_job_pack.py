"""What a practice pack adds, read back from its MIDI files by mido and from its cue sheets.

Which changes are the hardest is told by `accomp positions --json`, another way to the same plan.
"""

from __future__ import annotations

import json
import re
from pathlib import Path

import mido
import pytest
import soundfile
from jobs import TEXT, small

from accomp.cli import run
from accomp.job.make import make_tune
from accomp.job.options import Options
from accomp.write.formats import SILENCE_S

CLICKS = {76, 77}  # high and low wood block: General MIDI 1 percussion
BEAT_S = 60 / 160
CHORDS = ["C", "F", "G7", "C", "A7", "Dm", "G7"]  # the changes of the small tune, in order


class Track:
    """Markers, chords, tempi, clicks and the player's notes of a MIDI file, each with seconds."""

    def __init__(self, path: Path) -> None:
        self.markers: list[tuple[float, str]] = []
        self.chords: list[tuple[float, str]] = []
        self.tempos: list[tuple[float, float]] = []
        self.clicks: list[float] = []
        self.notes: list[tuple[float, int]] = []
        now = 0.0
        for message in mido.MidiFile(path, charset="utf-8"):
            now += message.time
            if message.type == "marker":
                self.markers.append((now, message.text))
            elif message.type == "text":
                self.chords.append((now, message.text))
            elif message.type == "set_tempo":
                self.tempos.append((now, mido.tempo2bpm(message.tempo)))
            elif message.type == "note_on" and message.velocity:
                if message.channel == 9 and message.note in CLICKS:
                    self.clicks.append(now)
                elif message.channel < 4:
                    self.notes.append((now, message.note))
        self.end_s = now

    def parts(self) -> list[tuple[float, float, str]]:
        """(start, end, name) of each part, from marker to marker."""
        ends = [start for start, _ in self.markers[1:]] + [self.end_s + 1]
        return [(start, end, name) for (start, name), end in zip(self.markers, ends, strict=True)]


def inside(rows: list, start: float, end: float) -> list:
    """What happens from `start` (less 1 ms, for ticks are rounded) up to `end`."""
    return [row for row in rows if start - 1e-3 <= row[0] < end - 1e-3]


@pytest.fixture(scope="module")
def pack(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("pack")
    options = Options(only=("midi",), pack=True, positions=("root-top", "third-top"))
    make_tune(small(), options, folder)
    return folder


def one(folder: Path, ending: str) -> Path:
    (path,) = folder.glob(f"*{ending}")
    return path


def counted_in(track: Track, start: float, beat_s: float) -> float:
    """A bar of four clicks stands at `start` and nothing is played in it; returns its end."""
    clicks = [at for at in track.clicks if start - 1e-3 <= at < start + 4 * beat_s - 1e-3]
    assert clicks == pytest.approx([start + n * beat_s for n in range(4)], abs=2e-3)
    assert not inside(track.notes, start, start + 3.9 * beat_s)
    return start + 4 * beat_s


@pytest.mark.long
def test_a_ladder_is_a_chorus_a_step_each_counted_in_at_its_own_tempo(pack: Path) -> None:
    ladder = Track(one(pack, "third-top_ladder.mid"))
    steps = (60, 70, 80, 90, 100)
    assert [name for _, _, name in ladder.parts()] == [f"{s} % ({160 * s / 100:g})" for s in steps]
    for step, (start, end, _) in zip(steps, ladder.parts(), strict=True):
        beat_s = BEAT_S * 100 / step
        assert [bpm for _, bpm in inside(ladder.tempos, start, end)] == pytest.approx([1.6 * step])
        first = counted_in(ladder, start, beat_s)
        chords = inside(ladder.chords, start, end)
        assert [symbol for _, symbol in chords] == CHORDS
        assert chords[0][0] == pytest.approx(first, abs=2e-3)
        assert inside(ladder.notes, chords[-1][0], end)


def hardest(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> list[frozenset[str]]:
    """The three dearest changes, to and fro being one."""
    (tmp_path / "small.toml").write_text(TEXT)
    where = ["positions", str(tmp_path / "small.toml"), "--position", "third-top", "--json"]
    assert run(where) == 0
    (position,) = json.loads(capsys.readouterr().out)["positions"]
    changes = sorted(position["changes"], key=lambda change: -change["cost"])
    pairs = [frozenset((change["from"], change["to"])) for change in changes]
    return list(dict.fromkeys(pairs))[:3]


@pytest.mark.slow
def test_drills_are_the_hardest_changes_to_and_fro_at_rising_speed(
    pack: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    drilled = []
    for number in (1, 2, 3):
        drill = Track(one(pack, f"third-top_drill-{number}.mid"))
        drilled.append(frozenset(symbol for _, symbol in drill.chords))
        speeds = [inside(drill.tempos, start, end)[0][1] for start, end, _ in drill.parts()]
        assert speeds == pytest.approx([96, 112, 128, 144, 160])
        for bpm, (start, end, _) in zip(speeds, drill.parts(), strict=True):
            first = counted_in(drill, start, 60 / bpm)
            chords = inside(drill.chords, start, end)
            assert [symbol for _, symbol in chords] == [s for _, s in chords[:2]] * 4
            bars = [first + n * 4 * 60 / bpm for n in range(8)]
            assert [at for at, _ in chords] == pytest.approx(bars, abs=2e-3)
            assert all(inside(drill.notes, bar, bar + 60 / bpm) for bar in bars)
    assert drilled == hardest(tmp_path, capsys)


@pytest.mark.slow
def test_an_audition_plays_one_chorus_in_each_position(pack: Path) -> None:
    audition = Track(one(pack, "audition.mid"))
    assert [name for _, _, name in audition.parts()] == ["root-top", "third-top"]
    heard = []
    for start, end, name in audition.parts():
        counted_in(audition, start, BEAT_S)
        assert [symbol for _, symbol in inside(audition.chords, start, end)] == CHORDS
        alone = Track(one(pack, f"{name}_player.mid"))
        (first, second) = (inside(t.chords, 0, 99)[0][0] for t in (alone, audition))
        chorus = len(CHORDS)
        until = alone.chords[chorus][0] if len(alone.chords) > chorus else alone.end_s
        mine = {note for at, note in alone.notes if at < until}
        heard.append({note for _, note in inside(audition.notes, start, end)})
        assert heard[-1] == mine  # the very shapes of that position
        assert second == pytest.approx(first, abs=2e-3)
    assert heard[0] != heard[1]


@pytest.mark.long
def test_cue_sheets_mark_where_each_part_begins(tmp_path: Path) -> None:
    options = Options(
        only=("midi", "audio"), pack=True, positions=("root-top", "third-top"), ladder=(90, 100),
        tempos=(400.0,), choruses=1,
    )  # fmt: skip
    make_tune(small(), options, tmp_path)
    for name in ("audition", "third-top_ladder", "third-top_drill-1"):
        sheet = one(tmp_path, f"{name}.cue").read_text()
        audio = re.search(r'FILE "(.*)" WAVE', sheet)
        assert audio is not None
        assert audio[1] == one(tmp_path, f"{name}.flac").name
        if name != "audition":
            said = soundfile.SoundFile(one(tmp_path, f"{name}.flac")).copy_metadata()
            assert said["comment"] == "key: C; tempo: 400; position: third-top"
        titles = re.findall(r'    TITLE "(.*)"', sheet)
        times = re.findall(r"INDEX 01 (\d\d):(\d\d):(\d\d)", sheet)
        starts = [int(m) * 60 + int(s) + int(f) / 75 for m, s, f in times]
        markers = Track(one(tmp_path, f"{name}.mid")).markers
        assert titles == [text for _, text in markers]
        heard = [at + SILENCE_S if at else 0.0 for at, _ in markers]  # the file's silence first
        assert starts == pytest.approx(heard, abs=0.5 / 75 + 2e-3)


@pytest.mark.slow
def test_sections_with_styles_of_their_own_are_drilled_in_the_first_one(tmp_path: Path) -> None:
    own = 'A = { bars = "| C | F | G7 | C |", meter = "2/4", style = "polka" }\n'
    text = TEXT.replace('style = "four-light-heavy"\n', "").partition("A =")[0] + own
    make_tune(small(text), Options(pack=True, only=("midi",), choruses=1), tmp_path)
    drill = Track(one(tmp_path, "drill-1.mid"))
    assert len(drill.chords) == 8 * 5  # a bar each, four times to and fro, at five speeds
    assert drill.chords[1][0] - drill.chords[0][0] == pytest.approx(2 * 60 / 96, abs=2e-3)
