"""TOML at its bounds, what a file is, data and paths of programs; sentences are ours."""

from __future__ import annotations

import stat
from fractions import Fraction
from pathlib import Path, PurePosixPath
from types import SimpleNamespace

import pytest

from accomp.errors import InputError, Problem
from accomp.files.given import GivenData, plain_data
from accomp.files.kinds import kind_of
from accomp.files.paths import as_path, taken_path
from accomp.files.places import value_end
from accomp.files.plain import STDIN, sort_of
from accomp.files.table import Table, TextError
from accomp.files.text import counted
from accomp.files.toml import parse_toml, quoted, read_toml
from accomp.files.values import WrongValueError

# --- TOML ----------------------------------------------------------------------------------------


def problem(text: str) -> Problem:
    with pytest.raises(InputError) as caught:
        parse_toml(text, "t.toml")
    (one,) = caught.value.problems
    return one


def test_keys_of_very_many_names() -> None:
    assert parse_toml("a" + ".a" * 39 + " = 1", "").data
    for key in ("a" + ".a" * 40, '"a"' + ' . "a"' * 40, "[x" + ".y" * 40 + "]"):
        one = problem(f"\nx = 1\n{key} = 1")
        assert (one.line, one.message, one.expected) == (
            3, "this is a key of far too many names joined by dots.", "a plain key",
        )  # fmt: skip
        assert one.column == (2 if key[0] == "[" else 1)
        assert len(one.found) == 40


def test_numbers_of_very_many_digits() -> None:
    assert parse_toml("a = " + "9" * 4300, "").data
    one = problem("\nb = 1\na = " + "9" * 4301)
    assert (one.line, one.column, one.found) == (3, 5, "9" * 40 + "...")
    assert (one.message, one.expected) == (
        "this number has far too many digits.", "a shorter number",
    )  # fmt: skip


QUOTES = 'Text stands in quotes: title = "A Tune".'


@pytest.mark.parametrize(
    ("text", "place", "found", "hint"),
    [
        ("a = b", (1, 5), "a = b", QUOTES), ("x = 1\na = [", (2, 6), "a = [", QUOTES),
        ("a = 1 " + "x" * 60, (1, 7), f"a = 1 {'x' * 34}", ""), ("a = '''\nx", (2, 2), "x", ""),
        ("a = [\n", (2, 1), "", QUOTES),
    ],
)  # fmt: skip
def test_what_is_not_toml(text: str, place: tuple[int, int], found: str, hint: str) -> None:
    one = problem(text)
    assert (one.line, one.column, one.found, one.hint) == (*place, found, hint)
    assert one.expected == "TOML"
    assert one.message.startswith("this is not TOML: ")
    assert one.message.endswith(f" in {found!r}." if found else ".")


def test_places_on_the_first_lines() -> None:
    for before, line in (("", 1), ("\n", 2), ("\n\n", 3)):
        for text, column in (("a" + ".a" * 40 + " = 1", 1), ("a = " + "9" * 4301, 5)):
            one = problem(before + text)
            assert (one.line, one.column) == (line, column)


def test_an_empty_text() -> None:
    assert problem(" \n\t") == Problem("the file is empty.", "t.toml", 1, 1, expected="TOML")


def test_every_sign_can_stand_in_a_quoted_text() -> None:
    signs = "".join(map(chr, range(0x100))) + "é漢🪕\u2028"
    assert parse_toml(f"a = {quoted(signs)}", "").data == {"a": signs}
    assert quoted('\x1f\x7f\x80 \x08\t\n\r"\\') == '"\\u001F\\u007F\x80 \\b\\t\\n\\r\\"\\\\"'


def test_sizes_of_files(tmp_path: Path) -> None:
    path = tmp_path / "x.toml"
    path.write_bytes(b"x = 1 #" + b"-" * 999_993)
    assert read_toml(path).data == {"x": 1}
    path.write_bytes(b"x = 1 #" + b"-" * 999_994)
    with pytest.raises(InputError) as caught:
        read_toml(path)
    assert caught.value.problems == (
        Problem(
            "the file is larger than 1000 kB, far more than any tune needs.",
            str(path),
            hint="Is it the right file?",
        ),
    )


@pytest.mark.parametrize(
    ("text", "end"),
    [
        ("a = 1 # x\n", "1"), ('a = "x" \n', '"x"'), ("a = [1,\n 2] # x", "[1,\n 2]"),
        ("a = { b = 1, c = [] }\n", "{ b = 1, c = [] }"), ("a = 1979-05-27 07:32:00\n",
         "1979-05-27 07:32:00"), ('a = """x"""""\n', '"""x"""""'), ("a = '#'", "'#'"),
        ("a = true", "true"),
    ],
)  # fmt: skip
def test_where_a_value_ends(text: str, end: str) -> None:
    start = parse_toml(text, "").places.values["a",]
    assert text[start : value_end(text, start)] == end


def test_places_inside_of_texts_end_with_them() -> None:
    document = parse_toml('a = "xyz"\nb = 3\n[t]\n', "")
    assert [document.inside(at, "a") for at in (-1, 0, 2, 3, 9)] == [
        (1, 6), (1, 6), (1, 8), (1, 9), (1, 9),
    ]  # fmt: skip
    assert document.inside(1, "b") == (2, 5)
    assert document.place("t", "none") == (3, 2)
    assert document.place() == (1, 1)


# --- what a file is ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("form = 1\nbass = 1", "tune"),  # of as many words each, the first
        ("bass = 1\ndrums = 1\nform = 1", "style"),
        ("tempo = 1", "tune"), ("tempo = [1, 2]", "style"), ("tempo = 1\nbass = 1", "tune"),
        ("tempo = [1]\nform = 1", "tune"), ("tempo = [1]\nbass = 1\nform = 1", "style"),
        ('meter = "4/4"', "tune"), ("meter = 4", None), ('meter = "4/4"\nbass = 1', "style"),
        ('meter = "4/4"\ntempo = [1]', "style"), ('meter = "4/4"\nfrets = 1', "tune"),
        ("strings = 1", "instrument"), ("strings = 1\nchord = 1", "repertoire"),
        ("strings = 1\nshape = 1", "repertoire"), ("shape = {}", "costs"),
        ("shape = { a = 1 }", "costs"), ("shape = { frets = 1 }", "repertoire"),
        ("shape = { movable = 1 }", "repertoire"), ("shape = []", "repertoire"),
        ("change = 1\nshape = { a = 1 }\nfrets = 1", "costs"), ("a = 1", None),
    ],
)  # fmt: skip
def test_what_a_file_is(text: str, kind: str | None) -> None:
    assert kind_of(parse_toml(text, "x.toml")) == kind
    book = kind_of(parse_toml(text, "in/book.toml"))
    assert book == (kind or "book") or (text == "strings = 1" and book == "book")


# --- data and paths in programs ------------------------------------------------------------------


def test_data_of_a_program_as_a_file_would_have_it() -> None:
    given = {
        1: (1, [2.5, "x"], b"y"),
        "path": PurePosixPath("a/b"),
        "whole": Fraction(4, 2),
        "third": Fraction(1, 3),
        "more": {"a": True, "b": None},
    }
    assert plain_data(given) == {
        "1": [1, [2.5, "x"], b"y"],
        "path": "a/b",
        "whole": 2,
        "third": "1/3",
        "more": {"a": True, "b": None},
    }
    assert isinstance(plain_data(Fraction(2)), int)


def test_mistakes_in_data_stand_in_their_text() -> None:
    data = GivenData.of({"a": {"b": "xy\nz"}, "c": 1}, {("a", "b"): "bars"})
    assert data.place("a") == data.key_place("c") == (0, 0)
    assert [data.inside(at, "a", "b") for at in range(5)] == [
        (1, 1),
        (1, 2),
        (1, 3),
        (2, 1),
        (2, 2),
    ]
    inside = data.problem("no.", "a", "b", at=3)
    assert (inside.file, inside.line, inside.column) == ("bars", 2, 1)
    assert data.problem("no.", "a", "b").file == ""
    unnamed = GivenData.of({"a": {"b": "xy"}}, {})
    assert unnamed.problem("no.", "a", "b", at=0).file == "a.b"
    table = Table.of(data).table("a")
    assert table is not None
    table.expects(["b"])
    table.text_error(TextError(1, "no."), "b")
    assert str(table.findings.problems[0]) == "bars:1:2: no."


@pytest.mark.parametrize(
    ("found", "this", "kind"),
    [
        ("", "an empty text", "str"), (3, "3", "int"), (None, "None", "NoneType"),
        (b"x", "b'x'", "bytes"), ("a\0b", r"'a\x00b'", "str"), ("\ud800", r"'\ud800'", "str"),
        (["x"], "a list", "list"),
    ],
)  # fmt: skip
def test_what_is_no_path(found: object, this: str, kind: str) -> None:
    with pytest.raises(InputError) as caught:
        as_path(found, "the book")
    assert caught.value.problems == (
        Problem(
            f"the path of the book is needed here, and this is {this}.",
            found=kind,
            expected="a text or a path object",
            hint='Write it as "folder/name".',
        ),
    )
    with pytest.raises(WrongValueError) as wrong:
        taken_path(found)
    odd = isinstance(found, str) and found != ""
    assert wrong.value.instead == ("is a name that no folder can hold" if odd else "")
    assert as_path("a/b") == as_path(PurePosixPath("a/b")) == Path("a/b")
    assert taken_path("\udcff") == Path("\udcff")  # a byte that is no UTF-8


@pytest.mark.parametrize(
    ("mode", "sort"),
    [
        (stat.S_IFREG, "a plain file"), (stat.S_IFDIR, "a folder"), (stat.S_IFLNK, "a link"),
        (stat.S_IFIFO, "a pipe"), (stat.S_IFSOCK, "a socket"), (stat.S_IFCHR, "a device"),
        (stat.S_IFBLK, "a device"), (0, "no file"),
    ],
)  # fmt: skip
def test_sorts_of_things(mode: int, sort: str) -> None:
    assert sort_of(SimpleNamespace(st_mode=mode | 0o644)) == sort  # type: ignore[arg-type]
    assert Path("-") == STDIN


def test_numbers_of_things() -> None:
    assert [counted(number, "bar") for number in (0, 1, 2)] == ["0 bars", "1 bar", "2 bars"]
    assert [counted(number, "chorus", "choruses") for number in (0, 1, 2)] == [
        "0 choruses", "1 chorus", "2 choruses",
    ]  # fmt: skip
