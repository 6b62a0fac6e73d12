"""Answers, builds, breaks, endings: which bars they take, and every error with its place."""

from fractions import Fraction

import pytest

from accomp.errors import InputError
from accomp.rhythm import read_style
from accomp.rhythm.passage import Passage

BASE = """\
title = "Own"
meter = "4/4"
tempo = [90, 180]
[strum]
count = "1 2 3 4"
[bass]
count = "1 3"
player = "tuba"
[drums]
count = "1 2 3 4"
hat = "x"
"""


@pytest.fixture
def read(tmp_path):
    def make(extra, base=BASE):
        path = tmp_path / "own.toml"
        path.write_text(base + extra, encoding="utf-8")
        return read_style(path)

    return make


def strokes(playing):
    pattern, turn = playing.strum
    return [stroke.start - turn for stroke in pattern.strokes]


def bars_held(passage, bars=16, chorus=1, choruses=3):
    return [bar + 1 for bar in range(bars) if passage.holds(bar, chorus, choruses, bars)]


def test_an_answer_comes_at_the_ends_of_phrases(read):
    style = read('[answer.strum]\ncount = "1"\n')
    assert bars_held(style.passages[0]) == [8, 16]
    assert len(style.playing(7, section_bars=8).strum[0].strokes) == 1
    assert len(style.playing(3, section_bars=8).strum[0].strokes) == 4


@pytest.mark.parametrize(
    ("bars", "answers"),
    [
        (16, [8, 16]),
        (8, [8]),
        (12, [4, 8, 12]),
        (20, [4, 8, 12, 16, 20]),
        (4, [4]),
        (6, [6]),
        (10, [10]),
        (14, [8, 14]),
        (17, [8, 17]),
        (1, [1]),
    ],
)
def test_an_answer_comes_at_the_phrases_that_the_section_has(read, bars, answers):
    style = read('[answer.strum]\ncount = "1"\n')
    found = [bar + 1 for bar in range(bars) if style.passages[0].holds(bar, 1, 1, bars)]
    assert found == answers


def test_bars_of_an_answer_are_counted_back_from_the_end(read):
    style = read('[answer]\nbars = [7, 8]\n[answer.strum]\ncount = "1 | 1 3"\n')
    found = [style.playing(bar, section_bars=12).strum for bar in range(12)]
    assert [bar + 1 for bar in range(12) if len(found[bar][0].strokes) == 3] == [
        3, 4, 7, 8, 11, 12,
    ]  # fmt: skip
    assert [found[bar][1] for bar in (2, 3, 6, 7)] == [0, 1, 0, 1]


def test_bars_phrases_and_choruses_can_be_chosen():
    assert bars_held(Passage("answer", bars=(2,), phrase=4)) == [2, 6, 10, 14]
    second = Passage("break", choruses=(2,))
    assert [bool(bars_held(second, 1, chorus)) for chorus in (1, 2, 3)] == [False, True, False]
    late = Passage("build", since=2)
    assert [bool(bars_held(late, 1, chorus)) for chorus in (1, 2, 3)] == [False, True, True]
    last = Passage("break", last=True)
    assert [bool(bars_held(last, 1, chorus)) for chorus in (1, 2, 3)] == [False, False, True]


def test_a_pattern_of_two_bars_begins_with_the_passage(read):
    style = read('[answer]\nbars = [3, 4, 8]\n[answer.strum]\ncount = "1 | 1 3"\n')
    turns = [style.playing(bar, section_bars=8).strum[1] for bar in (2, 3, 7)]
    assert turns == [0, 1, 0]


def test_a_build_begins_with_the_second_chorus_unless_it_says_otherwise(read):
    assert read("[build]\nlouder = 1\n").passages[0].since == 2
    assert read("[build]\nsince = 4\nlouder = 1\n").passages[0].since == 4
    style = read("[build]\nlouder = 1\n[answer]\nlouder = -2\n")
    bars = [(bar, chorus) for chorus in (1, 2) for bar in (0, 7)]
    louder = [style.playing(*place, 2, section_bars=8).louder for place in bars]
    assert louder == [0, -2, 1, -1]


def test_several_passages_of_a_name_and_the_later_one_wins(read):
    style = read(
        '[[answer]]\nbars = [4]\n[answer.strum]\ncount = "1 2"\n'
        '[[answer]]\nbars = [4, 8]\n[answer.strum]\ncount = "1"\n'
    )
    found = [style.playing(bar, section_bars=8).strum[0] for bar in (3, 7)]
    assert [len(pattern.strokes) for pattern in found] == [1, 1]


def test_what_a_passage_leaves_out_is_played_as_before(read):
    style = read('[break]\nchorus = "last"\n[break.strum]\ncount = "1"\n')
    before, now = style.playing(0, 1, 2, section_bars=8), style.playing(0, 2, 2, section_bars=8)
    assert (now.bass, now.drums) == (before.bass, before.drums)
    assert now.strum != before.strum
    assert (before.stop_time, now.stop_time) == (False, True)


def test_drums_over_what_is_played_already(read):
    style = read(
        '[answer]\nover = true\n[answer.drums]\ncount = "3 4"\nsnare = "x x"\nhat = ". X"\n'
    )
    pattern, _ = style.playing(7, section_bars=8).drums
    found = {(note.start * 4 + 1, note.what): note.force for note in pattern.notes}
    assert found == {
        (1, "hat"): "plain",
        (2, "hat"): "plain",
        (3, "hat"): "plain",
        (3, "snare"): "plain",
        (4, "snare"): "plain",
        (4, "hat"): "accent",
    }


def test_the_ending_is_for_the_very_last_bar(read):
    style = read(
        "[ending]\nritard = 2\nslow_to = 0.6\ntag = 1\n"
        '[ending.bass]\ncount = "1"\nnote = "fifth"\nfirst = "as written"\n'
    )
    assert (style.ending.ritard, style.ending.slow_to, style.ending.tag) == (2, 0.6, 1)
    assert style.playing(7, final=True, section_bars=8).bass[0].free
    assert not style.playing(7, section_bars=8).bass[0].free
    assert style.bass_player == "tuba"
    assert read("[ending]\nritard = 1\n").ending.slow_to < 1


def test_lead_in_and_comping(read):
    style = read(
        '[lead_in.drums]\ncount = "4 &"\nsnare = "x x"\n'
        '[comping]\ncount = "2 4"\nplay = "chord shell"\nplayer = "piano"\nsound = "short"\n'
    )
    assert [note.start for note in style.lead_in.notes] == [Fraction(3, 4), Fraction(7, 8)]
    assert [(note.what, note.sound) for note in style.comping.notes] == [
        ("chord", "short"),
        ("shell", "short"),
    ]
    assert style.players == ("tuba", "piano", "drums")


FIRST = BASE.count("\n") + 1  # the line on which `extra` begins


@pytest.mark.parametrize(
    ("extra", "line", "column", "words"),
    [
        ("[answer]\nbars = [0]\n", 1, 9, "whole number from 1 to 8"),
        ("[answer]\nbars = [9]\n", 1, 9, "whole number from 1 to 8"),
        ("[answer]\nbars = []\n", 1, 8, "whole number"),
        ("[answer]\nbars = 4\n", 1, 8, "a list, each a whole number"),
        ("[answer]\nphrase = 0\n", 1, 10, "from 1 to 64"),
        ("[answer]\nphrase = 2.5\n", 1, 10, "whole number"),
        ("[answer]\nlouder = 9\n", 1, 10, "from -4 to 4"),
        ("[answer]\nover = 1\n", 1, 8, "true or false"),
        ("[answer]\nbarz = [4]\n", 1, 1, "Did you mean 'bars'"),
        ('[answer.strum]\ncount = "1 5"\n', 1, 12, "outside a bar of 4/4"),
        ('[answer.strum]\ncount = "1"\nspread = 2\n', 2, 1, "not known here"),
        ('[answer.bass]\ncount = "1"\nplayer = "tuba"\n', 2, 1, "not known here"),
        ('[[answer]]\nbars = [4]\n[[answer]]\n[answer.drums]\ncount = "1"\nsnair = "x"\n', 5, 1,
         "Did you mean 'snare'"),
        ('answer = "no"\n', 0, 1, "not known here"),
        ("[build]\nsince = 0\n", 1, 9, "from 1 to 100"),
        ('[break]\nchorus = "first"\n', 1, 10, 'Write chorus = [2] or chorus = "last"'),
        ("[ending]\nritard = -1\n", 1, 10, "from 0 to 64"),
        ("[ending]\nslow_to = 0\n", 1, 11, "from 0.25 to 1"),
        ("[ending]\ntag = 99\n", 1, 7, "from 0 to 8"),
        ("[ending]\ntags = 1\n", 1, 1, "Did you mean 'tag'"),
        ("[lead_in]\nstrum = 1\n", 1, 1, "not known here"),
        ('[comping]\ncount = "1"\nplay = "cord"\n', 2, 9, "Did you mean 'chord'"),
        ('[comping]\ncount = "1"\nsound = "shrt"\n', 2, 10, "Did you mean 'short'"),
    ],
)  # fmt: skip
def test_errors_name_their_place(read, extra, line, column, words):
    with pytest.raises(InputError) as caught:
        read(extra)
    told = [p for p in caught.value.problems if words in str(p)]
    assert told, [str(p) for p in caught.value.problems]
    assert (told[0].line, told[0].column) == (FIRST + line, column)


@pytest.mark.parametrize(
    ("head", "words"),
    [
        ("loose_ms = 400\n", "from 0 to 40"),
        ("loose_force = -1\n", "from 0 to 30"),
        ('swing_notes = "crotchets"\n', 'must be "eighths" or "sixteenths"'),
        ("swing = true\n", "from 1 to 4"),
        ("mood = 3\n", "text in quotes"),
        ("answer = 3\n", "a list of tables"),
        ("answer = [1, 2]\n", "a list of tables"),
    ],
)
def test_errors_in_plain_values(read, head, words):
    with pytest.raises(InputError, match=words) as caught:
        read("", head + BASE)
    assert caught.value.problems[0].line == 1


@pytest.mark.parametrize("meter", ["6/8", "9/8", "12/8", "3/8", "6/4"])
def test_what_divides_in_three_does_not_swing(read, meter):
    base = f'title = "Own"\nmeter = "{meter}"\ntempo = [60, 90]\nswing = 2\n[strum]\ncount = "1"\n'
    with pytest.raises(InputError, match="does not swing") as caught:
        read("", base)
    assert (caught.value.problems[0].line, caught.value.problems[0].column) == (4, 9)
    assert read("", base.replace("swing = 2\n", "")).swing == 1


def test_a_tempo_outside_the_range_is_said(read):
    style = read("")
    assert style.unlike(90) == style.unlike(180) == ""
    assert "90 to 180" in style.unlike(60)
    assert style.unlike(60).endswith("slower.")
    assert style.unlike(300).endswith("faster.")
