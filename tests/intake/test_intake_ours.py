"""A file of our own read back: what its page says of choruses, of the form and of the band.

The words are those of our own pages (ours).
"""

from __future__ import annotations

from pathlib import Path

import pytest
from leadsheet_made import direction, score
from sections_made import shown

from accomp.intake.build import build_tune
from accomp.intake.musicxml import read_musicxml
from accomp.intake.source import parse_xml
from accomp.intake.written import WrittenTune

OURS = "<identification><encoding><software>accomp</software></encoding></identification>"


def written(*bars: str, head: str = OURS) -> WrittenTune:
    """Bars as for `score`, with "{words}" over them and "<Name>" for a name without a box."""
    text = score(*(bar.split("{")[0].split("<")[0] for bar in bars), head=head)
    for number, bar in enumerate(bars, 1):
        said = "".join(
            direction(f"<words>{part.split('}')[0]}</words>") for part in bar.split("{")[1:]
        )
        if "<" in bar:
            name = bar.split("<")[1].split(">")[0]
            said += direction(f'<rehearsal enclosure="none">{name}</rehearsal>')
        start = f'<measure number="{number}">'
        text = text.replace(start, start + said)
    return read_musicxml(parse_xml(text.encode(), Path("t.xml")), Path("t.xml"))


def told(tune: WrittenTune) -> str:
    built = build_tune(tune)
    assert built is not None, tune.problems
    found = built.tune
    intro = () if found.intro is None else (f"({found.intro})",)
    verse = (*found.verse, ":") if found.verse else ()
    coda = (":", *found.coda) if found.coda else ()
    times = "" if found.times is None else f" x{found.times}"
    inside = " ".join(f"{name}:{shown(one)}" for name, one in found.sections.items())
    return f"{' '.join((*intro, *verse, *found.form, *coda))}{times} = {inside}"


READ = [
    # the form is said to be played several times
    (["|: [A] C {3 x through}", "F :|"], "A A = A:C.F"),
    (["[A] C {2 x through}", "F", "[A] C", "F"], "A x2 = A:C.F"),
    (["[V] D", "[A] C {2 x through}", "F", "[A] C", "F"], "V : A x2 = V:D A:C.F"),
    (["[A] C", "[A] C", "[B] G {2 x through}", "[B] G"], "A A : B x2 = A:C B:G"),
    # choruses that differ
    (["[A] C", "F", "[A] C {Chorus 2}", "G"], "A x2 = A:C[F]{G}"),
    (["[A] C {2 x through}", "F", "D", "[A] C {Chorus 2}", "F", "G"], "A x2 = A:C.F[D]{G}"),
    (["[A] C", "F", "D", "[A] C {Chorus 2}", "F", "G"], "A x2 = A:C.F[D]{G}"),
    (["[A] C", "F", "D", "[A] C {Choruses 2 to 3}", "F", "G"], "A A 2 = A:C.F.D A 2:C.F.G"),
    (["[Intro] E", "[A] C", "F", "D", "[A] C {Chorus 2}", "F", "G"],
     "(Intro) A x2 = Intro:E A:C.F[D]{G}"),
    # a section goes on where another begins without a mark
    (["[A] C", "|: F :|", "[B] G"], "A B = A:C.F*1-2x2 B:G"),
]  # fmt: skip


@pytest.mark.parametrize(("bars", "tune"), READ)
def test_what_a_page_of_ours_says(bars: list[str], tune: str) -> None:
    assert told(written(*bars)) == tune


def test_what_the_band_adds_is_not_of_the_tune() -> None:
    vamp = "'Vamp' is what the band adds to the tune; it is not taken over"
    tag = "'Tag' is what the band adds to the tune; it is not taken over"
    bars = ["C <Vamp>", "G", "[A] C", "F", "D <Tag>", "E"]
    tune = written(*bars)
    assert [bar.number for bar in tune.bars] == ["3", "4"]
    assert tune.said[:2] == (vamp, tag)
    others = written(*bars, head="")
    assert len(others.bars) == 6  # only our own files name it so
    assert not any("band adds" in one for one in others.said)
    text = score("C", "F", head=OURS)
    start = '<measure number="1">'
    first = direction('<rehearsal enclosure="none">Vamp</rehearsal>') + '<sound tempo="90"/>'
    text = text.replace(start, start + first)
    second = direction("<rehearsal>A</rehearsal>") + '<sound tempo="80"/>'
    text = text.replace('<measure number="2">', f'<measure number="2">{second}')
    tune = read_musicxml(parse_xml(text.encode(), Path("t.xml")), Path("t.xml"))
    assert tune.tempo == 90 / 4
    assert tune.said == (vamp, "bar 2: a change of tempo is not taken over")


def test_words_on_other_pages_are_not_ours() -> None:
    bars = ["[A] C", "F", "D", "[A] C {Chorus 2}", "F", "G"]
    assert [bar.signs.chorus for bar in written(*bars).bars] == [0, 0, 0, 2, 0, 0]
    assert [bar.signs.chorus for bar in written(*bars, head="").bars] == [0] * 6
    assert told(written(*bars, head="")) == "A A 2 = A:C.F.D A 2:C.F.G"
    # an intro is borrowed from the form's end in our own files only
    bars = ["[Intro] F", "[A] C", "F"]
    assert told(written(*bars)) == "(1) A = A:C.F"
    assert told(written(*bars, head="")) == "(Intro) A = Intro:F A:C.F"
    assert told(written("[A] C", "|: F :|", "[B] G", head="")) == "A C C B = A:C C:F B:G"
