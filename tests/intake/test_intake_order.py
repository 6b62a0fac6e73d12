"""The order in which written bars are played, and where it is cut: worked out by hand.

Common practice, no source: after a jump repeats are not taken again and the last ending is played.
Each word is a bar: "|:" before it, ":|3" after it (played three times), "[1,2" opens a bracket that
"+" goes on with, and dc ds fine to coda segno as they are called; "||" a double bar line, "=B" a
mark, "!" another key.
"""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Any

import pytest

from accomp.harmony import Key
from accomp.intake.repeats import EndlessRepeatsError, playing_order, segments
from accomp.intake.written import WrittenBar, WrittenTune
from accomp.time import MOST_BARS

SIGNS = {"dc": ("jump", "D.C."), "ds": ("jump", "D.S."), "to": ("to_coda", True)}


def bars_of(text: str) -> list[WrittenBar]:
    bars: list[WrittenBar] = []
    key = Key.parse("C")
    for number, word in enumerate(text.split(), 1):
        given: dict[str, Any] = {"repeat_start": word.startswith("|:"), "double": "||" in word}
        endings: frozenset[int] = frozenset()
        if bracket := re.search(r"\[([\d,]+)", word):
            endings = frozenset(map(int, bracket[1].split(",")))
            given["opens_ending"] = True
        elif "+" in word:
            endings = bars[-1].endings
        if end := re.search(r":\|(\d?)", word):
            given["repeat_end"] = int(end[1] or 2)
        if mark := re.search(r"=(\w)", word):
            given["mark"] = mark[1]
        for name in ("fine", "coda", "segno", "dc", "ds", "to"):
            if re.search(rf"\b{name}\b", word):
                field, value = SIGNS.get(name, (name, True))
                given[field] = value
        key = Key.parse("G") if "!" in word else key
        bar = WrittenBar(str(number), Fraction(1), "4/4", key, endings=endings)
        bars.append(bar.with_signs(**given))
    return bars


def order(text: str, parts: str = "") -> tuple[str, tuple[str, ...]]:
    tune = WrittenTune("T", "", bars_of(text), parts=tuple(parts))
    found = playing_order(tune)
    return "".join(str(at + 1) if at < 9 else "?" for at in found), tune.said


ORDERS = [
    (". . .", "123"),
    ("|: :|", "1212"), ("|:. :| .", "12123"), (". :| .", "12123"), (". |:. :|", "12323"),
    (":| :|", "1122"), (". :| . :|", "12123434"), ("|::| |::| .", "11223"), ("|::|3 .", "1112"),
    (". |:. . :|4", "1234234234234"), ("|: |: :|", "12323"),
    # endings
    (". [1:| [2 .", "12134"), (". [1 +:| [2 + .", "1231456"), (". [1,2:| [3 .", "1212134"),
    (". [1:| [2:| [3", "121314"), (". [1:| [2,3:| [4", "12131314"), (". [1 [2 .", "124"),
    (". [1:| [2", "1213"), (". [2:| [1", "13"), (". [1:|", "121"), (". [1,2,3:| .", "1212123"),
    (". [1:|3 [2 .", "12134"), ("[1:| [2 .", "123"), (". [1 :| .", "12334"),
    (". [1:| [2 . . [1:| [2 .", "12134564578"), (". [1:| [2 . :|", "12134545"),
    ("|:. [1:| [2:| . [1:| [2", "12134546"),
    # one group of endings ends where a bar without one stands
    (". [1:| [2 . [1:| [2:| [3", "1213454647"), (". [1:| [2:| [3 . [1:| [2", "1213145657"),
    # jumps
    (". . dc", "123123"), (". fine . dc", "123412"), (". segno . ds .", "12342345"),
    (". dc . .", "121234"), (". fine .", "123"), (". to . dc coda .", "12341256"),
    (". to . dc . .", "1234123456"), (". to . coda . dc .", "123456124567"),
    (". coda . to dc coda", "1234512346"), (". ds . .", "1234"), ("segno ds .", "12123"),
    ("dc .", "112"), (". dc dc", "12123"), (". segno ds dc", "123234"),
    ("to . dc . coda coda", "123156"),
    # no repeats after a jump, and the last ending
    ("|: :| dc", "12123123"), (". [1:| [2 dc", "12134134"), ("|: :|fine dc", "1212312"),
    (". [1:| [2 . fine dc", "12134561345"), (". [1:| [2:| [3 dc", "1213145145"),
    ("|: :|to dc coda", "12123124"), ("|: :|dc .", "1212123"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "bars"), ORDERS)
def test_order(text: str, bars: str) -> None:
    assert order(text)[0] == bars


def test_what_is_said_of_signs_that_lead_nowhere() -> None:
    nowhere = "'to coda' leads nowhere, no coda follows; it is passed over"
    no_segno = "D.S. goes back to a segno, and there is none; passed over"
    assert order(". to dc")[1] == (f"bar 2: {nowhere}",)
    assert order(". coda to dc")[1] == (f"bar 3: {nowhere}",)
    assert order(". ds .")[1] == (f"bar 2: {no_segno}",)
    assert order(". to . dc coda")[1] == ()


@pytest.mark.parametrize(
    ("text", "parts", "bars"),
    [
        (".=A . .=B", "AB", "123"),
        (".=A . .=B", "BAB", "3123"),
        (". .=A .=B", "A", "2"),  # what stands before the first part is not of it
        (".=A :| |:=B :|", "BA", "34341212"),
        (".=A .=A .=B", "AB", "13"),  # of two with one name the first counts
        (".=A .=B", "AXB", "12"),
    ],
)
def test_order_of_parts(text: str, parts: str, bars: str) -> None:
    found, said = order(text, parts)
    assert found == bars
    unknown = "the order of parts names 'X', and no part has that name"
    assert said == ((unknown,) if "X" in parts else ())


def test_two_thousand_bars_are_played_and_no_more() -> None:
    tune = WrittenTune("T", "")
    for times in (MOST_BARS, MOST_BARS + 1):
        (bar,) = bars_of(".=A")
        tune.bars = [bar.with_signs(repeat_end=times)]
        for parts in ((), ("A",)):
            tune.parts = parts
            if times == MOST_BARS:
                assert len(playing_order(tune)) == times
            else:
                with pytest.raises(EndlessRepeatsError):
                    playing_order(tune)
    tune.bars = bars_of(".=A")
    tune.parts = ("A",) * MOST_BARS
    assert len(playing_order(tune)) == MOST_BARS
    tune.parts = ("A",) * (MOST_BARS + 1)
    with pytest.raises(EndlessRepeatsError):
        playing_order(tune)


@pytest.mark.parametrize(
    ("text", "runs"),
    [
        (". . .", "123"), (". |:. :| .", "1 23 4"), (". .|| .", "12 3"), (". .=A .", "1 23"),
        (". [1:| [2 .", "1 2 3 4"), (". [1 +:| [2 + .", "1 23 45 6"), (". ! .", "1 23"),
        (". . dc", "123"), (". fine . dc", "12 34"), (". segno . ds .", "1 234 5"),
        (". to . dc coda .", "12 34 56"), (". to . dc . coda", "12 34 6"), (". [2 .", "1 3"),
        (". .=A dc .", "1 23 4"),
    ],
)  # fmt: skip
def test_runs_that_are_always_played_through(text: str, runs: str) -> None:
    bars = bars_of(text)
    found = segments(bars, playing_order(WrittenTune("T", "", bars)))
    shown = ["".join(str(at + 1) for at in range(first, last)) for first, last in found]
    assert " ".join(shown) == runs


def test_runs_of_nothing_played() -> None:
    assert segments(bars_of(". ."), ()) == []
