"""Written bars made full ones, chords put where a tune file has room: worked out by hand."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from accomp.intake.abc import read_abc
from accomp.intake.build import build_tune, lay_out
from accomp.intake.written import WrittenTune
from accomp.tune.unfold import unfold

HEAD = "X:1\nT:T\nM:4/4\nL:1/4\nQ:1/4=100\nK:C\n"


def written(music: str, head: str = HEAD) -> WrittenTune:
    (tune,) = read_abc(f"{head}{music}\n", Path("t.abc"))
    return tune


def laid(music: str, head: str = HEAD) -> tuple[str, list[str]]:
    """The bars as they are played ("C@0 F@2", in quarters), and what is said."""
    tune = written(music, head)
    built = build_tune(tune)
    assert built is not None, tune.problems
    bars = " | ".join(
        " ".join(f"{span.chord or '-'}@{4 * span.span.start}" for span in bar.chords)
        for bar in unfold(built.tune)
    )
    pickup = f"{4 * built.tune.pickup}> " if built.tune.pickup else ""
    return pickup + bars, list(tune.said)


SILENT = "bar {}: it holds {} of {} beats and is filled up with silence"
LONG = "bar {}: it holds {} beats, and {} has {}; it becomes {} bars"
MOVED = "bar {}: {} on {} is moved to {}, the nearest place a tune file can show"
FULL = "bar {}: {} on {} finds no room and is left out"
BEFORE = "bar {}: no chord symbol stands at its start; nobody plays before one"
PICKUPS = "bar {}: the pickups that follow it have different chords, which are not taken over"
OVER = "bar {}: nobody plays with a pickup; {} over it {}"
LEFT_OUT, BEGINS = "is left out", "begins with the next bar"

LAID = [
    ('"C"C4|"F"F4|', "C@0 | F@0", []),
    ('"C"C2"F"F2|C4|', "C@0 F@2 | F@0", []),
    ('"C"C4|C2"F"F2|', "C@0 | C@0 F@2", []),
    ('"C"C4|C2"C"F2|', "C@0 | C@0", []),  # the same chord again says nothing new
    ('"C"C4|"C"C4|', "C@0 | C@0", []),
    ('"C"C2"N.C."C2|C4|', "C@0 -@2 | -@0", []),
    ('C4|"C"C4|', "-@0 | C@0", [BEFORE.format(1)]),
    ('C2"C"C2|', "-@0 C@2", [BEFORE.format(1)]),
    ('C2"N.C."C2|"C"C4|', "-@0 | C@0", []),
    # pickups
    ('C|"C"C4|', "1> C@0", []),
    ('"G"C|"C"C4|', "1> C@0", [OVER.format(0, "G", LEFT_OUT)]),
    ('"G"C|C4|"C"C4|', "1> G@0 | C@0", [OVER.format(0, "G", BEGINS)]),
    ('"N.C."C|"C"C4|', "1> C@0", [OVER.format(0, "N.C.", LEFT_OUT)]),
    ('"G"C"F"C|C4|', "2> F@0", [OVER.format(0, "F", BEGINS)]),
    ('C|"C"C4|"F"F3|', "1> C@0 | F@0", []),
    ('C|"C"C4|"F"F2|', "1> C@0 | F@0", []),  # nobody asks for the end to be full
    ('C2|"C"C3|"F"F4|', "2> C@0 | F@0", [SILENT.format(1, 3, 4)]),
    # bars that are split are put together
    ('"C"C4|"F"C|"G"C3|"D"D4|', "C@0 | F@0 G@1 | D@0", []),
    ('"C"C4|"F"C2|"G"C3|"D"D4|', "C@0 | F@0 | G@0 | D@0",
     [SILENT.format(2, 2, 4), SILENT.format(3, 3, 4)]),
    ('"C"C4|"F"C3||"G"C|"D"D4|', "C@0 | F@0 G@3 | D@0", []),
    ('"C"C4|"F"C3:|"G"C|"D"D4|', "C@0 | F@0 G@3 | C@0 | F@0 G@3 | D@0",
     [SILENT.format(2, 3, 4)]),
    # a pickup before each passage, its chord in the bar before it
    ('|:C|"C"C4|"F"F3:|', "1> C@0 | F@0 | C@0 | F@0", []),
    ('|:"G"C|"C"C4|"F"F3:|', "1> C@0 | F@0 | C@0 | F@0",
     [PICKUPS.format(2), OVER.format(0, "G", LEFT_OUT)]),
    ('"C"C4|"F"F3|]"G"C|"D"D4|', "C@0 | F@0 G@3 | D@0", []),
    # bars that are too long
    ('"C"C5|"F"F4|', "C@0 | C@0 | F@0", [LONG.format(1, 5, "4/4", 4, 2)]),
    ('"C"C4"F"C4|', "C@0 | F@0", [LONG.format(1, 8, "4/4", 4, 2)]),
    ('"C"C6"F"C2"G"C|', "C@0 | C@0 F@2 | G@0", [LONG.format(1, 9, "4/4", 4, 3)]),
    # places: 1, 2, 4 or 8 tokens
    ('"C"C"F"C"G"C"D"C|', "C@0 F@1 G@2 D@3", []),
    ('"C"C/"F"C7/2|', "C@0 F@1/2", []),
    ('"C"C3/4"F"C13/4|', "C@0 F@1/2", [MOVED.format(1, "F", "1 3/4", "1 1/2")]),
    ('"C"C5/8"F"C27/8|', "C@0 F@1/2", [MOVED.format(1, "F", "1 5/8", "1 1/2")]),
    ('"C"C7/8"F"C25/8|', "C@0 F@1", [MOVED.format(1, "F", "1 7/8", "2")]),
    ('"C"C/4"F"C15/4|', "C@0 F@1/2", [MOVED.format(1, "F", "1 1/4", "1 1/2")]),  # 0 is taken
    ('"C"C15/4"F"C/8"G"C/8|', "C@0 F@7/2", [MOVED.format(1, "F", "4 3/4", "4 1/2"),
     FULL.format(1, "G", "4 7/8")]),
    ('"C"C15/4"F"C/8"N.C."C/8|', "C@0 F@7/2", [MOVED.format(1, "F", "4 3/4", "4 1/2"),
     FULL.format(1, "N.C.", "4 7/8")]),
    ('C/4"N.C."C15/4|"C"C4|', "-@0 | C@0", [MOVED.format(1, "N.C.", "1 1/4", "1")]),
]  # fmt: skip


@pytest.mark.parametrize(("music", "bars", "said"), LAID)
def test_full_bars(music: str, bars: str, said: list[str]) -> None:
    assert laid(music) == (bars, said)


# What a meter counts: the lower number of its name.
@pytest.mark.parametrize(
    ("meter", "music", "bars", "said"),
    [
        ("6/8", '"C"C3|"F"F2|"G"G|', "C@0 | F@0 G@2", []),
        ("6/8", '"C"C3|"F"F2|"G"G3|', "C@0 | F@0 | G@0", [SILENT.format(2, 4, 6)]),
        ("6/8", '"C"C4|"F"F3|', "C@0 | C@0 | F@0", [LONG.format(1, 8, "6/8", 6, 2)]),
        ("6/8", '"C"C3/2"F"C3/2|', "C@0 F@3/2", []),
        ("6/8", '"C"C5/4"F"C7/4|', "C@0 F@1", [MOVED.format(1, "F", "3 1/2", "3")]),
        ("2/2", '"C"C2"F"C2|', "C@0 F@2", []),
        ("2/2", '"C"C5/2"F"C3/2|', "C@0 F@2", [MOVED.format(1, "F", "2 1/4", "2")]),
        ("3/4", '"C"C2"F"C|', "C@0 F@2", []),
        ("3/4", '"C"C3/2"F"C3/2|', "C@0 F@3/2", []),
        ("3/8", '"C"C3/4"F"C3/4|', "C@0 F@1/2", [MOVED.format(1, "F", "2 1/2", "2")]),
    ],
)
def test_full_bars_of_every_meter(meter: str, music: str, bars: str, said: list[str]) -> None:
    assert laid(music, HEAD.replace("4/4", meter)) == (bars, said)


@pytest.mark.parametrize(
    ("length", "pickup", "said"),
    [
        ("1/48", Fraction(1, 192), []),  # a 192nd of a whole note is the finest
        ("1/47", Fraction(0), ["bar 0: a pickup of 1/188 of a whole note is left out"]),
        ("3", Fraction(3, 4), []),
        ("/3", Fraction(1, 12), []),
    ],
)
def test_a_pickup_is_of_notes(length: str, pickup: Fraction, said: list[str]) -> None:
    tune = written(f'C{length}|"C"C4|')
    built = build_tune(tune)
    assert built is not None
    assert (built.tune.pickup, list(tune.said)) == (pickup, said)


def test_a_pickup_as_long_as_the_first_bar_is_left_out() -> None:
    tune = written('C3|[M:3/4]"C"C3|')
    built = build_tune(tune)
    assert built is not None
    assert built.tune.pickup == 0
    assert "bar 0: a pickup of 3/4 of a whole note is left out" in tune.said
    tune = written('C2|[M:3/4]"C"C3|')
    built = build_tune(tune)
    assert built is not None
    assert built.tune.pickup == Fraction(1, 2)


def test_music_that_is_all_pickup_is_full_bars() -> None:
    assert laid('"C"C|') == ("C@0", [])
    assert laid('"C"C2|"F"F|') == ("2> F@0", [OVER.format(0, "C", LEFT_OUT)])


@pytest.mark.parametrize(
    ("field", "meter", "tempo", "said"),
    [
        ("Q:1/4=120", "4/4", 120, []),
        ("Q:1/4=120", "2/2", 60, []),
        ("Q:1/4=90", "6/8", 60, []),
        ("Q:1/4=100.126", "4/4", 100.13, []),
        ("", "4/4", 120, ["no tempo is given; 120 beats a minute are taken"]),
        ("Q:1/4=19.9", "4/4", 20, ["a tempo of 19.9 beats a minute becomes 20"]),
        ("Q:1/4=20", "4/4", 20, []),
        ("Q:1/4=400", "4/4", 400, []),
        ("Q:1/4=401", "4/4", 400, ["a tempo of 401 beats a minute becomes 400"]),
    ],
)
def test_tempo_counts_beats(field: str, meter: str, tempo: float, said: list[str]) -> None:
    head = HEAD.replace("Q:1/4=100\n", f"{field}\n" * bool(field)).replace("4/4", meter)
    tune = written('"C"C12|', head)
    built = build_tune(tune)
    assert built is not None
    assert built.tune.tempo == tempo
    assert [one for one in tune.said if "tempo" in one] == said


def refused(tune: WrittenTune) -> list[tuple[str, int, str, str, str]]:
    assert build_tune(tune) is None
    return [(p.message, p.line, p.found, p.expected, p.hint) for p in tune.problems]


METERS = "2/2, 3/2, 2/4, 3/4, 4/4, 5/4, 6/4, 3/8, 6/8, 9/8, 12/8"
CHORDS = (
    "no chord symbols",
    "chord symbols over the bars, as on a lead sheet",
    "Write them over the melody and read it again, or type a tune file.",
)
MANY = (
    "too many bars",
    "at most 2000 bars",
    "Is it a tune? Look at its repeat signs and endings.",
)
REFUSED = [
    (
        "",
        [("'T': it has no bars.", 1, "no music", "bars with chord symbols",
          "Is this a lead sheet?")],
    ),
    ("C4|", [("'T': it has no chord symbols.", 1, *CHORDS)]),
    ('"N.C."C4|', [("'T': it has no chord symbols.", 1, *CHORDS)]),
    (
        '[M:7/8]"C"C4|C4|[M:none]C4|[M:7/8]C4|\n[M:5/8]C4|',
        [
            (f"'T': bar {bar}: {shown} cannot be played here.", line, shown, f"one of {METERS}",
             f"Meters are {METERS}.")
            for bar, shown, line in (("1", "7/8", 7), ("3", "no meter", 7), ("5", "5/8", 8))
        ],
    ),
    ('"C"C4|Z1999|C4|', [("'T': it has more than 2000 bars.", 1, *MANY)]),
    (
        '|:"C"C4|Z1000:|\nC4|',
        [("'T': with its repeats it has more than 2000 bars.", 1, *MANY)],
    ),
    (
        '[M:2/4]"C"C4|Z1996|\nC4|C4|\n',
        [("'T': its long bars, cut to their meters, make more than 2000 bars.", 8, *MANY)],
    ),
    (
        '|:"C"C8|Z999:|',
        [("'T': played through, it has more than 2000 full bars.", 1, *MANY)],
    ),
    (
        '[2"C"C4|]',
        [("'T': its endings lead past every bar.", 1, "endings",
          "bars that are played the first time", "Look at the numbers of its endings.")],
    ),
    ('C4|[2"C"C4|]', [("'T': none of its chord symbols can be played.", 1, *CHORDS)]),
]  # fmt: skip


@pytest.mark.parametrize(("music", "problems"), REFUSED)
def test_what_is_no_tune(music: str, problems: list[tuple[str, int, str, str, str]]) -> None:
    assert refused(written(music)) == problems


@pytest.mark.slow
def test_two_thousand_bars_are_a_tune() -> None:
    for music in ('"C"C4|Z1999|', '|:"C"C4|Z999:|', '[M:2/4]"C"C4|Z1998|'):
        tune = written(music)
        assert lay_out(tune) is not None, tune.problems


def test_bars_that_are_never_reached_are_said() -> None:
    tune = written('"C"C4|"F"F4!fine!|"G"G4!D.C.!|"A"A4|')
    assert build_tune(tune) is not None
    assert tune.said == ("bar 4: the repeat signs never lead to it; it is left out",)
