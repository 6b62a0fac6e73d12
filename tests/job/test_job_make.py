"""The main job: what a folder holds, and that it is told truly."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from hashlib import sha256
from pathlib import Path

import mido
import pytest
from jobs import PAPER, TEXT, bytes_of, small

from accomp.errors import InputError
from accomp.harmony import ALL_MAJOR
from accomp.job.make import make_tune
from accomp.job.options import Options
from accomp.job.pack import cue_sheet
from accomp.score.join import Cue
from accomp.tune import read_tune


def test_manifest_tells_what_is_there(tmp_path: Path) -> None:
    make_tune(small(), replace(PAPER, keys=("C", "F#"), tempos=(100.0, 132.5)), tmp_path)
    manifest = json.loads((tmp_path / "manifest.json").read_bytes())
    assert manifest["tune"] == "Small Tune"
    files = {file["path"]: file for file in manifest["files"]}
    assert set(files) == {p.name for p in tmp_path.iterdir()} - {"manifest.json"}
    for name, file in files.items():
        assert file["sha256"] == sha256((tmp_path / name).read_bytes()).hexdigest()
        key, tempo, position = re.fullmatch(
            r"small-tune_([A-Z][a-z]?)_([\d-]+)_([a-z-]+)\.(?:mid|musicxml)", name
        ).groups()
        assert key == file["key"].replace("#", "s")
        assert float(tempo.replace("-", ".")) == file["tempo"]
        assert position == file["position"]
        assert file["role"] == "full"
    assert {(f["key"], f["tempo"]) for f in files.values()} == {
        (key, tempo) for key in ("C", "F#") for tempo in (100.0, 132.5)
    }
    assert manifest["tracks"][0] == {"name": "Tenor banjo", "role": "player", "program": 106}


@pytest.mark.slow
def test_all_keys_are_the_twelve(tmp_path: Path) -> None:
    manifest = make_tune(small(), Options(only=("midi",), keys=("all",)), tmp_path)
    assert [file.key for file in manifest.files] == list(ALL_MAJOR)


def test_a_minor_tune_takes_minor_keys(tmp_path: Path) -> None:
    tune = small(TEXT.replace('key = "C"', 'key = "Am"').replace("| C |", "| Am |", 1))
    options = Options(only=("midi",), keys=("D", "F#m"))
    manifest = make_tune(tune, options, tmp_path)
    assert [file.key for file in manifest.files] == ["Dm", "F#m"]


def test_same_input_same_bytes(tmp_path: Path) -> None:
    for name in ("one", "two"):
        make_tune(small(), PAPER, tmp_path / name)
    assert bytes_of(tmp_path / "one") == bytes_of(tmp_path / "two")


def test_everything_wrong_with_a_request_is_told_at_once(tmp_path: Path) -> None:
    options = replace(PAPER, keys=("H",), style="plain-three-four", hand="giant")
    with pytest.raises(InputError) as caught:
        make_tune(small(), options, tmp_path)
    text = str(caught.value)
    for found in ("keys: 'H'", "style: style 'plain-three-four' is in 3/4", "hand: 'giant'"):
        assert found in text
    assert not list(tmp_path.iterdir())


def test_unknown_style_is_told_with_its_place(tmp_path: Path) -> None:
    tune = small(TEXT.replace("four-light-heavy", "four-light-heavi"))
    with pytest.raises(InputError) as caught:
        make_tune(tune, PAPER, tmp_path)
    problem = caught.value.problems[0]
    assert (problem.file, problem.line, problem.column) == ("small.toml", 5, 9)
    assert "four-light-heavy" in problem.hint


def test_a_hand_too_small_is_told(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"small.toml:7:8: C: no closed shape .* From a reach of"):
        make_tune(small(), replace(PAPER, reach_mm=1.0, closed=True), tmp_path)
    assert not list(tmp_path.iterdir())


@pytest.mark.slow
def test_a_pack_has_its_parts(tmp_path: Path) -> None:
    options = Options(only=("midi",), pack=True, ladder=(50, 75, 100))
    manifest = make_tune(small(), options, tmp_path)
    roles = [file.role for file in manifest.files]
    assert roles[:3] == ["full", "without-player", "player"]
    assert {"ladder", "drill", "audition", "tuning"} <= set(roles)
    paths = {file.role: tmp_path / file.path for file in manifest.files}
    names = {role: _tracks(path) for role, path in paths.items()}
    assert "Tenor banjo" not in names["without-player"]
    assert "Bass" in names["without-player"]
    assert "Bass" not in names["player"]
    ladder = mido.MidiFile(paths["ladder"])
    tempos = [m.tempo for m in ladder.tracks[0] if m.type == "set_tempo"]
    assert [round(mido.tempo2bpm(tempo), 1) for tempo in tempos] == [80.0, 120.0, 160.0]
    markers = [m.text for m in ladder.tracks[0] if m.type == "marker"]
    assert [marker.split(" ")[0] for marker in markers] == ["50", "75", "100"]
    tuning = mido.MidiFile(paths["tuning"])
    struck = [m.note for t in tuning.tracks for m in t if m.type == "note_on" and m.velocity]
    assert sorted(set(struck)) == [48, 55, 62, 69]  # C3 G3 D4 A4


def _tracks(path: Path) -> list[str]:
    return [track.name for track in mido.MidiFile(path).tracks]


def test_cue_sheet_counts_75_frames_a_second() -> None:
    text = cue_sheet('A "quoted"\ntitle', "x.flac", [Cue(0.0, "one"), Cue(61.6, "two")])
    assert "INDEX 01 00:00:00" in text
    assert "INDEX 01 01:01:45" in text
    assert "A 'quoted' title" in text
    assert text.count("\n") == 8
    later = cue_sheet("a", "x.flac", [Cue(0.0, "one"), Cue(61.6, "two")], 0.4)  # silence first
    assert "INDEX 01 00:00:00" in later
    assert "INDEX 01 01:02:00" in later


@pytest.mark.parametrize(
    ("text", "every_chorus"),
    [
        (TEXT, False),  # the second chorus is louder and ends otherwise: no reason to print it
        (TEXT.replace("four-light-heavy", "bossa"), False),  # which has a tag
        (TEXT + '[[chorus]]\n[[chorus]]\nstyle = "plain-four-four"\n', True),
        (TEXT + '[[chorus]]\nposition = "root-top"\n[[chorus]]\nposition = "third-top"\n', True),
    ],
)
def test_one_chorus_is_printed_when_the_right_hand_does_the_same(
    text: str, every_chorus: bool, tmp_path: Path
) -> None:
    manifest = make_tune(small(text), Options(only=("musicxml",), choruses=2), tmp_path)
    printed = (tmp_path / manifest.files[0].path).read_text(encoding="utf-8")
    assert ("Chorus 2" in printed) == every_chorus


def test_melody_is_a_guide_track_in_every_key(tmp_path: Path) -> None:
    (tmp_path / "small.abc").write_text(
        "X:1\nT:Small Tune\nM:4/4\nL:1/4\nK:C\nCDEF|GABc|cBAG|FEDC|]\n"
    )
    (tmp_path / "small.toml").write_text(
        TEXT.replace("[sections]", 'melody = "small.abc"\n[sections]')
    )
    tune = read_tune(tmp_path / "small.toml")
    options = Options(only=("midi",), melody=True, keys=("C", "D"), choruses=2, count_in=0)
    manifest = make_tune(tune, options, tmp_path / "out")
    for file, up in zip(manifest.files, (0, 2), strict=True):
        midi = mido.MidiFile(tmp_path / "out" / file.path)
        melody = next(track for track in midi.tracks if track.name == "Melody")
        struck = [m.note for m in melody if m.type == "note_on" and m.velocity]
        one = [60, 62, 64, 65, 67, 69, 71, 72, 72, 71, 69, 67, 65, 64, 62, 60]
        assert struck == [note + up for note in one * 2]


def test_a_tune_without_melody_says_so(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="has no melody"):
        make_tune(small(), replace(PAPER, melody=True), tmp_path)
