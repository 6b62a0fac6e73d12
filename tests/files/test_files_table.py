"""The typed table: what is taken, what stands in for what is wrong, and where it is said."""

from __future__ import annotations

from enum import StrEnum

import pytest
from hypothesis import given
from hypothesis import strategies as st

from accomp.errors import InputError
from accomp.files import values
from accomp.files.table import MOST_PROBLEMS, Table, TextError
from accomp.files.toml import parse_toml


class Sound(StrEnum):
    RING = "ring"
    CHOKED = "choked"


def table(text: str) -> Table:
    return Table.of(parse_toml(text, "t.toml"))


def told(top: Table) -> list[tuple[tuple[int, int], str, str, str]]:
    """Place, sentence, what was found and the remedy of every problem."""
    with pytest.raises(InputError) as caught:
        top.check()
    return [((p.line, p.column), p.message, p.found, p.hint) for p in caught.value.problems]


def test_values_are_taken_by_type() -> None:
    top = table("""a = 3
b = 2.5
c = "x"
d = true
e = [3, 1]
f = ["ring"]
g = "choked"
""")
    assert (top.whole("a", 1, 9), top.number("b", 0, 9), top.number("a", 0, 9)) == (3, 2.5, 3.0)
    assert (top.text("c"), top.flag("d")) == ("x", True)
    assert top.several("e", values.whole(1, 3)) == (3, 1)
    assert top.several("f", values.word(Sound)) == (Sound.RING,)
    word = top.word("g", Sound, Sound.RING)
    assert word is Sound.CHOKED
    top.check()


def test_sound_is_what_is_given_and_right() -> None:
    top = table("a = 1\nb = 99\n")
    for key in ("a", "b", "c"):
        top.whole(key, 1, 9, 5)
    assert [top.sound(key) for key in ("a", "b", "c")] == [True, False, False]
    assert not top.sound("a", "b")


def test_defaults_stand_for_what_is_not_there() -> None:
    top = table("x = 1")
    assert (top.whole("a", 1, 9, 4), top.text("b", "z"), top.flag("c", True)) == (4, "z", True)
    assert top.word("d", Sound, Sound.RING) is Sound.RING
    assert top.several("e", values.whole(), (5,)) == (5,)
    assert (top.table("f"), top.tables("g")) == (None, ())
    assert told(top) == [((1, 1), "'x' is not known here.", "x", "Known are: a, b, c, d, e, f, g.")]


def test_what_is_needed_and_missing() -> None:
    top = table("[t]\n[[u]]\n")
    inner, (each,) = top.table("t"), top.tables("u")
    assert inner is not None
    assert (top.text("a"), inner.whole("b", 1, 9), each.several("c", values.flag())) == ("", 1, ())
    assert top.table("d", "e = 1") is None
    assert top.tables("f", "e = 1") == ()
    assert [(place, message, hint) for place, message, _, hint in told(top)] == [
        ((1, 1), "'a' is missing: it must be a text in quotes.",
         'Add a line a = "A Name" at the top.'),
        ((1, 1), "[d] is missing.", "Add [d] and under it e = 1."),
        ((1, 1), "[[f]] is missing.", "Add [[f]] and under it e = 1."),
        ((1, 2), "'b' is missing in [t]: it must be a whole number from 1 to 9.",
         "Add a line b = ... under [t]."),
        ((2, 3), "'c' is missing in [[u]]: it must be a list, each true or false.",
         "Add a line c = [true] under [[u]]."),
    ]  # fmt: skip


# what stands at `a`, how it is asked for, found, what it is, remedy, what stands in
HUGE = "1" + "0" * 400
WRONG = [
    ("40", values.whole(1, 36), "40", "is 40", "The nearest is 36."),
    ("-3", values.whole(1, 36), "-3", "is -3", "The nearest is 1."),
    ("17.5", values.whole(1, 36), "17.5", "is 17.5", "Write a whole number from 1 to 36."),
    ('"17"', values.whole(1, 36), "17", "is '17'", "Write it without quotes."),
    ("true", values.whole(1, 36), "true", "is true", "Write a whole number from 1 to 36."),
    (HUGE, values.whole(1, 36), "a number of very many digits",
     "is a number of very many digits", "The nearest is 36."),
    (HUGE, values.whole(), "a number of very many digits",
     "is a number of very many digits", "Write a whole number."),
    (HUGE, values.number(above=True, least=0), "a number of very many digits",
     "is a number of very many digits", "Write a number above 0."),
    ("nan", values.number(), "nan", "is nan", "Write a number."),
    ("0", values.number(0, 256, above=True), "0", "is 0", "Write a number above 0, at most 256."),
    ("2020-01-01", values.text(), "2020-01-01", "is 2020-01-01", 'Write a = "A Name".'),
    ("[1]", values.text(), "[...]", "is a list", 'Write a = "A Name".'),
    ("{ b = 1 }", values.flag(), "{...}", "is a table", "Write a = true."),
    ('"true"', values.flag(), "true", "is 'true'", "Write it without quotes."),
    ('"chokd"', values.word(Sound), "chokd", "is 'chokd'", "Did you mean 'choked'?"),
    ("1", values.word(Sound), "1", "is 1", 'Write a = "ring".'),
    ('" "', values.text(), "' '", "is empty", 'Write a = "A Name".'),
    (f'"{"x" * 1001}"', values.text(), "x" * 57 + "...", "has 1001 characters",
     "Shorten it to 1000 characters."),
    ('"a\\u001bb"', values.text(), "U+001B", "holds the control character U+001B", "Take it out."),
    (f'"{"y" * 90}"', values.flag(), "y" * 57 + "...", f"is '{'y' * 57}...'", "Write a = true."),
]  # fmt: skip


@pytest.mark.parametrize(("text", "kind", "found", "what", "hint"), WRONG)
def test_a_wrong_value(text, kind, found, what, hint) -> None:
    top = table(f"a = {text}\n")
    default = object()
    assert top.get("a", kind, default) is default
    ((place, message, seen, remedy),) = told(top)
    assert place == ((1, 7) if "U+" in found else (1, 5))
    assert message == f"'a' must be {kind.expected}, and this {what}."
    assert (seen, remedy) == (found, hint)


def test_a_word_among_very_many_is_named_by_what_it_is() -> None:
    known = [f"sound-{at}" for at in range(50)]
    top = table('a = "sound-zz"\n')
    assert top.word("a", known, known[3], "a sound") == known[3]
    ((_, message, _, hint),) = told(top)
    assert message == "'a' must be a sound, and this is 'sound-zz'."
    assert "Did you mean 'sound-" in hint


def test_lists_tell_each_wrong_item_and_keep_the_others() -> None:
    top = table('a = [1, "x", 99, 3]\nb = []\nc = [1, 2, 3]\nd = 4\n')
    each = values.whole(1, 9)
    assert top.several("a", each) == (1, 3)
    assert top.several("b", each, (7,)) == ()
    assert top.several("c", each, least=2, most=2) == (1, 2, 3)
    assert top.several("d", each, (7,), example="d = [4]") == (7,)
    assert not top.sound("a")
    head = "a list, each a whole number from 1 to 9"
    assert [(place, message, hint) for place, message, _, hint in told(top)] == [
        ((1, 9), "each of 'a' must be a whole number from 1 to 9, and this is 'x'.",
         "Write a whole number from 1 to 9."),
        ((1, 14), "each of 'a' must be a whole number from 1 to 9, and this is 99.",
         "The nearest is 9."),
        ((2, 5), f"'b' must be {head}, and this is empty.", "Write b = [...]."),
        ((3, 5), f"'c' must be {head.replace('list', 'list of 2')}, and this has 3.",
         "Write c = [..., ...]."),
        ((4, 5), f"'d' must be {head}, and this is 4.", "Write d = [4]."),
    ]  # fmt: skip


def test_unknown_keys_are_told_everywhere_with_the_nearest_known() -> None:
    top = table("tempp = 2\nqqq.z = 3\n[t]\nfrts = 1\n[[u]]\n[[u]]\nname = 1\n[free]\nany = 1\n")
    top.whole("tempo", 1, 9, 1)
    inner, each, free = top.table("t"), top.tables("u"), top.table("free")
    assert inner is not None and free is not None  # noqa: PT018
    inner.whole("frets", 1, 9, 1)
    assert free.named() == {"any": 1}
    each[0].expects(["nam"])
    each[1].expects(["nam"])
    assert [(place, found, hint) for place, _, found, hint in told(top)] == [
        ((1, 1), "tempp", "Did you mean 'tempo'?"),
        ((2, 1), "qqq", "Known are: tempo, t, u, free."),
        ((4, 1), "frts", "Did you mean 'frets'?"),
        ((7, 1), "name", "Did you mean 'nam'?"),
    ]


def test_one_table_may_stand_for_several_where_that_is_allowed() -> None:
    one = table("[a]\nb = 1\n")
    (each,) = one.tables("a", single=True)
    assert each.whole("b", 1, 9) == 1
    one.check()
    other = table("[a]\nb = 1\n")
    assert other.tables("a") == ()
    ((place, message, _, hint),) = told(other)
    assert place == (1, 2)
    assert message == "'a' must be a list of tables [[a]], and this is a table."
    assert hint == "Write [[a]] above each of them."
    for text, this in (("a = 3", "3"), ("a = [1, 2]", "a list"), ("a = [{ b = 1 }, 2]", "a list")):
        wrong = table(text)
        assert wrong.tables("a") == ()
        assert told(wrong)[0][1] == f"'a' must be a list of tables [[a]], and this is {this}."


def test_a_table_asked_for_twice_is_one_and_told_once() -> None:
    top = table("[t]\nx = 1\n")
    assert top.table("t") is top.table("t")
    assert len(told(top)) == 1
    wrong = table("t = 1\n")
    assert wrong.table("t") is None
    assert wrong.table("t") is None
    assert len(told(wrong)) == 1


def test_a_mistake_inside_a_text_stands_at_its_character() -> None:
    top = table('a = "one\\ttwo"\n')
    top.expects(["a"])
    top.text_error(TextError(4, "no.", found="two", expected="three", hint="Go on."), "a")
    assert told(top) == [((1, 11), "no.", "two", "Go on.")]


def test_problems_come_in_file_order_and_end_at_a_few_hundred() -> None:
    items = ", ".join(["0"] * 1000)
    top = table(f"z = [{items}]\na = 3\n")
    top.text("a")
    with pytest.raises(InputError) as caught:
        top.several("z", values.whole(1, 9))
    problems = caught.value.problems
    assert len(problems) == MOST_PROBLEMS + 1
    places = [(p.line, p.column) for p in problems[:-1]]
    assert places == sorted(places)
    assert problems[-1].message.startswith(f"more than {MOST_PROBLEMS} things are wrong")


@pytest.mark.parametrize("more", [0, 1])
def test_as_many_problems_as_are_told_are_told_without_a_last_word(more) -> None:
    top = table(f"z = [{', '.join(['0'] * (MOST_PROBLEMS + more))}]\n")

    def read() -> None:
        top.several("z", values.whole(1, 9))
        top.check()

    with pytest.raises(InputError) as caught:
        read()
    last = caught.value.problems[-1].message
    assert len(caught.value.problems) == MOST_PROBLEMS + more
    assert last.startswith("more than") is bool(more)


def test_long_names_are_shortened() -> None:
    name = "k" * 5000
    top = table(f"{name} = 1\n[t]\n{name} = 2\n")
    assert all(len(message) < 200 for _, message, *_ in told(top))


KINDS = [
    values.text(), values.text(lines=True), values.number(), values.number(0, 9, above=True),
    values.whole(1, 9), values.flag(), values.word(Sound), values.parsed(int, "a number", "1"),
]  # fmt: skip


@given(
    st.sampled_from(KINDS),
    st.one_of(
        st.text(), st.integers(), st.floats(), st.booleans(), st.lists(st.integers()),
        st.dictionaries(st.text(), st.integers()), st.dates(), st.times(),
    ),
)  # fmt: skip
def test_no_value_breaks_a_kind(kind, value) -> None:
    """A value is taken, or refused with a sentence that can be printed."""
    try:
        taken = kind.take(value)
    except values.WrongValueError:
        assert len(values.described(value)) < 400
        assert len(values.short(value)) <= 60
    else:
        assert taken is not None
