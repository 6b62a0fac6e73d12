"""What a job is made of, without making it: names, labels, sounds, practice tracks, wishes."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from jobs import TEXT, small

import accomp
from accomp.errors import InputError, OutputError, SoundError
from accomp.job import items, make, sound, wishes
from accomp.job.build import BuildRecord, manifest_of
from accomp.job.items import BytesItem, Outcome, digest, fingerprint, libraries, spelt
from accomp.job.make import only_group, version_items
from accomp.job.manifest import Label, Manifest, known_files
from accomp.job.options import Options
from accomp.job.pack import audition, cue_sheet, drill_tune, practice_tracks, tuning_track
from accomp.job.paper import score_items, sheet_item
from accomp.job.positions import tune_neck
from accomp.job.request import resolve
from accomp.job.sound import Sound, SoundItem, sound_item
from accomp.job.versions import Version, versions
from accomp.neck import find_instrument
from accomp.score.join import Cue
from accomp.score.performance import Performance
from accomp.tune import parse_tune

EMPTY = Performance("Empty", (), (), (), (), (), (), 0.0)


def first(text: str = TEXT, **asked: Any) -> Version:
    return versions(resolve(parse_tune(text, "t.toml"), Options(**asked)))[0]


@pytest.mark.slow
def test_files_are_called_by_title_key_tempo_position_part_and_reader() -> None:
    one = first(
        tempos=(92.5,), keys=("Bb",), positions=("third-top",),
        parts=("slash", "score", "tab", "bass"), readers=("concert", "Bb", "bass"),
    )  # fmt: skip
    assert one.stem == "small-tune_Bb_92-5_third-top"
    made = list(score_items(one))
    stem = "small-tune_Bb_92-5_third-top"
    assert [next(iter(item.labels)) for item in made] == [
        f"{stem}.musicxml", f"{stem}_score.musicxml", f"{stem}_tab.musicxml",
        f"{stem}_bass.musicxml", f"{stem}_Bb.musicxml", f"{stem}_score_Bb.musicxml",
        f"{stem}_bass.musicxml".replace("_bass.", "_bass."), f"{stem}_score_bass.musicxml",
    ]  # fmt: skip
    assert [label.part for item in made for label in item.labels.values()] == [
        "tenor-banjo, slash", "tenor-banjo", "tenor-banjo, tab", "tenor-banjo, bass",
        "tenor-banjo, slash, Bb", "tenor-banjo, Bb", "tenor-banjo, slash, bass",
        "tenor-banjo, bass",
    ]  # fmt: skip
    (label,) = sheet_item(one).labels.values()
    assert label == Label("pdf", "full", "Bb", 92.5, "third-top", "four-light-heavy", "tenor-banjo")
    assert sheet_item(one).weight == 30


@pytest.mark.slow
def test_which_pages_a_sheet_has() -> None:
    def parts(text: str = TEXT, **asked: Any) -> list[tuple[str, bool]]:
        layouts = sheet_item(first(text, **asked)).printing.layouts
        return [(str(one.player), one.bass) for one in layouts]

    assert parts() == [("both", False)]
    assert parts(parts=("both", "score", "tab")) == [("both", False), ("tab", False)]
    assert parts(parts=("bass",)) == [("none", True)]
    assert parts(parts=("slash", "bass")) == [("slash", False), ("none", True)]
    alone = TEXT.replace("four-light-heavy", "plain-four-four")
    bass = any(bar.bass for bar in first(alone).on_paper.bars)
    assert parts(alone, parts=("bass",)) == ([("none", True)] if bass else [("both", False)])


@pytest.mark.slow
def test_a_version_is_made_of_what_is_asked_for() -> None:
    def names(**asked: Any) -> list[str]:
        one = first(**asked, closed=False)
        return [name for item in version_items(one, Sound(format="ogg")) for name in item.labels]

    stem = "small-tune_C_160_root-top"
    assert names(only=("pdf",)) == [f"{stem}.pdf"]
    assert names(only=("musicxml",)) == [f"{stem}.musicxml"]
    assert names(only=("musicxml",), mxl=True) == [f"{stem}.mxl"]
    assert names(only=("audio",)) == [f"{stem}.ogg"]
    assert names(only=("midi",), pack=True) == [
        f"{stem}.mid", f"{stem}_without-player.mid", f"{stem}_player.mid",
    ]  # fmt: skip
    assert names(only=("audio",), pack=True) == [
        f"{stem}.ogg", f"{stem}_without-player.ogg", f"{stem}_player.ogg",
    ]  # fmt: skip


def test_who_is_heard_in_each_group() -> None:
    one = first(choruses=1).performance
    every = {track.role for track in one.tracks}
    assert only_group(one, "full") is one
    player = only_group(one, "player")
    assert {track.role for track in player.tracks} == {"click", "player"}
    rest = only_group(one, "without-player")
    assert {track.role for track in rest.tracks} == every - {"player"} >= {"click", "band"}


def test_no_two_files_of_one_name() -> None:
    label = Label("midi", "full")
    two = [BytesItem({"a": label, "b": label}, b""), BytesItem({"b": label}, b"")]
    with pytest.raises(OutputError, match=r"^b: two results of this run would have the same name"):
        make._no_two_alike(two)
    make._no_two_alike(two[:1])


@pytest.mark.parametrize(
    ("asked", "ahead"),
    [
        ({"jobs": 2, "only": ("audio", "midi")}, True),
        ({"jobs": 3, "only": ("audio", "midi")}, False),  # too little for all of them
        ({"jobs": 4, "only": ("audio", "midi"), "keys": ("C", "D")}, True),
        ({"jobs": 4, "only": ("audio", "midi"), "tempos": (90, 100)}, True),
        ({"jobs": 5, "only": ("audio", "midi"), "tempos": (90, 100)}, False),
        ({"jobs": 1, "only": ("audio",)}, False),
        ({"jobs": 2, "only": ("midi", "pdf")}, False),
    ],
)
def test_workers_are_begun_ahead_where_there_is_enough_for_all(
    asked: dict[str, Any], ahead: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import contextlib

    from accomp.job import workers

    begun: list[Any] = []

    class Some:
        def __init__(self, jobs: int, prepare: Any) -> None:
            begun.append((jobs, prepare))

        def __enter__(self) -> Some:
            return self

        def __exit__(self, *_: object) -> None:
            begun.append("gone")

        def begin(self) -> None:
            begun.append("begun")

    monkeypatch.setattr(workers, "Workers", Some)
    with contextlib.ExitStack() as stack:
        found = make.begun_ahead(resolve(small(), Options(**asked)), tmp_path, stack)
        assert (found is not None) == ahead
    all_of_it = [(asked["jobs"], sound.load_sound), "begun", "gone"]
    assert begun == (all_of_it if ahead else [])
    (tmp_path / "manifest.json").write_text("{}")  # it was made once: most will be there
    with contextlib.ExitStack() as stack:
        assert make.begun_ahead(resolve(small(), Options(**asked)), tmp_path, stack) is None
        again = resolve(small(), Options(**asked, again=True))
        assert (make.begun_ahead(again, tmp_path, stack) is not None) == ahead


@pytest.mark.slow
def test_practice_tracks_of_a_version() -> None:
    assert not list(practice_tracks(first()))
    (ladder,) = practice_tracks(first(ladder=(50, 100, 50), tempos=(90,), closed=False))
    assert ladder.stem == "small-tune_C_90_root-top_ladder"
    assert ladder.label.role == "ladder"
    assert [cue.name for cue in ladder.cues] == ["50 % (45)", "100 % (90)", "50 % (45)"]
    assert ladder.performance.title == "Small Tune: speed ladder"
    # Five bars of four beats each (a bar counts in), with a bar between two steps.
    bar = {50: 4 * 60 / 45, 100: 4 * 60 / 90}
    starts = [cue.start_s for cue in ladder.cues]
    end_s = ladder.performance.end_s
    assert starts[1] - starts[0] == pytest.approx(6 * bar[50], abs=bar[50])
    assert starts[1] / bar[50] == pytest.approx(round(starts[1] / bar[50]))
    assert (starts[2] - starts[1]) / bar[100] == pytest.approx(
        round((starts[2] - starts[1]) / bar[100])
    )
    assert end_s > starts[2]


@pytest.mark.slow
def test_a_pack_drills_the_hardest_changes_from_slow_to_fast() -> None:
    one = first(pack=True, count_in=0, closed=False)
    ladder, *drills = practice_tracks(one)
    assert [cue.name for cue in ladder.cues] == [
        f"{step} % ({step * 1.6:g})" for step in (60, 70, 80, 90, 100)
    ]
    hardest = one.neck.hardest(one.plans[0])
    assert [drill.stem for drill in drills] == [
        f"small-tune_C_160_root-top_drill-{number}" for number in range(1, len(hardest) + 1)
    ]
    assert {drill.label.role for drill in drills} == {"drill"}
    assert [drill.performance.title for drill in drills] == [
        f"Small Tune: {change.from_chord} to {change.to_chord}" for change in hardest
    ]
    tune = drill_tune(one.tune, hardest[0])
    chords = [str(bar.chords[0].chord) for bar in tune.sections["Drill"].bars]
    assert chords == [str(hardest[0].from_chord), str(hardest[0].to_chord)] * 4
    assert (tune.form, tune.pickup, tune.choruses, tune.times) == (("Drill",), 0, (), None)
    tuning = tuning_track(one)
    assert (tuning.stem, tuning.label.role) == ("small-tune_tuning", "tuning")
    assert tuning.cues == ()


@pytest.mark.slow
def test_an_audition_compares_what_there_is_to_compare() -> None:
    two = versions(resolve(small(), Options(positions=("root-top", "third-top"))))
    (track,) = audition(two)
    assert track.stem == "small-tune_C_160_audition"
    assert [cue.name for cue in track.cues] == ["root-top", "third-top"]
    assert track.label.position == "root-top, third-top"
    assert track.performance.title == "Small Tune: positions to compare"
    (one,) = audition(two[:1])  # of one position alone all others are heard, too
    assert [cue.name for cue in one.cues] == [plan.name for plan in two[0].neck.every]


@pytest.mark.parametrize(
    ("start_s", "silence_s", "index"),
    [
        (0.0, 0.4, "00:00:00"),
        (1e-9, 0.4, "00:00:30"),
        (0.006, 0.0, "00:00:00"),
        (0.007, 0.0, "00:00:01"),
        (0.9934, 0.0, "00:01:00"),
        (59.99, 0.0, "00:59:74"),
        (59.9999, 0.0, "01:00:00"),
        (3661.0, 0.0, "61:01:00"),
    ],
)
def test_where_a_part_begins_in_a_cue_sheet(start_s: float, silence_s: float, index: str) -> None:
    text = cue_sheet("T", "a.flac", [Cue(start_s, "one")], silence_s)
    assert text == (
        f'TITLE "T"\nFILE "a.flac" WAVE\n  TRACK 01 AUDIO\n    TITLE "one"\n    INDEX 01 {index}\n'
    )


def test_a_cue_sheet_numbers_its_tracks_and_names_the_kind_of_file() -> None:
    many = cue_sheet('"T"', 'a "b".mp3', [Cue(float(n), f"n{n}") for n in range(12)])
    assert many.startswith("TITLE \"'T'\"\nFILE \"a 'b'.mp3\" MP3\n  TRACK 01 AUDIO\n")
    assert '  TRACK 12 AUDIO\n    TITLE "n11"\n    INDEX 01 00:11:00\n' in many
    assert cue_sheet("T", "mp3", []).endswith('FILE "mp3" MP3\n')
    assert cue_sheet("T", "a.mp3.flac", []).endswith('"a.mp3.flac" WAVE\n')


LABEL = Label(None, "full", "C", 92.5, "root-top", "s")


def test_what_is_written_into_a_sound_file() -> None:
    item = sound_item({"full": ("a", LABEL), "player": ("b", Label(None, "tuning"))},
                      replace(EMPTY, end_s=7.5), Sound(format="ogg"))  # fmt: skip
    assert isinstance(item, SoundItem)
    assert item.groups == {"full": "a.ogg", "player": "b.ogg"}
    assert item.tags == {"full": {"key": "C", "tempo": "92.5", "position": "root-top"},
                         "player": {}}  # fmt: skip
    assert {name: label.kind for name, label in item.labels.items()} == {
        "a.ogg": "audio", "b.ogg": "audio",
    }  # fmt: skip
    assert item.weight == 7.5


def test_all_that_decides_a_sound_is_among_its_inputs(tmp_path: Path) -> None:
    base = sound_item({"full": ("a", LABEL)}, EMPTY, Sound())
    assert isinstance(base, SoundItem)
    elsewhere = replace(base, sound=replace(base.sound, soundfont=tmp_path, threads=3))
    assert elsewhere.inputs == base.inputs  # where a font lies decides nothing
    others = [
        replace(base, performance=replace(EMPTY, end_s=1.0)),
        replace(base, groups={"player": "a.flac"}),
        replace(base, groups={"full": "b.flac"}),
        replace(base, tags={"full": {"key": "D"}}),
        replace(base, tags={"player": base.tags["full"]}),
        *(replace(base, sound=replace(base.sound, **{name: "x"}))
          for name in ("soundfont_sha256", "voice_sha256", "format", "synth", "makers")),
    ]  # fmt: skip
    assert len({one.inputs for one in (base, *others)}) == len(others) + 1


def test_fonts_are_known_by_their_sum_wherever_they_lie(tmp_path: Path) -> None:
    band, voice = tmp_path / "band", tmp_path / "voice"
    for path in (band, voice):
        path.write_bytes(path.name.encode())
    sums = {path: hashlib.sha256(path.read_bytes()).hexdigest() for path in (band, voice)}
    both = Sound(band, sums[band], voice, sums[voice], threads=None)
    assert both.files == {sums[band]: band, sums[voice]: voice}
    moved = both.at({sums[band]: Path("b"), sums[voice]: Path("v")})
    assert (moved.soundfont, moved.voice, moved.threads) == (Path("b"), Path("v"), 1)
    assert Sound(band, sums[band]).files == {sums[band]: band}
    both.check()
    voice.write_bytes(b"other")
    with pytest.raises(SoundError) as caught:
        both.check()
    assert str(caught.value) == (
        f"{voice}: this font has changed, or is gone, since the work began. Do this again."
    )


@pytest.fixture
def built(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Names of the voices that were asked for, in place of their fonts."""
    asked: list[str] = []

    def font(name: str, progress: Any = None) -> Path:
        asked.append(name)
        return Path(f"{name}.sf2")

    monkeypatch.setattr("accomp.voice.voice_font", font)
    monkeypatch.setattr(
        "accomp.voice.voice_names", lambda: ("mandolin", "tenor-banjo", "tenor-banjo-19")
    )
    return asked


@pytest.mark.parametrize(
    ("name", "program", "voice"),
    [
        ("tenor-banjo", 106, "tenor-banjo"),
        ("tenor-banjo-19", 106, "tenor-banjo-19"),  # the nearest of a family
        ("tenor-banjo-22", 106, "tenor-banjo"),
        ("mandolin-long", 1, "mandolin"),
        ("my-own", 106, "tenor-banjo"),  # General MIDI 1: program 106 is the banjo
        ("my-own", 105, None),
        ("my-own", 107, None),
    ],
)
def test_which_voice_is_nearest(
    name: str, program: int, voice: str | None, built: list[str]
) -> None:
    instrument = replace(find_instrument("tenor-banjo"), name=name, program=program)
    found = sound._voice(instrument, lambda share: None)
    assert found == (None if voice is None else Path(f"{voice}.sf2"))
    assert built == ([] if voice is None else [voice])


def test_an_outcome_is_said_on_one_line_each() -> None:
    assert Outcome(("a\nb", "c")).notices == ("a b", "c")


def test_a_digest_knows_where_each_part_ends() -> None:
    assert digest("ab", "c") != digest("a", "bc") != digest("abc")
    assert digest(b"ab") == digest("ab")
    assert digest(12) == digest("12")
    assert digest("\ud800") != digest("?")
    assert digest() != digest("")
    plain = f"{len(accomp.__version__)}:{accomp.__version__}2:ab".encode()
    assert digest("ab") == hashlib.sha256(plain).hexdigest()


def test_a_value_is_spelt_with_all_that_is_in_it() -> None:
    assert (
        spelt({"a": [1, ("b", None)], "c": {3, 1, 2}}) == "{'a': (1, ('b', None)), 'c': {1, 2, 3}}"
    )
    assert spelt(Outcome(("x",), "f")) == "Outcome(notices=('x'), soundfont='f', synth=None)"
    assert spelt(Outcome) == repr(Outcome)


def test_a_package_is_known_by_names_and_bytes_but_not_by_bystanders(tmp_path: Path) -> None:
    package = tmp_path / "p"
    for name in ("a/x.py", "a/y.toml", "b.py"):
        (package / name).parent.mkdir(parents=True, exist_ok=True)
        (package / name).write_bytes(name.encode())
    known = fingerprint(package)
    whole = b"".join(
        f"{name}:{len(name)}:{name}".encode() for name in ("b.py", "a/x.py", "a/y.toml")
    )
    assert known == hashlib.sha256(whole).hexdigest()
    for name in ("cli/m.py", "a/__pycache__/x.py", "node_modules/n.js", "c.pyc", "a/d.pyo"):
        (package / name).parent.mkdir(parents=True, exist_ok=True)
        (package / name).write_bytes(b"x")
    assert fingerprint(package) == known
    (package / "a/x.py").rename(package / "a/z.py")
    assert fingerprint(package) != known


def test_libraries_say_their_versions_or_that_they_have_none() -> None:
    import lxml

    assert libraries("lxml", "none-such") == f"lxml {lxml.__version__}, none-such of no version"
    assert items.page_makers().startswith(f"{items.program()}, lxml ")


def test_a_manifest_speaks_of_new_files_before_earlier_ones() -> None:
    assert known_files(None) == {}
    made = Manifest("T" * 99, (), earlier={"a": "1"})
    assert known_files(made) == {"a": "1"}
    assert repr(made).endswith(": 0 files>")


def test_a_manifest_tells_of_each_file_and_of_all_together() -> None:
    label = Label("audio", "player", "C", 90.0, "p", "s", "me")
    some = [BytesItem({"a": label, "b": Label(None, "full")}, b""), BytesItem({"c": label}, b"")]
    records = [
        BuildRecord({"a": "1", "b": "2"}, Outcome(("first", "same"))),
        BuildRecord({"c": "3"}, Outcome(("same", "last"), "font", "synth")),
    ]
    made = manifest_of("T", some, records, notices=["own\nwords", "same"])
    assert (made.tune, made.soundfont, made.synth) == ("T", "font", "synth")
    assert made.notices == ("own words", "same", "first", "last")
    assert [(file.path, file.kind, file.sha256) for file in made.files] == [
        ("a", "audio", "1"), ("b", "", "2"), ("c", "audio", "3"),
    ]  # fmt: skip
    first, _, last = made.files
    assert (first.inputs, first.notices, first.soundfont) == (
        some[0].inputs, ("first", "same"), None,
    )  # fmt: skip
    assert (last.role, last.part, last.key, last.tempo, last.position, last.style) == (
        "player", "me", "C", 90.0, "p", "s",
    )  # fmt: skip
    assert (last.notices, last.soundfont, last.synth) == (("same", "last"), "font", "synth")
    none = manifest_of("T", some[:1], records[:1])
    assert (none.soundfont, none.synth) == (None, None)


WISHES = TEXT.replace("| C | F G7 | C A7 | Dm G7 |", "| C | F G7 | C7 |")


def neck(tables: str, **asked: Any) -> Any:
    one = parse_tune(f"{WISHES}\n{tables}", "t.toml")
    return tune_neck(one, resolve(one, Options(**asked)))


def wrong(tables: str, **asked: Any) -> tuple[str, str, str, str]:
    with pytest.raises(InputError) as caught:
        neck(tables, **asked)
    (one,) = caught.value.problems
    assert (one.file, one.line) == ("t.toml", 10)
    return one.message, one.found, one.expected, one.hint


BESIDE = "Correct it, or take the line out."


@pytest.mark.parametrize(
    ("tables", "asked", "said"),
    [
        ('[shapes]\n"C7" = "0 0 2"', {},
         ("0 0 2 has 3 frets, and Tenor banjo has 4 strings.", "0 0 2", "4 frets", BESIDE)),
        ('[shapes]\n"C7" = "0 0 2 18"', {},
         ("0 0 2 18 is beyond the 17 frets of Tenor banjo.", "0 0 2 18", "0 to 17", BESIDE)),
        ('[shapes]\n"C7" = "0 0 2 3"', {},
         ("0 0 2 3 is not C7 on Tenor banjo.", "0 0 2 3", "tones of C7: C E G Bb", BESIDE)),
        ('[shapes]\n"C7" = "0 0 2 2"', {},
         ("0 0 2 2 is not C7 on Tenor banjo.", "0 0 2 2", "tones of C7: C E G Bb", BESIDE)),
        ('[shapes]\n"C7" = "4 3 5 13"', {},
         ("C7 4 3 5 13 cannot be fingered by a hand that reaches 95 mm with the strings it has to "
          "sound.", "4 3 5 13", "a shape that can be played",
          "Give another shape, a hand that reaches further, or let strings be silent.")),
        ('[top]\n1 = "C E"', {},
         ("bar 1 has 1 chord, and 2 notes are wished on top.", "C E", "at most 1 note", BESIDE)),
        ('[top]\n2 = "- - E"', {},
         ("bar 2 has 2 chords, and 3 notes are wished on top.", "- - E", "at most 2 notes",
          BESIDE)),
        ('[top]\n1 = "F"', {}, ("F is no tone of C.", "F", "one of C E G", BESIDE)),
        ('[top]\n1 = "C"', {"reach_mm": 20.0, "closed": True},
         ("no shape of C on Tenor banjo has C on top.", "C", "one of E G", BESIDE)),
    ],
    ids=lambda value: str(value)[:24],
)  # fmt: skip
def test_what_a_neck_cannot_do_is_said_in_full(
    tables: str, asked: dict[str, Any], said: tuple[str, ...]
) -> None:
    found = wrong(tables, **asked)
    if asked:  # which notes there are is the neck's to say
        assert found[0] == said[0]
        assert found[2].startswith("one of ")
        assert sorted(found[2].split()[2:]) == found[2].split()[2:]
    else:
        assert found == said


@pytest.mark.parametrize(
    ("frets", "taken"),
    [
        ((13, 14, 15, 17), (13, 14, 15, 17)),  # on the last of the 17 frets
        ((13, 14, 15, 18), (1, 2, 3, 6)),
        ((13, None, 15, 18), (1, None, 3, 6)),
        ((12, 14, 15, 18), (12, 14, 15, 18)),  # a finger would become an open string
        ((None, None, None, None), (None, None, None, None)),
    ],
)
def test_a_shape_that_slid_beyond_the_neck_is_taken_an_octave_lower(
    frets: tuple[int | None, ...], taken: tuple[int | None, ...]
) -> None:
    pin = parse_tune(f'{WISHES}[shapes]\n"C7" = "0 0 2 1"', "t.toml").pins[0]
    player = resolve(small(), Options()).player
    assert wishes._on_this_neck(replace(pin, frets=frets), player) == taken


def test_a_note_on_top_is_looked_for_among_the_shapes_that_may_be_taken() -> None:
    """With a small hand C comes on top of C by an open shape alone."""
    top = '[top]\n1 = "C"'
    assert [pc for _, pc in neck(top, reach_mm=45.0, closed=False).wish.tops] == [0]
    assert [pc for _, pc in neck(top, reach_mm=45.0).wish.tops] == [0]
    for note, pc in (("E", 4), ("G", 7)):
        found = neck(f'[top]\n1 = "{note}"', closed=True).wish.tops
        assert [pc for _, pc in found] == [pc]
    assert wrong(top, reach_mm=20.0, closed=True)[0] == (
        "no shape of C on Tenor banjo has C on top."
    )


def test_a_note_on_top_beside_a_shape_that_has_another_there() -> None:
    with pytest.raises(InputError) as caught:
        neck('[shapes]\n"C" = "4 5 5 7"\n[top]\n1 = "G"')
    (one,) = caught.value.problems
    assert one.message == "C is to be 4 5 5 7, which has E on top and not G."
    assert (one.expected, one.hint) == ("E", "Take out this line, or the shape's under [shapes].")
    kept = neck('[shapes]\n"C" = "4 5 5 7"\n[top]\n1 = "E"\n2 = "- D"')
    assert [(index, pc) for index, pc in kept.wish.tops] == [(0, 4), (2, 2)]
    with pytest.raises(InputError) as both:
        neck('[top]\n1 = "F"\n2 = "C -"\n3 = "F"')
    assert [one.line for one in both.value.problems] == [10, 12]


def test_what_another_neck_cannot_do_is_said_and_left_out() -> None:
    found = neck('[shapes]\n"C7" = "0 0 2 1"\n[top]\n1 = "C"', instrument="plectrum-banjo")
    said = [one for one in found.chords.notices if "left out" in one]
    assert said[0] == (
        "C7 0 0 2 1 is a shape for the tune's own instrument and is left out on Plectrum banjo."
    )
    assert found.wish.pins == ()


def test_which_bars_ring_on_where_a_style_chokes() -> None:
    choked = WISHES.replace("four-light-heavy", "choked-four")
    one = parse_tune(choked, "t.toml")
    on = tune_neck(one, resolve(one, Options()))
    plan = on.at("root-top")
    ringing = [str(bar) for (bar, _), shape in zip(on.chords.places, plan.path, strict=True)
               if shape.open]  # fmt: skip
    assert plan.notices[-1] == (
        "root-top: the style chokes, and open strings cannot be choked by the fretting hand: they "
        f"ring on in the chords of bars {', '.join(dict.fromkeys(ringing))}."
    )
    calm = tune_neck(small(), resolve(small(), Options(style="plain-four-four")))
    assert calm.at("root-top").notices == ()
