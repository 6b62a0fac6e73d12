"""The example tunes: each is read under its own name; together they show every part of the form."""

import tomllib
from itertools import pairwise
from pathlib import Path

import pytest

from accomp.harmony import ALL_MAJOR, ALL_MINOR, Key
from accomp.time import METERS
from accomp.tune import Stage, read_tune, slug, transpose_tune, unfold, unique_slugs

FOLDER = Path(__file__).parents[2] / "examples"
TUNES = {path.stem: read_tune(path) for path in sorted(FOLDER.glob("*.toml"))}


def chords(tune):
    return [span.chord for bar in unfold(tune) for span in bar.chords]


@pytest.mark.parametrize("name", TUNES)
def test_an_example_is_named_after_its_title_and_says_what_it_is(name):
    tune = TUNES[name]
    assert slug(tune.title) == name
    assert tune.notices == ()
    head = (FOLDER / f"{name}.toml").read_text(encoding="utf-8").split("title")[0]
    assert "our own invention" in head
    assert "a minute" in head


@pytest.mark.parametrize("name", TUNES)
def test_an_example_is_built_of_whole_phrases(name):
    """Sections of 8, 12 or 16 bars, repeats and an ending among them, as dance tunes have; what
    stands before and after them may have four (common practice, no source)."""
    bars = unfold(TUNES[name], 2)
    starts = [at for at, bar in enumerate(bars) if bar.section_bar == 0]
    for start, end in pairwise([*starts, len(bars)]):
        outside = bars[start].spot.stage in (Stage.INTRO, Stage.CODA)
        assert end - start in ({4, 8} if outside else {8, 12, 16})


@pytest.mark.parametrize("name", TUNES)
def test_an_example_ends_at_home_or_leads_back(name):
    """The last chord has the key's root, or is the dominant that leads to the next chorus."""
    tune = TUNES[name]
    first, last = chords(tune)[0], chords(tune)[-1]
    assert first is not None
    assert last is not None
    assert first.root == tune.key.tonic
    assert (last.root.pc - tune.key.tonic.pc) % 12 in {0, 7}


@pytest.mark.parametrize("name", TUNES)
def test_an_example_has_a_style_of_its_meter_and_tempo(name):
    tune = TUNES[name]
    styles = {tune.style, *(chorus.style for chorus in tune.choruses)} - {None}
    assert styles
    for style in styles:
        shipped = (FOLDER.parent / "styles" / f"{style}.toml").read_text(encoding="utf-8")
        data = tomllib.loads(shipped)
        assert data["meter"] == str(tune.meter)
        assert data["tempo"][0] <= tune.tempo <= data["tempo"][1]


@pytest.mark.many(4, 99)
@pytest.mark.parametrize("name", TUNES)
def test_an_example_goes_into_every_key(name):
    tune = TUNES[name]
    for key in ALL_MINOR if tune.key.minor else ALL_MAJOR:
        moved = transpose_tune(tune, Key.parse(key))
        up = (moved.key.tonic.pc - tune.key.tonic.pc) % 12
        for old, new in zip(chords(tune), chords(moved), strict=True):
            assert (old is None) == (new is None)
            if old is not None and new is not None:
                pcs = {(tone.pc + up) % 12 for tone in old.tones}
                assert {tone.pc for tone in new.tones} == pcs


def test_there_is_a_tune_in_every_meter():
    assert {str(tune.meter) for tune in TUNES.values()} == set(METERS)


def test_together_they_show_every_part_of_the_form():
    tunes = TUNES.values()
    sections = [section for tune in tunes for section in tune.sections.values()]
    every = [chord for tune in tunes for chord in chords(tune)]
    kinds = {chord.kind for chord in every if chord}
    assert any(tune.key.minor for tune in tunes)
    assert any(tune.pickup for tune in tunes)
    assert any(tune.choruses for tune in tunes)
    assert any(chorus.style for tune in tunes for chorus in tune.choruses)
    assert any(section.key not in {tune.key for tune in tunes} for section in sections)
    assert None in every
    assert any(chord.bass for chord in every if chord)
    assert {"diminished-seventh", "augmented", "half-diminished", "suspended-fourth"} <= kinds | {
        alteration.action for chord in every if chord for alteration in chord.alterations
    }
    assert any(not bar.chords[0].written for section in sections for bar in section.bars)
    assert any(section.endings and section.last for section in sections)
    assert all(
        any(getattr(tune, what) for tune in tunes) for what in ("intro", "coda", "begin", "end")
    )


def test_their_names_stay_apart():
    assert unique_slugs(tune.title for tune in TUNES.values()) == tuple(TUNES)
