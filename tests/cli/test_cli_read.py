"""What `accomp read` writes, every other command takes; what it cannot write so, it says."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from accomp.errors import InputError
from accomp.files import values
from accomp.intake import read_leadsheet
from accomp.time import METERS, Meter
from accomp.tune import fields, read_tune

HEAD = "X:1\nT:{title}\nM:4/4\nL:1/8\nQ:1/4=120\nK:C\n"


def abc(folder: Path, music: str, title: str = "Plain Lane") -> Path:
    path = folder / "sheet.abc"
    path.write_text(HEAD.format(title=title) + music, encoding="utf-8")
    return path


def musicxml(folder: Path, kind: str) -> Path:
    path = folder / "sheet.musicxml"
    text = (
        '<score-partwise version="4.0"><part-list><score-part id="P"><part-name>P</part-name>'
        '</score-part></part-list><part id="P"><measure number="1"><attributes><divisions>1'
        "</divisions><key><fifths>0</fifths></key><time><beats>4</beats><beat-type>4</beat-type>"
        f"</time></attributes><harmony><root><root-step>C</root-step></root><kind>{kind}</kind>"
        "</harmony><note><pitch><step>C</step><octave>4</octave></pitch>"
        "<duration>4</duration></note></measure></part></score-partwise>"
    )
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.many(2, 99)
@pytest.mark.parametrize("title", ["Book", "BOOK!", "Con", "../book", "Manifest"])
def test_no_title_makes_a_file_that_means_something_else(accomp, tmp_path, title):
    sheet = abc(tmp_path, '"C"C8|"F"F8|"G7"G8|"C"C8|\n', title)
    assert accomp("read", sheet, "--out", "tunes").code == 0
    (file,) = (tmp_path / "tunes").glob("*.toml")
    assert file.name != "book.toml"
    assert accomp("check", file).code == 0
    assert accomp("make", file, "--only", "musicxml", "--out", "made").code == 0
    said = accomp("book", "tunes", "--player", "Bb", "--out", "bound")
    assert said.code == 0, said.err
    assert "1 tune," in said.out


def test_two_books_and_their_tune_book_have_names_of_their_own(tmp_path):
    tune = HEAD + '"C"C8|\n'
    path = tmp_path / "sheet.abc"
    titles = ["Book", "Tune Book", "book"]
    path.write_text("\n".join(tune.format(title=title) for title in titles), encoding="utf-8")
    names = [one.toml_name for one in read_leadsheet(path)]
    assert names == ["tune-book.toml", "tune-book-2.toml", "tune-book-3.toml"]


def test_long_bars_that_make_too_many_are_refused_in_words(accomp, tmp_path):
    sheet = abc(tmp_path, '"C"C16|' * 1500 + "\n")
    said = accomp("read", sheet, "--out", "tunes")
    assert said.code == 1
    assert "sheet.abc:" in said.err
    assert "its long bars, cut to their meters, make more than 2000 bars" in said.err
    assert "Look at its repeat signs and endings." in said.err
    assert not (tmp_path / "tunes").exists()


def test_long_bars_that_are_repeated_count_as_often_as_they_are_played(tmp_path):
    sheet = abc(tmp_path, "|:" + '"C"C16|' * 700 + '"F"F8:|\n')
    with pytest.raises(InputError, match=r"played through, it has more than 2000 full bars"):
        read_leadsheet(sheet)


def test_a_tune_of_unreadable_chords_is_no_tune(tmp_path):
    path = musicxml(tmp_path, "Neapolitan")
    with pytest.raises(InputError, match="it has no chord symbols") as caught:
        read_leadsheet(path)
    assert caught.value.problems[0].hint


@pytest.mark.many(2, 99)
@pytest.mark.parametrize("notes", ["G2/3", "G4/3", "G8/3", "G1/3", "G3/2", "G13/3"])
def test_a_pickup_of_triplets_is_made_and_printed(accomp, tmp_path, notes):
    sheet = abc(tmp_path, f'{notes}|"C"C8|"F"F8|"G7"G8|"C"C8|\n')
    assert accomp("read", sheet).code == 0
    file = tmp_path / "plain-lane.toml"
    assert read_tune(file).pickup == Fraction(notes[1:]) / 8
    assert accomp("check", file).code == 0
    made = accomp("make", file, "--only", "musicxml", "--only", "midi", "--out", "made")
    assert made.code == 0, made.err


@pytest.mark.many(2, 99)
@pytest.mark.parametrize("meter", METERS)
def test_every_pickup_that_a_tune_file_may_have_can_be_written(meter):
    from accomp.score.notate_rhythm import written_bar
    from accomp.time import Span

    bar = Meter.parse(meter).bar
    for parts in range(1, int(bar * fields.FINEST)):
        length = Fraction(parts, fields.FINEST)
        events = written_bar(Meter.parse(meter), Span(bar - length, bar), ())
        assert sum(event.value.duration for event in events) == length
        assert [event.bracket for event in events].count("start") == [
            event.bracket for event in events
        ].count("stop")


def test_whatever_a_tune_file_may_not_hold_is_told_of_the_lead_sheet(tmp_path, monkeypatch):
    # The last net: a rule of the tune file that no step of the reader knows.
    sheet = abc(tmp_path, '"C"C8|\n', "A Title of Some Length")
    monkeypatch.setattr(values, "MOST_CHARACTERS", 10)
    with pytest.raises(InputError, match=r"would be refused: 'title' must be .* has 22") as found:
        read_leadsheet(sheet)
    problem = found.value.problems[0]
    assert (problem.file, problem.line) == (str(sheet), 1)
    assert problem.hint == "Shorten it to 10 characters."


def test_of_several_tunes_the_refused_one_is_told_and_the_rest_written(accomp, tmp_path):
    good, bad = '"C"C8|"F"F8|\n', '"C"C16|' * 1500 + "\n"
    path = tmp_path / "sheet.abc"
    texts = [HEAD.format(title=title) + music for title, music in (("One", good), ("Two", bad))]
    path.write_text("\n".join(texts), encoding="utf-8")
    said = accomp("read", path, "--out", "tunes")
    assert said.code == 1
    assert "'Two': its long bars" in said.err
    assert [file.name for file in (tmp_path / "tunes").glob("*.toml")] == ["one.toml"]
