"""A command line that behaves: quiet, streams, what is usual, files to begin with, completion."""

import io
import json
import os
import re
import subprocess
import sys
from types import SimpleNamespace

import pytest

from accomp.cli.new import KINDS
from accomp.files import plain


@pytest.fixture
def typed(monkeypatch):
    """Put bytes on standard input."""

    def give(data: bytes) -> None:
        plain._from_stdin.cache_clear()
        monkeypatch.setattr(sys, "stdin", SimpleNamespace(buffer=io.BytesIO(data)))

    yield give
    plain._from_stdin.cache_clear()


@pytest.fixture
def usual(monkeypatch, tmp_path):
    """Write the user's own config.toml."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / ".config"))

    def write(text: str):
        path = tmp_path / ".config" / "accomp" / "config.toml"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)
        return path

    return write


# ------------------------------------------------------------------ how much is said


def test_quiet_says_nothing_of_what_went_well(accomp, tune):
    said = accomp("make", tune(), "-o", "out", "--only", "midi", "-q")
    assert (said.code, said.out, said.err) == (0, "", "")
    wrong = accomp("make", "nowhere.toml", "-q")
    assert wrong.code == 1
    assert "there is no such file" in wrong.err
    asked = accomp("positions", tune(), "-q")
    assert "root-top" in asked.out
    assert asked.err == ""


def test_verbose_says_what_is_being_made_and_every_note(accomp, tune):
    path = tune()
    plainly = accomp("make", path, "-o", "a", "--only", "midi")
    fully = accomp("make", path, "-o", "b", "--only", "midi", "-v")
    assert ".mid" not in plainly.err
    assert re.search(r"^ *\d+% kettle-lane_C_120_\S+\.mid$", fully.err, re.M)
    assert accomp("check", path).out == "1 file is good.\n", "one run does not change the next"


# ------------------------------------------------------------------ standard streams


def test_a_tune_comes_in_by_standard_input(accomp, good, typed):
    typed(good.encode())
    assert accomp("positions", "-").out.startswith("Kettle Lane, in C")
    assert accomp("check", "-").out == "1 file is good.\n"
    typed(good.replace("C7 |", "C7x |").encode())
    said = accomp("check", "-")
    assert said.code == 1
    assert said.err.startswith("-:10:3: 'C7x' is not a chord symbol")


def test_a_lead_sheet_goes_through_from_stream_to_stream(accomp, typed):
    abc = b'X:1\nT:Two Gates\nM:4/4\nL:1/4\nK:G\n"G"GABc|"D7"d2c2|"G"G4|\n'
    typed(abc)
    said = accomp("read", "-", "--out", "-")
    assert said.code == 0, said.err
    assert 'title = "Two Gates"' in said.out
    assert "melody =" not in said.out
    assert "The melody is left out" in said.err
    typed(said.out.encode())
    assert accomp("check", "-").code == 0
    typed(b"<score-partwise/>")
    assert accomp("read", "-").code == 1


def test_boxes_and_repertoires_go_to_standard_output(accomp, tune):
    from lxml import etree

    drawn = accomp("shapes", "C7", "--svg", "-")
    assert etree.fromstring(drawn.out.encode()).tag.endswith("svg")
    drawn = accomp("positions", tune(), "--svg", "-")
    assert etree.fromstring(drawn.out.encode()).tag.endswith("svg")
    assert accomp("shapes", "--write-repertoire", "-").out.startswith("# Shapes a player knows")


def test_no_tune_can_be_longer_than_the_limit_by_standard_input(accomp, typed):
    typed(b"#" * 1_000_001)
    said = accomp("check", "-")
    assert said.code == 1
    assert "larger than" in said.err


def test_a_folder_called_as_standard_input_is_not_read_instead(accomp, typed, tmp_path):
    (tmp_path / "-").mkdir()
    typed(b'X:1\nT:Two Gates\nM:4/4\nL:1/4\nK:G\n"G"GABc|"G"G4|\n')
    said = accomp("read", "-", "--out", "-")
    assert said.code == 0, said.err
    assert "Two Gates" in said.out


@pytest.mark.slow
def test_the_one_file_that_is_made_may_be_named(accomp, tune, tmp_path):
    path = tune()
    for _ in range(2):  # what is sealed may be made again
        said = accomp("practice", path, "-o", "there/mine.html")
        assert said.out == "there/mine.html: open it in a browser. Start quietly.\n", said.err
        assert said.code == 0
    assert (tmp_path / "there" / "mine.html").read_bytes().startswith(b"<!doctype html>")
    said = accomp("practice", path, "-o", "-")
    assert (said.code, said.out.startswith("<!doctype html>")) == (0, True)
    (tmp_path / "yours.html").write_text("somebody's")
    assert accomp("practice", path, "-o", "yours.html").code == 1
    assert (tmp_path / "yours.html").read_text() == "somebody's"

    (tmp_path / "two.abc").write_text('X:1\nT:Gate\nM:4/4\nL:1/4\nK:G\n"G"GABc|"G"G4|\n')
    assert accomp("read", "two.abc", "-o", "mine.toml").code == 0
    assert accomp("check", "mine.toml").code == 0, "its melody lies beside it"
    more = (tmp_path / "two.abc").read_text()
    (tmp_path / "two.abc").write_text(f"{more}\n{more.replace('X:1', 'X:2')}")
    said = accomp("read", "two.abc", "-o", "both.toml")
    assert (said.code, (tmp_path / "both.toml").exists()) == (2, False)
    assert "one file takes only one" in said.err


def test_words_that_are_nearly_right_are_understood_by_the_hint(accomp, tune):
    tune()
    assert "There is no command 'mak'. Did you mean 'make'?" in accomp("mak").err
    said = accomp("make", "tune.toml", "--key", "bb").err
    assert said.startswith("--key: 'bb' is not a key: expected a name as F, Bb, F# or Dm. ")
    assert said.endswith("Did you mean 'Bb'?\n")
    assert accomp("make", "tune.toml", "--key", "H").err.endswith("Did you mean 'B'?\n")
    said = accomp("make", "tune.toml", "--key", "Q").err
    assert said.count("as F, Bb, F# or Dm") == 1, "one answer is given once"
    assert "Choose from: tune, style, instrument, hand," in accomp("new").err
    said = accomp()
    assert said.code == 2
    assert said.err.startswith("Usage: accomp")
    assert said.err.count("Usage") == 1
    assert "practice" in said.err


# ------------------------------------------------------------------ problems as JSON


@pytest.mark.parametrize(
    ("words", "code", "message", "setting"),
    [
        ("positions nowhere.toml", 1, "there is no such file", ""),
        ("shapes H7", 1, "is not a chord symbol", ""),
        ("make tune.toml --key H", 2, "is not a key", "keys"),
        ("make tune.toml --hand huge", 2, "is not a hand", "hand"),
        ("make tune.toml --tempo fast", 2, "'fast' is not a valid number.", ""),
        ("make tune.toml --choruses x", 2, "'x' is not a valid whole number.", ""),
        ("make tune.toml --out -", 2, "several files are made", "folder"),
        ("book . --out -", 2, "several files are made", "folder"),
        ("make tune.toml --tempo 0.001", 2, "must be", "tempos"),
        ("read nowhere.abc", 1, "there is no such file", ""),
        ("book nowhere", 1, "no such file or directory", ""),
        ("practice tune.toml --position nowhere-top", 1, "no position", ""),
    ],
)
def test_problems_are_json_where_json_was_asked_for(words, code, message, setting, accomp, tune):
    tune()
    said = accomp(*words.split(), "--json")
    assert said.code == code
    problems = json.loads(said.out)
    assert message in problems[0]["message"]
    assert problems[0]["setting"] == setting
    assert {"file", "line", "column", "found", "expected", "hint"} < problems[0].keys()
    assert said.err, "people read it, too"


def test_of_several_tunes_json_has_the_good_and_the_bad_in_order(accomp, tune, good):
    tune(good.replace("C7 |", "C7x |"), "bad.toml")
    tune()
    said = accomp("make", "bad.toml", "tune.toml", "--only", "midi", "--out", "o", "--json")
    assert said.code == 1
    bad, made = json.loads(said.out)
    assert (bad["file"], bad["problems"][0]["found"]) == ("bad.toml", "C7x")
    assert made["files"][0]["kind"] == "midi"
    tune(name="other.toml")
    said = accomp("make", "tune.toml", "other.toml", "--hand", "huge")
    assert said.err.count("'huge' is not a hand") == 1, "an option's fault is told once"


# ------------------------------------------------------------------ what is usual


@pytest.mark.slow
def test_the_users_file_holds_below_the_tune_and_the_options(accomp, tune, good, usual):
    usual('instrument = "ukulele"\nvocabulary = "first"\nhand = "large"\n')
    ask = ("--json",)

    def found(*words):
        document = json.loads(accomp("positions", *words, *ask).out)
        return document["instrument"], document["vocabulary"]

    assert found(tune()) == ("ukulele", "first")
    named = tune(good.replace("[sections]", 'instrument = "mandolin"\n[sections]'))
    assert found(named) == ("mandolin", "first")
    assert found(named, "--instrument", "guitar", "--vocabulary", "inversions") == (
        "guitar",
        "inversions",
    )
    assert "on Ukulele" in accomp("shapes", "C").out


def test_the_side_of_the_player_is_exchanged_in_the_mix(accomp, tune, tmp_path, usual):
    import mido

    def places():
        (file,) = (tmp_path / "o").glob("*.mid")
        return [
            message.value
            for track in mido.MidiFile(file).tracks
            for message in track
            if message.type == "control_change" and message.control == 10
        ]

    assert accomp("make", tune(), "--only", "midi", "-o", "o").code == 0
    left = places()
    usual('side = "right"\n')
    assert accomp("make", tune(), "--only", "midi", "-o", "o").code == 0
    assert places() == [min(127, 128 - place) for place in left]
    assert min(left) < 50
    assert accomp("make", tune(), "--only", "midi", "-o", "o", "--side", "left").code == 0
    assert places() == left


def test_paper_is_usual_for_books_too(accomp, tune, usual, tmp_path):
    from pypdf import PdfReader

    usual('paper = "letter"\n')
    (tmp_path / "tunes").mkdir()
    tune(name="tunes/one.toml")
    assert accomp("book", "tunes", "--player", "concert", "-o", "b").code == 0
    (file,) = (tmp_path / "b").glob("*.pdf")
    assert round(float(PdfReader(file).pages[0].mediabox.width)) == 612


def test_config_shows_where_and_what(accomp, usual):
    path = usual("")
    path.unlink()
    assert f"{path} (not there yet" in accomp("config").out
    assert accomp("new", "config").out == f"{path}\n"
    assert re.search(r"^hand +medium +the program$", accomp("config").out, re.M)
    usual('hand = "small"\n')
    assert re.search(r"^hand +small +your file$", accomp("config").out, re.M)
    document = json.loads(accomp("config", "--json").out)
    assert document["settings"]["hand"] == "small"
    assert document["file"] == str(path)


def test_what_is_wrong_in_the_users_file_is_said_with_its_place(accomp, tune, usual):
    path = usual('hand = "huge"\npapr = "a4"\n')
    said = accomp("make", tune(), "--only", "midi")
    assert said.code == 1
    assert f"{path}:1:8: 'hand' must be" in said.err
    assert f"{path}:2:1: 'papr' is not known here. Did you mean 'paper'?" in said.err


# ------------------------------------------------------------------ files to begin with


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind != "config"])
def test_every_new_file_is_good_as_it_is(kind, accomp, tmp_path):
    if kind == "book":
        assert accomp("new", "tune").code == 0
    said = accomp("new", kind)
    assert said.out == f"{kind}.toml\n", said.err
    checked = accomp("check", f"{kind}.toml")
    assert checked.code == 0, checked.err
    whole = tmp_path / f"{kind}.toml"
    whole.write_text(re.sub(r"(?m)^# (\w+ *=)(?!.*-tune)", r"\1", text := whole.read_text()))
    assert accomp("check", whole.name).err == "", "with what is left to choose"
    whole.write_text(text)
    again = accomp("new", kind)
    assert again.code == 0, again.err
    (tmp_path / f"{kind}.toml").write_text("mine = 1\n")
    assert accomp("new", kind).code == 1
    assert (tmp_path / f"{kind}.toml").read_text() == "mine = 1\n"
    assert accomp("new", kind, "--replace").code == 0
    if kind in ("tune", "costs", "book"):
        said = accomp("new", kind, "another.toml", "--like", "waltz")
        assert (said.code, (tmp_path / "another.toml").exists()) == (2, False)
        assert "--like is for style, instrument, hand and repertoire" in said.err


def test_a_new_tune_is_named_by_its_file_and_plays(accomp):
    assert accomp("new", "tune", "seven-gates.toml").code == 0
    made = accomp("make", "seven-gates.toml", "--only", "midi", "--json")
    assert json.loads(made.out)["tune"] == "Seven Gates"


def test_a_new_tune_of_an_odd_name_is_good(accomp):
    for name in ("bell\x1b[1m.toml", "line\u2028.toml", os.fsdecode(b"\xff\xfe.toml"), '"\\.toml'):
        assert accomp("new", "tune", name).code == 0
        assert accomp("check", name).code == 0


def test_a_damaged_file_of_the_users_is_told_with_its_place(accomp, tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    for kind in ("style", "hand", "instrument"):
        path = tmp_path / "accomp" / f"{kind}s" / "mine.toml"
        path.parent.mkdir(parents=True)
        path.write_bytes(b'title = "\xff"')
        said = accomp("new", kind, "x.toml", "--like", "mine")
        assert said.code == 1
        assert f"{path}:1:10: the file is not UTF-8" in said.err
    assert not (tmp_path / "x.toml").exists()


def test_a_damaged_file_of_what_is_usual_is_told_and_can_be_begun_anew(accomp, tune, usual):
    path = usual('instrument = "a\\u0000.toml"\n')
    for words in (("config",), ("make", tune())):
        said = accomp(*words)
        assert said.code == 1
        assert said.err.startswith(f"{path}:1:16: 'instrument' must be")
    assert accomp("new", "config", "--replace").code == 0
    assert accomp("config").code == 0


def test_a_style_and_an_instrument_are_written_to_be_edited(accomp, tmp_path):
    assert accomp("styles", "waltz", "--write", "mine.toml").out == "mine.toml\n"
    assert accomp("styles", "mine.toml").out.startswith("Waltz (mine)")
    assert accomp("instruments", "mandolin", "--write", "m.toml").out == "m.toml\n"
    assert "m " in accomp("instruments", "m.toml").out
    assert accomp("styles", "--write", "x.toml").code == 2
    assert accomp("styles", "nowhere", "--write", "x.toml").code == 1
    assert not (tmp_path / "x.toml").exists()


def test_an_instrument_without_octave_gets_the_usual_one_and_says_so(accomp, tune, tmp_path):
    for name, tuning, how in (
        ("low", '"C3", "G3", "D4", "A4"', "an octave above its sound"),
        ("high", '"G3", "D4", "A4", "E5"', "at pitch"),
    ):
        path = tmp_path / f"{name}.toml"
        path.write_text(f'title = "{name}"\nstrings = [{tuning}]\nfrets = 17\nscale = 400\n')
        said = accomp("make", tune(), "--instrument", path, "--only", "midi", "-o", name)
        assert f"low has no `octave`: it is written {how}".replace("low", name) in said.err


# ------------------------------------------------------------------ shapes, keys, books


def test_shapes_shows_a_dozen_and_says_how_many_more(accomp):
    said = accomp("shapes", "C7")
    assert "77 shapes, the best 12" in said.out
    assert "and 65 more: --best 77 shows all." in said.out
    assert "more:" not in accomp("shapes", "C7", "--best", "77").out
    assert len(json.loads(accomp("shapes", "C7", "--json").out)["shapes"]) == 77


def test_a_repertoire_is_written_and_nothing_else_said(accomp, tmp_path):
    said = accomp("shapes", "--write-repertoire", "mine.toml")
    assert (said.code, said.out, said.err) == (0, "mine.toml\n", "")
    assert (tmp_path / "mine.toml").is_file()
    assert accomp("shapes").code == 2


def test_keys_shows_the_keys_asked_for(accomp, tune):
    said = accomp("keys", tune(), "--key", "Bb", "--key", "G", "--json")
    assert [row["key"] for row in json.loads(said.out)["keys"]] == ["G", "Bb"]


def test_a_book_never_lands_among_its_tunes_by_itself(accomp, tune, tmp_path, monkeypatch):
    folder = tmp_path / "band"
    folder.mkdir()
    tune(name="band/one.toml")
    assert accomp("book", "band", "--player", "concert").code == 0
    assert (tmp_path / "band-book").is_dir()
    assert [path.name for path in folder.iterdir()] == ["one.toml"]
    monkeypatch.chdir(folder)
    from accomp.cli import run

    assert run(["book", ".", "--player", "concert", "-q"]) == 0
    assert [path.name for path in folder.iterdir()] == ["one.toml"]


def test_files_of_earlier_runs_are_spoken_of(accomp, tune):
    accomp("make", tune(), "--only", "midi", "-o", "o")
    said = accomp("make", tune(), "--only", "musicxml", "-o", "o")
    assert "1 file of earlier runs in o: see `earlier` in manifest.json." in said.err


# ------------------------------------------------------------------ completion and man pages


def completed(words: str, folder) -> list[str]:
    """What bash is told for a line; the last word is not finished."""
    line = words.split(" ")
    told = {"COMP_WORDS": words, "COMP_CWORD": str(len(line) - 1)}
    ran = subprocess.run(
        [sys.executable, "-m", "accomp"],
        env={**os.environ, **told, "_ACCOMP_COMPLETE": "bash_complete"},
        cwd=folder,
        capture_output=True,
        text=True,
        check=True,
    )
    assert ran.stderr == ""
    return [line.split(",", 1)[1] for line in ran.stdout.splitlines() if line.startswith("plain")]


@pytest.mark.many(2, 99)
@pytest.mark.parametrize(
    ("words", "one", "other"),
    [
        ("accomp pos", "positions", "make"),
        ("accomp make tune.toml --style two", "two-beat", "waltz"),
        ("accomp make tune.toml --instrument ma", "mandolin", "guitar"),
        ("accomp make tune.toml --hand s", "small", "large"),
        ("accomp make tune.toml --key B", "Bb", "C"),
        ("accomp positions tune.toml --position th", "third-top", "root-top"),
        ("accomp shapes C", "C7", "G7"),
    ],
)
def test_names_are_completed(words, one, other, tune, tmp_path):
    tune()
    found = completed(words, tmp_path)
    assert one in found
    assert other not in found


def test_positions_of_the_tune_are_completed(accomp, tune, tmp_path):
    """Not those that have a name without one: C on a short neck has no seventh on top."""
    path = tune()
    rows = json.loads(accomp("positions", path, "--json").out)["positions"]
    names = completed(f"accomp positions {path} --position ", tmp_path)
    assert names[0] == "all"
    assert set(names) >= {row["name"] for row in rows}
    assert "seventh-top-high" not in names


def test_one_damaged_file_hides_no_other(accomp, tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    for kind in ("styles", "instruments"):
        folder = tmp_path / "accomp" / kind
        folder.mkdir(parents=True)
        (folder / "damaged.toml").write_text("title = 3\n")
        said = accomp(kind)
        assert "waltz" in said.out if kind == "styles" else "mandolin" in said.out
        assert "damaged.toml" in said.err
        alone = accomp(kind, "damaged")
        assert (alone.code, alone.out) == (1, "")
        assert "damaged.toml" in alone.err


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_a_script_for_each_shell(shell, accomp):
    said = accomp("completion", shell)
    assert "_ACCOMP_COMPLETE" in said.out
    where = {"bash": "/accomp", "zsh": "/_accomp", "fish": "/accomp.fish"}[shell]
    told = accomp("completion", "--help").out.replace("-\n  ", "-")
    assert re.search(rf"accomp completion {shell} > \S+{where}\n", told), "and where it goes"
    if shell == "bash":
        subprocess.run(["bash", "-n"], input=said.out, text=True, check=True)


def test_man_pages_name_every_option(tmp_path):
    import shutil

    from docs.man_pages import main

    main(tmp_path)
    pages = {path.name: path.read_text() for path in tmp_path.iterdir()}
    assert {"accomp.1", "accomp-make.1", "accomp-shapes.1"} < pages.keys()
    assert "\\-\\-ladder" in pages["accomp-make.1"]
    if shutil.which("groff"):  # its warnings are about our macros
        for path in tmp_path.iterdir():
            ran = subprocess.run(
                ["groff", "-man", "-Tutf8", "-ww", str(path)], capture_output=True, text=True
            )
            assert ran.stderr == "", path.name


def test_what_is_usual_is_checked_as_what_it_is(accomp, usual):
    path = usual('hand = "small"\n')
    assert accomp("check", path).code == 0
    for name, text in (("begun.toml", None), ("other.toml", 'hand = "small"\n')):
        if text is None:
            assert accomp("new", "config", name).code == 0
        else:
            path.with_name(name).write_text(text)
            name = path.with_name(name)
        assert accomp("check", name).code == 0, "one that is to become the user's"
    usual('hand = "tiny"\n')
    said = accomp("check", path)
    assert said.code == 1
    assert said.err.startswith(f"{path}:1:8: 'hand' must be")
    assert said.err.count("\n") == 1


@pytest.mark.slow
def test_a_hand_of_ones_own_is_a_file(accomp, tune, usual, tmp_path):
    path, words = tune(), ("shapes", "C13#11", "--known", "--json")
    assert accomp("new", "hand", "mine.toml").code == 0
    mine = tmp_path / "mine.toml"
    assert accomp(*words, "--hand", "mine.toml").out == accomp(*words).out
    mine.write_text(mine.read_text().replace("= 95.0", "= 130.0").replace("= 80.0", "= 120.0"))
    wide = accomp(*words, "--hand", "mine.toml")
    assert wide.out != accomp(*words).out
    config = usual('hand = "mine.toml"\n')
    mine.rename(config.with_name("mine.toml"))
    assert accomp(*words).out == wide.out, "beside the user's file"
    mine = config.with_name("mine.toml")
    make = ("make", path, "--only", "midi", "--only", "pdf", "-o", "o", "--json")
    before = json.loads(accomp(*make).out)["files"]
    mine.write_text(mine.read_text().replace("= 130.0", "= 40.0").replace("= 120.0", "= 30.0"))
    after = json.loads(accomp(*make).out)["files"]
    assert before != after, "what the hand changes is made anew"
    mine.write_text(mine.read_text().replace("= 30.0", "= 50.0"))
    said = accomp("shapes", "C")
    assert (said.code, "at most the greatest reach, 40" in said.err) == (1, True)


@pytest.mark.parametrize(
    ("octave", "written"),
    [
        (-1, "an octave below its sound"), (0, "at pitch"), (1, "an octave above its sound"),
        (2, "2 octaves above its sound"),
    ],
)  # fmt: skip
def test_where_an_instrument_is_written_is_told_for_every_octave(octave, written, accomp, tmp_path):
    accomp("instruments", "tenor-banjo", "--write", "mine.toml")
    mine = tmp_path / "mine.toml"
    mine.write_text(re.sub(r"(?m)^octave.*", f"octave = {octave}", mine.read_text()))
    assert f"written {written}, General MIDI" in accomp("instruments", mine).out


def test_an_octave_that_is_supposed_is_told_wherever_the_instrument_is_used(accomp, tune, tmp_path):
    accomp("instruments", "tenor-banjo", "--write", "mine.toml")
    mine = tmp_path / "mine.toml"
    mine.write_text(re.sub(r"(?m)^octave.*\n", "", mine.read_text()))
    path = tune()
    for words in (
        ("shapes", "C7", "--instrument", mine),
        ("instruments", mine),
        ("positions", path, "--instrument", mine),
        ("keys", path, "--key", "C", "--instrument", mine),
    ):
        said = accomp(*words)
        assert said.err.count("mine has no `octave`: it is written an octave above") == 1, words
    for words in (
        ("positions", path, "--instrument", mine),
        ("shapes", "C7", "--instrument", mine),
        ("instruments", mine),
    ):
        found = json.loads(accomp(*words, "--json").out)
        assert "octave" in found["notices"][-1], words


def test_a_file_that_config_toml_names_in_vain_is_told_with_the_name_of_the_setting(accomp, usual):
    file = usual('instrument = "of-mine.toml"\n').with_name("of-mine.toml")
    said = accomp("shapes", "C")
    assert said.err.startswith(f"{file}: there is no such file.")
    assert said.err.endswith(" (`instrument` in config.toml)\n")
    assert said.code == 1
