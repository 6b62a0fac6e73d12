"""Values, places and names in files at their bounds, with whole sentences; sentences are ours."""

from __future__ import annotations

from datetime import date, time
from fractions import Fraction

import pytest

from accomp.errors import InputError, Problem
from accomp.files import values
from accomp.files.table import Findings, Table, TextError
from accomp.files.toml import nearest, parse_toml
from accomp.files.values import WrongValueError, described, short

# --- kinds of value ------------------------------------------------------------------------------


def test_what_is_expected() -> None:
    letters = "abcdefghijk"
    for kind, expected in (
        (values.number(), "a number"),
        (values.number(0), "a number of 0 or more"),
        (values.number(0, 9), "a number from 0 to 9"),
        (values.number(0.5, 1e6), "a number from 0.5 to 1000000"),
        (values.number(0, above=True), "a number above 0"),
        (values.number(0, 9, above=True), "a number above 0, at most 9"),
        (values.number(0, 9, unit=" of beats"), "a number of beats from 0 to 9"),
        (values.whole(), "a whole number"),
        (values.whole(1), "a whole number of 1 or more"),
        (values.whole(1, 36), "a whole number from 1 to 36"),
        (values.whole(0, above=True), "a whole number above 0"),
        (values.whole(0, 9, above=True), "a whole number above 0, at most 9"),
        (values.flag(), "true or false"),
        (values.text(), "a text in quotes"),
        (values.word(["a"]), '"a"'),
        (values.word([*letters], "a letter"), " or ".join(f'"{one}"' for one in letters)),
        (values.word([*letters, "l"], "a letter"), "a letter"),  # twelve are too many to list
    ):
        assert kind.expected == expected


@pytest.mark.parametrize("make", [values.number, values.whole])
def test_numbers_at_their_bounds(make) -> None:
    def hint(kind, found: object) -> str | None:
        try:
            assert kind.take(found) == type(kind.take(found))(found)  # type: ignore[call-overload]
        except WrongValueError as error:
            return error.hint
        return None

    both, above, open_end = make(2, 5), make(2, 5, above=True), make(2)
    assert [hint(both, n) for n in (1, 2, 5, 6)] == [
        "The nearest is 2.", None, None, "The nearest is 5.",
    ]  # fmt: skip
    assert [hint(above, n) for n in (1, 2, 3, 5, 6)] == ["", "", None, None, "The nearest is 5."]
    assert [hint(open_end, n) for n in (1, 2, 10**9)] == ["The nearest is 2.", None, None]
    assert [hint(make(), n) for n in (-(10**9), 2**200 - 1, 2**200, -(2**200))] == [
        None, None, "", "",
    ]  # fmt: skip
    assert hint(make(), True) == ""
    assert [hint(make(), text) for text in ("3", "3.5", "x", "inf", "")] == [
        "Write it without quotes.", "Write it without quotes.", "", "", "",
    ]  # fmt: skip
    assert (hint(values.number(), 2.5), hint(values.whole(), 2.5)) == (None, "")


def test_texts_at_their_longest() -> None:
    kind = values.text()
    assert kind.take("x" * 1000) == "x" * 1000
    with pytest.raises(WrongValueError) as caught:
        kind.take("x" * 1001)
    assert (caught.value.hint, caught.value.instead) == (
        "Shorten it to 1000 characters.", "has 1001 characters",
    )  # fmt: skip
    assert values.text(lines=True).take(" a\n b\t") == "a b"
    assert values.text(empty=True).take("") == ""
    for wrong in ("", " "):
        with pytest.raises(WrongValueError) as caught:
            kind.take(wrong)
        assert (caught.value.instead, caught.value.found) == ("is empty", repr(wrong))


@pytest.mark.parametrize(
    ("value", "shown", "told"),
    [
        (True, "true", "true"), (False, "false", "false"), (3, "3", "3"), (2.5, "2.5", "2.5"),
        ([1], "[...]", "a list"), ([], "[]", "a list"), ({"a": 1}, "{...}", "a table"),
        ({}, "{}", "a table"), ("x", "x", "'x'"), ("x" * 60, "x" * 60, repr("x" * 60)),
        ("x" * 61, "x" * 57 + "...", repr("x" * 57 + "...")),
        (10**60 - 1, "9" * 60, "9" * 60), (10**60, "1" + "0" * 56 + "...", "1" + "0" * 56 + "..."),
        (2**201, "a number of very many digits", "a number of very many digits"),
        (None, "None", "None"), ((1,), "(1,)", "(1,)"), (b"x", "b'x'", "b'x'"),
        (date(1979, 5, 27), "1979-05-27", "1979-05-27"), (time(7, 32), "07:32:00", "07:32:00"),
        (Fraction(3), "3", "3, of type Fraction"),
    ],
)  # fmt: skip
def test_values_as_they_are_told(value: object, shown: str, told: str) -> None:
    assert (short(value), described(value)) == (shown, told)
    assert described(values.short([])) == "'[]'"


def test_parsed_values() -> None:
    kind = values.parsed(int, "a number in quotes", "1", known=("12", "99"))
    assert kind.take("12") == 12
    for wrong, hint in (("122x", "Did you mean '12'?"), (" 12x", "Did you mean '12'?"), ("q", "")):
        with pytest.raises(WrongValueError) as caught:
            kind.take(wrong)
        assert caught.value.hint == hint
    assert values.did_you_mean("", ["x"]) == values.did_you_mean(3, ["x"]) == ""


def test_the_nearest_word_is_much_like_it() -> None:
    # the likeness of difflib: twice the letters in common by all letters, at least 0.6
    assert nearest("abc", ["abxyz"]) is None  # 0.5
    assert nearest("abcde", ["abcxy"]) == "abcxy"  # 0.6
    assert nearest("abcdef", ["abcxyz"]) is None
    assert nearest("TEMPO", ["tempi", "Tempo"]) == "Tempo"
    assert nearest("n", [str(at) for at in range(499)] + ["n"]) == "n"
    assert nearest("n", [str(at) for at in range(500)] + ["n"]) is None  # 500 are looked at
    assert nearest("x" * 80 + "y" * 500, ["x" * 80]) == "x" * 80


# --- tables --------------------------------------------------------------------------------------


def top(text: str) -> Table:
    return Table.of(parse_toml(text, "t.toml"))


def said(table: Table) -> list[str]:
    with pytest.raises(InputError) as caught:
        table.check()
    return [str(one) for one in caught.value.problems]


def test_tables_are_called_as_they_are_written() -> None:
    table = top("[a.b]\n[[c]]\n[c.d]\n[[c.e]]\n")
    (c,) = table.tables("c")
    a, d, (e,) = table.table("a"), c.table("d"), c.tables("e")
    assert a is not None and d is not None  # noqa: PT018
    inner = a.table("b")
    assert inner is not None
    assert [one.name for one in (table, a, inner, c, d, e)] == [
        "[]", "[a]", "[a.b]", "[[c]]", "[c.d]", "[[c.e]]",
    ]  # fmt: skip
    long = top(f"[{'x' * 70}]").table("x" * 70)
    assert long is not None
    assert long.name == f"[{'x' * 60}]"


def test_what_has_no_default_is_needed() -> None:
    table = top("x = 1")
    table.expects(["x"])
    assert (table.text("a", "b"), table.number("c", 1, 9, 2.5), table.whole("d", 1, 9, 2)) == (
        "b", 2.5, 2,
    )  # fmt: skip
    assert (table.flag("e"), table.word("f", ["g", "h"], "h")) == (False, "h")
    table.check()
    assert (table.text("a"), table.number("c", 1, 9), table.whole("d", 2, 9)) == ("", 1, 2)
    assert said(table) == [
        "t.toml:1:1: 'a' is missing: it must be a text in quotes. "
        'Add a line a = "A Name" at the top.',
        "t.toml:1:1: 'c' is missing: it must be a number from 1 to 9. "
        "Add a line c = ... at the top.",
        "t.toml:1:1: 'd' is missing: it must be a whole number from 2 to 9. "
        "Add a line d = ... at the top.",
    ]


def test_lists_say_how_many() -> None:
    each = values.whole(1, 9, example="4")
    for least, most, number, example in (
        (1, None, "a list", "[4]"), (2, 2, "a list of 2", "[4, 4]"),
        (3, 3, "a list of 3", "[4, 4]"), (1, 3, "a list of 1 to 3", "[4]"),
    ):  # fmt: skip
        what = f"{number}, each a whole number from 1 to 9"
        table = top("b = 1\n[c]\n")
        table.expects(["b"])
        inner = table.table("c")
        assert inner is not None
        assert table.several("a", each, least=least, most=most) == ()
        inner.several("a", each, least=least, most=most)
        assert said(table) == [
            f"t.toml:1:1: 'a' is missing: it must be {what}. Add a line a = {example} at the top.",
            f"t.toml:2:2: 'a' is missing in [c]: it must be {what}. Add a line a = {example} under "
            "[c].",
        ]
    for found, fine in (
        ("[1]", False),
        ("[1, 2]", True),
        ("[1, 2, 3]", True),
        ("[1,2,3,4]", False),
    ):
        table = top(f"a = {found}")
        taken = table.several("a", each, least=2, most=3)
        assert len(taken) == found.count(",") + 1
        if fine:
            table.check()
        else:
            count = len(taken)
            assert said(table) == [
                "t.toml:1:5: 'a' must be a list of 2 to 3, each a whole number from 1 to 9, and "
                f"this has {count}. Write a = [4, 4]."
            ]


def test_no_more_tables_than_may_be() -> None:
    table = top("[[a]]\n[[a]]\n[[a]]\n")
    assert len(table.tables("a", most=3)) == 3
    assert len(table.tables("a", most=2)) == 2
    assert said(table) == ["t.toml:3:3: there are 3 tables [[a]], and may be 2. Take some out."]


def test_of_very_many_unknown_keys_the_first_hundred_have_a_hint() -> None:
    table = top("\n".join(f"tempo{at} = 1" for at in range(101)))
    table.whole("tempo", 1, 9, 1)
    lines = said(table)
    assert [line.endswith("Did you mean 'tempo'?") for line in lines] == [True] * 100 + [False]
    assert lines[-1] == "t.toml:101:1: 'tempo100' is not known here. Known are: tempo."


def test_more_than_two_hundred_problems_end_the_reading() -> None:
    findings = Findings(parse_toml("a = 1", "t.toml"))
    for at in range(200):
        findings.add(Problem("no.", "t.toml", 300 - at))
        findings.add(Problem("no.", "t.toml", 300 - at))  # nothing is told twice
    with pytest.raises(InputError) as caught:
        findings.add(Problem("no.", "t.toml", 1))
    problems = caught.value.problems
    assert [one.line for one in problems] == [1, *range(101, 300), 0]
    assert problems[-1] == Problem(
        "more than 200 things are wrong; the file was not read further.", "t.toml",
        hint="Is it the right file?",
    )  # fmt: skip


def test_a_mistake_in_a_text_is_told_by_its_sentence() -> None:
    assert str(TextError(3, "no.", found="x")) == "no."
