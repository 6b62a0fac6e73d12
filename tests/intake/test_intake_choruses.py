"""Times through that are written out, read back as one form: worked out by hand."""

from __future__ import annotations

import pytest
from sections_made import section, shown

from accomp.intake.choruses import NO_CHORUSES_WRITTEN, ChorusForm, WrittenChoruses, by_choruses


def read(text: str, choruses: int, begins: str | None = None, marked: bool = True) -> list[str]:
    """Ways to say what is played as "A:C.F B:G ...": marks with bars, ":G" goes on without one."""
    passages = text.split()
    names = {passage: f"s{at}" for at, passage in enumerate(dict.fromkeys(passages))}
    sections, marks = {}, {}
    for passage, name in names.items():
        marks[name], chords = passage.split(":")
        sections[name] = section(name, chords)
    form = [names[passage] for passage in passages]
    name = form[0] if begins is None else names.get(begins, "")
    said = WrittenChoruses(name, choruses, marks) if marked else NO_CHORUSES_WRITTEN
    return [told(one) for one in by_choruses(sections, form, said)]


def told(one: ChorusForm) -> str:
    """The order, and the sections in the order in which they come."""
    order = " | ".join(" ".join(names) for names in (one.before, one.form, one.after))
    for name, each in one.sections.items():
        assert each.name == name
    inside = " ".join(f"{name}:{shown(each)}" for name, each in one.sections.items())
    return f"{order} = {inside}"


SEVERAL = [
    ("A:C.F B:G A:C.F B:G", 2, [" | A B |  = A:C.F B:G"]),
    ("A:C A:C A:C", 3, [" | A |  = A:C"]),
    ("A:C A:C A:C", 4, []),
    # endings: the first time, the second, the last
    ("A:C.F A:C.G", 2, [" | A |  = A:C[F]{G}"]),
    ("A:C.F A:C.F A:C.G", 3, [" | A |  = A:C[F]{G}"]),
    ("A:C.F A:C.G A:C.D", 3, [" | A |  = A:C[F][G]{D}"]),
    ("A:C.F A:C.G A:C.G", 3, [" | A |  = A:C[F][G]"]),
    ("A:C.F A:C.G A:C.G A:C.G", 4, [" | A |  = A:C[F][G]"]),
    ("A:C.F A:C.G A:C.F A:C.F", 4, [" | A |  = A:C[F][G][F]"]),
    ("A:C.F.D A:C.G", 2, [" | A |  = A:C[F.D]{G}"]),
    ("A:C.F A:C.G.D", 2, [" | A |  = A:C[F]{G.D}"]),
    ("A:C A:C.F", 2, []),  # an ending without bars
    ("A:C.G A:C A:C.F", 3, []),
    ("A:F A:G", 2, []),  # nothing in common
    ("A:C.F A:D.F", 2, []),
    # a section that the form has twice: by its place in the form
    ("A:C.F A:C.G B:D A:C.F A:C.G B:D", 2, [" | A A B |  = A:C[F][G] B:D"]),
    ("A:C.F A:C.G B:D A:C.F A:C.E B:D", 2, [" | A A B |  = A:C[F][G]{E} B:D"]),
    ("A:C.F A:C.G B:D A:C.E A:C.G B:D", 2, []),
    ("A:C B:D A:C B:E", 2, []),  # B has nothing in common
    ("A:C B:D.F A:C B:D.E", 2, [" | A B |  = A:C B:D[F]{E}"]),
    # left for the coda
    ("A:C.F A:C K:D", 2, [" | A | K = A:C.F@1 K:D"]),
    ("A:C.F.G A:C.F.D A:C K:E", 3, [" | A | K = A:C.F[G][D]@1 K:E"]),
    ("A:C.F.G A:C.F.G A:C K:E", 3, [" | A | K = A:C.F.G@1 K:E"]),
    ("A:C.F.G A:C.D A:C.F K:E", 3, [" | A | K = A:C[F.G][D]{F} K:E"]),
    ("A:C B:D A:C K:E", 2, [" | A B | K = A:C B:D K:E"]),
    ("A:C B:D K:E", 2, []),
    # what goes on where a section has begun is of it
    ("A:C :F A:C :G", 2, [" | A |  = A:C[F]{G}"]),
    ("A:C :F :G A:C :F :G", 2, [" | A |  = A:C.F.G"]),
    ("A:C :D!F A:C :D!F", 2, [" | A s1 |  = A:C s1:D!F"]),
    ("A:C A:D!C", 2, []),  # another key
    ("A:C.F A:D!C.G A:C.F", 3, []),
    # the same sections outside of the form
    ("A:C A:C K:D K:D", 2, [" | A | K K = A:C K:D"]),
    ("A:C A:C K:D K:E", 2, []),
    ("A:C B:D A:C B:D A:C", 2, [" | A B A B |  = A:C B:D"]),  # left in the middle
    ("A:C A:C B:D A:C A:C B:D", 2, [" | A A B |  = A:C B:D"]),
]


@pytest.mark.parametrize(("text", "choruses", "ways"), SEVERAL)
def test_several_times_through(text: str, choruses: int, ways: list[str]) -> None:
    assert read(text, choruses) == ways


def test_what_stands_before_the_form() -> None:
    assert read("I:D A:C A:C", 2, "A:C") == ["I | A |  = I:D A:C"]
    assert read("I:D V:E A:C.F A:C.G K:D", 2, "A:C.F") == ["I V | A | K = I:D V:E A:C[F]{G} K:D"]
    assert read("A:C B:D B:D", 2, "B:D") == ["A | B |  = A:C B:D"]
    assert read("K:D A:C A:C K:D", 2, "A:C") == ["K | A | K = K:D A:C"]
    assert read("K:D A:C A:C K:E", 2, "A:C") == []


def test_one_time_through_with_what_may_stand_after_it() -> None:
    assert read("A:C", 1) == [" | A |  = A:C"]
    assert read("A:C B:G K:D", 1) == [
        " | A B K |  = A:C B:G K:D",
        " | A B | K = A:C B:G K:D",
        " | A | B K = A:C B:G K:D",
    ]
    six = "A:C B:C D:C E:C F:C G:C"
    assert [way.split(" = ")[0] for way in read(six, 1)] == [
        " | A B D E F G | ", " | A B D E F | G", " | A B D E | F G", " | A B D | E F G",
        " | A B | D E F G",
    ]  # fmt: skip
    assert read("I:D A:C B:G", 1, "A:C") == ["I | A B |  = I:D A:C B:G", "I | A | B = I:D A:C B:G"]
    assert read("A:C.F A:C.G", 1)[0] == " | A A |  = A:C[F]{G}"


def test_where_nothing_is_said_there_is_no_way() -> None:
    assert read("A:C A:C", 2, "B:C") == []
    assert read("A:C A:C", 2, marked=False) == []
    assert read(":C A:C :C", 2, ":C") == []
