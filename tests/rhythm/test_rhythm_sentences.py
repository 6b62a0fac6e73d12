"""What the rhythm room says in whole sentences: counts that are wrong, a style in words; and every
limit of a style file from both sides."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from accomp.errors import InputError
from accomp.files.table import TextError
from accomp.files.toml import parse_toml
from accomp.rhythm import describe_style
from accomp.rhythm.describe import describe_strum
from accomp.rhythm.passage import Ending, Passage
from accomp.rhythm.pattern import BandNote, BandPattern, Pattern
from accomp.rhythm.read_style import style_from
from accomp.rhythm.rows import read_count, under
from accomp.rhythm.stroke import ForceStep, Stroke
from accomp.rhythm.style import Style
from accomp.time import Meter, Span

FOUR, WHOLE = Meter.parse("4/4"), Fraction(1)


@pytest.mark.parametrize(
    ("text", "counts", "told"),
    [
        ("", None, "the count is empty. | | a count such as '1 & 2 &' |"),
        ("1 | 1", 4, "a count with a `length` has no bar lines. | | | | "
         "Leave out either the bar lines or `length`."),
        ("1 5", None, "count 5 lies outside a bar of 4/4. | 5 | 1 to 4 |"),
        ("0", None, "count 0 lies outside a bar of 4/4. | 0 | 1 to 4 |"),
        ("1 4", Fraction(5, 2), "count 4 lies outside the pattern's length of 5/2. | 4 | 1 to 3 |"),
        ("1 2 2", None, "count 2 comes after 2 in the same bar. | 2 | a higher number | "
         "A new bar begins with `|`."),
        ("& 1", None, "'&' has no number before it in its bar. | & | a number | "
         "Say the number first, with '.' under it: '1 &'."),
        ("1 two", None, "'two' is not a word of the count. | two | "
         "a number, e trip & let a or | |"),
        ("1 a e", None, "'e' does not come later than the word before it. | e | "
         "the order e trip & let a |"),
        ("1 2 a", Fraction(3, 2), "'a' lies outside the pattern's length of 3/2. | a | |"),
        ("1 | | 2", None, "nothing stands between two bar lines. | | | a count | "
         "Write a silent bar as a 1 with '.' under it."),
    ],
)  # fmt: skip
def test_what_is_wrong_with_a_count_in_whole_sentences(
    text: str, counts: int | None, told: str
) -> None:
    with pytest.raises(TextError) as caught:
        read_count(text, FOUR, None if counts is None else Fraction(counts))
    assert sentence(caught.value) == told.split()


def sentence(error: TextError) -> list[str]:
    parts = (str(error), error.found, error.expected, error.hint)
    return " | ".join(parts).split()


@pytest.mark.parametrize(
    ("row", "told"),
    [
        ("", "the row is empty. | | 4 words |"),
        ("a b c", "3 words stand under 4 counts. | 3 words | 4 words, or one for all | "
         "Write '.' where nothing stands."),
        ("a b c | d", "a bar line stands elsewhere than in the count. | c | bar 2 |"),
    ],
)  # fmt: skip
def test_what_is_wrong_with_a_row_in_whole_sentences(row: str, told: str) -> None:
    count = read_count("1 3 | 1 3", FOUR)
    with pytest.raises(TextError) as caught:
        under(row, count)
    assert sentence(caught.value) == told.split()
    assert caught.value.offset == (4 if row else 0)


def test_counts_and_their_places_to_the_last_word() -> None:
    assert read_count("1 4 a", FOUR).places == (0, Fraction(3, 4), Fraction(15, 16))
    assert read_count("| 1 | 2 |", FOUR).places == (0, Fraction(5, 4))
    assert read_count("1 | 2", FOUR).length == 2
    assert read_count("1 3", FOUR, Fraction(5, 2)).length == Fraction(5, 8)
    assert read_count("1 3", FOUR, Fraction(5, 2)).places == (0, Fraction(1, 2))
    assert len(under("down", read_count("1 2 3", FOUR))) == 3
    assert [w.text for w in under("a | b", read_count("1 | 1", FOUR))] == ["a", "b"]
    assert [w.text for w in under("a b", read_count("1 | 1", FOUR))] == ["a", "b"]


def test_a_word_between_hangs_on_its_number() -> None:
    six = Meter.parse("6/8")
    late = Stroke(Span(Fraction(3, 16), Fraction(3, 4)))
    assert describe_strum(Pattern(six.bar, (late,)), six) == (
        "  count   1 2 &    4", "  stroke  . . down .",
    )  # fmt: skip


def test_a_style_in_words_whole() -> None:
    def band(*notes: tuple[str, str], player: str = "", length: Fraction = WHOLE, **more: object):
        made = tuple(BandNote(Fraction(at), what) for at, what in notes)
        return BandPattern(length, made, player, **more)

    quarters = [
        Stroke(Span(Fraction(n, 4), Fraction(n + 1, 4)), "up" if n % 2 else "down")
        for n in range(4)
    ]
    loud = replace(quarters[3], force="accent", sound="choked", strings="low2")
    style = Style(
        name="own-four",
        title="A four of our own",
        meter=FOUR,
        tempo=(90.0, 180.5),
        strum=Pattern(WHOLE, (*quarters[:3], loud)),
        bass=band(("0", "root"), ("1/2", "approach"), player="tuba", free=True, approach="scale"),
        drums=BandPattern(
            WHOLE,
            (
                BandNote(Fraction(0), "bass-drum"),
                BandNote(Fraction(1, 8), "hat", ForceStep.ACCENT),
                BandNote(Fraction(1, 4), "hat", ForceStep.GHOST),
            ),
            "brushes",
        ),
        comping=band(("1/4", "chord"), player="rock-organ"),
        right_hand="flat and even",
        mood="glad",
        swing=1.5,
        jitter_ms=4.0,
        jitter_force=2.5,
        passages=(
            Passage("answer", bars=(8,), phrase=8, strum=Pattern(WHOLE, (quarters[0],))),
            Passage("answer", bars=(4, 8), phrase=8, over=True),
            Passage("build", since=2, louder=1),
            Passage("build", choruses=(2, 3), louder=-2),
            Passage("break", bars=(1,), phrase=4, last=True, bass=band(("0", "fifth"))),
            Passage("break", since=2, last=True),
            Passage("break"),
        ),
        lead_in=band(("3/4", "snare"), ("5/6", "snare"), ("11/12", "snare")),
        ending=Ending(tag=1, strum=Pattern(Fraction(3, 8), (quarters[0],))),
    )
    assert "\n".join(describe_style(style)) == DESCRIBED.strip("\n")


DESCRIBED = """
A four of our own (own-four)
4/4, 90 to 180.5 beats a minute, swing 1.5 to 1
Right hand: flat and even
Mood: glad
With it: tuba, rock organ, drums
Loose by about 4 ms in time and by up to 2.5 in velocity

  count    1     2     3     4
  stroke   down  up    down  up
  strings  all   all   all   low2
  force    plain plain plain accent
  sound    ring  ring  ring  choked

Bass: tuba, chords need not begin on their root, approach notes from the scale
  count  1    2 3        4
  note   root . approach .

Comping: rock organ
  count  1 2     3 4
  play   . chord . .

Drums: brushes
  count      1 & 2     3 4
  bass-drum  x . .     . .
  hat        . X ghost . .

Answer: the end of each phrase of 8
  count   1    2 3 4
  stroke  down . . .

Answer: bars 4, 8 of each 8, over what is played already

Build: from chorus 2 on, 1 step harder

Build: chorus 2, 3, 2 steps softer

Break: bar 1 of each 4, the last chorus

Bass
  count  1     2 3 4
  note   fifth . . .

Break: the last chorus

Break

Lead-in: drums in the last bar of the count-in
  count  1 2 3 4 trip let
  snare  . . . x x    x

Ending: the last four bars once more
  count   1    2
  stroke  down .
  length  1.5
"""


# Limits of a style file

GOOD = """
title = "Own"
meter = "4/4"
tempo = [90, 180]
{top}
[strum]
count = "1 2 3 4"
{strum}
{more}
"""
# Where a number stands, its lowest and its highest value, and whether it is a whole one; ours.
LIMITS = [
    ("top", "loose_ms = {}", 0, 40, 1),
    ("top", "loose_force = {}", 0, 30, 1),
    ("top", "swing = {}", 1, 4, 1),
    ("strum", "spread = {}", 0, 8, 1),
    ("strum", "taper = {}", 0, 8, 1),
    ("more", "[answer]\nphrase = {}", 1, 64, 1),
    ("more", "[answer]\nbars = [{}]", 1, 8, 1),
    ("more", "[answer]\nphrase = 5\nbars = [{}]", 1, 5, 1),
    ("more", "[build]\nsince = {}", 1, 100, 1),
    ("more", "[break]\nchorus = [{}]", 1, 100, 1),
    ("more", "[answer]\nlouder = {}", -4, 4, 1),
    ("more", "[ending]\nritard = {}", 0, 64, 1),
    ("more", "[ending]\nslow_to = {}", 0.25, 1, 0.01),
    ("more", "[ending]\ntag = {}", 0, 8, 1),
]


@pytest.mark.parametrize(("where", "line", "low", "high", "step"), LIMITS)
def test_limits_of_a_style_file(
    where: str, line: str, low: float, high: float, step: float
) -> None:
    def read(value: float) -> Style:
        parts = {"top": "", "strum": "", "more": "", where: line.format(value)}
        return style_from(parse_toml(GOOD.format(**parts), "own.toml"), "own")

    for value in (low, high):
        read(value)
    for value in (low - step, high + step):
        with pytest.raises(InputError) as caught:
            read(value)
        (problem,) = caught.value.problems
        assert f"from {low:g} to {high:g}, and this is {value:g}" in str(problem)


def test_what_a_style_file_leaves_out() -> None:
    def read(**parts: str) -> Style:
        text = GOOD.format(**{"top": "", "strum": "", "more": "", **parts})
        return style_from(parse_toml(text, "own.toml"), "own")

    plain = read()
    assert (plain.jitter_ms, plain.jitter_force, plain.swing, plain.spread, plain.taper) == (
        0, 0, 1, 1, 1,
    )  # fmt: skip
    assert (plain.swing_pair, plain.mood, plain.right_hand) == (Fraction(1, 4), "", "")
    assert (plain.bass, plain.drums, plain.comping, plain.passages) == (None, None, None, ())
    assert (plain.lead_in, plain.ending) == (None, Ending())
    assert read(more="[ending]\nritard = 0").ending.slow_to == 1
    assert read(more="[ending]\nritard = 1").ending.slow_to == 0.7
    build, answer, stop = (
        read(more=f"[{kind}]\nlouder = 1").passages[0] for kind in ("build", "answer", "break")
    )
    assert (build.since, build.bars, build.phrase, build.choruses) == (2, (), 8, ())
    assert (answer.since, answer.bars, answer.phrase) == (1, (8,), 8)
    assert (stop.since, stop.bars, stop.last, stop.over) == (1, (), False, False)
    assert read(more="[answer]\nphrase = 4").passages[0].bars == (4,)
    assert read(more="[answer]\nbars = [8, 4, 8]").passages[0].bars == (4, 8)
    assert read(more='[break]\nchorus = "last"').passages[0].last
    assert read(more="[break]\nchorus = [3, 2, 3]").passages[0].choruses == (2, 3)
