"""Laws of the whole: transposition, moving along the neck, sameness, locality.

Nothing here compares with a stored result: each law relates two runs to one another.
"""

import json
import os
import subprocess
import sys
from dataclasses import replace

import pytest
from drawn import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from pipeline import TEXT, by_bar, contents, made, names, played, tune_of

from accomp.harmony import ALL_MAJOR, ALL_MINOR, Interval, Key, parse_chord, transpose_chord
from accomp.neck import find_hand, find_instrument, playable_shapes
from accomp.rhythm import find_style
from accomp.tune import transpose_tune

MINOR = """title = "Down the Steps"
key = "Gm"
meter = "3/4"
tempo = 120

[sections]
A = "| Gm | Gm7 / C7 | Fm7 / / / Bb7 / | Ebmaj7 | Am7b5 | D7b9 | Gm6 | D7 |"
"""


@pytest.mark.many(1, 99)
@pytest.mark.parametrize(
    ("text", "keys"), [(TEXT, ALL_MAJOR), (MINOR, ALL_MINOR)], ids=["major", "minor"]
)
def test_transposed_up_and_back_it_is_the_same_piece(text, keys):
    tune = tune_of(text)
    before = played(tune)
    for name in keys:
        back = transpose_tune(transpose_tune(tune, Key.parse(name)), tune.key)
        assert played(back) == before


@pytest.mark.many(1, 99)
@pytest.mark.parametrize("text", [TEXT, MINOR], ids=["major", "minor"])
def test_in_every_key_chords_and_bass_roots_move_by_one_interval(text):
    tune = tune_of(text)
    home = made(tune)[0].arrangement
    for name in ALL_MINOR if tune.key.minor else ALL_MAJOR:
        key = Key.parse(name)
        by = (key.tonic.pc - tune.key.tonic.pc) % 12
        there = made(transpose_tune(tune, key))[0].arrangement
        for here_bar, there_bar in zip(home.bars, there.bars, strict=True):
            for here, moved in zip(here_bar.changes, there_bar.changes, strict=True):
                assert moved.span == here.span
                assert (here.chord.root.pc + by) % 12 == moved.chord.root.pc
                mine = sorted((pc + by) % 12 for pc in here.chord.by_pc)
                assert mine == sorted(moved.chord.by_pc)
            assert len(there_bar.strums) == len(here_bar.strums)
            assert [s.span for s in there_bar.strums] == [s.span for s in here_bar.strums]
            assert there_bar.drums == here_bar.drums


CHORDS = st.sampled_from(
    "C F#m Bb7 Ebmaj7 Am7b5 G#dim7 D+ E6 Fm6 Gsus4 A9 B7#5 Db7b9 C13 Em(maj7)".split()
)
NECKS = st.sampled_from(["tenor-banjo", "tenor-banjo-19", "mandolin", "ukulele", "guitar"])


@given(CHORDS, NECKS, st.integers(1, 11))
@settings(max_examples=examples(40))
def test_a_closed_shape_moved_by_frets_is_the_chord_moved_by_semitones(symbol, neck, frets):
    instrument, hand = find_instrument(neck), find_hand()
    chord = parse_chord(symbol)
    moved_chord = transpose_chord(chord, Interval(0, frets))
    there = {shape.frets: shape for shape in playable_shapes(moved_chord, instrument, hand)}
    moved_any = False
    for shape in playable_shapes(chord, instrument, hand):
        if shape.open or shape.highest_fret + frets > instrument.frets:
            continue
        moved_any = True
        moved = there[tuple(None if fret is None else fret + frets for fret in shape.frets)]
        assert moved.degrees == shape.degrees
        assert moved.pitches == tuple(p if p is None else p + frets for p in shape.pitches)
        assert moved.stretch_mm <= shape.stretch_mm + 1e-9
        assert (moved.top, moved.rootless) == (shape.top, shape.rootless)
    assert moved_any or frets > 4


SCRIPT = """
import sys
from accomp.cli import run
for kind in {formats!r}:
    words = ["make", "law.toml", "--out", "out-" + kind, "--audio-format", kind, "--seed", "7"]
    assert run(words + {more!r}) == 0
"""


def made_apart(folder, hash_seed, zone, formats, *more):
    """Files of a run in a process of its own with its own hashing, time zone and folder."""
    folder.mkdir()
    text = TEXT.replace("STYLE", "four-light-heavy").replace("160", "240")
    (folder / "law.toml").write_text(text, encoding="utf-8")
    script = SCRIPT.format(formats=formats, more=list(more))
    environment = os.environ | {"PYTHONHASHSEED": str(hash_seed), "TZ": zone}
    subprocess.run(
        [sys.executable, "-c", script],
        cwd=folder,
        env=environment,
        check=True,
        capture_output=True,
        text=True,
    )
    return contents(folder)


def same_bytes(tmp_path, formats, *more):
    first = made_apart(tmp_path / "one", 1, "Pacific/Auckland", formats, *more)
    second = made_apart(tmp_path / "two", 999, "America/Lima", formats, *more)
    endings = {name.rsplit(".", 1)[1] for name in first}
    assert {"mid", "musicxml", "json", *formats} <= endings
    assert first.keys() == second.keys()
    for name, data in first.items():
        if not name.endswith("manifest.json"):  # holds the others' hashes, so it comes last
            assert second[name] == data, name
    for name, data in first.items():
        assert second[name] == data, name
    return first


@pytest.mark.slow
def test_same_input_and_seed_give_the_same_bytes(tmp_path):
    files = same_bytes(tmp_path, ["flac", "ogg"], "--choruses", "1", "--count-in", "0")
    manifest = json.loads(files["out-flac/manifest.json"])
    assert {entry["kind"] for entry in manifest["files"]} >= {"midi", "musicxml", "audio"}


@pytest.mark.long
def test_same_bytes_in_every_format_and_for_a_whole_pack(tmp_path):
    (tmp_path / "formats").mkdir()
    same_bytes(tmp_path / "formats", ["wav", "mp3", "ogg", "flac"], "--key", "Gb", "--key", "A")
    (tmp_path / "pack").mkdir()
    same_bytes(tmp_path / "pack", ["flac"], "--pack", "--position", "all", "--jobs", "2")


@pytest.mark.slow
def test_another_seed_sounds_a_little_different_and_reads_the_same():
    tune = tune_of()
    one, other = made(tune, seed=1)[0], made(tune, seed=2)[0]
    assert played(tune, seed=1) != played(tune, seed=2)
    strums = [[bar.strums for bar in version.arrangement.bars] for version in (one, other)]
    assert strums[0] == strums[1]


@pytest.mark.many(1, 99)
@pytest.mark.parametrize("style", ["four-light-heavy", "two-beat", "choked-four"])
def test_a_bar_added_to_one_section_leaves_the_others_alone(style):
    tune = tune_of(style=style)
    longer = tune_of(TEXT.replace("G7 / C7 / |", "G7 / C7 / | C7 |"), style)
    before, after = made(tune, choruses=2, seed=3)[0], made(longer, choruses=2, seed=3)[0]
    assert before.plans[0].path == after.plans[0].path
    for player in names(before):
        old, new = by_bar(before, player), by_bar(after, player)
        assert set(new) - set(old) == {(1, "B1", 4), (2, "B1", 4)}
        apart = {place for place in old if old[place] != new[place]}
        allowed = {(chorus, "B1", bar) for chorus in (1, 2) for bar in range(4)}
        assert apart <= allowed, f"{player}: {sorted(apart - allowed)}"
        assert any(notes for notes in old.values())


@pytest.mark.slow
def test_a_section_of_its_own_in_front_changes_nothing_after_it():
    tune = tune_of()
    text = TEXT.replace('form = ["A",', 'form = ["Intro", "A",').replace(
        "[sections]\n", '[sections]\nIntro = "| F | F |"\n'
    )
    before, after = made(tune, seed=3)[0], made(tune_of(text), seed=3)[0]
    for player in names(before):
        old, new = by_bar(before, player), by_bar(after, player)
        assert {place: new[place] for place in old} == old


def test_tempo_scales_time_and_nothing_else():
    tune = tune_of(style="plain-four-four")
    slow, fast = (played(tune, tempos=(tempo,)) for tempo in (80.0, 160.0))
    for a, b in zip(slow.tracks, fast.tracks, strict=True):
        assert [(n.pitch, n.channel) for n in a.notes] == [(n.pitch, n.channel) for n in b.notes]
    assert slow.end_s == pytest.approx(2 * fast.end_s)
    bass = [next(t for t in p.tracks if t.name == "Bass").notes for p in (slow, fast)]
    for a, b in zip(*bass, strict=True):
        stray_s = 2.5 * find_style("plain-four-four").jitter_ms / 1000  # in seconds at any tempo
        assert a.start_s == pytest.approx(2 * b.start_s, abs=3 * stray_s)


@pytest.mark.slow
def test_more_choruses_begin_like_fewer():
    tune = tune_of(style="plain-four-four")
    two, three = made(tune, choruses=2)[0], made(tune, choruses=3)[0]
    for player in names(two):
        fewer, more = by_bar(two, player), by_bar(three, player)
        last = max(fewer)
        alike = {place for place in fewer if place[0] == 1}
        assert {place: more[place] for place in alike} == {p: fewer[p] for p in alike}
        assert last[0] == 2


@pytest.mark.slow
def test_every_version_is_a_value_that_does_not_depend_on_the_others():
    tune = tune_of()
    together = made(tune, keys=("F", "Bb", "C"), tempos=(120.0, 160.0))
    for version in together:
        alone = made(tune, keys=(str(version.tune.key),), tempos=(version.tempo,))
        assert [replace(v.arrangement, notices=()) for v in alone] == [
            replace(version.arrangement, notices=())
        ]
