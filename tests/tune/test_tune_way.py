"""The way through a tune by rules of its own: bars by brute force, places, and what is said.

Rules: the description of the tune file, followed here once more and otherwise.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from itertools import product

import pytest

from accomp.errors import InputError
from accomp.tune import Repeat, Spot, Stage, parse_tune, planned_bars, tune_toml, unfold
from accomp.tune.road import RoadMap, Step, pass_order, played_length, rounds, steps

HEAD = 'title = "T"\nkey = "C"\nmeter = "4/4"\ntempo = 120\n'


def by_hand(bars: int, repeats: list[Repeat], cut: int | None) -> list[tuple[int, int]]:
    """Bars of a section as somebody plays them, with a finger on the page."""
    played: dict[int, int] = {}
    order: list[tuple[int, int]] = []
    rounds_done: dict[int, int] = {}
    at = 0
    while at < bars:
        played[at] = played.get(at, 0) + 1
        order.append((at, played[at]))
        at += 1
        for one in repeats:
            done = rounds_done.get(one.first, 1)
            if at == one.last and done < one.times:
                rounds_done[one.first] = done + 1
                at = one.first
                break
    if cut is not None:
        while order[-1][0] != cut - 1:
            order.pop()
    return order


def test_every_section_of_three_bars_with_its_repeats() -> None:
    spans = [Repeat(a, b, times) for a in range(3) for b in range(a + 1, 4) for times in (2, 3)]
    apart = [[one, two] for one, two in product(spans, spans) if one.last <= two.first]
    for repeats in ([], *([one] for one in spans), *apart):
        for given in (repeats, repeats[::-1]):
            assert list(pass_order(3, given)) == by_hand(3, repeats, None)
            assert played_length(3, given) == len(by_hand(3, repeats, None))
        for cut in (1, 2, 3):
            assert list(pass_order(3, repeats, cut)) == by_hand(3, repeats, cut)


@dataclass(frozen=True)
class Way:
    """What of a section decides the way."""

    numbered: int = 0
    has_last: bool = False
    to_coda: int | None = None


def shown(way: tuple[Step, ...]) -> str:
    """Steps as "A", "A2" (with the second ending), "Al" (with the last one), "A/1" (left)."""
    ends = {"": "", "last": "l"}
    return " ".join(
        one.section + ends.get(one.ending, one.ending) + ("" if one.cut is None else f"/{one.cut}")
        for one in way
    )


PLAIN = Way()
WAYS = [
    ("A B", {}, 2, "A B A B"),
    ("A X B", {}, 1, "A B"),  # what is no section is passed over
    ("A", {"A": Way(2, True)}, 1, "Al"),
    ("A", {"A": Way(2, True)}, 2, "A1 Al"),
    ("A", {"A": Way(2, True)}, 5, "A1 A2 A2 A2 Al"),
    ("A", {"A": Way(2)}, 1, "A2"),
    ("A", {"A": Way(2)}, 3, "A1 A2 A2"),
    ("A A", {"A": Way(2)}, 2, "A1 A2 A1 A2"),
    ("A A A", {"A": Way(2, True)}, 2, "A1 A2 A2 A1 A2 Al"),
    ("A B A", {"A": Way(1, True)}, 1, "A1 B Al"),
    ("A B", {"A": Way(1, True), "B": Way(2, True)}, 3, "A1 B1 A1 B2 Al Bl"),
]


@pytest.mark.parametrize(("form", "ways", "times", "expected"), WAYS)
def test_which_ending_follows(form: str, ways: dict[str, Way], times: int, expected: str) -> None:
    sections = {"A": PLAIN, "B": PLAIN, **ways}
    assert shown(steps(RoadMap(tuple(form.split())), sections, times)) == expected


def test_before_and_after_the_form() -> None:
    sections = {"A": PLAIN, "B": PLAIN, "I": PLAIN, "V": PLAIN, "K": PLAIN}
    road = RoadMap(("A", "B"), "I", ("V", "V"), ("K", "K"))
    found = steps(road, sections, 2)
    assert [(s.stage, s.chorus, s.entry, s.section) for s in found] == [
        (Stage.INTRO, 1, 0, "I"), (Stage.VERSE, 1, 0, "V"), (Stage.VERSE, 1, 1, "V"),
        (Stage.CHORUS, 1, 0, "A"), (Stage.CHORUS, 1, 1, "B"), (Stage.CHORUS, 2, 0, "A"),
        (Stage.CHORUS, 2, 1, "B"), (Stage.CODA, 2, 0, "K"), (Stage.CODA, 2, 1, "K"),
    ]  # fmt: skip
    assert [s.chorus for s in steps(RoadMap((), None, (), ("K",)), sections, 0)] == [1]
    # verse, form and coda count the times of a section each by itself
    three = {**sections, "A": Way(3)}
    assert shown(steps(RoadMap(("A",), "A", ("A",), ("A",)), three, 2)) == "A1 A1 A1 A2 A3"


def test_where_the_form_is_left_for_the_coda() -> None:
    sections = {"A": Way(to_coda=1), "B": PLAIN, "K": PLAIN}
    for form, times, expected in (
        ("A B", 1, "A/1 K"), ("A B", 2, "A B A/1 K"), ("A B A", 1, "A B A/1 K"),
        ("A B A B", 2, "A B A B A B A/1 K"), ("B A", 2, "B A B A/1 K"),
    ):  # fmt: skip
        road = RoadMap(tuple(form.split()), coda=("K",))
        assert shown(steps(road, sections, times)) == expected
    assert shown(steps(RoadMap(("A", "B")), sections, 1)) == "A B"  # there is no coda
    road = RoadMap(("B",), None, ("A",), ("K",))
    assert shown(steps(road, sections, 1)) == "A B K"  # only the form is left
    # in its last time it is left, and has no ending then
    ends = {**sections, "A": Way(1, True, 1)}
    assert shown(steps(RoadMap(("A",), coda=("K",)), ends, 2)) == "A1 A/1 K"


@pytest.mark.parametrize(
    ("form", "one", "coda", "needed"),
    [
        ("A", Way(), "", 1), ("A", Way(1, True), "", 2), ("A", Way(3), "", 3),
        ("A", Way(3, True), "", 4), ("A A", Way(3), "", 1), ("A A", Way(3, True), "", 2),
        ("A", Way(to_coda=1), "K", 2), ("A", Way(to_coda=1), "", 1), ("X", Way(), "", 1),
        ("A", Way(1, True, 1), "K", 2), ("A X", Way(2), "", 2), ("X A", Way(2), "", 2),
    ],
)  # fmt: skip
def test_how_often_until_every_bar_has_come(form: str, one: Way, coda: str, needed: int) -> None:
    road = RoadMap(tuple(form.split()), coda=tuple(coda))
    assert rounds(road, {"A": one, "K": PLAIN}) == needed


def test_places_and_numbers_of_bars() -> None:
    text = (
        'intro = "last 2"\nverse = "V"\nform = ["A"]\ncoda = "K"\n[sections]\nV = "| D |"\n'
        'A = { bars = "|: C :| F |", first = "| G |", to_coda = 1 }\nK = "| A |"\n'
    ).replace('first = "| G |", ', "")
    found = parse_tune(HEAD + text, "")
    bars = unfold(found, 2)
    rows = [
        (b.number, b.start, b.chorus, b.section, b.section_bar, b.opens, b.leaves) for b in bars
    ]
    assert rows == [
        (1, 0, 1, "Intro", 0, True, False), (2, 1, 1, "Intro", 1, False, False),
        (3, 2, 1, "V", 0, True, False), (4, 3, 1, "A", 0, True, False),
        (5, 4, 1, "A", 1, False, False), (6, 5, 1, "A", 2, False, False),
        (7, 6, 2, "A", 0, True, False), (8, 7, 2, "A", 1, False, True),
        (9, 8, 2, "K", 0, True, False),
    ]  # fmt: skip
    assert [b.spot for b in bars] == [
        Spot(Stage.INTRO, 0, "A", "", 0, 2), Spot(Stage.INTRO, 0, "A", "", 1, 1),
        Spot(Stage.VERSE, 0, "V"), Spot(Stage.CHORUS, 0, "A"),
        Spot(Stage.CHORUS, 0, "A", "", 0, 2), Spot(Stage.CHORUS, 0, "A", "", 1),
        Spot(Stage.CHORUS, 0, "A"), Spot(Stage.CHORUS, 0, "A", "", 0, 2),
        Spot(Stage.CODA, 0, "K"),
    ]  # fmt: skip
    assert bars[4].spot.on_paper == ("A", "", 0)
    assert len(planned_bars(found)) == len(bars)


def test_spots_of_endings() -> None:
    text = '[sections]\nA = { bars = "| C |", first = "| D | E |", last = "| F |" }\n'
    bars = unfold(parse_tune(HEAD + text, ""), 2)
    assert [b.spot.on_paper for b in bars] == [
        ("A", "", 0), ("A", "1", 0), ("A", "1", 1), ("A", "", 0), ("A", "last", 0),
    ]  # fmt: skip
    assert [b.section_bar for b in bars] == [0, 1, 2, 0, 1]
    assert [b.leaves for b in bars] == [False] * 5
    assert [b.start for b in bars] == [Fraction(at) for at in range(5)]


# --- the road map as it is typed, and as it is written again --------------------------------------

A, B, V, K = 'A = "| C | F |"', 'B = "| G |"', 'V = "| D |"', 'K = "| E |"'

TYPED = [
    ('form = ["A", "B"]', 'form = ["A", "B"]'),
    ("", 'form = ["A", "B", "V", "K"]'),
    ('intro = "V"', 'intro = "V"\nform = ["A", "B", "K"]'),
    ('intro = "last 16"', 'intro = "last 16"\nform = ["A", "B", "V", "K"]'),
    ('verse = ["V"]', 'verse = "V"\nform = ["A", "B", "K"]'),
    ('coda = "K"', 'form = ["A", "B", "V"]\ncoda = "K"'),
    ('verse = ["V", "B"]\nform = ["A"]\ncoda = ["K", "K"]',
     'verse = ["V", "B"]\nform = ["A"]\ncoda = ["K", "K"]'),
    ('form = ["A"]\nchoruses = 3', 'form = ["3 x A"]'),
    ('form = ["A"]\nchoruses = 1', 'form = ["A"]\nchoruses = 1'),
    ('form = ["A", "B"]\nchoruses = 100', 'form = ["A", "B"]\nchoruses = 100'),
    ('form = ["V", "3 x A", "K"]', 'form = ["V", "3 x A"]\ncoda = "K"'),
    ('form = ["3xA"]', 'form = ["3 x A"]'), ('form = ["3× A"]', 'form = ["3 x A"]'),
    ('form = ["100 x A"]', 'form = ["100 x A"]'),
    ('form = ["1 x A"]', 'form = ["A"]\nchoruses = 1'),
    ('form = ["V", "1 x A"]', 'verse = "V"\nform = ["A"]\nchoruses = 1'),
    ('form = ["2 x A", "B"]', 'form = ["2 x A"]\ncoda = "B"'),
    ('form = ["A", "A", "B"]', 'form = ["A", "A", "B"]'),
    ('form = ["A", "A", "A", "B"]', 'form = ["A", "A", "A", "B"]'),
    ('form = ["3 x A", "4 x B"]', 'form = ["3 x A", "4 x B"]'),
    ('form = ["2 x A", "4 x B", "4 x V"]', 'form = ["A", "A", "4 x B", "4 x V"]'),
    ('form = ["3 x A", "B"]\nchoruses = 2', 'form = ["3 x A", "B"]\nchoruses = 2'),
    ('verse = "V"\nform = ["3 x A", "B"]', 'verse = "V"\nform = ["3 x A", "B"]'),
    ('form = ["2 x A", "B", "A"]', 'form = ["A", "A", "B", "A"]'),
    ('verse = "A"\nform = ["A"]\nchoruses = 2', 'verse = "A"\nform = ["A"]\nchoruses = 2'),
]  # fmt: skip


@pytest.mark.parametrize(("road", "written"), TYPED)
def test_the_road_map_as_it_is_written_again(road: str, written: str) -> None:
    found = parse_tune(f"{HEAD}{road}\n[sections]\n{A}\n{B}\n{V}\n{K}\n", "")
    text = tune_toml(found)
    inside = text.split('instrument = "tenor-banjo"\n')[1].split("\n\n[sections]")[0]
    assert inside == written
    assert parse_tune(text, "") == found


def problems(text: str) -> list[str]:
    with pytest.raises(InputError) as caught:
        parse_tune(HEAD + text, "t.toml")
    return [str(one) for one in caught.value.problems]


ONE_OF = "a section in quotes, one of A"
SAID = [
    ('form = ["101 x A"]\n[sections]\nA = "| C |"',
     f"t.toml:5:9: each of 'form' must be {ONE_OF}, and this asks for 'A' 101 times. "
     'It comes 1 to 100 times: "100 x A".'),
    ('form = ["0 x A"]\n[sections]\nA = "| C |"',
     f"t.toml:5:9: each of 'form' must be {ONE_OF}, and this asks for 'A' 0 times. "
     'It comes 1 to 100 times: "1 x A".'),
    ('intro = "last 0"\n[sections]\nA = "| C |"',
     't.toml:5:9: \'intro\' must be "last 4" (the last bars of the form), or a section, one of A, '
     "and this is 'last 0'. An intro has 1 to 16 bars."),
    ('intro = 3\n[sections]\nA = "| C |"',
     't.toml:5:9: \'intro\' must be "last 4" (the last bars of the form), or a section, one of A, '
     'and this is 3. Write intro = "last 4".'),
    ('form = ["d.s. al fine"]\n[sections]\nA = "| C |"',
     f"t.toml:5:9: each of 'form' must be {ONE_OF}, and this is 'd.s. al fine'. Name the sections "
     "again in the order played; the paper shows the jump by itself."),
    ('form = ["A", "A"]\n[sections]\nA = { bars = "| C |", first = "| F |", second = "| G |", '
     'third = "| D |" }',
     "t.toml:7:58: section 'A' comes 2 times, and has 3 endings. Take out what is never played, or "
     "name the section once more in `form`."),
    ('verse = "A"\nform = ["B"]\n[sections]\nA = { bars = "| C |", first = "| F |", '
     'second = "| G |" }\nB = "| C |"',
     "t.toml:8:40: section 'A' comes once, and has 2 endings. Take out what is never played, or "
     "name the section once more in `form`."),
    ('[sections]\nA = { bars = "| C |", first = "| F |" }',
     't.toml:6:23: [sections.A] has a first ending and no other. Add second = "| ... |" or '
     'last = "| ... |", or put its bars at the end of `bars`.'),
    ('[sections]\nA = { bars = "| C |", first = "| F |", third = "| G |", last = "| D |" }',
     "t.toml:6:40: [sections.A] has a third ending and no second one. Move the bars that it "
     'replaces from the end of `bars` to second = "| ... |".'),
    ('[sections]\nA = { bars = "| C |", last = "| G |" }',
     "t.toml:6:23: [sections.A] has an ending for the last time and no first one. Move the bars "
     'that it replaces from the end of `bars` to first = "| ... |".'),
    ('[sections]\nA = { bars = "| C |", first = "| F |", last = "| G :|" }',
     "t.toml:6:50: a repeat cannot stand in an ending. Write the bars out."),
    ('[sections]\nA = "| C :| x 101 |"',
     "t.toml:6:13: a repeat is played 2 to 100 times, and this says 101. Write :| x 3, with a "
     "number from 2 to 100."),
    ('[sections]\nA = "|: C | F |"',
     "t.toml:6:9: |: begins a repeat here, and no :| ends it. Write :| where it ends, or | in "
     "place of |:. No repeat stands inside another."),
    ('[sections]\nA = "| C :| F |"',
     "t.toml:6:10: :| ends a repeat here, and no |: begins it. Write |: where it begins; a whole "
     "section is repeated by its name in `form`."),
]  # fmt: skip


@pytest.mark.parametrize(("text", "said"), SAID)
def test_whole_sentences_of_what_is_wrong_with_the_way(text: str, said: str) -> None:
    assert said in problems(text)


def test_six_endings_and_no_more() -> None:
    names = ("first", "second", "third", "fourth", "fifth", "sixth")
    ends = ", ".join(f'{name} = "| {root} |"' for name, root in zip(names, "DEFGAB", strict=True))
    found = parse_tune(f'{HEAD}[sections]\nA = {{ bars = "| C |", {ends}, last = "| C7 |" }}\n', "")
    assert len(found.sections["A"].endings) == 6
    assert len(planned_bars(found)) == 14
    assert parse_tune(tune_toml(found), "") == found


def test_a_section_that_never_comes_may_have_anything() -> None:
    other = 'B = { bars = "| C |", first = "| F |", last = "| G |", to_coda = 1 }'
    found = parse_tune(f'{HEAD}form = ["A"]\n[sections]\nA = "| C |"\n{other}\n', "")
    assert found.notices == ("Section 'B' is not in the form and is not played.",)


def test_a_section_called_coda_is_shown_its_line() -> None:
    with pytest.raises(InputError) as caught:
        parse_tune(f'{HEAD}form = ["A"]\n[sections]\nA = "| C |"\nCoda = "| F |"\n', "")
    (problem,) = caught.value.problems
    assert problem.expected == 'coda = "Coda" before the first table'
    assert problem.hint == (
        'Write coda = "Coda" before the first table: it is played after the last time.'
    )
