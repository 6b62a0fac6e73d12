"""Tables, defaults and single lines of the commands, whole, in the process of the tests."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import click
import pytest

from accomp.cli import lists, making, neck, read, words
from accomp.cli.group import cli
from accomp.cli.making import MakeSettings, make_all
from accomp.cli.neck import _read_by
from accomp.cli.neck_text import key_lines, shapes_heading, shapes_words
from accomp.errors import InputError, OutputError, Problem
from accomp.job.manifest import MadeFile, Manifest
from accomp.job.options import Options
from accomp.rhythm import find_style

COMMANDS = {
    name: cli.get_command(click.Context(cli), name)
    for name in cli.list_commands(None)  # type: ignore[arg-type]
}
# What is meant where an option is not given; None and empty are left to the tune.
DEFAULTS = {
    "make": {
        "out": None, "keys": (), "tempos": (), "positions": (), "count_in": 1, "only": (),
        "parts": ("score",), "readers": ("concert",), "boxes": "top", "audio_format": "flac",
        "plan": "fixed", "jobs": 1, "seed": 0, "choruses": None, "closed": None, "reach_mm": None,
        "paper": None, "side": None, "hand": None, "vocabulary": None, "ladder": (),
    },
    "book": {"out": None, "players": (), "jobs": 1, "paper": None, "boxes": None, "part": None},
    "practice": {"out": Path(), "tempo": None, "choruses": None, "seed": 0, "plan": "fixed"},
    "shapes": {"chords": (), "best": None, "vocabulary": "all", "svg": None},
    "positions": {"only": (), "key": None, "explain": None, "plan": "fixed"},
    "keys": {"only": (), "plan": "fixed"},
    "read": {"out": Path()},
    "desk": {"folder": Path(), "port": None},
}  # fmt: skip
# lowest and highest whole number of an option
RANGES = {
    ("make", "choruses"): (1, 100), ("make", "count_in"): (0, 8), ("make", "jobs"): (1, 64),
    ("book", "jobs"): (1, 64), ("practice", "choruses"): (1, 100), ("shapes", "best"): (1, None),
    ("desk", "port"): (0, 65535),
}  # fmt: skip


def parsed(name: str, *arguments: str) -> dict[str, object]:
    command = COMMANDS[name]
    context = command.make_context(name, list(arguments))
    return dict(context.params)


@pytest.mark.parametrize("name", DEFAULTS)
def test_what_is_meant_where_nothing_is_said(name):
    given = {"shapes": [], "desk": []}.get(name, ["x"])
    found = parsed(name, *given)
    for option, usual in DEFAULTS[name].items():
        value = found[option]
        assert value == usual or (not value and not usual and not isinstance(usual, int)), option
    flags = [value for value in found.values() if isinstance(value, bool)]
    assert flags
    assert not any(flags)


@pytest.mark.parametrize(("name", "option"), RANGES)
def test_a_whole_number_reaches_from_the_least_to_the_most(name, option):
    least, most = RANGES[name, option]
    word = "--" + option.replace("_", "-")
    first = [] if name in ("shapes", "desk") else ["x"]
    for value in filter(lambda one: one is not None, (least, most)):
        assert parsed(name, *first, word, str(value))[option] == value
    for value in (least - 1, *(() if most is None else (most + 1,))):
        with pytest.raises(click.BadParameter, match="is not in the range"):
            parsed(name, *first, word, str(value))


def test_explain_may_stand_alone_before_a_file():
    def explained(*arguments: str) -> object:
        return parsed("positions", *arguments)["explain"]

    assert explained("x.toml") is None
    assert explained("--explain", "x.toml") == "short"
    assert explained("x.toml", "--explain") == "short"
    assert explained("--explain", "full", "x.toml") == "full"
    assert explained("--explain", "short", "x.toml") == "short"
    assert explained("--explain=full", "x.toml") == "full"
    assert parsed("positions", "--", "--explain")["tune"] == Path("--explain")
    assert parsed("positions", "--", "x.toml")["explain"] is None
    with pytest.raises(click.MissingParameter):
        parsed("positions")


def test_an_instrument_in_detail(accomp):
    said = accomp("instruments", "mandolin")
    banjo = accomp("instruments", "tenor-banjo")
    assert said.out.splitlines()[-1].startswith("courses of 2 strings, written at pitch, General")
    assert banjo.out.splitlines() == [
        "instrument   strings      frets  scale   title",
        "tenor-banjo  C3 G3 D4 A4  17     533 mm  Tenor banjo",
        "single strings, written an octave above its sound, General MIDI program 106",
    ]
    every = accomp("instruments").out.splitlines()
    assert every[0].split() == ["instrument", "strings", "frets", "scale", "title"]
    assert not any(line.startswith(("single", "courses")) for line in every)
    one = json.loads(accomp("instruments", "tenor-banjo", "--json").out)
    assert one in json.loads(accomp("instruments", "--json").out)
    assert (one["courses"], one["program"], one["frets"]) == (1, 106, 17)


def test_styles_are_listed_by_meter_and_name(accomp):
    rows = [line.split() for line in accomp("styles").out.splitlines()]
    assert rows[0] == ["style", "meter", "tempo", "title"]
    names = [row[0] for row in rows[1:]]
    meters = {name: find_style(name).meter for name in names}  # eighths first, halves last
    assert names == sorted(names, key=lambda name: (meters[name].unit, meters[name].count, name))
    assert (rows[1][1], rows[-1][1]) == ("3/8", "3/2")
    two = find_style("two-beat")
    (row,) = (row for row in rows if row[0] == "two-beat")
    assert row[2] == f"{two.tempo[0]:g}-{two.tempo[1]:g}"
    assert isinstance(json.loads(accomp("styles", "--json").out), list)
    assert json.loads(accomp("styles", "waltz", "--json").out)["name"] == "waltz"
    assert accomp("styles", "waltz").out.splitlines()[0].endswith("(waltz)")
    said = accomp("styles", "--write", "x.toml")
    assert said.err.endswith("Error: Name the style that is to be written.\n")
    said = accomp("instruments", "--write", "x.toml")
    assert said.err.endswith("Error: Name the instrument that is to be written.\n")


def test_one_that_cannot_be_read_hides_no_other(capsys):
    def named(name: str) -> str:
        if name == "bad":
            raise InputError(Problem("damaged", "bad.toml"))
        return name

    assert lists._readable(named, ["a", "bad", "b"]) == ["a", "b"]
    assert capsys.readouterr().err == "bad.toml: damaged\n"
    with pytest.raises(InputError):
        lists._readable(named, ["bad"])
    assert lists._readable(named, ["a"]) == ["a"]


def test_chords_are_looked_for_in_fifty_files(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    text = 'title = "T"\nkey = "C"\nmeter = "4/4"\ntempo = 120\n[sections]\nA = "| {} |"\n'
    for number in range(1, 52):
        (tmp_path / f"{number:02d}.toml").write_text("broken = ")
    (tmp_path / "50.toml").write_text(text.format("F"))
    (tmp_path / "51.toml").write_text(text.format("G"))
    ctx = click.Context(COMMANDS["shapes"])
    assert words.CHORDS(ctx, ctx.command.params[0], "") == ["F"]


@pytest.mark.slow
def test_shapes_say_how_many_there_are(accomp):
    from accomp.harmony import parse_chord
    from accomp.job.named import find_player
    from accomp.neck import chord_shapes

    player = find_player(Options())
    found = chord_shapes(player, parse_chord("C7"), best=3)
    assert shapes_heading(found, player) == (
        f"C7 (C E G Bb) on Tenor banjo: {found.of} shapes, the best 3"
    )
    every = chord_shapes(player, parse_chord("C7"))
    assert shapes_heading(every, player) == f"C7 (C E G Bb) on Tenor banjo: {every.of} shapes"
    said = accomp("shapes", "C7", "--best", "1")
    assert said.out.startswith(f"{shapes_heading(replace(found, shapes=found.shapes[:1]), player)}"
                               .replace("best 3", "best 1"))  # fmt: skip
    assert "more: --best" not in said.out
    dozen = accomp("shapes", "C7").out
    assert f"\n\nand {found.of - 12} more: --best {found.of} shows all.\n" in dozen
    assert dozen.endswith(f"\n\n{neck.LEGEND}\n")
    two = accomp("shapes", "C7", "F", "--json")
    assert [one["chord"] for one in json.loads(two.out)] == ["C7", "F"]
    assert json.loads(accomp("shapes", "C7", "--best", "2", "--json").out)["of"] == found.of
    assert len(json.loads(accomp("shapes", "C7", "--json").out)["shapes"]) == found.of
    lines = shapes_words(found)
    assert all(line.startswith("  ") and line.endswith(".") and ".." not in line for line in lines)
    both = accomp("shapes", "Hm", "C/", "C")
    assert both.code == 1
    assert len(both.err.splitlines()) == 2
    assert accomp("shapes").err.endswith("Error: Name one or more chords, as C7 or Gm7b5.\n")


def test_a_line_of_the_table_of_keys():
    plan = SimpleNamespace(name="third-top", frets=(2, 5), stretch_mm=76.5, cost=3.14, open=False)
    one = SimpleNamespace(plan=plan, slid_from=None)
    two = SimpleNamespace(
        plan=SimpleNamespace(**{**vars(plan), "open": True}), slid_from=("C", "D")
    )
    rows = SimpleNamespace(key="Bb", positions=[one, two])
    assert key_lines(rows) == [
        ("Bb", "third-top", "2-5", "76 mm", "3.1", "closed", ""),
        ("Bb", "third-top", "2-5", "76 mm", "3.1", "open", "C D"),
    ]  # fmt: skip
    none = SimpleNamespace(key="Bb", positions=[])
    assert key_lines(none) == [("Bb", "none", "", "", "", "", "")]


def test_which_files_a_command_reads_itself():
    costs = Options(costs=Path("c.toml"), repertoire=Path("r.toml"))
    assert _read_by(costs, Path("t.toml")) == [Path("t.toml"), Path("r.toml"), Path("c.toml")]
    named = Options(instrument="mine.toml", hand="large")
    assert _read_by(named) == [Path("mine.toml")]
    assert _read_by(Options(hand="mine.toml", instrument="x")) == [Path("mine.toml")]
    assert _read_by(Options()) == []


def test_positions_are_shown_in_one_key(accomp, tune):
    said = accomp("positions", tune(), "--key", "all")
    assert (said.code, said.err) == (
        2, "--key: positions are shown in one key; `accomp keys` shows all of them.\n",
    )  # fmt: skip
    found = accomp("positions", tune(), "--key", "D", "--position", "third-top").out.splitlines()
    assert found[0] == "Kettle Lane, in D, on Tenor banjo"
    assert found[1].startswith("To learn first: ")
    assert sum(line.startswith("third-top: ") for line in found) == 1


SHEET = b'X:1\nT:Two Gates\nM:4/4\nL:1/4\nK:G\n"G"GABc|"D7"d2c2|"G"G4|\n'


def test_what_was_read_is_said(accomp, tmp_path):
    (tmp_path / "a.abc").write_bytes(SHEET)
    said = accomp("read", "a.abc")
    assert said.out == "two-gates.toml\ntwo-gates-melody.musicxml\n"
    again = accomp("read", "a.abc")
    assert again.code == 1
    assert again.err == (
        "two-gates.toml: this file is there already, and is left as it is. Choose another folder, "
        "or have it replaced. (--out, --replace)\n"
    )
    told = json.loads(accomp("read", "a.abc", "--replace", "--json").out)
    assert told["files"] == ["two-gates.toml", "two-gates-melody.musicxml"]
    assert told["problems"] == []
    assert accomp("read", "a.abc", "-o", "new/mine.toml").out.splitlines()[0] == "new/mine.toml"
    (tmp_path / "two.abc").write_bytes(SHEET + b"\n" + SHEET.replace(b"X:1", b"X:2"))
    both = accomp("read", "two.abc", "-o", "mine.toml")
    assert (both.code, both.err) == (
        2, "--out: there are 2 tunes in it, and one file takes only one. Name a folder.\n",
    )  # fmt: skip
    bad = SHEET.replace(b'"D7"', b'"Hx"').replace(b'"G"', b'"Hx"')
    (tmp_path / "bad.abc").write_bytes(bad)
    wrong = accomp("read", "bad.abc", "-o", "bad")
    assert wrong.code == 1
    assert not (tmp_path / "bad").exists()
    piped = accomp("read", "bad.abc", "-o", "-")
    assert (piped.code, piped.out) == (1, "")
    assert isinstance(read.read, click.Command)


def test_a_page_is_said_where_it_lies(accomp, tune, monkeypatch):
    asked: list[tuple[str, Path]] = []

    def alone(kind, one, options, folder, report):
        asked.append((str(kind), folder))
        folder.mkdir(exist_ok=True)
        (folder / "a.html").write_text("<!doctype html>a")
        (folder / "b.html").write_text("b")
        files = tuple(
            MadeFile(name, "page", "full", None, "C", 120.0, "p", "s", "", "")
            for name in ("a.html", "b.html")
        )
        return Manifest(one.title, files, notices=("said",))

    monkeypatch.setattr("accomp.job.outside.make_alone", alone)
    path = tune()
    said = accomp("practice", path, "-o", "out")
    assert said.out.splitlines() == [
        f"out/{name}.html: open it in a browser. Start quietly." for name in "ab"
    ]
    assert said.err == "Note: said\n"
    assert asked == [("page", Path("out"))]
    piped = accomp("practice", path, "-o", "-")
    assert (piped.out, piped.err) == ("<!doctype html>a", "Note: said\n")
    named = accomp("practice", path, "-o", "there/mine.html")
    assert named.out == "there/mine.html: open it in a browser. Start quietly.\n"
    assert Path("there/mine.html").read_text() == "<!doctype html>a"
    told = json.loads(accomp("practice", path, "-o", "there/other.html", "--json").out)
    assert [file["path"] for file in told["files"]] == ["other.html"]


def test_other_machines_are_asked_for_all_tunes_at_once(tune, good, monkeypatch, capsys, tmp_path):
    import contextlib

    seen: list[object] = []

    @contextlib.contextmanager
    def connected(address):
        seen.append(address)
        yield "cluster"
        seen.append("closed")

    def library(tasks, options, cluster, tell):
        assert cluster == "cluster"
        for task in tasks:
            tell("a", 0.5)
            if task[0].title == "Bad":
                yield task, OutputError("full")
            else:
                yield task, Manifest(task[0].title, ())

    monkeypatch.setattr("accomp.job.cluster.connected", connected)
    monkeypatch.setattr("accomp.job.library.make_library", library)
    monkeypatch.chdir(tmp_path)
    paths = [tune(good.replace("Kettle Lane", name), f"{name}.toml") for name in ("A", "Bad", "B")]
    code = make_all(paths, Options(only=("midi",)), MakeSettings(cluster="host:1", shown=True))
    assert code == 1
    out, err = capsys.readouterr()
    assert out.splitlines() == [
        "A: 0 files in a", "  a/manifest.json", "B: 0 files in b", "  b/manifest.json",
    ]  # fmt: skip
    assert err.splitlines()[-1].endswith("2 of 3 tunes made.")
    assert "50%" in err
    assert seen == ["host:1", "closed"]


def test_what_kept_a_tune_from_being_made_is_told_of_its_file():
    known = OutputError("full")
    assert making._of_tune(known, Path("a.toml")) is known
    odd = making._of_tune(ZeroDivisionError("odd"), Path("a.toml"))
    assert isinstance(odd, InputError)
    assert str(odd).startswith("a.toml: accomp itself failed (ZeroDivisionError: odd).")


def test_a_book_is_told_with_its_tunes(accomp, tune, good, monkeypatch, tmp_path):
    from accomp.job.book import MadeBook

    asked: list[tuple[object, Path, dict[str, object]]] = []
    problems: tuple[Problem, ...] = ()

    def made(plan, target, *, progress, **how):
        asked.append((plan, target, how))
        file = MadeFile("own.pdf", "pdf", "book", "own", "", 0.0, "", "", "", "")
        return MadeBook(Manifest(plan.title, (file,), notices=("n",)), 2, problems)

    monkeypatch.setattr("accomp.job.book.make_book", made)
    (tmp_path / "tunes").mkdir()
    tune(name="tunes/a.toml")
    said = accomp("book", "tunes", "--player", "Bb", "--part", "tab", "--jobs", "2", "--again")
    assert said.out == "tunes: 2 tunes, 1 PDF in tunes-book\n  tunes-book/own.pdf\n"
    assert said.err == "Note: n\n"
    plan, target, how = asked[0]
    assert (plan.players, plan.part, plan.boxes, plan.paper) == (("Bb",), "tab", "top", "a4")
    assert target == Path("tunes-book")
    assert how == {"jobs": 2, "again": True, "replace": False}
    problems = (Problem("no", "a.toml"),)
    wrong = accomp("book", "tunes", "-o", "out")
    assert wrong.code == 1
    assert wrong.err == "Note: n\na.toml: no\nThe tunes with these errors are not in the book.\n"
    told = json.loads(accomp("book", "tunes", "-o", "out", "--json").out)
    assert told["problems"][0]["message"] == "no"
    monkeypatch.chdir(tmp_path / "tunes")
    accomp_book = accomp("book", tmp_path / "tunes")
    assert accomp_book.code == 1


def test_files_that_are_good_are_counted(accomp, tune):
    one = tune()
    two = tune(name="two.toml")
    assert accomp("check", one).out == "1 file is good.\n"
    assert accomp("check", one, two).out == "2 files are good.\n"
    bad = tune("title = 1\n[sections]\n", "bad.toml")
    wrong = accomp("check", bad, bad)
    assert wrong.code == 1
    assert len(set(wrong.err.splitlines())) == len(wrong.err.splitlines())
    assert json.loads(accomp("check", one, "--json").out) == []
