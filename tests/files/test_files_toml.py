"""Reading TOML files: what is refused, with its place and its remedy."""

import contextlib
import os

import pytest
from drawn import examples
from growth import grows_linearly, is_linear, tries
from hypothesis import given, settings
from hypothesis import strategies as st

from accomp.errors import InputError
from accomp.files import toml
from accomp.files.toml import nearest, parse_toml, read_toml


def problem_of(read, *arguments, **options):
    with pytest.raises(InputError) as caught:
        read(*arguments, **options)
    (problem,) = caught.value.problems
    return problem


def test_a_good_file_is_read_with_its_name(tmp_path):
    path = tmp_path / "a.toml"
    path.write_bytes('\ufeffx = "é"\r\n'.encode())  # a byte order mark, as some editors write
    document = read_toml(path)
    assert document.data == {"x": "é"}
    assert document.file == str(path)
    assert document.place("x") == (1, 5)


def test_a_missing_file_names_its_neighbour(tmp_path):
    (tmp_path / "harbour.toml").write_text("x = 1")
    problem = problem_of(read_toml, tmp_path / "harbor.toml")
    assert "no such file" in problem.message
    assert problem.file == str(tmp_path / "harbor.toml")
    assert problem.hint == f"Did you mean {str(tmp_path / 'harbour.toml')!r}?"
    assert problem_of(read_toml, tmp_path / "no" / "where.toml").hint == ""


def test_a_folder_is_no_file(tmp_path):
    assert "folder" in problem_of(read_toml, tmp_path).message


def test_no_permission_is_said(tmp_path, monkeypatch):
    path = tmp_path / "a.toml"
    path.write_text("x = 1")

    def refuse(*_, **__):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(os, "open", refuse)  # root may read everything, so it is played
    assert "permission" in problem_of(read_toml, path).message


def test_what_the_system_says_otherwise_is_passed_on(tmp_path):
    path = tmp_path / "a.toml"
    path.write_text("x = 1")
    assert "Not a directory" in problem_of(read_toml, path / "b.toml").message
    os.symlink(tmp_path / "loop", tmp_path / "loop")
    assert "cannot be read" in problem_of(read_toml, tmp_path / "loop").message
    assert "cannot be read" in problem_of(read_toml, tmp_path / "a\0b").message


@pytest.mark.parametrize(
    ("raw", "line", "column", "found"),
    [
        (b'title = "\xe9"', 1, 10, "0xe9"),  # Latin-1
        ("x = 1\ny = 'é".encode() + b"\xff'", 2, 7, "0xff"),
        ("x = 1".encode("utf-16"), 1, 1, "0xff"),
        (b"\x89PNG\r\n\x1a\n", 1, 1, "0x89"),
        (b"x = '\xc3", 1, 6, "0xc3"),  # cut off in the middle of a character
    ],
)
def test_what_is_not_utf8_is_placed(tmp_path, raw, line, column, found):
    path = tmp_path / "a.toml"
    path.write_bytes(raw)
    problem = problem_of(read_toml, path)
    assert (problem.line, problem.column, problem.found) == (line, column, found)
    assert "UTF-8" in problem.message
    assert "Save it as UTF-8" in problem.hint


def test_a_file_that_is_too_large_is_refused(tmp_path):
    path = tmp_path / "a.toml"
    path.write_bytes(b"#" * 10_000_000)
    problem = problem_of(read_toml, path)
    assert "larger than 1000 kB" in problem.message
    path.write_bytes(b"x=1\n#".ljust(1_000_001, b"#"))
    assert "larger" in problem_of(read_toml, path).message
    path.write_bytes(b"x=1\n#".ljust(1_000_000, b"#"))
    assert read_toml(path).data == {"x": 1}


@pytest.mark.parametrize("name", ["a.abc", "A.ABC", "a.musicxml", "a.xml", "a.mxl"])
def test_a_lead_sheet_is_shown_the_way_to_become_a_tune_file(tmp_path, name):
    path = tmp_path / name
    path.write_bytes(b"X:1\nT:Lamp Black\nK:D\n\xff")
    problem = problem_of(read_toml, path)
    assert (problem.file, problem.found) == (str(path), path.suffix)
    assert "lead sheet" in problem.message
    assert ".toml" in problem.expected
    assert problem.hint == "Make a tune file of it first."
    assert problem.helps == ("read_this_leadsheet",)


@pytest.mark.parametrize("raw", [b"", b"\n \r\n\t", b"\xef\xbb\xbf"])
def test_an_empty_file_is_said_to_be_empty(tmp_path, raw):
    path = tmp_path / "a.toml"
    path.write_bytes(raw)
    problem = problem_of(read_toml, path)
    assert "empty" in problem.message
    assert (problem.line, problem.column) == (1, 1)


@pytest.mark.parametrize(
    ("text", "line", "column", "words"),
    [
        ("title = A Tune\n", 1, 9, "invalid value"),
        ("x = 1\ny = \n", 2, 5, "invalid value"),
        ("x = 1\nx = 2\n", 2, 6, "overwrite"),
        ('a = "open\n', 1, 10, "illegal character"),
        ("a = [1, 2\n", 2, 1, "unclosed array"),
        ("[a]\n[a]\n", 2, 3, "declare"),
        ('a = """\nx', 2, 2, "unterminated string"),
        ("x = 1 y = 2", 1, 7, "expected newline"),
        ('a = "\\q"', 1, 8, "unescaped"),
        ("\x00", 1, 1, "invalid statement"),
    ],
)
def test_what_is_not_toml_is_placed(text, line, column, words):
    problem = problem_of(parse_toml, text, "a.toml")
    assert (problem.file, problem.line, problem.column) == ("a.toml", line, column)
    assert problem.message.startswith("this is not TOML: ")
    assert words in problem.message.lower()


def test_text_without_quotes_gets_the_remedy():
    assert "quotes" in problem_of(parse_toml, "title = A Tune\n", "").hint


N = 300_000


@pytest.mark.parametrize(
    "text",
    [
        "a=" + "[" * N,
        "a=" + "{a=" * N,
        "a" + ".a" * N + "=1",
        "a" + ' . "a"' * N + "=1",
        "[" + "a." * N + "a]",
        "x = 1\n[['a'" + ".'a'" * N + "]]",
        "a=" + "1" * N,
        "a=0x" + "F" * N,
        "a=1." + "1" * N,
        "a='" + "x" * N,
        'a="""' + "\\\n" * N + '"""',
        '"' * N,
        "x" * N,
        "'a'" * N,
    ],
    ids=range(14),
)
def test_huge_and_deep_files_are_read_or_refused(text):
    with contextlib.suppress(InputError):
        parse_toml(text, "")


@pytest.mark.parametrize(
    ("start", "again", "end"),
    [
        ("a=", "[", ""), ("a=", "{a=", ""), ("a=", "1", ""), ("a=0x", "F", ""), ("a=1.", "1", ""),
        ("a='", "x", ""), ("a='", "x", "'"), ('a="""', "\\\n", '"""'), ('a="""', "x\\\n", '"""'),
        ("", '"', ""), ("", "x", ""), ("", "'a'", ""), ("a=[", "1,", "]"), ("a=[", "[],", "]"),
        ("", "[[a]]\nb=1\n", ""), ("a=[", "{b=1},", "]"),
    ],
)  # fmt: skip
def test_a_text_takes_steps_as_it_is_long(start, again, end):
    def read(times):
        with contextlib.suppress(InputError):
            parse_toml(start + again * times + end, "")

    assert grows_linearly(read, 500)


@pytest.mark.parametrize(
    "text", ["a" + ".a" * 40 + "=1", "a" + ' . "a"' * 99 + "=1", "[" + "a." * 50 + "a]",
             "x = 1\n[['a'" + ".'a'" * 60 + "]]"],
)  # fmt: skip
def test_many_dots_are_refused_before_the_text_is_read(text, monkeypatch):
    """Whoever reads it makes a table of tables of each name, and keeps all their paths."""
    monkeypatch.delattr(toml, "tomllib")
    assert "joined by dots" in problem_of(parse_toml, text, "").message


@pytest.mark.parametrize("again", ["a", ".", ".-", "a.", "'a'.", '"', "'", "a . ", " ", "a.'"])
def test_dots_are_looked_for_in_steps_as_a_text_is_long(again):
    small, twice = (again * (size // len(again)) for size in (300, 600))
    assert is_linear(tries(toml._MANY_DOTS, small), tries(toml._MANY_DOTS, twice))


@settings(max_examples=examples(200))
@given(st.binary(max_size=200) | st.text(max_size=200).map(str.encode))
def test_whatever_the_bytes_only_our_error_comes(tmp_path_factory, raw):
    path = tmp_path_factory.getbasetemp() / "fuzz.toml"
    path.write_bytes(raw)
    try:
        document = read_toml(path)
    except InputError:
        return
    assert isinstance(document.data, dict)


@settings(max_examples=examples(300))
@given(st.lists(st.sampled_from([*"[]{}\"'=.,#\\\n ab1:-", '"""', "'''", "[["]), max_size=30))
def test_whatever_toml_accepts_has_places(signs):
    try:
        document = parse_toml("".join(signs), "")
    except InputError:
        return
    pending = [((key,), value) for key, value in document.data.items()]
    for path, value in pending:
        line, column = document.place(*path)
        assert line >= 1
        assert column >= 1
        if isinstance(value, str):
            text = document.text.split("\n")[line - 1]
            assert text[column - 1] in "\"'" or path not in document.places.values
        if isinstance(value, dict):
            pending += [((*path, key), inner) for key, inner in value.items()]
        if isinstance(value, list):
            pending += [((*path, at), inner) for at, inner in enumerate(value)]


def test_nearest_is_deaf_to_capitals_and_silent_when_nothing_is_near():
    assert nearest("Tempo", ["key", "tempo"]) == "tempo"
    assert nearest("bb", ["Bb", "F"]) == "Bb"
    assert nearest("zzz", ["key", "tempo"]) is None
    assert nearest("", ["key"]) is None
    assert nearest("x", []) is None


def test_a_problem_says_place_message_and_remedy():
    document = parse_toml('[sections]\nA = "| F | H7 |"\n', "t.toml")
    problem = document.problem("'H7' is wrong.", "sections", "A", at=6, hint="Write it.")
    assert str(problem) == "t.toml:2:12: 'H7' is wrong. Write it."
    assert document.problem("x", "sections", "A", at="key").column == 1


@pytest.mark.parametrize("digits", ["9" * 5000, "-" + "9" * 6000, "1_" * 5000 + "1"])
def test_a_number_of_thousands_of_digits_is_told_with_its_place(digits):
    with pytest.raises(InputError) as caught:
        parse_toml(f'a = "1"\nfrets = {digits}\n', "x.toml")
    (problem,) = caught.value.problems
    assert (problem.line, problem.message) == (2, "this number has far too many digits.")
    assert len(str(problem)) < 100
