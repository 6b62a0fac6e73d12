"""The road map put together from sections in the order played: worked out by hand.

Endings, passages left for the coda, times through and intros are as a tune file has them; names of
sections come from the lead sheet's marks.
"""

from __future__ import annotations

from typing import Any

import pytest
from sections_made import section, shown

from accomp.intake.choruses import WrittenChoruses
from accomp.intake.roads import Marks, Road, is_ending, is_numbered, road_of


def read(text: str, **marks: Any) -> str:
    """The road of "A:C.F B:G ...", sections with their bars the first time that they come."""
    sections, form = {}, []
    for word in text.split():
        name, _, bars = word.replace("_", " ").partition(":")
        form.append(name)
        if bars:
            sections[name] = section(name, bars)
    flat = Road(sections, tuple(form))
    found = road_of(sections, form, Marks(**marks))
    assert found.sounding == flat.sounding, "a road map leads through the same bars"
    for name, one in found.sections.items():
        assert one.name == name
    return told(found)


def told(road: Road) -> str:
    intro = () if road.intro is None else (str(road.intro),)
    parts = (intro, road.verse, road.form, road.coda)
    times = "" if road.times is None else f" x{road.times}"
    order = " | ".join(" ".join(names) for names in parts)
    inside = " ".join(f"{name}:{shown(one)}" for name, one in road.sections.items())
    return f"{order}{times} = {inside}"


ROADS = [
    ("A:C B:F A", {}, " |  | A B A |  = A:C B:F"),
    # endings
    ("A:C A-1:F A A-2:G", {}, " |  | A A |  = A:C[F][G]"),
    ("A:C A-1:F A A-1 A A-2:G", {}, " |  | A A A |  = A:C[F][F][G]"),
    ("A:C A-1:F A A-2:G A A-2", {}, " |  | A A A |  = A:C[F][G]"),
    ("A:C A-1:F A A-2:G B:D A A-1 A A-2", {}, " |  | A A B A A |  = A:C[F][G][F][G] B:D"),
    ("A:C A-1+2:F A A-1+2 A A-3:G", {}, " |  | A A A |  = A:C[F][F][G]"),
    ("A:C A-1:F A A-2:G B:D B-1:E B B-2:F", {}, " |  | A A B B |  = A:C[F][G] B:D[E][F]"),
    ("A:C A-1:F A B:D", {}, " |  | A A-1 A B |  = A:C A-1:F B:D"),  # once without an ending
    ("A:C A-1:F A-2:G", {}, " |  | A A-1 A-2 |  = A:C A-1:F A-2:G"),
    ("A:C A-1:D!F A A-2:D!G", {}, " |  | A A-1 A A-2 |  = A:C A-1:D!F A-2:D!G"),
    ("A:C A-x:F A A-y:G", {}, " |  | A A-x A A-y |  = A:C A-x:F A-y:G"),
    # times through, with what comes before and after
    ("A:C A A", {"form": "A", "times": 3}, " |  | A |  x3 = A:C"),
    ("A:C B:F A B", {"form": "A", "times": 2}, " |  | A B |  x2 = A:C B:F"),
    ("V:D A:C A", {"form": "A", "times": 2}, " | V | A |  x2 = V:D A:C"),
    ("A:C B:F A B K:G", {"form": "A", "times": 2}, " |  | A B | K x2 = A:C B:F K:G"),
    ("A:C B:F A B A", {"form": "A", "times": 2}, " |  | A B A B A |  = A:C B:F"),
    ("A:C A A B:F A", {"form": "A", "times": 2}, " |  | A A A B A |  = A:C B:F"),
    ("A:C A K:G", {"form": "A", "times": 2, "coda": "K"}, " |  | A | K x2 = A:C K:G"),
    ("A:C A", {"form": "B", "times": 2}, " |  | A A |  = A:C"),
    ("A:C A", {"form": "A", "times": 1}, " |  | A A |  = A:C"),
    ("V:D A:C", {"form": "A", "times": 1}, " |  | V A |  = V:D A:C"),
    ("A:C A-1:F A A-2:G", {"form": "A", "times": 2}, " |  | A |  x2 = A:C[F]{G}"),
    ("A:C A-1:F A A-1 A A-2:G", {"form": "A", "times": 3}, " |  | A |  x3 = A:C[F]{G}"),
    # an intro
    ("Intro:D A:C A", {}, "Intro |  | A A |  = Intro:D A:C"),
    ("intro:D A:C A", {}, "intro |  | A A |  = intro:D A:C"),
    ("Intro:D", {}, " |  | Intro |  = Intro:D"),
    ("Intro:D A:C Intro", {}, " |  | Intro A Intro |  = Intro:D A:C"),
    ("A:C Intro:D", {}, " |  | A Intro |  = A:C Intro:D"),
    ("Intro:D V:G A:C A", {"form": "A", "times": 2}, "Intro | V | A |  x2 = Intro:D V:G A:C"),
    # one of our own files may say that it is the end of the form
    ("Intro:F A:C.F A", {"ours": True}, "1 |  | A A |  = A:C.F"),
    ("Intro:F A:C.F A", {}, "Intro |  | A A |  = Intro:F A:C.F"),
    ("Intro:G A:C.F A", {"ours": True}, "Intro |  | A A |  = Intro:G A:C.F"),
    # the coda
    ("A:C B:F K:G", {"coda": "K"}, " |  | A B | K = A:C B:F K:G"),
    ("A:C K:G A", {"coda": "K"}, " |  | A K A |  = A:C K:G"),
    ("K:G A:C", {"coda": "K"}, " |  | K A |  = K:G A:C"),
    ("A:C K:G L:D", {"coda": "K"}, " |  | A | K L = A:C K:G L:D"),
    # a passage left for it: the rest of the section is what follows at the other times
    ("A:C B:F A K:G", {"coda": "K", "leaves": "A"}, " |  | A A | K = A:C.F@1 K:G"),
    ("A:C B:F A B A K:G", {"coda": "K", "leaves": "A"}, " |  | A A A | K = A:C.F@1 K:G"),
    ("A:C B:F A K:G", {"coda": "K", "leaves": "B"}, " |  | A B A | K = A:C B:F K:G"),
    ("A:C B:F A K:G", {"coda": "K"}, " |  | A B A | K = A:C B:F K:G"),
    ("A:C B:F A D:E A K:G", {"coda": "K", "leaves": "A"}, " |  | A B A D A | K = "
     "A:C B:F D:E K:G"),
    ("A:C B:D!F A K:G", {"coda": "K", "leaves": "A"}, " |  | A B A | K = A:C B:D!F K:G"),
    ("A:C A K:G", {"coda": "K", "leaves": "A"}, " |  | A A | K = A:C K:G"),
    ("A:C A-1:F A K:G", {"coda": "K", "leaves": "A"}, " |  | A A-1 A | K = A:C A-1:F K:G"),
    # "A 2" is "A" where it is the same but for its way to the coda
    ("A_2:C B:F A:C.F A_2 K:G", {"coda": "K", "leaves": "A 2"},
     " |  | A A A | K = A:C.F@1 K:G"),
    ("A:C.F A_2:C B:F A_2 K:G", {"coda": "K", "leaves": "A 2"}, " |  | A A A | K = A:C.F@1 K:G"),
    ("A:C.F A_2:C A_2-1:F A_2 A_2-2:G", {}, " |  | A A 2 A 2 |  = A:C.F A 2:C[F][G]"),
    # with endings it is a section of its own, and others are put together all the same
    ("A:C A-1:F A A-2:G A_2:C A_2-1:F A_2 A_2-2:D B:E.A B_2:E B_2-1:A", {},
     " |  | A A A 2 A 2 B B |  = A:C[F][G] A 2:C[F][D] B:E[A]"),
    # a section that repeats a part of itself, in one of our own files
    ("A:C s:F s t:G", {"inside": frozenset("st")}, " |  | A |  = A:C.F.G*1-2x2"),
    ("A:C A s:F", {"inside": frozenset("s")}, " |  | A |  = A:C.F*0-1x2"),
    ("A:C s:F.G s s B:D", {"inside": frozenset("s")}, " |  | A B |  = A:C.F.G*1-3x3 B:D"),
    ("A:C s:F B:D A s", {"inside": frozenset("s")}, " |  | A B A |  = A:C.F B:D"),
    ("A:C s:F B:D A s s", {"inside": frozenset("s")}, " |  | A s B A s s |  = A:C s:F B:D"),
    ("A:C s:F B:D A", {"inside": frozenset("s")}, " |  | A s B A |  = A:C s:F B:D"),
    ("A:C B:D s:F", {"inside": frozenset("s")}, " |  | A B |  = A:C B:D.F"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "marks", "road"), ROADS)
def test_a_road_map(text: str, marks: dict[str, Any], road: str) -> None:
    assert read(text, **marks) == road


def test_times_through_that_are_said_win_where_they_need_fewer_bars() -> None:
    text = "A:C.D.E.F A_2:C.D.E.G"
    said = WrittenChoruses("A", 2, {"A": "A", "A 2": "A"})
    assert read(text) == " |  | A A 2 |  = A:C.D.E.F A 2:C.D.E.G"
    assert read(text, choruses=said) == " |  | A |  x2 = A:C.D.E[F]{G}"
    before = WrittenChoruses("A", 2, {"A": "A", "A 2": "A", "Intro": "Intro", "V": "V"})
    assert read(f"Intro:E {text}", choruses=before) == "Intro |  | A |  x2 = Intro:E A:C.D.E[F]{G}"
    assert read(f"Intro:E V:G {text}", choruses=before) == (
        "Intro | V | A |  x2 = Intro:E V:G A:C.D.E[F]{G}"
    )
    assert read(f"V:G {text}", choruses=before) == " | V | A |  x2 = V:G A:C.D.E[F]{G}"
    once = WrittenChoruses("A", 1, {"A": "A", "A 2": "A"})
    assert read(text, choruses=once) == " |  | A A |  = A:C.D.E[F]{G}"


@pytest.mark.parametrize(
    ("body", "name", "ending"),
    [
        ("A", "A-1", True), ("A", "A-1+2", True), ("A", "A-12", True), ("A", "A", False),
        ("A", "A-", False), ("A", "A-x", False), ("A", "A-1+", False), ("A", "B-1", False),
        ("A", "AA-1", False), ("A", "A 1", False), ("A-1", "A-1-2", True),
    ],
)  # fmt: skip
def test_names_of_endings(body: str, name: str, ending: bool) -> None:
    assert is_ending(body, name) is ending


@pytest.mark.parametrize(
    ("mark", "name", "numbered"),
    [
        ("A", "A 2", True), ("A", "A 12", True), ("A", "A", False), ("A", "A ", False),
        ("A", "A x", False), ("A", "A-2", False), ("A", "B 2", False), ("A 2", "A 2 3", True),
    ],
)  # fmt: skip
def test_names_with_a_number(mark: str, name: str, numbered: bool) -> None:
    assert is_numbered(mark, name) is numbered
