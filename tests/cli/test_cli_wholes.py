"""What the command line says, whole: texts, tables, counts, exit codes; and the small parts that
decide how it is said."""

from __future__ import annotations

import io
import json
import signal
import sys
from pathlib import Path
from types import SimpleNamespace

import click
import pytest

import accomp.cli as command_line
from accomp.cli import group, making, progress, run, saying, words
from accomp.cli.make import _ladder, make
from accomp.cli.making import _document, _folders, _once_a_kind, _show, _tune_files
from accomp.cli.options import option_name
from accomp.cli.problems import error_rows, error_text, notice_text, problem_text, wrong_usage
from accomp.cli.saying import (
    StatusLine,
    UnsaidError,
    Verbosity,
    printable,
    say_json,
    say_table,
    verbosity,
)
from accomp.cli.usual import PROGRAM, TEMPLATE, UserSettings, is_usual, read_usual, wanted
from accomp.cli.writing import named_file, only_a_folder
from accomp.errors import AccompError, InputError, NoShapeError, OutputError, Problem
from accomp.job.manifest import MadeFile, Manifest
from accomp.neck.plan import NOT_COMPARED
from accomp.tune import parse_tune

# ------------------------------------------------------------------ signs, lines, tables


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("a\nb", "a\nb"), ("a\tb", "a\\tb"), ("\x1b[31m", "\\x1b[31m"), ("\u202e", "\\u202e"),
        ("B♭ é 三", "B♭ é 三"), ("\r", "\\r"), ("", ""), ("\ud800", "\\ud800"),
    ],
)  # fmt: skip
def test_control_signs_become_visible(text, shown):
    assert printable(text) == shown


def test_a_table_is_as_wide_as_its_widest_cells(capsys):
    say_table(("a", "bb", "c"), [("long", "x", ""), ("y", "z\t", "w")])
    assert capsys.readouterr().out == "a     bb   c\nlong  x\ny     z\\t  w\n"
    say_table(("a", "b"), [])
    assert capsys.readouterr().out == "a  b\n"


def test_json_is_indented_and_its_control_signs_are_escaped(capsys):
    say_json({"a": ["é", "\x1b", "\u202e"], "b": (1, None)})
    text = capsys.readouterr().out
    assert text == (
        '{\n  "a": [\n    "é",\n    "\\u001b",\n    "\\u202e"\n  ],\n  "b": [\n    1,\n'
        "    null\n  ]\n}\n"
    )
    assert json.loads(text) == {"a": ["é", "\x1b", "\u202e"], "b": [1, None]}


@pytest.mark.parametrize(
    ("level", "done", "note"),
    [
        (Verbosity.QUIET, "", ""),
        (Verbosity.PLAIN, "done\n", "Note: n\n"),
        (Verbosity.FULL, "done\n", "Note: n\n"),
    ],
)
def test_how_much_is_said(level, done, note, capsys):
    with saying.own_verbosity():
        assert verbosity() is Verbosity.PLAIN
        saying.set_verbosity(level)
        saying.say_done("done")
        saying.tell_notes(["n"])
        saying.tell("told")
        saying.say("said")
    assert verbosity() is Verbosity.PLAIN
    assert capsys.readouterr() == (f"{done}said\n", f"{note}told\n")
    assert [int(level) for level in Verbosity] == [0, 1, 2]


@pytest.mark.parametrize(
    ("share", "done", "per_cent"),
    [
        (0.0, 0, "  0%"), (0.016, 0, "  2%"), (0.017, 1, "  2%"), (0.5, 15, " 50%"),
        (0.995, 30, "100%"), (1.0, 30, "100%"), (1.5, 30, "100%"), (-0.5, 0, "  0%"),
    ],
)  # fmt: skip
def test_a_bar_has_thirty_signs(share, done, per_cent):
    assert progress._bar(share) == "━" * done + "─" * (30 - done) + f" {per_cent}"


def test_who_sees_a_bar_and_who_sees_lines(capsys):
    def of(level: Verbosity, shown: bool):
        with saying.own_verbosity():
            saying.set_verbosity(level)
            with progress.progress("Making", shown=shown) as report:
                if report is not None:
                    for what, share in (("a", 0.1), ("a", 0.2), ("b", 0.305)):
                        report(what, share)
                return report is not None, capsys.readouterr().err

    lines = " 10% a\n 30% b\n"
    for shown in (True, False):
        assert of(Verbosity.FULL, shown) == (True, lines)
        assert of(Verbosity.QUIET, shown) == (False, "")
    assert of(Verbosity.PLAIN, False) == (False, "")
    there, said = of(Verbosity.PLAIN, True)
    assert there
    assert said.split("\r")[1:4:2] == ["", " " * 42]
    assert [line.split(" ")[0] for line in said.split("\r") if line.strip()] == [
        "Making", "a", "a", "b",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("columns", "words_", "shown"),
    [
        (20, "abcdefgh", "abcdefgh 12345"), (16, "abcdefghi", "abcdefghi 12345"),
        (15, "abcdefghi", "abcdefg… 12345"), (10, "abcdefghi", "ab… 12345"),
        (8, "abcdefghi", "… 12345"), (3, "abcdefghi", "… 12345"),
        (40, "a\nb\x1b", "a b\\x1b 12345"),
    ],
)  # fmt: skip
def test_a_passing_line_is_cut_to_the_terminal(columns, words_, shown, monkeypatch, capsys):
    size = SimpleNamespace(columns=columns)
    monkeypatch.setattr(saying.shutil, "get_terminal_size", lambda: size)
    with StatusLine() as line:
        line.show(words_, "12345")
        line.show(words_, "12345")  # what stands there already is not written again
    blank = " " * len(shown)
    assert capsys.readouterr().err == f"\r\r{shown}\r{blank}\r"


# ------------------------------------------------------------------ errors and exit codes


def test_an_error_names_the_options_that_it_is_about():
    keys = Problem("wrong.", setting="keys", helps=("reach_mm", "closed"))
    assert problem_text(keys) == "--key: wrong. (--reach, --closed/--open)"
    assert problem_text(Problem("wrong.", "a.toml", 3)) == "a.toml:3: wrong."
    assert error_text(InputError((keys, keys))).count("\n") == 1
    assert error_text(NoShapeError("None.", helps=("mute",))) == "None. (--mute)"
    assert error_text(NoShapeError("None.")) == "None."
    names = {
        "closed": "--closed/--open", "folder": "--out", "keys": "--key", "parts": "--part",
        "players": "--player", "positions": "--position", "reach_mm": "--reach",
        "readers": "--reader", "tempos": "--tempo", "count_in": "--count-in", "seed": "--seed",
    }  # fmt: skip
    assert {setting: option_name(setting) for setting in names} == names
    (row,) = error_rows(OutputError("full"), "a.toml")
    assert row == {
        "file": "a.toml", "line": 0, "column": 0, "found": "", "expected": "", "hint": "",
        "message": "full", "setting": "",
    }  # fmt: skip


def test_a_step_to_take_is_told_as_a_command():
    sheet = Problem("m.", "a {b}.abc", hint="h.", helps=("read_this_leadsheet", "reach_mm"))
    told = "Make a tune file of it with `accomp read a {b}.abc`."
    assert problem_text(sheet) == f"a {{b}}.abc: m. {told} (--reach)"
    folder = Problem("m.", "tunes", helps=("read_a_leadsheet",))
    (first, second) = error_rows(InputError((sheet, folder)))
    assert first["hint"] == told
    assert second["hint"] == "README.md shows one; `accomp read` makes one from a lead sheet."
    assert (sheet.hint, notice_text("As it is.")) == ("h.", "As it is.")


def test_a_lead_sheet_and_a_folder_without_tunes_are_shown_the_command(accomp, tmp_path):
    (tmp_path / "song.abc").write_text("X:1\nT:Gate\nK:D\n")
    (tmp_path / "empty").mkdir()
    made = "Make a tune file of it with `accomp read song.abc`."
    assert made in accomp("make", "song.abc").err
    assert made in accomp("check", "song.abc").err
    for command in ("make", "check"):
        assert made in accomp(command, "song.abc", "--json").out
    found = "README.md shows one; `accomp read` makes one from a lead sheet."
    assert found in accomp("book", "empty").err
    assert found in accomp("make", "empty", "--json").out


def test_who_names_a_fret_is_shown_the_other_positions(accomp, tune, good):
    """Frets that a small hand only spans wide: text names the command, JSON has the fact."""
    words_ = ("positions", tune(good), "--position", 7, "--instrument", "plectrum-banjo")
    said = accomp(*words_, "--hand", "small")
    assert "See `accomp positions` for others." in said.out
    assert NOT_COMPARED not in said.out
    data = accomp(*words_, "--hand", "small", "--json").out
    assert NOT_COMPARED in data
    assert "accomp" not in data


@pytest.mark.parametrize(
    ("error", "usage"),
    [
        (InputError(Problem("m", setting="keys")), True),
        (InputError(Problem("m", "a.toml", setting="keys")), False),
        (InputError(Problem("m")), False),
        (InputError((Problem("m", setting="keys"), Problem("m"))), False),
        (InputError((Problem("m", setting="keys"), Problem("m", setting="style"))), True),
        (OutputError("m"), False),
    ],
)
def test_wrong_usage_is_what_options_alone_have_set(error, usage):
    assert wrong_usage(error) is usage


@pytest.mark.parametrize(
    ("raised", "code", "told"),
    [
        (OutputError("full", helps=("folder",)), 1, "full (--out)\n"),
        (InputError(Problem("no", setting="keys")), 2, "--key: no\n"),
        (InputError(Problem("no", "a.toml")), 1, "a.toml: no\n"),
        (KeyboardInterrupt(), 130, "\nStopped. No half-made file was left.\n"),
        (click.Abort(), 130, "\nStopped. No half-made file was left.\n"),
        (BrokenPipeError(), 0, ""),
        (OSError(28, "No space left"), 1, "The output cannot be written (no space left).\n"),
        (click.ClickException("a\n\tb"), 1, "Error: a b\n"),
        (click.exceptions.Exit(7), 7, ""),
        (UnsaidError("unsaid"), 1, "unsaid\n"),
    ],
    ids=lambda value: type(value).__name__,
)
def test_how_the_program_ends(raised, code, told, monkeypatch, capsys):
    def fails(**_: object):
        raise raised

    monkeypatch.setattr(command_line.cli, "main", fails)
    assert run(["x"]) == code
    assert capsys.readouterr() == ("", told)
    assert run(["x", "--json"]) == code
    said = capsys.readouterr().out
    silent = (KeyboardInterrupt, click.Abort, OSError, click.exceptions.Exit, UnsaidError)
    if isinstance(raised, silent):
        assert said == ""
    else:
        (row,) = json.loads(said)
        assert row["message"]


def test_what_a_command_returns_is_the_exit_code_where_it_is_one(monkeypatch, capsys):
    for returned, code in ((3, 3), (None, 0), ("x", 0)):
        monkeypatch.setattr(command_line.cli, "main", lambda returned=returned, **_: returned)
        assert run([]) == code
    monkeypatch.setattr(command_line.cli, "main", lambda **_: 1 // 0)
    assert run([]) == 1
    assert "accomp itself failed (ZeroDivisionError" in capsys.readouterr().err


def test_wrong_usage_shows_how_it_is_used(accomp):
    said = accomp("make")
    assert said.code == 2
    usage, how, empty, error = said.err.splitlines()
    assert usage == "Usage: accomp make [OPTIONS] TUNE..."
    assert (how, empty) == ("Try 'accomp make --help' for help.", "")
    assert error == "Error: Missing argument 'TUNE...'."
    nearly = accomp("mkae")
    assert nearly.err.endswith("Error: There is no command 'mkae'. Did you mean 'make'?\n")
    assert accomp("qqqq").err.endswith("Error: There is no command 'qqqq'.\n")
    assert accomp().code == 2
    assert accomp("--version").out.startswith("accomp, version ")


def test_every_command_is_listed_with_its_line_and_can_be_quiet_or_verbose(accomp):
    shown = accomp("--help").out
    names = "desk make shapes positions keys read check practice book styles instruments new " \
            "config completion".split()  # fmt: skip
    assert list(group.COMMANDS) == names
    listed = shown[shown.index("Commands:") :].split()
    assert [word for word in listed if word in names and word != "read"][:3] == [
        "desk", "make", "shapes",
    ]  # fmt: skip
    for name in ("styles", "config"):
        text = accomp(name, "--help").out
        assert text.count("--quiet") == text.count("--verbose") == 1
    assert accomp("styles", "-q").out == accomp("styles").out


# ------------------------------------------------------------------ what is usual


def test_options_left_open_are_as_the_user_wants_them(monkeypatch, tmp_path):
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    assert wanted().hand == "medium"
    file = tmp_path / "accomp" / "config.toml"
    file.parent.mkdir()
    file.write_text('hand = "large"\nside = "right"\ninstrument = "mandolin"\nvocabulary = "all"\n')
    asked = wanted(hand=None, paper=None, side="left", seed=3)
    assert (asked.hand, asked.paper, asked.side, asked.seed) == ("large", "a4", "left", 3)
    assert (asked.usual_instrument, asked.usual_vocabulary) == ("mandolin", "all")
    assert read_usual().said == {
        "instrument": "mandolin", "hand": "large", "vocabulary": "all", "side": "right",
    }  # fmt: skip
    assert is_usual(file)
    file.write_text("")
    assert read_usual() == UserSettings()
    assert is_usual(file)
    mine = tmp_path / "mine.toml"
    mine.write_text('instrument = "mine.toml"\nhand = "x"\n')
    with pytest.raises(InputError) as caught:
        read_usual(mine)
    assert [one.found for one in caught.value.problems] == ["x"]
    mine.write_text('instrument = "mine.toml"\n')
    assert read_usual(mine).instrument == str(mine)
    assert PROGRAM == {
        "instrument": "tenor-banjo", "hand": "medium", "vocabulary": "inversions", "paper": "a4",
        "side": "left",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("text", "usual"),
    [
        ('hand = "large"\n', True), ('hand = "large"\ntitle = "T"\n', False),
        (TEMPLATE, True), ("# another remark\n", False), ("", False), ("hand = \n", False),
    ],
)  # fmt: skip
def test_which_file_is_one_of_usual_settings(text, usual, tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    path = tmp_path / "some.toml"
    path.write_text(text)
    assert is_usual(path) is usual


def test_config_says_who_says_what(accomp, monkeypatch, tmp_path):
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    file = tmp_path / "accomp" / "config.toml"
    rows = [
        "setting     value        said by", "instrument  tenor-banjo  the program",
        "hand        medium       the program", "vocabulary  inversions   the program",
        "paper       a4           the program", "side        left         the program",
    ]  # fmt: skip
    head = f"{file} (not there yet: `accomp new config` writes it)"
    assert accomp("config").out.splitlines() == [head, *rows]
    file.parent.mkdir()
    file.write_text('paper = "letter"\n')
    rows[4] = "paper       letter       your file"
    assert accomp("config").out.splitlines() == [str(file), *rows]
    assert json.loads(accomp("config", "--json").out) == {
        "file": str(file), "there": True, "settings": {**PROGRAM, "paper": "letter"},
    }  # fmt: skip


# ------------------------------------------------------------------ several tunes


def tune_of(title: str, file: str):
    text = f'title = "{title}"\nkey = "C"\nmeter = "4/4"\ntempo = 120\n[sections]\nA = "| C |"\n'
    return parse_tune(text, file)


def test_each_tune_has_a_folder_named_by_its_title():
    lane, gate = tune_of("Kettle Lane", "a/lane.toml"), tune_of("Gate", "b/gate.toml")
    other = tune_of("kettle lane!", "b/other.toml")
    out = Path("out")
    assert _folders([lane], None, False) == [Path("kettle-lane")]
    assert _folders([lane], out, False) == [out]
    assert _folders([lane], out, True) == [out / "kettle-lane"]
    assert _folders([lane, gate], None, True) == [Path("kettle-lane"), Path("gate")]
    assert _folders([lane, gate, other], out, True) == [
        out / "kettle-lane-lane", out / "gate", out / "kettle-lane-other",
    ]  # fmt: skip


def test_which_files_are_meant_and_whether_they_are_several(tmp_path, good):
    for name in ("a", "b"):
        (tmp_path / f"{name}.toml").write_text(good)
    a, b, empty = tmp_path / "a.toml", tmp_path / "b.toml", tmp_path / "empty"
    empty.mkdir()
    errors: dict[Path, AccompError] = {}
    assert _tune_files([a], errors) == ([a], False)
    assert _tune_files([a, b, a], errors) == ([a, b], True)
    assert _tune_files([b, tmp_path], errors) == ([b, a], True)
    assert _tune_files([tmp_path], errors) == ([a, b], True)
    assert _tune_files([Path("-")], errors) == ([Path("-")], False)
    assert errors == {}
    assert _tune_files([empty], errors) == ([], True)
    assert list(errors) == [empty]


def test_json_of_several_is_in_the_order_given():
    a, b = Path("a"), Path("b")
    made = Manifest("T", ())
    errors = {b: InputError(Problem("no"))}
    rows = _document([b, a], {a: made}, errors, True)
    assert rows[1] is made
    assert rows[0]["file"] == "b"
    assert rows[0]["problems"][0]["message"] == "no"
    assert _document([a], {a: made}, {}, False) is made
    assert _document([a], {a: made}, {}, True) == [made]


def test_notices_that_differ_in_numbers_only_are_told_once():
    said = ["bar 1 is long", "bar 2 is long", "bar −2.5 is long", "other", "bar 1 is short"]
    assert _once_a_kind(said) == [
        "bar 1 is long (2 more like this: see manifest.json)", "other", "bar 1 is short",
    ]  # fmt: skip
    assert _once_a_kind(["a 1", "a 2"]) == ["a 1 (1 more like this: see manifest.json)"]


def made_file(name: str, kind: str) -> MadeFile:
    return MadeFile(name, kind, "full", None, "C", 120.0, "root-top", "s", "", "")


def test_what_was_made_is_shown_with_what_to_do_next(capsys):
    files = (made_file("a.mid", "midi"), made_file("a.flac", "audio"), made_file("b.flac", "audio"))
    manifest = Manifest("T", files, notices=("n 1", "n 2"), earlier={"x": "", "y": ""})
    _show(manifest, Path("out"))
    out, err = capsys.readouterr()
    assert out == (
        "T: 3 files in out\n  out/a.mid\n  out/a.flac\n  out/b.flac\n  out/manifest.json\n"
        "Next: play out/a.flac (start quietly), or see the neck with `accomp positions`, other "
        "keys with --key, other speeds with --tempo.\n"
    )
    assert err == (
        "Note: n 1 (1 more like this: see manifest.json)\n"
        "Note: 2 files of earlier runs in out: see `earlier` in manifest.json.\n"
    )
    with saying.own_verbosity():
        saying.set_verbosity(Verbosity.FULL)
        _show(Manifest("T", files[:1], notices=("n 1", "n 2"), earlier={"x": ""}), Path("out"))
    out, err = capsys.readouterr()
    assert out == "T: 1 file in out\n  out/a.mid\n  out/manifest.json\n"
    assert err == (
        "Note: n 1\nNote: n 2\n"
        "Note: 1 file of earlier runs in out: see `earlier` in manifest.json.\n"
    )


def test_of_several_tunes_it_is_said_how_many_were_made(accomp, tune, good, monkeypatch):
    asked: list[tuple[str, Path]] = []

    def made(one, options, folder, report):
        asked.append((one.title, folder))
        if one.title == "Bad":
            raise OutputError("full", helps=("folder",))
        if one.title == "Odd":
            raise ZeroDivisionError("odd")
        return Manifest(one.title, ())

    monkeypatch.setattr("accomp.job.make.make_tune", made)
    for name in ("Good", "Bad", "Odd"):
        tune(good.replace("Kettle Lane", name), f"{name}.toml")
    said = accomp("make", "Good.toml", "Bad.toml", "gone.toml", "-o", "out")
    assert said.code == 1
    lines = said.err.splitlines()
    assert lines[0].startswith("gone.toml: there is no such file.")
    assert lines[1:] == ["full (--out)", "1 of 3 tunes made."]
    assert asked == [("Good", Path("out/good")), ("Bad", Path("out/bad"))]
    assert said.out.startswith("Good: 0 files in out/good\n")
    assert accomp("make", "Good.toml", "Good.toml").code == 0
    assert json.loads(accomp("make", "Good.toml", "--json").out)["tune"] == "Good"
    several = json.loads(accomp("make", "Good.toml", "Good.toml", "--json").out)
    assert [row["tune"] for row in several] == ["Good"]
    said = accomp("make", "Bad.toml")
    assert (said.code, said.err) == (1, "full (--out)\n")
    assert run(["make", "Odd.toml"]) == 1


def test_where_only_options_are_wrong_it_is_wrong_usage_of_several_too(accomp, tune):
    for name in ("a.toml", "b.toml"):
        tune(name=name)
    said = accomp("make", "a.toml", "b.toml", "--style", "nothing-like", "--only", "midi")
    assert said.code == 2
    assert said.err.count("--style: 'nothing-like' is not a style") == 1
    assert said.err.endswith("0 of 2 tunes made.\n")
    assert accomp("make", "a.toml", "gone.toml", "--style", "nothing-like").code == 1


def test_several_files_do_not_go_to_standard_output(accomp, tune):
    said = accomp("make", tune(), "-o", "-")
    assert (said.code, said.err) == (
        2, "--out: several files are made, and standard output takes one. Name a folder.\n",
    )  # fmt: skip
    only_a_folder(None)
    only_a_folder(Path("x"))


def test_a_file_may_be_named_itself(tmp_path):
    (tmp_path / "folder.toml").mkdir()
    assert named_file(tmp_path / "a.toml", ".toml")
    assert not named_file(tmp_path / "a.html", ".toml")
    assert not named_file(tmp_path / "folder.toml", ".toml")


# ------------------------------------------------------------------ options


RISES = (
    "a ladder rises from at least 10 to at most 200 per cent in steps of 1 or more, as 60:100:5."
)
FORM = "expected FROM:TO:STEP in per cent, as 60:100:5."


@pytest.mark.parametrize(
    ("value", "made"),
    [
        (None, ()), ("60:100:20", (60, 80, 100)), ("60:99:20", (60, 80)), ("10:10:1", (10,)),
        ("200:200:5", (200,)), ("10:108:1", tuple(range(10, 109))),
        ("10:109:1", "100 steps; at most 99 are made."), ("9:100:5", RISES), ("60:201:5", RISES),
        ("100:60:5", RISES), ("60:100:0", RISES), ("60:100", FORM), ("60:100:5:1", FORM),
        ("60:100:-5", FORM), ("60:100:5.5", FORM), ("60:999999:5", RISES), ("60:1000000:5", FORM),
        ("", FORM), ("60:100:", FORM),
    ],
)  # fmt: skip
def test_the_steps_of_a_ladder(value, made):
    ctx, param = click.Context(make), make.params[0]
    if isinstance(made, tuple):
        assert _ladder(ctx, param, value) == made
        return
    with pytest.raises(click.BadParameter) as caught:
        _ladder(ctx, param, value)
    assert caught.value.message == f"{value!r}: {made}"


def test_what_is_completed_begins_as_typed(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("COMP_WORDS", raising=False)
    ctx, param = click.Context(make), make.params[0]
    assert words.STYLES(ctx, param, "two-b") == ["two-beat"]
    assert sorted(words.KEYS(ctx, param, "B")) == ["B", "Bb", "Bbm", "Bm"]
    assert words.KEYS(ctx, param, "a") == ["all"]
    assert words.POSITIONS(ctx, param, "root") == ["root-top", "root-top-high"]
    assert len(words.POSITIONS(ctx, param, "")) == 11
    assert words.CHORDS(ctx, param, "Eb") == ["Eb", "Eb7", "Ebm", "Ebm7", "Ebdim7"]
    (tmp_path / "a.toml").write_text(
        'title = "T"\nkey = "C"\nmeter = "4/4"\ntempo = 120\n[sections]\nA = "| F#7 | C |"\n'
    )
    (tmp_path / "b.toml").write_text("broken = ")
    assert words.CHORDS(ctx, param, "") == ["C", "F#7"]
    monkeypatch.setenv("COMP_WORDS", "accomp positions a.toml --position")
    found = words.POSITIONS(ctx, param, "")
    assert found[0] == "all"
    assert "third-top" in found
    ctx.params["tune"] = tmp_path / "gone.toml"
    assert words.POSITIONS(ctx, param, "") == []
    monkeypatch.setattr(words, "_MOST_FILES", 0)
    assert len(words.CHORDS(ctx, param, "")) == 40


def test_a_polite_request_to_end_is_heeded_unless_somebody_ignores_it(monkeypatch):
    there = {"SIGTERM": signal.SIG_DFL, "SIGHUP": signal.SIG_IGN}
    set_: dict[int, object] = {}
    monkeypatch.setattr(signal, "getsignal", lambda number: there[signal.Signals(number).name])
    monkeypatch.setattr(signal, "signal", set_.__setitem__)
    command_line._tidy_up_when_told_to_end()
    assert list(set_) == [signal.SIGTERM]
    with pytest.raises(SystemExit) as caught:
        set_[signal.SIGTERM](signal.SIGTERM, None)
    assert caught.value.code == 143


def test_main_exits_with_the_code_of_its_run(monkeypatch):
    monkeypatch.setattr(command_line, "_tidy_up_when_told_to_end", lambda: None)
    asked: list[list[str]] = []

    def once(arguments):
        asked.append(arguments)
        if arguments == ["stop"]:
            raise KeyboardInterrupt
        return 5

    monkeypatch.setattr(command_line, "run", once)
    monkeypatch.setattr(sys, "argv", ["accomp", "x", "y"])
    for arguments, code in ((None, 5), (["z"], 5), (["stop"], 130)):
        with pytest.raises(SystemExit) as caught:
            command_line.main(arguments)
        assert caught.value.code == code
    assert asked == [["x", "y"], ["z"], ["stop"]]


def test_what_stdout_does_not_take_is_let_go(monkeypatch):
    class Full(io.StringIO):
        def flush(self):
            raise OSError(28, "No space left")

        def write(self, text):
            raise OSError(28, "No space left")

    monkeypatch.setattr(sys, "stdout", Full())
    command_line._let_go_of_stdout()
    with pytest.raises(UnsaidError) as caught:
        saying.say("x")
    assert str(caught.value) == (
        "What was asked for is done, but what there is to say of it cannot be written (no space "
        "left)."
    )
    assert making.Verbosity is Verbosity
