"""Every shipped style on paper: valid, exact and readable."""

from __future__ import annotations

from fractions import Fraction

import pytest

from accomp.job.options import Options
from accomp.job.request import resolve
from accomp.job.versions import versions
from accomp.rhythm import find_style, style_names
from accomp.score.notate import notate
from accomp.score.notate_layout import ScoreLayout
from accomp.tune import read_tune
from accomp.write.engrave import engrave
from accomp.write.musicxml import musicxml_bytes

TUNE = """title = "On Paper"
key = "{key}"
meter = "{meter}"
tempo = {tempo:g}
style = "{style}"
[sections]
A = "| F | {two} | Bb | F | Dm | {two} | C7 | F |"
"""


@pytest.fixture(params=style_names())
def version(request, tmp_path):
    style = find_style(request.param)
    two = {"3": "F / C7", "6": "F C7", "9": "F / C7", "5": "F / / C7 /"}.get(
        str(style.meter.count), "F C7"
    )
    text = TUNE.format(key="F", meter=style.meter, tempo=style.tempo[0], style=style.name, two=two)
    (tmp_path / "tune.toml").write_text(text)
    tune = read_tune(tmp_path / "tune.toml")
    return versions(resolve(tune, Options(choruses=2)))[0]


@pytest.mark.long
def test_a_style_is_written_exactly_and_readably(version, musicxml_schema, capfd):
    from lxml import etree

    score = notate(version.arrangement)
    musicxml_schema.assertValid(etree.fromstring(musicxml_bytes(score)))
    strums = {
        strum.span.start for bar in version.arrangement.bars for strum in bar.strums
        if strum.technique != "rest" and strum.strings
    }  # fmt: skip
    unfolded = notate(version.arrangement, ScoreLayout(fold=False))
    starts, now = set(), Fraction(0)
    for measure in unfolded.parts[0].measures:
        for event in measure.events:
            if event.notes and not event.tied_from:
                starts.add(now + event.start)
            # tied notes as short as a thirty-second cannot be read at speed
            if event.notes and (event.tied_from or event.tied_to):
                assert event.value.duration >= Fraction(1, 16)
            assert event.whole_measure or event.value.length >= Fraction(1, 32)
        now += measure.length
    assert strums <= starts  # no stroke was moved to be written
    assert engrave(score, 180.0)
    assert capfd.readouterr() == ("", "")
