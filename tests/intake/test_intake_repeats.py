"""Repeats, endings and jumps against music21, which expands the same MusicXML."""

from __future__ import annotations

from pathlib import Path

import music21
import pytest
from leadsheet_made import score

from accomp.intake.musicxml import read_musicxml
from accomp.intake.repeats import EndlessRepeatsError, playing_order, segments
from accomp.intake.source import parse_xml
from accomp.intake.written import WrittenTune


def written(tmp_path: Path, *measures: str) -> WrittenTune:
    root = parse_xml(score(*measures).encode(), tmp_path)
    return read_musicxml(root, tmp_path / "made-up.musicxml")


def order(tune: WrittenTune) -> list[int]:
    return [int(tune.bars[index].number) for index in playing_order(tune)]


ROADS = {
    "plain": ["C", "F", "G"],
    "a repeat": ["|: C", "F :|", "G"],
    "from the start": ["C", "F :|", "G"],
    "two repeats": ["|: C :|", "|: F", "G :|"],
    "second without a start": ["C", "F :|", "G", "A :|"],
    "endings": ["|: C", "1. F 1] :|", "2. G 2]", "A"],
    "endings of two bars": ["|: C", "1. F", "D 1] :|", "2. G", "E 2]", "A"],
    "third ending": ["|: C", "1,2. F 1,2] :|", "3. G 3]", "A"],
    "three endings": ["|: C", "1. F 1] :|", "2. D 2] :|", "3. G 3]", "A"],
    "da capo": ["C", "F", "G DC"],
    "da capo al fine": ["C", "F Fine", "G DCFine"],
    "dal segno al coda": ["C", "Segno F", "G ToCoda", "D DSCoda", "Coda E", "A"],
    "repeat then da capo al fine": ["|: C", "F :|", "G Fine", "D DCFine"],
}
# Common practice, no source: after a da capo repeats are not played again unless the music says so
# (music21 plays them), and a repeat without a start goes back to the repeat before it.
BY_HAND = {
    "repeat then da capo al fine": [1, 2, 1, 2, 3, 4, 1, 2, 3],
    "second without a start": [1, 2, 1, 2, 3, 4, 3, 4],
}


@pytest.mark.parametrize("name", ROADS)
def test_order_as_music21_expands_it(tmp_path: Path, name: str) -> None:
    measures = ROADS[name]
    if name in BY_HAND:
        expected = BY_HAND[name]
    else:
        part = music21.converter.parseData(score(*measures), format="musicxml").parts[0]
        # music21 numbers bars anew after a jump; every bar here has a chord of its own.
        roots = [chord.root().name for chord in part[music21.harmony.ChordSymbol]]
        bars = part.expandRepeats().getElementsByClass(music21.stream.Measure)
        expected = [
            1 + roots.index(bar[music21.harmony.ChordSymbol].first().root().name) for bar in bars
        ]
    assert order(written(tmp_path, *measures)) == expected


# Common practice, no source: what music21 does not take or takes otherwise.
@pytest.mark.parametrize(
    ("measures", "expected"),
    [
        (["|: C", "1. F 1] :|", "G", "A"], [1, 2, 1, 3, 4]),  # a first ending alone
        (["|: C", "1. F", "D 1] :|", "G"], [1, 2, 3, 1, 4]),
        (["|: C", "1. F 1] :|", "2. G 2] :|", "A"], [1, 2, 1, 3, 4]),  # closed by a repeat sign
        (["|: C", "1. F 1] :|", "2. G 2]", "A", "D :|"], [1, 2, 1, 3, 4, 5, 4, 5]),
        (["|: C", "1. F 1] :|", "2. G 2] DCFine", "A Fine"], [1, 2, 1, 3, 1, 3, 4]),
        # after the jump the last ending, though another repeat has been counted meanwhile
        (["|: C", "1. F 1] :|", "2. G 2]", "|: A :|", "D DC"], [1, 2, 1, 3, 4, 4, 5, 1, 3, 4, 5]),
        (["C", "Segno F", "G DS", "A"], [1, 2, 3, 2, 3, 4]),
        (["C", "Coda F", "G DCCoda", "Coda A"], [1, 2, 3, 1, 2, 4]),  # two coda signs, no words
        (["C", "G DS", "A"], [1, 2, 3]),  # no segno
        (["C ToCoda", "G DC", "A"], [1, 2, 1, 2, 3]),  # no coda
    ],
)
def test_order_by_common_practice(tmp_path: Path, measures: list[str], expected: list[int]) -> None:
    assert order(written(tmp_path, *measures)) == expected


def test_signs_that_lead_nowhere_are_said(tmp_path: Path) -> None:
    tune = written(tmp_path, "C", "G DS", "A")
    playing_order(tune)
    assert any("bar 2: D.S. goes back to a segno, and there is none" in said for said in tune.said)
    tune = written(tmp_path, "C ToCoda", "G DC", "A")
    playing_order(tune)
    assert any("bar 1: 'to coda' leads nowhere" in said for said in tune.said)


@pytest.mark.slow
def test_a_repeat_of_many_times_is_too_long(tmp_path: Path) -> None:
    text = score("|: C :|", *["C"] * 5).replace(
        '<repeat direction="backward"/>', '<repeat direction="backward" times="99"/>'
    )
    tune = read_musicxml(parse_xml(text.encode(), tmp_path), tmp_path)
    assert order(tune)[:3] == [1, 1, 1]
    assert order(tune).count(1) == 99
    tune = written(tmp_path, *["C"] * 2001)
    with pytest.raises(EndlessRepeatsError):
        playing_order(tune)


def test_segments_are_cut_where_the_road_bends(tmp_path: Path) -> None:
    tune = written(tmp_path, "C", "|: F", "1. G 1] :|", "2. A 2] ||", "[Trio] D", "E")
    found = segments(tune.bars, playing_order(tune))
    assert found == [(0, 1), (1, 2), (2, 3), (3, 4), (4, 6)]


def test_order_of_parts(tmp_path: Path) -> None:
    tune = written(tmp_path, "[A] C", "F", "[B] |: G :|")
    tune.parts = ("A", "B", "A", "X")
    assert order(tune) == [1, 2, 3, 3, 1, 2]
    assert any("'X'" in said for said in tune.said)
