"""Numbers of other people's files: endless or odd ones are answered at once, with the place."""

from __future__ import annotations

import re
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from leadsheet_made import score

from accomp.errors import InputError, Problem
from accomp.intake import numbers, read_leadsheet, read_melody
from accomp.intake.numbers import WrongNumberError, read_number, read_whole, time_in_bar

HEAD = "X:1\nT:Made Up\nM:4/4\nL:1/4\nK:C\n"
LONG = "9" * 5000  # Python itself refuses to read a number of so many digits
ODD = ["1e999999999", LONG, "²", "٣", "NaN", "1_0", "0x10", "--1"]


@pytest.fixture(autouse=True)
def only_short(monkeypatch: pytest.MonkeyPatch) -> None:
    """Only what is short and has no exponent ever becomes a number: that alone is done at once."""

    def checked(become: Callable[..., Any]) -> Callable[..., Any]:
        def stand_in(*given: Any) -> Any:
            for one in given:
                assert not isinstance(one, str) or re.fullmatch("[-+.0-9]{1,34}", one), one[:40]
            return become(*given)

        return stand_in

    monkeypatch.setattr(numbers, "Fraction", checked(Fraction))
    monkeypatch.setattr(numbers, "int", checked(int), raising=False)


def shown(word: str) -> str:
    return "5,000 digits" if word == LONG else word


def refused(path: Path, text: str) -> tuple[Problem, ...]:
    """The problems of a file."""
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_leadsheet(path)
    for problem in caught.value.problems:
        assert problem.file == str(path)
        assert problem.line
        assert problem.found
        assert problem.expected
        assert problem.hint
        assert len(str(problem)) < 500
    return caught.value.problems


# --- the one reader ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("0", Fraction(0)),
        (" +12 ", Fraction(12)),
        ("-1.5", Fraction(-3, 2)),
        (".5", Fraction(1, 2)),
        ("3.", Fraction(3)),
        ("104.00041600166401", Fraction(104000416, 1000000)),  # as some programs write a tempo
    ],
)
def test_a_number(text: str, number: Fraction) -> None:
    assert read_number(text, "it", -2, 200) == number


@pytest.mark.parametrize("text", [*ODD, "", "-", ".", "1/2", "1 2", "201", "-3", "inf"], ids=shown)
def test_no_number(text: str) -> None:
    with pytest.raises(WrongNumberError, match=r"^it must be a number from -2 to 200, and this is"):
        read_number(text, "it", -2, 200)


def test_a_whole_number() -> None:
    assert read_whole("12.0", "it", 1, 12) == 12
    for text in ("1.5", "0", "13"):
        with pytest.raises(WrongNumberError, match="a whole number from 1 to 12") as caught:
            read_whole(text, "it", 1, 12, line=7)
        assert (caught.value.found, caught.value.line) == (repr(text), 7)


def test_times_of_a_bar() -> None:
    assert time_in_bar(Fraction(100)) == 100
    assert time_in_bar(Fraction(1, 10**15)) == Fraction(1, 10**15)
    for wrong in (Fraction(101), Fraction(1, 10**15 + 1)):
        with pytest.raises(WrongNumberError):
            time_in_bar(wrong)


# --- MusicXML ------------------------------------------------------------------------------------

PLACES = {
    "duration": ("<duration>1<", "<duration>{}<"),
    "divisions": ("<divisions>1<", "<divisions>{}<"),
    "octave": ("<octave>4<", "<octave>{}<"),
    "alter": ("<step>C</step>", "<step>C</step><alter>{}</alter>"),
    "fifths": ("<fifths>0<", "<fifths>{}<"),
    "root-alter": ("</root-step>", "</root-step><root-alter>{}</root-alter>"),
    "offset": ("</kind>", "</kind><offset>{}</offset>"),
    "inversion": ("</kind>", "</kind><inversion>{}</inversion>"),
    "degree-value": ("</kind>", "</kind><degree><degree-value>{}</degree-value></degree>"),
    "chromatic": ("</attributes>", "<transpose><chromatic>{}</chromatic></transpose></attributes>"),
    "octave-change": (
        "</attributes>",
        "<transpose><octave-change>{}</octave-change></transpose></attributes>",
    ),
    "tempo": ("<harmony>", '<sound tempo="{}"/><harmony>'),
    "times": ("<note>", '<barline><repeat direction="backward" times="{}"/></barline><note>'),
}


@pytest.mark.parametrize("bad", ODD, ids=shown)
@pytest.mark.parametrize("name", PLACES)
def test_wrong_number_in_musicxml(tmp_path: Path, name: str, bad: str) -> None:
    plain, wrong = PLACES[name]
    text = score("C", "F")
    assert plain in text
    where = text[: text.index(plain)].count("\n") + 1
    (problem,) = refused(tmp_path / "x.xml", text.replace(plain, wrong.format(bad), 1))
    assert problem.line == where
    assert problem.found.strip("'")[:30] == bad[:30]
    assert f"the {name} of" in problem.message or name in ("tempo", "times")
    assert "must be" in problem.message


def test_a_bar_of_too_many_notes_is_told_of_where_it_begins(tmp_path: Path) -> None:
    text = score("C", "F")
    forward = "<forward><duration>1000000</duration></forward>"
    long = text.replace("<note>", forward * 9 + "<note>", 1)
    (problem,) = refused(tmp_path / "x.xml", long)
    assert "a bar must be at most" in problem.message
    assert problem.line == text[: text.index("<measure")].count("\n") + 1


@pytest.mark.parametrize("bad", ODD, ids=shown)
@pytest.mark.parametrize("name", ["beats", "beat-type"])
def test_wrong_meter_in_musicxml(tmp_path: Path, name: str, bad: str) -> None:
    text = score("C", "F").replace(f"<{name}>4<", f"<{name}>{bad}<")
    (problem,) = refused(tmp_path / "x.xml", text)
    assert "cannot be played here" in problem.message


@pytest.mark.parametrize("bad", ["1e999999999", LONG, "1²0"], ids=shown)
def test_wrong_metronome_mark(tmp_path: Path, bad: str) -> None:
    mark = (
        "<direction><direction-type><metronome><beat-unit>quarter</beat-unit>{}"
        "<per-minute>{}</per-minute></metronome></direction-type></direction><harmony>"
    )
    text = score("C").replace("<harmony>", mark.format("", f"ca. {bad}"), 1)
    (problem,) = refused(tmp_path / "x.xml", text)
    assert "the tempo must be a number" in problem.message
    dots = mark.format("<beat-unit-dot/>" * 50_000, "100")
    (problem,) = refused(tmp_path / "x.xml", score("C").replace("<harmony>", dots, 1))
    assert "the dots of a metronome mark must be at most 4" in problem.message


def test_wrong_numbers_of_several_measures_come_at_once(tmp_path: Path) -> None:
    text = score(*["C"] * 40).replace("<octave>4<", "<octave>x<")
    problems = refused(tmp_path / "x.xml", text)
    first = problems[0].line
    assert [problem.line for problem in problems] == list(range(first, first + 20))


def test_sums_of_ever_more_digits(tmp_path: Path) -> None:
    note = "<note><pitch><step>C</step><octave>4</octave></pitch><duration>1</duration></note>"
    finer = "".join(
        f"<attributes><divisions>{n}</divisions></attributes>{note}" for n in range(2, 9000)
    )
    text = score("C").replace("<harmony>", f"{finer}<harmony>", 1)
    (problem,) = refused(tmp_path / "x.xml", text)
    assert "the note lengths of a bar must be" in problem.message


@pytest.mark.slow
def test_a_melody_without_a_common_measure_is_left_out(tmp_path: Path) -> None:
    """Each bar is fine and full; all together need divisions of more than 4,300 digits."""
    note = "<note><pitch><step>C</step><octave>4</octave></pitch><duration>{}</duration></note>"
    before, first, *rest = score(*["C"] * 1500).split("<measure ")
    bars = []
    for divisions, bar in enumerate([first, *rest], 900):
        head, end = bar.split("<note>", 1)[0], bar.rsplit("</note>", 1)[1]
        parts = [1, divisions - 1, divisions, divisions, divisions]
        bars.append(
            f"{head}<attributes><divisions>{divisions}</divisions></attributes>"
            + "".join(note.format(part) for part in parts)
            + end
        )
    path = tmp_path / "x.xml"
    path.write_text("<measure ".join([before, *bars]), encoding="utf-8")
    (tune,) = read_leadsheet(path)
    assert tune.melody is None
    assert any("no common measure; it is not taken over" in notice for notice in tune.notices)
    with pytest.raises(InputError, match="no common measure"):
        read_melody(path)


# --- ABC -----------------------------------------------------------------------------------------


FIELDS = [
    (field, bad)
    for field in ("L:{}", "L:1/{}", "Q:{}", "Q:1/4={}", "Q:{}/4=100")
    for bad in ("1e999999999", LONG, "²")
]
ENDLESS = [(field, LONG) for field in ("P:A{}", "T:&#{};", "T:&#x{};", "C:&#{};")]


def with_field(text: str) -> tuple[str, int]:
    """A tune with a field more, or in the place of its own, and the line of it."""
    lines = HEAD.splitlines()
    at = next((n for n, line in enumerate(lines) if line[:2] == text[:2]), len(lines) - 1)
    lines[at : at + (lines[at][:2] == text[:2])] = [text]
    return "\n".join(lines) + '\nP:A\n"C"c4|\n', at + 1


@pytest.mark.parametrize(("field", "bad"), FIELDS + ENDLESS, ids=shown)
def test_wrong_number_in_an_abc_field(tmp_path: Path, field: str, bad: str) -> None:
    text, line = with_field(field.format(bad))
    (problem,) = refused(tmp_path / "x.abc", text)
    assert (problem.line, problem.column) == (line, 3)
    assert "must be" in problem.message


@pytest.mark.parametrize(
    "bad", ["1e999999999", f"{LONG}/4", f"4/{LONG}", "²/4"], ids=lambda bad: bad[:12]
)
def test_wrong_meter_in_abc(tmp_path: Path, bad: str) -> None:
    (problem,) = refused(tmp_path / "x.abc", with_field(f"M:{bad}")[0])
    assert "cannot be played here" in problem.message


@pytest.mark.parametrize(
    ("music", "column"),
    [
        (f'"C"c{LONG} c2|', 4),
        (f'"C"c/{LONG} c2|', 4),
        (f'"C"c2 [ce]{LONG}|', 7),
        ('"C"c0 c4|', 4),
        ('"C"c/0 c4|', 4),
        ('"C"c' + "/" * 5000 + "|", 4),
        ('"C"c2 c²|', 8),
        ('"C"c2 [c²e]|', 7),
        ('"C"c2 c٣|', 8),
        ('"C"c4|Z5000|', 7),
        (f'"C"c4|Z{LONG}|', 7),
        (f'"C"c4|{LONG} c4:|', 6),
        (f'"C"c4|[{LONG} c4:|', 7),
        ('"C"c2[L:1/9999]c2|', 6),
        ('"C"c9999|', 4),
    ],
    ids=lambda value: str(value)[:12],
)
def test_wrong_number_in_abc_music(tmp_path: Path, music: str, column: int) -> None:
    (problem,) = refused(tmp_path / "x.abc", HEAD + music)
    assert (problem.line, problem.column) == (6, column)
    assert "must be" in problem.message


def test_columns_count_from_the_start_of_the_line_behind_a_voice_sign(tmp_path: Path) -> None:
    (problem,) = refused(tmp_path / "x.abc", HEAD + '[V:1]"C"c4|[V:1]c²|\n')
    assert (problem.line, problem.column) == (6, 18)


def test_wrong_numbers_of_several_lines_come_at_once(tmp_path: Path) -> None:
    problems = refused(tmp_path / "x.abc", HEAD + '"C"c² c²|\nc0|\nc4|\nc/600|\n')
    assert [problem.line for problem in problems] == [6, 7, 9]


def test_characters_by_their_number_are_read(tmp_path: Path) -> None:
    path = tmp_path / "x.abc"
    path.write_text(
        HEAD.replace("Made Up", "Caf&#233; &#x266d;flat &#000000000066ar &amp; &#8364uro")
        + '"C"c4|\n'
    )
    (tune,) = read_leadsheet(path)
    assert tune.title == "Café ♭flat Bar & €uro"


def test_a_range_of_tempos_is_told_and_left_out(tmp_path: Path) -> None:
    path = tmp_path / "x.abc"
    path.write_text(HEAD.replace("K:", "Q:1/4=100-120\nK:") + '"C"c4|\n')
    (tune,) = read_leadsheet(path)
    assert any("the tempo '1/4=100-120' is not understood" in notice for notice in tune.notices)
