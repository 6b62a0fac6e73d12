"""Road maps of other people's lead sheets: kept where a tune file says the same, else written out.

The bars that are played are worked out by hand from the signs (ABC 2.1, "Decorations", "Repeat/bar
symbols").
"""

from __future__ import annotations

import pytest

from accomp.intake import read_leadsheet
from accomp.tune import parse_tune, unfold

HEAD = "X:1\nT:Trial\nM:4/4\nL:1/1\nQ:1/4=100\nK:C\n"

# music, bars played once through, form, coda, bars of (body, endings), way to the coda
KEPT = [
    ('|:"C"C|1"F"F:|2"G"G|]|"Am"A|]', "C F C G A", "A A B", "", (1, [1, 1]), None),
    ('|:"C"C|1"F"F:|2"G"G:|3"Dm"D|]', "C F C G C D", "A A A", "", (1, [1, 1, 1]), None),
    ('"C"C|"F"F!dacoda!|"G"G|"Am"A!D.C.!||!coda!"Dm"D|]', "C F G A C F D", "A A", "Coda",
     (4, []), 2),
    ('"C"C|!segno!"F"F!dacoda!|"G"G|"Am"A!D.S.!||!coda!"Dm"D|]', "C F G A F D", "A B B", "Coda",
     (1, []), None),
    ('"C"C|"F"F||"G"G|"Am"A!D.C.!|!coda!"Dm"D|]', "C F G A C F G A D", "A B A B", "Coda",
     (2, []), None),
]  # fmt: skip


def read(music, tmp_path):
    path = tmp_path / "sheet.abc"
    path.write_text(HEAD + music + "\n", encoding="utf-8")
    (one,) = read_leadsheet(path)
    assert one.tune is not None, one.problems
    return one


def played(tune, choruses=1):
    return " ".join(str(bar.chords[0].chord.root) for bar in unfold(tune, choruses))


@pytest.mark.parametrize(("music", "bars", "form", "coda", "lengths", "leaves"), KEPT)
def test_what_is_kept(music, bars, form, coda, lengths, leaves, tmp_path):
    tune = read(music, tmp_path).tune
    assert played(tune) == bars
    assert " ".join(tune.form) == form
    assert " ".join(tune.coda) == coda
    first = tune.sections["A"]
    assert (len(first.bars), [len(ending) for ending in first.endings]) == lengths
    assert first.to_coda == leaves
    assert parse_tune(read(music, tmp_path).toml).form == tune.form


def test_the_coda_comes_after_the_last_time_only(tmp_path):
    tune = read(KEPT[2][0], tmp_path).tune
    assert played(tune, 2) == "C F G A C F G A C F G A C F D"
