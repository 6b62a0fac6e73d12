"""Arrange: strokes laid over bars and chord changes."""

from __future__ import annotations

import itertools
from dataclasses import replace
from fractions import Fraction

import pytest
from played import BASS, FLAT, arranged, pattern, style, tune

from accomp.errors import InputError
from accomp.rhythm.stroke import ForceStep
from accomp.score.as_first import every_time_as_the_first
from accomp.score.planning import tune_chords

C, F, G7 = "0 0 2 3", "0 2 3 3", "2 0 3 2"
WHOLE = Fraction(1)


def starts(arrangement: object) -> list[tuple[Fraction, str]]:
    return [(s.span.start, s.chord.symbol) for bar in arrangement.bars for s in bar.strums]


@pytest.mark.parametrize(
    ("bars", "home"),
    [
        ("| C | F | C7 | F | C7 |", "C7"),  # the commonest on the root of the key
        ("| C | F | C7 | F | Cm | C7 | Cm |", "C7"),  # the earlier of equals
        ("| C | / | / | / | F | C7 | F | C7 |", "C7"),  # written twice, though it sounds for less
        ("| C7 | F | C |", "C7"),
    ],
)
def test_positions_are_named_by_the_commonest_chord_on_the_root(bars: str, home: str) -> None:
    assert str(tune_chords(tune(bars)).home) == home


def test_each_stroke_takes_the_chord_of_its_moment() -> None:
    found = starts(arranged(tune("| C / / G7 | F |"), style(FLAT), C, G7, F))
    assert [chord for _, chord in found] == ["C", "C", "C", "G7", "F", "F", "F", "F"]
    assert [start for start, _ in found] == [Fraction(n, 4) for n in range(8)]


def test_a_chord_no_stroke_reaches_gets_one() -> None:
    two = pattern(WHOLE, ("0", "ring", "down", "low1"), ("1/2", "ring", "down", "all"))
    arrangement = arranged(tune("| C G7 F G7 | C |"), style(two), C, G7, F, G7, C)
    assert starts(arrangement)[:4] == [
        (Fraction(0), "C"),
        (Fraction(1, 4), "G7"),
        (Fraction(1, 2), "F"),
        (Fraction(3, 4), "G7"),
    ]
    spans = [s.span for s in arrangement.bars[0].strums]
    assert all(a.end == b.start for a, b in itertools.pairwise(spans))


def test_a_stroke_is_cut_at_the_change_and_not_where_the_chord_stays() -> None:
    off = pattern(WHOLE, ("0", "ring", "down", "all"), ("3/8", "ring", "up", "all"))
    same = arranged(tune("| C C |"), style(off), C).bars[0].strums
    assert [(s.span.start, s.span.end) for s in same] == [
        (Fraction(0), Fraction(3, 8)),
        (Fraction(3, 8), WHOLE),
    ]
    moved = arranged(tune("| C G7 | C |"), style(off), C, G7, C).bars[0].strums
    assert moved[1].span.end == Fraction(1, 2)


def test_a_two_bar_pattern_starts_anew_with_each_section() -> None:
    two = pattern(Fraction(2), ("0", "ring", "down", "all"), ("5/4", "ring", "up", "high2"))
    text = 'form = ["A", "A"]'
    found = starts(arranged(tune("| C | C | C |", head=text), style(two), C))
    # bars 1 and 3 of each section have the first bar of the pattern, bar 2 the second
    assert [start for start, _ in found] == [
        Fraction(0), Fraction(5, 4), Fraction(2), Fraction(3), Fraction(17, 4), Fraction(5),
    ]  # fmt: skip


def test_the_bass_begins_each_chord_on_its_root() -> None:
    arrangement = arranged(tune("| C / G7 / | F/A |"), style(FLAT, bass=BASS), C, G7, F)
    first = {}
    for bar in arrangement.bars:
        for change in bar.changes:
            notes = [n for n in bar.bass if n.span.start in change.span]
            first[str(change.chord)] = notes[0].pitch % 12
    assert first == {"C": 0, "G7": 7, "F/A": 9}


def test_chords_of_a_tune_are_its_changes_and_home_is_the_commonest_on_the_root() -> None:
    chords = tune_chords(tune("| C C | C7 / F / | C6 | / | C | N.C. | C |"))
    assert [str(chord) for chord in chords.chords] == ["C", "C7", "F", "C6", "C"]
    assert str(chords.home) == "C"
    assert chords.spans[3] == (3,)
    assert chords.spans[5] == (None,)
    assert chords.spans[6] == (4,)


def test_without_a_chord_on_the_root_the_last_chord_is_home_with_a_notice() -> None:
    chords = tune_chords(tune("| F | G7 |"))
    assert str(chords.home) == "G7"
    assert "G7" in chords.notices[0]


def test_a_tune_without_any_chord_is_told_with_its_file() -> None:
    with pytest.raises(InputError, match=r"test.toml: the tune has no chord.* Write a chord"):
        tune_chords(tune("| N.C. | N.C. |"))


def test_on_paper_a_later_time_is_the_first_unless_it_is_struck_otherwise() -> None:
    made = arranged(tune("| C | F |"), style(FLAT, bass=BASS), C, F, choruses=2)
    one, two, three, four = made.bars
    harder = [replace(strum, force=ForceStep.ACCENT) for strum in three.strums]
    again = replace(three, strums=tuple(harder), bass=three.bass[:1])
    fewer = replace(four, strums=four.strums[:1])
    other = replace(four, style=replace(four.style, title="Another"), bass=())
    added = replace(four, added=True, bass=())
    for last in (fewer, other, added):
        paper = every_time_as_the_first(replace(made, bars=(one, two, again, last))).bars
        assert (paper[:2], paper[3]) == ((one, two), last)
        assert paper[2].strums == three.strums, "as hard as the first time"
        assert [note.pitch for note in paper[2].bass] == [note.pitch for note in one.bass]
        assert [note.span.start for note in paper[2].bass] == [2, Fraction(5, 2)]


@pytest.mark.parametrize(
    ("last", "home"),
    [
        ("| F | C7 |", "F"),  # in the key that it ends in
        ("| F | G7 |", "C"),  # what leads to the tune's own home goes there all the same
        ("| F | F |", None),
        ("| C7 | N.C. |", None),
    ],
)
def test_what_leads_on_is_brought_home(last: str, home: str | None) -> None:
    two = tune(f'| C | G7 | C |\n"""\n[sections.B]\nkey = "F"\nbars = """\n{last}')
    shapes = {"C": C, "G7": G7, "F": F, "C7": "0 0 2 1"}
    planned = [shapes[str(chord)] for chord in tune_chords(two).chords]
    bars = arranged(two, style(FLAT), *planned).bars
    assert [bar.added for bar in bars] == [False] * 5 + [True] * (home is not None)
    assert home in (None, str(bars[-1].changes[-1].chord))


@pytest.mark.parametrize(
    ("bars", "end"),
    [
        ("| F | C | C G7 |", ["F", "C", "C"]),  # the turnaround is left out, for home
        ("| F | F | C N.C. | G7 |", ["F", "C", "C"]),
        ("| F | C | G7 | G7 |", ["G7", "G7", "C"]),  # too far away: home is a bar more
    ],
)
def test_a_tag_goes_home_where_it_would_turn_around(bars: str, end: list[str]) -> None:
    tagged = tune(f"| C | C {bars}", head='end = "tag"')
    shapes = {"C": C, "G7": G7, "F": F}
    planned = [shapes[str(chord)] for chord in tune_chords(tagged).chords]
    found = arranged(tagged, style(FLAT), *planned).bars
    assert [str(bar.changes[-1].chord) for bar in found[-3:]] == end
