"""One page of a notebook does everything, and what is made is what the main job makes."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest

import accomp
from accomp.job.options import Options

EXAMPLES = Path(__file__).parents[2] / "examples"
TUNE = EXAMPLES / "harbour-street-parade.toml"
HOW = {"style": "two-beat", "tempo": 150.0, "choruses": 2, "seed": 3}


@pytest.mark.long
def test_the_files_of_a_piece_are_those_of_the_main_job(tmp_path: Path) -> None:
    """MIDI, MusicXML and PDF byte for byte: there is one way to make them."""
    tune = accomp.read_tune(str(TUNE))
    options = Options(
        keys=("G",), tempos=(150.0,), positions=("third-top",), style="two-beat", choruses=2,
        seed=3, only=("midi", "musicxml", "pdf"), paper="letter",
    )  # fmt: skip
    made = accomp.make_tune(tune, options, str(tmp_path))
    job = {file.kind: (tmp_path / file.path).read_bytes() for file in made.files}
    piece = accomp.arrange(tune, position="third-top", key="G", **HOW)
    assert piece.to_midi() == job["midi"] == piece.perform().to_midi()
    assert piece.to_musicxml() == job["musicxml"] == piece.score().to_musicxml()
    assert piece.to_pdf(paper="letter") == job["pdf"]
    assert piece.to_pdf() != job["pdf"]


def test_a_position_may_be_named_or_handed_over(tune: accomp.Tune) -> None:
    positions = accomp.positions(tune, style="two-beat")
    assert positions.names == tuple(plan.name for plan in positions)
    assert positions["third-top"] == positions[positions.names.index("third-top")]
    assert positions["5"].name == "fret-5"
    assert positions.best in list(positions)
    assert positions[1:] == positions.plans[1:]
    pieces = [
        accomp.arrange(tune, None, where, style="two-beat")
        for where in ("third-top", positions["third-top"])
    ]
    assert pieces[0].to_midi() == pieces[1].to_midi()
    assert {plan.name for plan in pieces[0].plans} == {pieces[0].position} == {"third-top"}
    by_fret = accomp.arrange(tune, None, 5)
    assert by_fret.plans[0].name == "fret-5"


def test_keys_are_those_of_the_command_line(
    tune: accomp.Tune, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from accomp.cli import run

    (tmp_path / "tune.toml").write_text(tune.to_toml(), encoding="utf-8")
    assert run(["keys", str(tmp_path / "tune.toml"), "--json"]) == 0
    said = msgspec.json.decode(capsys.readouterr().out)["keys"]
    found = accomp.keys(tune)
    assert [
        (str(row.key), [(one.plan.name, list(one.plan.frets)) for one in row.positions])
        for row in found
    ] == [(row["key"], [(one["name"], one["frets"]) for one in row["positions"]]) for row in said]
    assert found["C#"] is found["Db"] is found[1]
    assert [str(row.key) for row in accomp.keys(tune, key="D")] == ["D"]
    assert repr(found).startswith(f"<12 keys for '{tune.title}' on tenor-banjo: ")
    assert found._repr_html_().count("slid from") == sum(
        one.slid_from is not None for row in found for one in row.positions
    )
    with pytest.raises(accomp.InputError, match=r"'Am' is not among these keys\. Known: C, Db"):
        found["Am"]
    with pytest.raises(accomp.KeyNameError):
        found["H"]


def test_a_plan_says_its_chords(tune: accomp.Tune) -> None:
    plan = accomp.positions(tune).best
    assert [str(chord) for chord in plan.chords] == ["C", "A7", "D7", "G7", "C"]
    assert [str(chord) for chord, _ in plan.boxes] == ["C", "A7", "D7", "G7"]


def test_a_position_of_another_tune_or_key_is_refused(tune: accomp.Tune) -> None:
    plan = accomp.positions(tune).best
    for wrong in ({"key": "D"}, {"player": "plectrum-banjo"}, {"player": "guitar"}):
        with pytest.raises(accomp.InputError, match=r"is not one of this tune") as caught:
            accomp.arrange(tune, position=plan, **wrong)
        assert caught.value.problems[0].setting == "position"


def test_the_player_is_who_was_asked_for(tmp_path: Path) -> None:
    long_hand = accomp.player("mandolin", hand="large", reach_mm=120, mute=True)
    assert (long_hand.instrument.name, long_hand.hand.greatest_mm, long_hand.mute) == (
        "mandolin", 120.0, True,
    )  # fmt: skip
    mine = tmp_path / "my-banjo.toml"
    mine.write_text('title = "Mine"\nstrings = ["C3", "G3", "D4", "A4"]\nfrets = 19\nscale = 560\n')
    owner = accomp.player(str(mine))
    assert owner.instrument.scale_mm == 560
    assert accomp.player(owner.instrument) == owner
    tune = accomp.tune("| C | G7 |", key="C", instrument="nobody-has-this")
    assert accomp.arrange(tune, owner).player == owner  # the tune's own is not even looked for
    with pytest.raises(accomp.InputError, match="nobody-has-this"):
        accomp.arrange(tune)


def test_the_tune_says_who_plays_where_nobody_is_named() -> None:
    tune = accomp.tune("| C | G7 |", key="C", instrument="ukulele")
    assert accomp.positions(tune).player.instrument.name == "ukulele"


def test_shapes_come_best_first_and_all_from_the_nut_upward() -> None:
    best = accomp.shapes("C7", best=5)
    every = accomp.playable_shapes("C7", "tenor-banjo", "medium")
    assert len(best) == 5
    assert set(best) < set(every)
    assert best.of == len(every)
    assert [shape.lowest_fret for shape in every] == sorted(s.lowest_fret for s in every)
    chord, banjo = accomp.parse_chord("C7"), accomp.find_instrument("tenor-banjo")
    assert accomp.playable_shapes(chord, banjo, accomp.find_hand("medium")) == every
    assert not any(shape.open for shape in accomp.shapes("C7", "mandolin", closed=True))
    assert best[:2] == tuple(best)[:2]


def test_a_style_and_a_key_may_be_names_or_themselves(tmp_path: Path) -> None:
    tune = accomp.tune("| C | G7 |", key=accomp.Key.parse("C"))
    style = accomp.find_style("two-beat")
    by_name = accomp.arrange(tune, style="two-beat", key="F")
    assert accomp.arrange(tune, style=style, key=accomp.Key.parse("F")).to_midi() == (
        by_name.to_midi()
    )
    own = tmp_path / "own.toml"
    own.write_text(Path(style.file).read_text())
    assert accomp.arrange(tune, style=accomp.find_style(str(own)), key="F").to_midi() == (
        by_name.to_midi()
    )


def test_who_is_heard_and_how_long_it_is_counted_in(piece: accomp.Piece) -> None:
    full = piece.perform()
    names = {track.name for track in full.tracks}
    without = {track.name for track in piece.perform(group="without-player").tracks}
    alone = {track.name for track in piece.perform(group="player").tracks}
    assert without & alone == {"Count-in"}
    assert without | alone == names
    assert "Tenor banjo" in alone - without
    bar_s = 4 * 60 / 140
    for bars in (0, 1, 2):
        performed = piece.perform(count_in=bars)
        assert performed.end_s == pytest.approx(full.end_s + (bars - 1) * bar_s)


def test_parts_and_readers(piece: accomp.Piece) -> None:
    assert [part.kind for part in piece.score("slash").parts] == ["slash"]
    assert [part.kind for part in piece.score().parts] == ["notation", "tab", "bass"]
    b_flat = piece.score("notation", "Bb").parts[0].measures[0]
    assert str(b_flat.key) == "D"  # a tone above C
    assert piece.score("notation", plain_clef=True).parts[0].clef.octave == 0


def test_what_is_written_to_a_path(piece: accomp.Piece, tmp_path: Path) -> None:
    midi = piece.to_midi(str(tmp_path / "new folder" / "a.mid"))
    assert midi.read_bytes() == piece.to_midi()
    packed = piece.to_musicxml(tmp_path / "a.mxl")
    assert packed.read_bytes()[:2] == b"PK"
    plain = piece.to_musicxml(tmp_path / "a.musicxml")
    assert plain.read_bytes() == piece.to_musicxml()
    assert piece.to_pdf(tmp_path / "a.pdf").read_bytes()[:5] == b"%PDF-"
    midi.write_bytes(b"earlier")
    assert piece.to_midi(midi).read_bytes() == piece.to_midi()
    assert sorted(p.name for p in tmp_path.iterdir()) == [
        "a.musicxml", "a.mxl", "a.pdf", "new folder",
    ]  # fmt: skip


def test_what_cannot_be_written_leaves_all_as_it_was(piece: accomp.Piece, tmp_path: Path) -> None:
    (tmp_path / "folder.mid").mkdir()
    with pytest.raises(accomp.OutputError, match="a folder stands where a file would go"):
        piece.to_midi(tmp_path / "folder.mid")
    (tmp_path / "file").write_text("mine")
    with pytest.raises(accomp.OutputError, match="this is a file, and a folder is needed"):
        piece.to_midi(tmp_path / "file" / "a.mid")
    with pytest.raises(accomp.InputError, match="the path of the file to write is needed"):
        piece.to_midi("")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["file", "folder.mid"]


def test_a_tune_file_of_somebodys_own_stays(tune: accomp.Tune, tmp_path: Path) -> None:
    path = tmp_path / "porch.toml"
    assert tune.to_toml(path) == path
    assert accomp.read_tune(path) == tune
    assert tune.to_toml(path) == path  # the same once more
    path.write_text(f"# my remark\n{tune.to_toml()}")
    with pytest.raises(accomp.OutputError, match="this file is there already"):
        tune.to_toml(path)
    assert path.read_text().startswith("# my remark")
    tune.to_toml(path, replace=True)
    assert path.read_text() == tune.to_toml()


WRONG = {
    "a path for a tune": (lambda t: accomp.positions("porch.toml"), "Read one with read_tune"),
    "a path for make_tune": (lambda t: accomp.make_tune("a", Options(), "b"), "Read one with"),
    "no player": (lambda t: accomp.positions(t, 3), "must be a text in quotes"),
    "no instrument": (lambda t: accomp.player("tenor-bajo"), "Did you mean 'tenor-banjo'"),
    "no hand": (lambda t: accomp.player(hand="huge"), "Known hands: large, medium, small"),
    "no chord": (lambda t: accomp.shapes("H7"), "Did you mean 'B7'"),
    "no text": (lambda t: accomp.parse_chord(7), "a chord symbol is a text"),
    "no style": (lambda t: accomp.find_style(7), "a style is named here by a text"),
    "no such style": (lambda t: accomp.arrange(t, style="two-bt"), "Did you mean 'two-beat'"),
    "no key": (lambda t: accomp.transpose_tune(t, "H"), "key: must be a key"),
    "no vocabulary": (lambda t: accomp.shapes("C", vocabulary="x"), 'must be "first"'),
    "none of the best": (lambda t: accomp.shapes("C", best=0), "best: must be a whole number of 1"),
    "half of the best": (lambda t: accomp.shapes("C", best=1.5), "best: must be a whole number"),
    "no word": (lambda t: accomp.arrange(t, temp=3), "Did you mean 'tempo'"),
    "no tempo": (lambda t: accomp.arrange(t, tempo="fast"), "tempo: must be a number of beats"),
    "no path": (lambda t: accomp.read_tune(3), "the path of a tune file is needed here"),
    "a zero byte": (
        lambda t: accomp.make_tune(t, accomp.Options(), "a\0"),
        "output folder is needed",
    ),
    "no options": (
        lambda t: accomp.make_tune(t, None, "a"),
        r"options are needed here, and this is of type NoneType\. Write Options\(\)",
    ),
    "half a sign": (lambda t: accomp.read_tune("\ud800.toml"), "tune file is needed here"),
    "no bars": (lambda t: accomp.tune(3, key="C"), "bars are needed here"),
    "no file": (lambda t: accomp.read_tune("nix.toml"), "there is no such file"),
    "keys": (lambda t: accomp.arrange(t, key="all"), "this is done in one key"),
    "positions": (lambda t: accomp.arrange(t, position="all"), "a piece is in one position"),
    "costs": (lambda t: accomp.player(costs="nix.toml"), "^nix.toml: there is no such file"),
    "a path to transpose": (lambda t: accomp.transpose_tune("porch.toml", "D"), "Read one with"),
    "neither muted nor not": (lambda t: accomp.playable_shapes("C", mute=[]), "mute: must be true"),
}


@pytest.mark.parametrize("name", WRONG)
def test_errors_are_ours_and_say_what_to_do(name: str, tune: accomp.Tune) -> None:
    call, said = WRONG[name]
    with pytest.raises(accomp.AccompError, match=said):
        call(tune)


def test_keys_are_looked_up_as_lists_are(tune: accomp.Tune) -> None:
    found = accomp.keys(tune, key="C")
    for where in (None, 1.5, ("C",)):
        with pytest.raises(TypeError, match="tuple indices must be integers or slices"):
            found[where]


PIECES = {
    "part": (lambda piece: piece.score("tba"), "part: must be .* Did you mean 'tab'"),
    "reader": (lambda piece: piece.score(reader="C"), "reader: must be"),
    "group": (lambda piece: piece.perform(group="me"), 'group: must be "full"'),
    "count-in": (lambda piece: piece.perform(count_in=99), "count_in: must be a whole number"),
    "ending": (lambda piece: piece.to_audio("a.mp4"), "Did you mean 'mp3'"),
    "format": (lambda piece: piece.audio(format="aiff"), "audio_format|format: must be"),
    "paper": (lambda piece: piece.to_pdf(paper="a3"), 'paper: must be "a4"'),
    "font": (lambda piece: piece.audio(soundfont="nix.sf2"), "nix.sf2"),
}


def test_nothing_asked_of_a_score_is_what_is_usual(piece: accomp.Piece) -> None:
    assert piece.score(part=None, reader=None) == piece.score()  # type: ignore[arg-type]


@pytest.mark.parametrize("name", PIECES)
def test_what_is_asked_of_a_piece_is_checked(name: str, piece: accomp.Piece) -> None:
    call, said = PIECES[name]
    with pytest.raises(accomp.AccompError, match=said):
        call(piece)


def test_all_mistakes_of_a_call_come_at_once(tune: accomp.Tune) -> None:
    with pytest.raises(accomp.InputError) as caught:
        accomp.arrange(tune, key="H", style="two-bt")
    assert {problem.setting for problem in caught.value.problems} == {"key", "style"}


def test_no_shape_is_told_by_chord_and_bar() -> None:
    """A reach that no chord can be played with, in a tune built in code: its bar is the place."""
    tune = accomp.tune("| C7(#9) | G13 |", key="C")
    tiny = accomp.player(reach_mm=12)
    with pytest.raises(accomp.InputError) as caught:
        accomp.positions(tune, tiny, closed=True)
    assert str(caught.value).startswith("line 1:3: ")


def test_a_performance_is_whole_with_its_methods(piece: accomp.Piece) -> None:
    """What decides the bytes of sound files is its fields, as before."""
    fields = msgspec.json.decode(msgspec.json.encode(piece.perform()))
    assert set(fields) == {
        "title", "tracks", "tempos", "meters", "keys", "markers", "chords", "end_s",
    }  # fmt: skip
