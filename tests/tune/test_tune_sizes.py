"""How many bars a tune may have: counted over bodies, endings and the way, with a small limit."""

from __future__ import annotations

import pytest

from accomp.errors import InputError
from accomp.tune import form, parse_tune, sections

HEAD = 'title = "T"\nkey = "C"\nmeter = "4/4"\ntempo = 120\n'


def problems(text: str) -> list[tuple[int, int, str]]:
    try:
        parse_tune(HEAD + text, "t.toml")
    except InputError as error:
        return [(p.line, p.column, p.message.split(",")[0]) for p in error.problems]
    return []


def bars(count: int) -> str:
    return f'"{"| C " * count}|"'


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("A = {6}", None), ("A = {7}", (6, 32)), ("A = {2}\nB = {4}", None),
        ("A = {2}\nB = {5}", (7, 24)), ("A = {2}\nB = {2}\nK = {3}", (8, 16)),
        ("A.bars = {2}\nA.first = {2}\nA.last = {2}", None),
        ("A.bars = {2}\nA.first = {3}\nA.last = {2}", (8, 17)),
        ("A.bars = {2}\nA.first = {2}\nA.second = {3}", (8, 23)),
        ("A.bars = {1}\nA.first = {2}\nA.last = {2}\nB = {1}", None),
        ("A.bars = {1}\nA.first = {2}\nA.last = {2}\nB = {2}", (9, 12)),
    ],
)  # fmt: skip
def test_bars_on_paper(
    text: str, place: tuple[int, int] | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sections, "MOST_BARS", 6)
    for count in range(1, 8):
        text = text.replace(f"{{{count}}}", bars(count))
    told = problems(f"[sections]\n{text}\n")
    assert told == ([] if place is None else [(*place, "there are more than 2000 bars")])


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ('form = ["A", "A", "A"]\n[sections]\nA = "| C | F |"', False),
        ('form = ["A", "A", "A", "A"]\n[sections]\nA = "| C | F |"', True),
        ('form = ["A", "B"]\n[sections]\nA = "|: C :| x 5 |"\nB = "| C |"', False),
        ('form = ["A", "B"]\n[sections]\nA = "|: C :| x 6 |"\nB = "| C |"', True),
        # with its longest ending
        (
            'form = ["A", "A"]\n[sections]\nA = { bars = "| C |", first = "| F |", '
            'last = "| F | G |" }',
            False,
        ),
        (
            'form = ["A", "A"]\n[sections]\nA = { bars = "| C |", first = "| F | G | D |", '
            'last = "| F |" }',
            True,
        ),
        (
            'intro = "B"\nverse = "B"\nform = ["A", "A"]\ncoda = ["B", "B"]\n[sections]\n'
            'A = "| C |"\nB = "| C |"',
            False,
        ),
        (
            'intro = "B"\nverse = "B"\nform = ["A", "A"]\ncoda = ["B", "B"]\n[sections]\n'
            'A = "| C |"\nB = "| C | F |"',
            True,
        ),
        ('form = ["6 x A"]\n[sections]\nA = "| C |"', False),
        ('form = ["A", "7 x B", "A"]\n[sections]\nA = "| C |"\nB = "| C |"', True),
        ('form = ["3 x A", "4 x B"]\n[sections]\nA = "| C |"\nB = "| C |"', True),
    ],
)
def test_bars_played(text: str, wrong: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(form, "MOST_BARS", 6)
    told = [(5 + text[: text.index("form")].count("\n"), 8, "the form is longer than 6 bars")]
    assert problems(text) == (told if wrong else [])
