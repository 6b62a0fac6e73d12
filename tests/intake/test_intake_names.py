"""Sections of a lead sheet: what they are called, in which order, and what is said of them.

Names are ours: rehearsal marks, else letters in the order played; "Intro" where nobody plays.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from sections_made import shown

from accomp.intake.abc import read_abc
from accomp.intake.build import build_tune
from accomp.intake.written import WrittenTune

HEAD = "X:1\nT:T\nM:4/4\nL:1/1\nQ:1/4=100\nK:C\n"


def written(music: str, head: str = HEAD) -> WrittenTune:
    (tune,) = read_abc(f"{head}{music}\n", Path("t.abc"))
    return tune


def told(tune: WrittenTune) -> str:
    built = build_tune(tune)
    assert built is not None, tune.problems
    found = built.tune
    inside = " ".join(
        f"{name}:{shown(one).replace('None', '-')}" for name, one in found.sections.items()
    )
    intro = () if found.intro is None else (f"({found.intro})",)
    coda = ("|", *found.coda) if found.coda else ()
    return f"{' '.join((*intro, *found.verse, *found.form, *coda))} = {inside}"


MANY = "||".join(f'"{root}{sign}"C' for sign in ("", "m", "7", "m7") for root in "CDEFGAB")
LONG = "x" * 35

NAMED = [
    ('"C"C|"F"C||"G"C|', "A B = A:C.F B:G"),
    ('"C"C|"F"C||"C"C|"F"C|', "A A = A:C.F"),
    ('"C"C||"F"C||"C"C|', "A B A = A:C B:F"),
    ('C||"C"C|', "(Intro) A = Intro:- A:C"),
    ('"C"C||"N.C."C||"C"C|', "A B A = A:C B:-"),  # silence later is a section
    ('C|"C"C|', "A = A:-.C"),
    # marks, and letters that are none of them
    ('P:V\n"C"C|\nP:B\n"F"C|', "V B = V:C B:F"),
    ('P:A\n"C"C||"F"C|', "A B = A:C B:F"),
    ('"C"C|\nP:A\n"F"C|', "B A = B:C A:F"),
    ('P:B\n"C"C||"F"C||"G"C|', "B A C = B:C A:F C:G"),
    ('P:A\n"C"C|\nP:A\n"C"C|', "A A = A:C"),
    ('P:A\n"C"C|\nP:A\n"F"C|', "A A 2 = A:C A 2:F"),
    ('P:A\n"C"C|\nP:A\n"F"C|\nP:A\n"G"C|', "A A 2 A 3 = A:C A 2:F A 3:G"),
    ('P:A\n"C"C|\nP:B\n"C"C|', "A B = A:C B:C"),  # marks say otherwise
    ('P:A\n"C"C||"C"C|', "A A = A:C"),
    ('P:form\n"C"C|', "Form = Form:C"),  # a key of a tune file
    ('P:title\n"C"C|', "Title = Title:C"),
    ('P:Form\n"C"C|', "Form = Form:C"),
    (f'P:{LONG}\n"C"C|', f"{LONG[:30]} = {LONG[:30]}:C"),
    (f'P:{"x" * 29} yz\n"C"C|', f"{'x' * 29} = {'x' * 29}:C"),
    ('"C"C!dacoda!|"F"C!D.C.!||!coda!"G"C|', "A A | Coda = A:C.F@1 Coda:G"),
    ('"C"C!dacoda!|"F"C!D.C.!|\nP:End\n!coda!"G"C|', "A A | End = A:C.F@1 End:G"),
    # endings belong to the passage before them
    ('|:"C"C|1"F"C:|2"G"C|]"D"C|', "A A B = A:C[F][G] B:D"),
    ('|:"C"C|1"F"C:|2"F"C|]"D"C|', "A A B = A:C.F B:D"),
    ('|:"C"C|1,2"F"C:|3"G"C|]', "A A A = A:C[F][F][G]"),
    ('P:V\n|:"C"C|1"F"C:|2"G"C|]"D"C|', "V V A = V:C[F][G] A:D"),
    ('[1"C"C|]"F"C|', "A B = A:C B:F"),  # no passage stands before it
    # another key or meter is another section
    ('"C"C|[K:G]"C"C|', "A B = A:C B:G!C"),
    ('"C"C|[K:G]"C"C|[K:C]"C"C|', "A B A = A:C B:G!C"),
]  # fmt: skip


@pytest.mark.parametrize(("music", "sections"), NAMED)
def test_names(music: str, sections: str) -> None:
    assert told(written(music)) == sections


def test_letters_go_on_after_z() -> None:
    built = build_tune(written(MANY))
    assert built is not None
    names = [*map(chr, range(ord("A"), ord("Z") + 1)), "A2", "B2"]
    assert list(built.tune.sections) == names
    built = build_tune(written(f'P:A2\n"D9"C||{MANY}'))
    assert built is not None
    assert list(built.tune.sections) == ["A2", *names[:26], "B2", "C2"]


@pytest.mark.parametrize(
    ("music", "said"),
    [
        ('|:"C"C|1"F"C:|2"G"C|]', []),
        ('"C"C!dacoda!|"F"C!D.C.!||!coda!"G"C|', []),
        (
            '|:"C"C!dacoda!|1"F"C:|2"G"C!D.C.!|]!coda!"D"C|',
            ["its endings and jumps are written out in the order played"],
        ),
        ('"C"C||C|"F"C||"C"C|', []),
        (
            '"C"C||:C|"F"C:|',
            ["bar 2: C goes on into it the first time and F later; the first is kept"],
        ),
        ('"C"C||:"C"C|"F"C:|', []),
        (
            '"N.C."C||:C|"F"C:|',
            ["bar 2: N.C. goes on into it the first time and F later; the first is kept"],
        ),
        (
            '"C"C||:C|"N.C."C:|',
            ["bar 2: C goes on into it the first time and N.C. later; the first is kept"],
        ),
        (
            '"C"C||:C/2"G"C/2|"F"C:|',
            ["bar 2: C goes on into it the first time and F later; the first is kept"],
        ),
    ],
)
def test_what_is_said_of_sections(music: str, said: list[str]) -> None:
    tune = written(music)
    assert build_tune(tune) is not None
    assert list(tune.said) == said


def test_a_chord_over_a_pickup_goes_on_into_its_passage() -> None:
    tune = written('L:1/4\n"C"C4|"F"C3||"G"C|C4|"D"C4|')
    assert told(tune) == "A B = A:C.F B:G.D"
    assert tune.said == ()
