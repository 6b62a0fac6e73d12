"""Files before they are read: sizes at their bounds, what is told of each, which member counts.

Limits and sentences are ours.
"""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

import pytest
from leadsheet_made import score

from accomp.errors import InputError, Problem
from accomp.files import plain
from accomp.intake import read, source, written
from accomp.intake.read import read_leadsheet, read_melody, read_musicxml_data

ABC = 'X:1\nT:T\nM:4/4\nL:1/4\nK:C\n"C"C4|\n'


def refused(path: Path, data: bytes | None = None) -> Problem:
    if data is not None:
        path.write_bytes(data)
    with pytest.raises(InputError) as caught:
        read_leadsheet(path)
    (problem,) = caught.value.problems
    assert problem.file == str(path)
    return problem


def told(problem: Problem) -> tuple[str, str, str, str]:
    return problem.message, problem.found, problem.expected, problem.hint


SHEET, AGAIN = "a lead sheet", "Is this the right file?"
EXPORT = "Export it again from the program it comes from."


def test_whole_sentences_of_files_that_are_none(tmp_path: Path) -> None:
    folder = tmp_path / "folder.abc"
    folder.mkdir()
    assert told(refused(folder)) == ("this is a folder.", "a folder", SHEET, "Name a file in it.")
    assert told(refused(tmp_path / "none.abc")) == (
        "there is no such file.", "nothing", SHEET, "Look at its name and folder.",
    )  # fmt: skip
    assert told(refused(tmp_path / "x.abc", b" \n")) == (
        "it is empty.", "nothing", SHEET, "Copy it anew.",
    )  # fmt: skip
    assert told(refused(tmp_path / "y.abc", b"X:1\0")) == (
        "this is not text.", "zero bytes", "ABC text", AGAIN,
    )  # fmt: skip
    problem = refused(tmp_path / "x.xml", b"\n<html/>")
    assert told(problem) == (
        "this is XML and not MusicXML: it begins with <html>.", "<html>",
        "<score-partwise> or <score-timewise>", AGAIN,
    )  # fmt: skip
    assert (problem.line, problem.column) == (2, 0)
    problem = refused(tmp_path / "y.xml", b"<a>\n</b>")
    assert problem.message.startswith("this is not well-formed XML: ")
    assert problem.message == f"this is not well-formed XML: {problem.found}."
    assert (problem.line, problem.column) == (2, 5)
    assert (problem.expected, problem.hint) == ("well-formed MusicXML", EXPORT)
    problem = refused(tmp_path / "x.mid", b"x")
    assert told(problem) == (
        "this is not a lead sheet by its name: it ends in '.mid'.", ".mid",
        "a name that ends in .musicxml, .xml, .mxl, .abc",
        "Lead sheets are read from MusicXML and ABC.",
    )  # fmt: skip
    assert refused(tmp_path / "x", b"x").message == (
        "this is not a lead sheet by its name: it has no ending."
    )


def test_sizes_at_their_bounds(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "x.abc"
    size = len(ABC)
    monkeypatch.setattr(source, "MOST_TEXT", size)
    path.write_text(ABC)
    assert read_leadsheet(path)[0].title == "T"
    assert told(refused(path, (ABC + " ").encode())) == (
        f"it holds more than {size} bytes, too many for a lead sheet.",
        f"more than {size} bytes", f"at most {size} bytes", AGAIN,
    )  # fmt: skip
    monkeypatch.setattr(source, "MOST_TEXT", 1000)
    assert refused(path, b"x" * 1001).found == "more than 1,000 bytes"
    text = score("C").encode()
    path = tmp_path / "x.musicxml"
    most = max(text.count(b"<"), text.count(b"="))
    monkeypatch.setattr(source, "MOST_TAGS", most)
    path.write_bytes(text)
    assert read_leadsheet(path)[0].title == "Made Up"
    monkeypatch.setattr(source, "MOST_TAGS", most - 1)
    assert told(refused(path)) == (
        f"it has more than {most - 1} tags or attributes, too many for a lead sheet.",
        f"{most} tags or attributes", f"at most {most - 1}",
        "Export only the part with the chord symbols.",
    )  # fmt: skip


def test_how_much_is_read_of_whole_files() -> None:
    """In bytes, tags, bars and texts that are no chords; from standard input more than of any."""
    assert (source.MOST_TEXT, source.MOST_XML, source.MOST_ARCHIVE) == (2e6, 40e6, 20e6)
    assert source.MOST_TAGS == 1e6
    assert (written.MOST_BARS_IN_ALL, written.MOST_LOST_IN_ALL) == (200_000, 3000)
    assert plain.MOST_FROM_STDIN == 64e6


def test_entities_are_refused_defined_or_used(tmp_path: Path) -> None:
    text = score("C").replace("?>", "?>\n<!DOCTYPE score-partwise{}>", 1)
    defined = ' [<!ENTITY a "x">]'
    message = "it defines or uses entities of its own, which a lead sheet does not need and which "
    assert refused(tmp_path / "x.xml", text.replace("{}", defined).encode()).message == (
        f"{message}can do harm."
    )
    (tmp_path / "x.xml").write_text(text.replace("{}", ""))
    assert read_leadsheet(tmp_path / "x.xml")[0].title == "Made Up"


def packed(path: Path, members: dict[str, str]) -> bytes:
    with zipfile.ZipFile(path, "w") as archive:
        for name, text in members.items():
            archive.writestr(name, text)
    return path.read_bytes()


def test_archives_at_their_bounds(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "x.mxl"
    text = score("C")
    data = packed(path, {"a.xml": text, **{f"{at}.txt": "" for at in range(999)}})
    assert read_leadsheet(path)[0].title == "Made Up"
    monkeypatch.setattr(source, "MOST_ARCHIVE", len(data))
    assert read_leadsheet(path)[0].title == "Made Up"
    monkeypatch.setattr(source, "MOST_ARCHIVE", len(data) - 1)
    assert refused(path).message.startswith(f"it holds more than {len(data) - 1:,} bytes")
    monkeypatch.undo()
    packed(path, {"a.xml": text, **{f"{at}.txt": "" for at in range(1000)}})
    assert told(refused(path)) == (
        "it holds more than 1000 files.", "more than 1000 files", "one score", AGAIN,
    )  # fmt: skip
    packed(path, {"a.xml": text})
    monkeypatch.setattr(source, "MOST_XML", len(text.encode()))
    assert len(path.read_bytes()) > source.MOST_XML
    # what stands packed in a file is no longer than what it unpacks to
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("a.xml", text)
    assert read_leadsheet(path)[0].title == "Made Up"
    monkeypatch.setattr(source, "MOST_XML", len(text.encode()) - 1)
    most = f"{len(text.encode()) - 1:,}"
    assert told(refused(path)) == (
        f"it unpacks to more than {most} bytes.", f"more than {most} bytes",
        f"at most {most} bytes", AGAIN,
    )  # fmt: skip


def test_a_container_may_be_large_but_not_endless(tmp_path: Path) -> None:
    path = tmp_path / "x.mxl"
    root = '<rootfile full-path="b.xml"/>'
    frame = f"<c>{root}<!--{{}}--></c>"
    fill = 100_000 - len(frame.format(""))
    inside = {"a.xml": score("C"), "b.xml": score("C").replace("Made Up", "Second")}
    packed(path, {**inside, "META-INF/container.xml": frame.format("x" * fill)})
    assert read_leadsheet(path)[0].title == "Second"
    packed(path, {**inside, "META-INF/container.xml": frame.format("x" * (fill + 1))})
    assert refused(path).found == "more than 100,000 bytes"


@pytest.mark.parametrize(
    ("container", "title"),
    [
        ('<rootfile full-path="b.xml"/>', "B"),
        ('<rootfile full-path="b.xml" media-type="application/vnd.recordare.musicxml+xml"/>', "B"),
        ('<rootfile full-path="b.xml" media-type="application/pdf"/>', "A"),
        ('<rootfile full-path="none.xml"/>', "A"),
        ('<rootfile full-path="none.xml"/><rootfile full-path="b.xml"/>', "B"),
        ('<rootfile full-path="b.pdf" media-type="x"/><rootfile full-path="b.xml"/>', "B"),
        ('<rootfile full-path="b.xml"/><rootfile full-path="a.xml"/>', "B"),
        ("", "A"),
        (None, "A"),
    ],
)
def test_which_member_is_the_score(tmp_path: Path, container: str | None, title: str) -> None:
    members = {"b.pdf": "x", "META-INF/x.xml": "x", "a.xml": score("C").replace("Made Up", "A")}
    members["b.xml"] = score("C").replace("Made Up", "B")
    if container is not None:
        members["META-INF/container.xml"] = f"<container>{container}</container>"
    packed(tmp_path / "x.mxl", members)
    assert read_leadsheet(tmp_path / "x.mxl")[0].title == title


@pytest.mark.parametrize("name", ["x.musicxml", "X.MUSICXML", "x.xml", "in/x.Xml"])
def test_scores_by_their_ending(tmp_path: Path, name: str) -> None:
    packed(tmp_path / "x.mxl", {"x.txt": "x", name: score("C")})
    assert read_leadsheet(tmp_path / "x.mxl")[0].title == "Made Up"


def test_an_archive_without_a_score_names_what_is_in_it(tmp_path: Path) -> None:
    path = tmp_path / "x.mxl"
    members = {"META-INF/x.xml": "x", "a.txt": "x"}
    packed(path, members)
    expected, hint = "a .musicxml or .xml file in it", AGAIN
    assert told(refused(path)) == (
        "no score is in this archive.", "META-INF/x.xml, a.txt", expected, hint,
    )  # fmt: skip
    # a list of names is shown up to 60 characters
    packed(path, {"x" * 60: ""})
    assert refused(path).found == "x" * 60
    packed(path, {"x" * 61: ""})
    assert refused(path).found == "x" * 57 + "..."
    packed(path, {"a\tb": ""})
    assert refused(path).found == "a b"


def test_text_of_every_kind_of_line_end(tmp_path: Path) -> None:
    path = tmp_path / "x.abc"
    for end in ("\n", "\r\n", "\r"):
        path.write_bytes(b"\xef\xbb\xbf" + ABC.replace("\n", end).encode())
        (tune,) = read_leadsheet(path)
        assert tune.title == "T"
        assert tune.tune is not None


# --- what is made of the tunes -------------------------------------------------------------------


def test_what_comes_from_standard_input_is_known_by_its_beginning(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    packed(tmp_path / "x.mxl", {"a.xml": score("C")})
    sheets = {
        ABC.encode(): "T",
        score("C").encode(): "Made Up",
        b"\xef\xbb\xbf \n\t\r" + score("C").split("?>", 1)[1].encode(): "Made Up",
        (tmp_path / "x.mxl").read_bytes(): "Made Up",
        b" " * 99 + b"<": "",
        b" " * 100 + b"\n" + ABC.encode(): "T",
    }
    for data, title in sheets.items():
        monkeypatch.setattr(source, "open_plain", lambda path, data=data: io.BytesIO(data))
        if title:
            assert read_leadsheet(Path("-"))[0].title == title
        else:
            with pytest.raises(InputError, match="not well-formed XML"):
                read_leadsheet(Path("-"))


def test_titles_are_short_and_on_one_line(tmp_path: Path) -> None:
    path = tmp_path / "lane.abc"
    for title, shown in (
        ("x" * 200, "x" * 200), ("x" * 201, "x" * 200), ("x" * 199 + " y", "x" * 199),
        ("a\u2028 b", "a b"), ("\x07", "lane"), ("", "lane"),
    ):  # fmt: skip
        path.write_text(ABC.replace("T:T", f"T:{title}\nC:{title}"), encoding="utf-8")
        (tune,) = read_leadsheet(path)
        assert tune.tune is not None
        assert (tune.title, tune.tune.composer) == (shown, shown if shown != "lane" else "")
    path = tmp_path / "\x07.abc"
    path.write_text(ABC.replace("T:T\n", ""))
    assert read_leadsheet(path)[0].title == "Tune"


def test_names_of_files(tmp_path: Path) -> None:
    path = tmp_path / "x.abc"
    path.write_text("".join(ABC.replace("T:T", f"T:{one}") for one in ("Lane", "lane", "Book")))
    first, second, book = read_leadsheet(path)
    assert [one.toml_name for one in (first, second, book)] == [
        "lane.toml", "lane-2.toml", "tune-book.toml",
    ]  # fmt: skip
    assert second.melody_name == "lane-2-melody.musicxml"
    assert second.tune is not None
    assert second.tune.melody == second.melody_name


def test_musicxml_at_hand_is_told_by_what_it_is_called() -> None:
    one = read_musicxml_data(score("C").encode(), "a stream")
    assert (one.title, one.name) == ("Made Up", "made-up")
    assert one.notices == ("a stream: 'Made Up': no tempo is given; 120 beats a minute are taken",)
    with pytest.raises(InputError) as caught:
        read_musicxml_data(score("").encode(), "a stream")
    (problem,) = caught.value.problems
    assert (problem.file, problem.message) == ("a stream", "'Made Up': it has no chord symbols.")
    bare = score("C").replace("<movement-title>Made Up</movement-title>", "")
    assert read_musicxml_data(bare.encode(), "a stream").title == "a stream"
    assert read_musicxml_data(bare.encode(), "\x07").title == "Tune"
    book = score("C").replace("Made Up", "Book").encode()
    assert read_musicxml_data(book, "x").name == "tune-book"


def test_bars_of_all_tunes_are_counted_as_played(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "x.abc"
    path.write_text(ABC.replace('"C"C4|', '|:"C"C4|"F"C4:|') * 3)
    monkeypatch.setattr(read, "MOST_BARS_IN_ALL", 12)
    assert len(read_leadsheet(path)) == 3
    monkeypatch.setattr(read, "MOST_BARS_IN_ALL", 11)
    problem = refused(path)
    assert problem.message == "it holds more than 11 bars in all its tunes, played."
    assert problem.line == 13


def notes_of(tmp_path: Path, music: str, ending: str = "abc") -> str:
    path = tmp_path / f"m.{ending}"
    path.write_text(ABC.replace('"C"C4|', music))
    return " ".join(
        f"{4 * one.span.start}-{4 * one.span.end}={one.pitch}" for one in read_melody(path)
    )


def test_a_melody_alone(tmp_path: Path) -> None:
    assert notes_of(tmp_path, "CDEF|G4|") == "0-1=60 1-2=62 2-3=64 3-4=65 4-8=67"
    assert notes_of(tmp_path, "C4-|C4|") == "0-8=60"
    assert notes_of(tmp_path, "C4|C4|") == "0-4=60 4-8=60"
    assert notes_of(tmp_path, "C2zD-|D2-D2|") == "0-2=60 3-8=62"
    assert notes_of(tmp_path, "G,|C4|") == "-1-0=55 0-4=60"
    assert notes_of(tmp_path, "|:C2D2:|") == "0-2=60 2-4=62 4-6=60 6-8=62"
    assert notes_of(tmp_path, "C6-|C2|") == "0-6=60 8-10=60"  # a rest lies between
    for music, message, expected in (
        ("z4|", "there are no notes in it.", "a melody"),
        ("C/512C/511C/509C/503|", "the melody's note lengths have no common measure.", "a melody"),
        ("[M:7/8]C4|", "'T': bar 1: 7/8 cannot be played here.", None),
    ):
        with pytest.raises(InputError) as caught:
            notes_of(tmp_path, music)
        (problem,) = caught.value.problems
        assert (problem.message, problem.file) == (message, str(tmp_path / "m.abc"))
        assert expected in (None, problem.expected)
