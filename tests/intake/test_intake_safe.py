"""Files that are damaged, hostile or no lead sheets at all: one clear error, nothing else."""

from __future__ import annotations

import zipfile
from pathlib import Path

import pytest
from drawn import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from leadsheet_made import score

from accomp.errors import InputError
from accomp.intake import read_leadsheet, source
from accomp.tune.read import parse_tune

BOMB = """<?xml version="1.0"?>
<!DOCTYPE score-partwise [
 <!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;">
]>
<score-partwise><movement-title>&b;</movement-title></score-partwise>"""
OUTSIDE = """<?xml version="1.0"?>
<!DOCTYPE score-partwise [<!ENTITY x SYSTEM "file:///etc/hostname">]>
<score-partwise><movement-title>&x;</movement-title></score-partwise>"""


def problem(path: Path, words: str) -> InputError:
    with pytest.raises(InputError, match=words) as caught:
        read_leadsheet(path)
    (only,) = caught.value.problems
    assert only.file == str(path)
    assert only.hint
    assert min(only.line, only.column) >= 0, "0 where no place is known"
    return caught.value


@pytest.mark.parametrize("text", [BOMB, OUTSIDE])
def test_entities_are_refused(tmp_path: Path, text: str) -> None:
    path = tmp_path / "x.musicxml"
    path.write_text(text, encoding="utf-8")
    problem(path, "it defines or uses entities")


def test_what_is_no_file_is_told_whatever_its_name(tmp_path: Path) -> None:
    (tmp_path / "sheets").mkdir()
    problem(tmp_path / "sheets", "this is a folder")
    problem(tmp_path / "gone", "there is no such file")
    (tmp_path / "sheet").write_bytes(b"X:1")
    problem(tmp_path / "sheet", "it has no ending")


def test_a_document_type_is_never_fetched(tmp_path: Path) -> None:
    secret = tmp_path / "secret.dtd"
    secret.write_text('<!ENTITY stolen "stolen words">', encoding="utf-8")
    path = tmp_path / "x.musicxml"
    doctype = f'<!DOCTYPE score-partwise SYSTEM "{secret.as_uri()}">'
    text = score("C").replace('encoding="UTF-8"?>', f'encoding="UTF-8"?>{doctype}')
    path.write_text(text, encoding="utf-8")
    (tune,) = read_leadsheet(path)
    assert tune.title == "Made Up"
    path.write_text(text.replace("Made Up", "&stolen;"), encoding="utf-8")
    problem(path, "entit")


def test_archive_that_unpacks_without_end(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "bomb.mxl"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("score.xml", score("C").replace("Made Up", "a" * 5_000_000))
    monkeypatch.setattr(source, "MOST_XML", 1_000_000)
    error = problem(path, "it unpacks to more than 1,000,000 bytes. Is this the right file?")
    assert error.problems[0].expected == "at most 1,000,000 bytes"


def test_archive_of_very_many_files(tmp_path: Path) -> None:
    path = tmp_path / "many.mxl"
    with zipfile.ZipFile(path, "w") as archive:
        for number in range(1001):
            archive.writestr(f"{number}.txt", "")
    problem(path, "it holds more than 1000 files")


def test_archive_without_a_score(tmp_path: Path) -> None:
    path = tmp_path / "none.mxl"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("picture.png", "x")
    problem(path, "no score is in this archive")


def test_archive_with_a_container(tmp_path: Path) -> None:
    path = tmp_path / "two.mxl"
    container = '<container><rootfiles><rootfile full-path="b.xml"/></rootfiles></container>'
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("a.xml", score("C").replace("Made Up", "First"))
        archive.writestr("b.xml", score("C").replace("Made Up", "Second"))
        archive.writestr("META-INF/container.xml", container)
    (tune,) = read_leadsheet(path)
    assert tune.title == "Second"


@pytest.mark.parametrize("cut", [10, 100, 300])
def test_damaged_archive(tmp_path: Path, cut: int) -> None:
    whole = tmp_path / "whole.mxl"
    with zipfile.ZipFile(whole, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("score.xml", score(*["C"] * 40))
    path = tmp_path / "cut.mxl"
    path.write_bytes(whole.read_bytes()[:cut])
    problem(path, "it is a damaged archive")


def test_archive_whose_bytes_are_wrong(tmp_path: Path) -> None:
    path = tmp_path / "wrong.mxl"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_STORED) as archive:
        archive.writestr("score.xml", score("C"))
    data = path.read_bytes()
    path.write_bytes(data.replace(b"Made Up", b"Made Xp"))
    problem(path, "it is a damaged archive")  # the checksum tells


@pytest.mark.parametrize(
    ("name", "data", "words"),
    [
        ("x.musicxml", b"", "it is empty"),
        ("x.abc", b"  \n", "it is empty"),
        ("x.musicxml", b"<html><body/></html>", "this is XML and not MusicXML: .* <html>"),
        ("x.musicxml", b"<score-partwise>", "this is not well-formed XML"),
        ("x.musicxml", b"\x00\x01\x02", "this is not well-formed XML"),
        ("x.musicxml", b"<score-partwise/>", "it has no bars"),
        ("x.abc", b"X:1\0", "this is not text"),
        ("x.txt", b"X:1\n", "this is not a lead sheet by its name"),
    ],
)
def test_not_a_lead_sheet(tmp_path: Path, name: str, data: bytes, words: str) -> None:
    path = tmp_path / name
    path.write_bytes(data)
    problem(path, words)


def test_place_of_bad_xml(tmp_path: Path) -> None:
    path = tmp_path / "x.musicxml"
    path.write_text("<score-partwise>\n<part>\n</wrong>", encoding="utf-8")
    error = problem(path, "not well-formed")
    assert error.problems[0].line == 3


def test_files_that_cannot_be_opened(tmp_path: Path) -> None:
    problem(tmp_path / "none.abc", "there is no such file")
    folder = tmp_path / "folder.abc"
    folder.mkdir()
    problem(folder, "this is a folder")
    problem(tmp_path / ("x" * 300 + ".abc"), "it cannot be read")


def test_file_without_permission(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "locked.abc"
    path.write_text("X:1\n", encoding="utf-8")

    def refuse(*args: object, **kwargs: object) -> None:
        raise PermissionError(13, "Permission denied")  # the tests may run as root

    monkeypatch.setattr("os.open", refuse)
    problem(path, "it may not be read")


def test_file_that_is_too_large(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(source, "MOST_TEXT", 100)
    path = tmp_path / "large.abc"
    path.write_bytes(b"X:1\n" * 100)
    problem(path, "it holds more than 100 bytes")


def test_deep_nesting_is_an_error(tmp_path: Path) -> None:
    path = tmp_path / "deep.musicxml"
    path.write_text("<score-partwise>" + "<a>" * 5000, encoding="utf-8")
    problem(path, "not well-formed XML")


# --- any text at all -----------------------------------------------------------------------------

_ABC = st.lists(
    st.sampled_from(
        [
            *("X:1\n", "T:a\n", "M:4/4\n", "M:6/8\n", "M:C|\n", "L:1/8\n", "K:C\n", "K:F#m\n"),
            *("K:\n", "P:A\n", "P:AB2\n", "V:1\n", "[V:2]", "[M:3/4]", "[K:Eb]", "Q:120\n", "\n"),
            *(
                '"C"',
                '"Am7/g"',
                '"N.C."',
                '"?"',
                '"D.C."',
                '"',
                "C",
                "d2",
                "e/",
                "F,3/2",
                "z",
                "Z3",
            ),
            *(
                "|",
                "||",
                "|:",
                ":|",
                "::",
                "[1",
                "|2",
                "[3,4",
                "|]",
                "(3",
                "(5:4:2",
                ">",
                "<<",
                "-",
            ),
            *("[CEG]2", "[", "]", "{c}", "!fine!", "!D.S.!", "!segno!", "&", "%x\n", "^", "=", "y"),
            *(" ", "9", "/", "²", "999999", "\\\n", "w:la\n", "\u2028", "é", "😀"),
        ]
    ),
    max_size=60,
).map("".join)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One for all examples of a test, each of which writes over the one before."""
    return tmp_path_factory.mktemp("any")


@given(_ABC)
@settings(max_examples=examples(300))
def test_any_abc_is_tunes_or_an_input_error(folder: Path, text: str) -> None:
    path = folder / "any.abc"
    path.write_text("X:1\nK:C\n" + text, encoding="utf-8")
    check(path)


_WORDS = st.lists(
    st.sampled_from(
        [
            *("C", "F:dominant", "Bb:minor@2", "G@-3", "A@99", "D:Tristan", "NC", ":Q1", ":Q3"),
            *(":Q7", "|:", ":|", "1.", "2.", "1,3.", "1]", "2]", "||", "[A]", "[B]", "[key]"),
            *("Segno", "Coda", "Fine", "ToCoda", "DC", "DS", "DSCoda", "DCFine"),
        ]
    ),
    max_size=5,
).map(" ".join)


@given(
    st.lists(_WORDS, min_size=1, max_size=8),
    st.sampled_from(["4/4", "3/4", "6/8", "2/2", "7/8", "12/8"]),
    st.lists(
        st.tuples(st.integers(0, 4000), st.sampled_from(["<", "9", "", "-", "x"])), max_size=3
    ),
)
@settings(max_examples=examples(300))
def test_any_musicxml_is_a_tune_or_an_input_error(
    folder: Path, measures: list[str], meter: str, slips: list[tuple[int, str]]
) -> None:
    text = score(*measures, meter=meter)
    for at, sign in slips:
        text = text[:at] + sign + text[at + 1 :]
    path = folder / "any.musicxml"
    path.write_text(text, encoding="utf-8")
    check(path)


@pytest.mark.parametrize("ending", ["abc", "musicxml", "mxl"])
@given(st.binary(max_size=200))
@settings(max_examples=examples(60))
def test_any_bytes_are_an_input_error(folder: Path, ending: str, data: bytes) -> None:
    path = folder / f"any.{ending}"
    path.write_bytes(data)
    check(path)


# Signs that open something, and nothing that closes it; how many steps that takes is counted in
# test_intake_growth.py.
@pytest.mark.parametrize(
    "text",
    [
        "{" * 50_000,
        "[" * 50_000,
        "[a:" * 20_000,
        '"' * 50_001,
        "!a" * 30_000,
        "[V:1 " * 10_000,
        '"C"c/9999 ' * 5_000,
        "|:[1c" * 10_000,
        "c" + "9" * 50_000,
        "c" + "," * 50_000,
    ],
    ids=lambda text: text[:5],
)
def test_long_nonsense_is_read_or_refused(tmp_path: Path, text: str) -> None:
    path = tmp_path / "long.abc"
    path.write_text("X:1\nM:4/4\nK:C\n" + text + "\n", encoding="utf-8")
    check(path)


def check(path: Path) -> None:
    """Reads, and then the tune file says the same; or one of our errors."""
    try:
        tunes = read_leadsheet(path)
    except InputError:
        return
    for tune in tunes:
        if tune.tune is not None:
            assert parse_tune(tune.toml) == tune.tune
        else:
            assert tune.problems
