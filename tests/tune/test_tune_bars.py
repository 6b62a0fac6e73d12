"""Bars as they are typed, cut with their places, and what is said of bars that are not well made.

Sentences are ours; repeat signs and slashes are followed here once more by rules of their own.
"""

from __future__ import annotations

from itertools import product

import pytest

from accomp.errors import InputError
from accomp.files.table import TextError
from accomp.time import Meter
from accomp.tune import parse_tune
from accomp.tune.grid import Cell, GridBar, Token, read_grid, read_repeats, token_hint

HEAD = 'title = "T"\nkey = "C"\nmeter = "4/4"\ntempo = 120\n'


def grid(text: str, meter: str | None = "4/4", **more):
    told: list[TextError] = []
    bars = read_grid(text, meter and Meter.parse(meter), told.append, **more)
    return bars, [(one.offset, one.message, one.found, one.expected, one.hint) for one in told]


def cells(bar: GridBar) -> str:
    signs = "|:" * bar.opens + (f":|{bar.times}@{bar.sign}" if bar.times else "")
    inside = " ".join(
        f"{cell.token.text}@{cell.token.offset}:{cell.start}+{cell.length}" for cell in bar.cells
    )
    return f"{inside}/{bar.count}{signs}"


@pytest.mark.parametrize(
    ("text", "bars"),
    [
        ("| C |", ["C@2:0+1/1"]),
        ("|C|F|", ["C@1:0+1/1", "F@3:0+1/1"]),
        ("| C / G7 |\n\n| / / F / |", ["C@2:0+2 G7@6:2+1/3", "/@14:0+2 F@18:2+2/4"]),
        ("|: C :|", ["C@3:0+1/1|::|2@5"]),
        ("|:C:|", ["C@2:0+1/1|::|2@3"]),
        ("|: C | F :| x 3 | G |", ["C@3:0+1/1|:", "F@7:0+1/1:|3@9", "G@18:0+1/1"]),
        ("|: C :| 3x |", ["C@3:0+1/1|::|3@5"]),
        ("|: C :| 12 × | F |", ["C@3:0+1/1|::|12@5", "F@15:0+1/1"]),
        ("|: C :|: F :|", ["C@3:0+1/1|::|2@5", "F@9:0+1/1|::|2@11"]),
        ("| C:D |", ["C:D@2:0+1/1"]),
        ("| / |", ["/@2:0+1/1"]),
        (" \t| C |\t", ["C@4:0+1/1"]),
    ],
)
def test_bars_are_cut_with_their_places(text: str, bars: list[str]) -> None:
    found, told = grid(text, None)
    assert (list(map(cells, found)), told) == (bars, [])


BEGINS = "Every line of bars begins and ends with |."
SIGNS = "Write |: right before the first bar of a repeat and :| right after its last one."
EMPTY = (
    "For a bar in which the chord goes on write | / |, for silence | N.C. |, and for a double bar "
    "line a single |."
)
CHORD = "a chord symbol, / or N.C."
OUTSIDE = "between bar lines: | F | C7 |"


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("C | F |", [(0, "'C' stands outside the bars.", "C", "a bar line | before it", BEGINS)]),
        (" C", [(1, "'C' stands outside the bars.", "C", OUTSIDE, BEGINS)]),
        ("| C |\n  # F", [(8, "'# F' stands outside the bars.", "# F", OUTSIDE,
         "Remarks cannot stand among the bars; put them on a line outside the quotes.")]),
        ("| C | F", [(6, "the bar 'F' is not closed.", "F", "a bar line | after it", BEGINS)]),
        ("| C || F |", [(4, "there is nothing in this bar.", "||", CHORD, EMPTY)]),
        ("| C | | F |", [(4, "there is nothing in this bar.", "| |", CHORD, EMPTY)]),
        ("| : | F |", [(0, "there is nothing in this bar.", "| : |", CHORD, SIGNS)]),
        ("| % |", [(2, "% repeats the bar before it, and nothing stands before it here.", "%",
         CHORD, "Write the chords themselves.")]),
        ("|: C :| x 1 |", [(8, "a repeat is played 2 to 100 times, and this says 1.", "x 1",
         "a number from 2 to 100", "Write :| x 3, with a number from 2 to 100.")]),
        ("|: C :|  101x |", [(9, "a repeat is played 2 to 100 times, and this says 101.", "101x",
         "a number from 2 to 100", "Write :| x 3, with a number from 2 to 100.")]),
        ("|: C :| x 2 | D :| x 100 |", []),
        ("| C D E |", [(2, "a bar of 4/4 holds 1, 2, 4 or 8 chords and /, and 'C D E' has 3.",
         "C D E", "1, 2, 4 or 8 chords and /", "Write 'C / D E' or 'C D E /'.")]),
        ("| " + "C " * 9 + "|", [(2, "a bar of 4/4 holds 1, 2, 4 or 8 chords and /, and "
         f"'{'C ' * 8}C' has 9.", "C " * 8 + "C", "1, 2, 4 or 8 chords and /",
         "Put it into several bars: one holds at most 8.")]),
    ],
)  # fmt: skip
def test_bars_that_are_not_well_made(text: str, told: list[tuple[int, str, str, str, str]]) -> None:
    assert grid(text)[1] == told


def test_how_many_bars_and_tokens_are_read() -> None:
    found, told = grid("| C | D | E |", most=2)
    assert len(found) == 2
    assert told == [
        (10, "there are more than 2000 bars, too many for a tune.", "", "at most 2000 bars",
         "Write sections that are repeated once, and name them again in `form`."),
    ]  # fmt: skip
    assert grid("| C | D | E |", most=3)[1] == []
    found, _ = grid(f"| {'C ' * 20}|", None)
    assert (found[0].count, len(found[0].cells)) == (12, 12)
    assert grid("| % |", after=True)[1] == []
    assert grid("| C | % |")[1] == []


def repeats(signs: str):
    """Bars as "[" opens, "]" closes, "B" both and "." neither."""
    told: list[str] = []
    bars = [
        GridBar((Cell(Token("C", at), 0, 1),), 1, 10 * at, sign in "[B", 2 * (sign in "]B"), at)
        for at, sign in enumerate(signs)
    ]
    found = read_repeats(bars, lambda error: told.append(f"{error.found}@{error.offset}"))
    return [(one.first, one.last) for one in found], told


def test_every_four_bars_with_repeat_signs() -> None:
    for signs in product(".[]B", repeat=4):
        spans, told = [], []
        opened = None
        for at, sign in enumerate(signs):
            if sign in "[B":
                told += [f"|:@{10 * opened}"] if opened is not None else []
                opened = at
            if sign in "]B":
                if opened is None:
                    told.append(f":|@{at}")
                else:
                    spans.append((opened, at + 1))
                opened = None
        told += [f"|:@{10 * opened}"] if opened is not None else []
        assert repeats("".join(signs)) == (spans, told)


@pytest.mark.parametrize(
    ("token", "hint"),
    [
        ("NC", "Did you mean 'N.C.'?"), ("//", "Put a space after each /."),
        ("///", "Put a space after each /."), ("/C", "Put a space after each /."),
        ("C/", "Did you mean 'C /', with a space?"), ("C//", "Did you mean 'C /', with a space?"),
        ("%%", "To repeat the bar before write % alone in a bar: | F C7 | % |."),
        ("./.", "To repeat the bar before write % alone in a bar: | F C7 | % |."),
        ("|:", "Repeats are written at bar lines: |: F | C7 :|."),
        ("x3", "How often a passage comes stands after its repeat: |: F | C7 :| x 3."),
        ("3×", "How often a passage comes stands after its repeat: |: F | C7 :| x 3."),
        ("-", "To let a chord go on write /."), ("—", "To let a chord go on write /."),
        ("H", ""), ("x", ""),
    ],
)  # fmt: skip
def test_hints_for_tokens(token: str, hint: str) -> None:
    assert token_hint(token) == hint


def told(text: str) -> list[str]:
    with pytest.raises(InputError) as caught:
        parse_tune(HEAD + text, "")
    return [str(one) for one in caught.value.problems]


ITSELF = "Write the chord itself."


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('[sections]\nA = "| / | C |"',
         [f"line 6:8: the tune starts with /, and nothing stands before it. {ITSELF}"]),
        ('form = ["A", "B", "C", "B"]\n[sections]\nA = "| C |"\nB = "| / | F |"\nC = "| N.C. |"',
         ["line 8:8: section 'B' starts with /, and the form comes to it from C and N.C.. "
          f"{ITSELF}"]),
        ('form = ["A"]\n[sections]\nA = "| C |"\nB = "| / |"',
         [f"line 8:8: section 'B' starts with /, and the form never comes to it. {ITSELF}"]),
        ('[sections]\nA = "| C |: / | F :|"',
         [f"line 6:13: the repeat starts with /, and comes to it from C and F. {ITSELF}"]),
        ('[sections]\nA = "| C |: / G | F :|"',
         [f"line 6:13: the repeat starts with /, and comes to it from C and F. {ITSELF}"]),
        ('[sections]\nA = "| N.C. |: / | F :|"',
         [f"line 6:16: the repeat starts with /, and comes to it from N.C. and F. {ITSELF}"]),
        ('intro = "B"\nform = ["A"]\n[sections]\nA = "| / | C |"\nB = "| F |"',
         [f"line 8:8: section 'A' starts with /, and the form comes to it from C and F. {ITSELF}"]),
    ],
)  # fmt: skip
def test_a_slash_that_nothing_comes_before(text: str, said: list[str]) -> None:
    assert told(text) == said


def chords(text: str, name: str) -> list[list[str]]:
    section = parse_tune(HEAD + text, "").sections[name]
    return [
        [f"{s.chord or '-'}{'' if s.written else '~'}" for s in bar.chords]
        for bar in section.every_bar
    ]


def test_a_slash_goes_on_with_what_comes_before_it() -> None:
    text = '[sections]\nA = "| C |: F | / G :|"\nB = "| / | / N.C. | / | % | % |"\n'
    assert chords(text, "A") == [["C"], ["F"], ["F~", "G"]]
    assert chords(text, "B") == [["G~"], ["G~", "-"], ["-~"], ["-~"], ["-~"]]
    # a bar once more begins with a chord that is written where another one sounds before it
    text = '[sections]\nA = "| C F | % | % |"\n'
    assert chords(text, "A") == [["C", "F"], ["C", "F"], ["C", "F"]]
    text = '[sections]\nA = "| C | / G | % |"\n'
    assert chords(text, "A") == [["C"], ["C~", "G"], ["C", "G"]]
    # endings go on with the end of the body
    text = '[sections]\nA = { bars = "| C | F |", first = "| / G |", last = "| % | / |" }\n'
    assert chords(text, "A") == [["C"], ["F"], ["F~", "G"], ["F~"], ["F~"]]
    # a section may come after either of its endings, where both end alike
    text = (
        'form = ["A", "B", "A", "B"]\n[sections]\n'
        'A = { bars = "| C |", first = "| G |", second = "| D | G |" }\nB = "| / |"\n'
    )
    assert chords(text, "B") == [["G~"]]
    assert chords(text.replace("second", "last"), "B") == [["G~"]]
    assert told(text.replace("| D | G |", "| D |"))[0].startswith(
        "line 8:8: section 'B' starts with /, and the form comes to it from D and G."
    )
