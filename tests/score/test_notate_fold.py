"""Repeats and endings: what is folded must unfold to what was arranged."""

from __future__ import annotations

from fractions import Fraction

import pytest
from drawn import examples
from hand_made import FOUR, arrangement
from hypothesis import given, settings
from hypothesis import strategies as st

from accomp.score.notate import notate
from accomp.score.notate_layout import ScoreLayout

SHAPES = {"F": "0 2 3 3", "C7": "0 0 2 1", "Bb": "5 7 8 8", "D7": "4 5 4 5", "N.C.": ""}
A, B = ["F", "F", "C7", "F"], ["Bb", "Bb", "D7", "C7"]
A2 = ["F", "F", "C7", "D7"]


def tune(*sections, **more):
    """Sections as ("A", [chords])."""
    bars = [(symbol, SHAPES[symbol]) for _, chords in sections for symbol in chords]
    arranged = arrangement(bars, FOUR, sections=["A"] * len(bars), **more)
    from dataclasses import replace

    made, place = [], 0
    for name, chords in sections:
        for i in range(len(chords)):
            bar = arranged.bars[place]
            made.append(replace(bar, bar=replace(bar.bar, section=name, opens=i == 0)))
            place += 1
    return replace(arranged, bars=tuple(made))


def measures(arranged, **layout):
    return notate(arranged, ScoreLayout(**layout)).parts[0].measures


def played(written):
    """The measures in playing order: a small walk by the signs, from their definitions."""
    order, start, time, at = [], 0, 1, 0
    while at < len(written):
        measure = written[at]
        if measure.repeat_start and at != start:
            start, time = at, 1
        if measure.ending and time not in measure.ending:
            at += 1
            continue
        order.append(measure)
        if measure.repeat_end and time < measure.repeat_end:
            time += 1
            at = start
            continue
        at += 1
    return order


def chords(written):
    return [[str(mark.chord) for mark in measure.chords] for measure in written]


def test_a_section_played_twice_is_written_once():
    written = measures(tune(("A", A), ("A", A), ("B", B), ("A", A)))
    assert len(written) == 12
    assert [m.number for m in written] == list(range(1, 13))
    assert [m.repeat_start for m in written] == [True] + [False] * 11
    assert [m.repeat_end for m in written] == [0, 0, 0, 2] + [0] * 8
    assert [m.rehearsal for m in written if m.rehearsal] == ["A", "B", "A"]
    assert chords(played(written)) == [[c] for c in A + A + B + A]


def test_two_that_differ_at_the_end_get_endings():
    written = measures(tune(("A", A), ("A", A2), ("B", B)))
    assert [(m.ending, m.ending_edge) for m in written if m.ending] == [
        ((1,), "start+stop"),
        ((2,), "start+discontinue"),
    ]
    assert chords(played(written)) == [[c] for c in A + A2 + B]


def test_three_times_is_said_over_the_repeat():
    written = measures(tune(("A", A), ("A", A), ("A", A)))
    assert len(written) == 4
    assert written[-1].repeat_end == 3
    assert written[0].words == "3 x"


@pytest.mark.parametrize(
    "sections",
    [
        (("A", A), ("B", A)),  # another name: the reader has to see it
        (("A", A), ("A", B)),  # the same name, other music
        (("A", A), ("A", A[:3])),
        (("A", A), ("B", B), ("A", A)),  # not side by side
    ],
)
def test_everything_else_is_written_out(sections):
    written = measures(tune(*sections))
    assert len(written) == sum(len(chords) for _, chords in sections)
    assert not any(m.repeat_end or m.repeat_start or m.ending for m in written)


def test_nothing_folds_over_a_key_change_or_unasked():
    changed = tune(("A", A), ("A", A), keys=["F"] * 4 + ["Bb"] * 4)
    assert len(measures(changed)) == 8
    assert len(measures(tune(("A", A), ("A", A)), fold=False)) == 8


def test_all_parts_fold_alike():
    from dataclasses import replace

    arranged = tune(("A", A), ("A", A), bass=[("0", "1", "F2")])
    assert [len(part.measures) for part in notate(arranged).parts] == [4, 4, 4]
    last = arranged.bars[-1]
    other = replace(last, bass=(replace(last.bass[0], pitch=48),))  # only the bass ends otherwise
    changed = replace(arranged, bars=(*arranged.bars[:-1], other))
    parts = notate(changed).parts
    assert [len(part.measures) for part in parts] == [5, 5, 5]
    for part in parts:
        assert [m.ending for m in part.measures] == [(), (), (), (1,), (2,)]


def test_a_pickup_stays_outside_the_repeat():
    written = measures(tune(("A", A), ("A", A), pickup=Fraction(1, 4)))
    assert [m.number for m in written] == [0, 1, 2, 3, 4]
    assert [m.repeat_start for m in written] == [False, True, False, False, False]


section = st.tuples(
    st.sampled_from("AB"), st.lists(st.sampled_from(["F", "C7"]), min_size=1, max_size=4)
)


@settings(max_examples=examples(60))
@given(st.lists(section, min_size=1, max_size=6))
def test_unfolding_gives_what_was_arranged(sections):
    written = measures(tune(*sections))
    assert chords(played(written)) == [[c] for _, chords_ in sections for c in chords_]


def test_silent_bars_become_one_long_rest():
    written = measures(tune(("A", ["F", "N.C.", "N.C.", "N.C.", "F"])))
    assert [m.rests for m in written] == [0, 0, 0, 0, 0]  # each has its N.C. to show
    from dataclasses import replace

    arranged = tune(("A", ["F", "N.C.", "N.C.", "N.C.", "F"]))
    held = [
        replace(bar, changes=tuple(replace(c, written=i in (0, 1, 4)) for c in bar.changes))
        for i, bar in enumerate(arranged.bars)
    ]
    written = measures(replace(arranged, bars=tuple(held)))
    assert [m.rests for m in written] == [0, 3, 0, 0, 0]


LONG_A, LONG_B = A * 2, B * 2


def signs(written):
    return [
        (place, sign)
        for place, m in enumerate(written, 1)
        for sign in ("segno", "fine", m.jump or "")
        if sign and (sign == m.jump or getattr(m, sign))
    ]


def test_what_comes_again_at_the_end_is_gone_back_to():
    written = measures(tune(("A", LONG_A), ("B", LONG_B), ("A", LONG_A)))
    assert len(written) == 16
    assert signs(written) == [(8, "fine"), (16, "D.C. al Fine")]
    written = measures(tune(("I", B), ("A", LONG_A), ("B", LONG_B), ("A", LONG_A)))
    assert signs(written) == [(5, "segno"), (12, "fine"), (20, "D.S. al Fine")]


def test_another_name_is_never_gone_back_to_and_nothing_at_once():
    assert len(measures(tune(("A", LONG_A), ("B", LONG_B), ("C", LONG_A)))) == 24
    assert len(measures(tune(("A", LONG_A), ("C", LONG_A)))) == 16
    assert signs(measures(tune(("A", LONG_A), ("A", LONG_A)))) == []


def choruses(*rows):
    """The form once for each row of sections, as choruses."""
    from dataclasses import replace

    whole = tune(*(section for row in rows for section in row))
    numbers = [n for n, row in enumerate(rows, 1) for _, chords in row for _ in chords]
    bars = tuple(
        replace(bar, bar=replace(bar.bar, chorus=number))
        for bar, number in zip(whole.bars, numbers, strict=True)
    )
    return replace(whole, bars=bars)


def test_five_choruses_say_so():
    written = measures(choruses(*[[("A", LONG_A), ("B", B)]] * 5))
    assert len(written) == 12
    assert written[0].words == "5 x through"
    assert written[-1].repeat_end == 5


def test_the_last_chorus_has_an_ending_of_its_own():
    row = [("A", LONG_A), ("B", B)]
    written = measures(choruses(row, row, row, [("A", LONG_A), ("B", [*B[:2], "F", "F"])]))
    assert [(m.ending, m.repeat_end) for m in written if m.ending] == [
        ((1, 2, 3), 0),
        ((1, 2, 3), 4),
        ((4,), 0),
        ((4,), 0),
    ]
    assert written[12].words == "last time"
    assert chords(played(written)) == [[c] for c in (LONG_A + B) * 3 + LONG_A + [*B[:2], "F", "F"]]


def test_choruses_with_other_music_are_written_out_and_named():
    written = measures(choruses([("A", LONG_A)], [("A", LONG_B)], [("A", LONG_B)]))
    assert len(written) == 16
    assert [m.words for m in written if m.words] == ["Choruses 2 to 3: 2 x through"]
