"""The course of a performance by its rules: which chords lead home, vamps, tags, closing bars, and
how long sections are and what their bars are called."""

from __future__ import annotations

import itertools
from dataclasses import replace
from fractions import Fraction

import pytest
from hand_made import BANJO, played_bars, shape
from played import FLAT, style, tune

from accomp.harmony import parse_chord
from accomp.neck import Plan
from accomp.rhythm.passage import Ending
from accomp.score.arrange import Rendition, arrange
from accomp.score.arrangement import Arrangement
from accomp.score.course import addresses, leads_on, section_lengths
from accomp.score.planning import tune_chords
from accomp.time import Meter

ROOTS = "C C# D Eb E F F# G Ab A Bb B".split()
# Kinds of chords as semitones over the root, from any book of theory.
KINDS = {
    "": {0, 4, 7}, "m": {0, 3, 7}, "7": {0, 4, 7, 10}, "maj7": {0, 4, 7, 11}, "m7": {0, 3, 7, 10},
    "6": {0, 4, 7, 9}, "m7b5": {0, 3, 6, 10}, "dim": {0, 3, 6}, "dim7": {0, 3, 6, 9},
    "aug": {0, 4, 8}, "aug7": {0, 4, 8, 10}, "sus4": {0, 5, 7}, "7sus4": {0, 5, 7, 10},
    "9": {0, 2, 4, 7, 10}, "m6": {0, 3, 7, 9},
}  # fmt: skip


@pytest.mark.parametrize("home", ["C", "Ebm"])
def test_what_leaves_the_ear_waiting_for_home(home: str) -> None:
    tonic = ROOTS.index(home.removesuffix("m"))
    for above, (kind, tones) in itertools.product(range(12), KINDS.items()):
        chord = parse_chord(ROOTS[(tonic + above) % 12] + kind)
        dominant = above > 0 and {4, 10} <= tones
        leading_note = above == 11 and 6 in tones
        expected = dominant or above == 7 or leading_note
        assert leads_on(chord, parse_chord(home)) == expected, (chord, home)


# Sections and their names


def test_a_section_that_is_left_for_the_coda_is_as_long_as_it_was_before() -> None:
    bars = played_bars(("A", 1, 4), ("B", 1, 3), ("A", 2, 2), ("Z", 2, 1))
    assert section_lengths(bars) == (4, 4, 4, 4, 3, 3, 3, 2, 2, 1)
    bars[8] = replace(bars[8], leaves=True)
    assert section_lengths(bars) == (4, 4, 4, 4, 3, 3, 3, 4, 4, 1)
    only = played_bars(("A", 1, 2), ("Z", 1, 1))
    only[1] = replace(only[1], leaves=True)  # it never came whole
    assert section_lengths(only) == (2, 2, 1)
    assert section_lengths([]) == ()


def test_every_bar_has_a_name_that_counts_its_section_in_its_chorus() -> None:
    bars = played_bars(("A", 1, 2), ("A", 1, 1), ("B", 1, 1), ("A", 2, 1))
    assert addresses(bars) == ("1/A/1/0", "1/A/1/1", "1/A/2/0", "1/B/1/0", "2/A/1/0")


# The course


def made_of(bars: str, head: str = "", finish: Ending | None = None, **how: object) -> Arrangement:
    written = tune(bars, head=head)
    chords = tune_chords(written)
    shapes = tuple(shape(BANJO, str(chord), "0 2 3 3") for chord in chords.chords)
    plan = Plan("test", shapes, 0.0)
    made = style(FLAT, ending=finish or Ending())
    return arrange(
        written, chords, [plan], {(None, Meter.parse("4/4")): made}, BANJO, Rendition(**how)
    )


def course_of(*what: object, **how: object) -> str:
    """Bars as "section bar:chords", those that are not the tune's own with a plus."""
    made = made_of(*what, **how)
    assert [bar.bar.number for bar in made.bars] == list(range(1, len(made.bars) + 1))
    assert [bar.bar.start for bar in made.bars] == list(range(len(made.bars)))
    assert [bar.bar.opens for bar in made.bars] == [bar.bar.section_bar == 0 for bar in made.bars]
    return " | ".join(
        "+" * bar.added
        + f"{bar.bar.section}{bar.bar.section_bar}:"
        + " ".join(
            str(change.chord or "N.C.") + f"/{change.span.duration}" * (change.span.duration < 1)
            for change in bar.changes
        )
        for bar in made.bars
    )


VAMP = "+Vamp0:C | +Vamp1:C | +Vamp2:C | +Vamp3:C | "


def test_a_vamp_is_four_bars_of_home_and_has_the_pickup_in_its_last() -> None:
    vamp, early = 'begin = "vamp"', "pickup = 1"
    assert course_of("| F | C |", vamp) == VAMP + "A0:F | A1:C"
    assert course_of("| F | C |", vamp, ending=False) == "A0:F | A1:C"
    assert made_of("| F | C |", early).pickup == Fraction(1, 4)
    assert made_of("| F | C |", f"{vamp}\n{early}").pickup == 0
    assert made_of("| F | C |", f"{vamp}\n{early}", ending=False).pickup == Fraction(1, 4)
    assert made_of("| F | C |", f'intro = "last 2"\n{early}').pickup == 0


@pytest.mark.parametrize(
    ("bars", "end"),
    [
        ("| C |", ""),
        ("| F |", ""),  # nothing that leads on
        ("| C | G |", " | +End0:C"),
        ("| C | D7 |", " | +End0:C"),
        ("| C | Bdim |", " | +End0:C"),
        ("| C | B |", ""),
        ("| C | C7 |", ""),  # it stands on home's root
        ("| C | N.C. |", ""),
        ("| D | G |", ""),  # no home to be brought to
    ],
)
def test_what_leads_on_has_one_bar_of_home_after_it(bars: str, end: str) -> None:
    plain = course_of(bars, ending=False)
    assert course_of(bars) == plain + end


@pytest.mark.parametrize(
    ("bars", "tag"),
    [
        ("| F | Em | Dm | C |", "F | Em | Dm | C"),
        ("| F | C | Am | G7 |", "F | C | Am | G7 | +End0:C"),  # home too far before
        ("| F | Am | C | G7 |", "F | Am | C | C"),
        ("| F | Am | F C/1/2 | G7 |", "F | Am | F/1/2 C/1/2 | C"),
        ("| F | Am | C | C G7 |", "F | Am | C | C"),
        ("| F | Am | Dm | F C F G7 |", "F | Am | Dm | F/1/4 C/3/4"),
        ("| C | F | Am | Dm | F |", "F | Am | Dm | F | +End0:C"),  # after a tag in any case
        ("| C G7 |", "C"),
        ("| C | F |", "C | C"),
    ],
)
def test_a_tag_holds_home_from_where_the_turnaround_begins(bars: str, tag: str) -> None:
    bars = bars.replace("/1/2", "")
    played = " | ".join(
        text if text.startswith("+") else f"+Tag{n}:{text}"
        for n, text in enumerate(tag.split(" | "))
    )
    own = course_of(bars, ending=False)
    assert course_of(bars, "", Ending(tag=1)) == f"{own} | {played}"
    assert course_of(bars, "", Ending(tag=1), ending=False) == own


def test_a_ritard_is_of_no_more_bars_than_there_are() -> None:
    slow = Ending(ritard=3, slow_to=0.5)
    for bars, ritard in (("| C |", 1), ("| C | F | C |", 3), ("| C | F | F | C |", 3)):
        made = made_of(bars, "", slow)
        assert (made.ritard, made.slow_to) == (ritard, 0.5)
        without = made_of(bars, "", slow, ending=False)
        assert (without.ritard, without.slow_to) == (0, 1.0)


def test_a_rendition_has_its_own_tempo_and_seed() -> None:
    made = made_of("| C |")
    assert (made.tempo, made.seed) == (120, 0)
    assert (made_of("| C |", tempo=90.0).tempo, made_of("| C |", seed=7).seed) == (90.0, 7)


@pytest.mark.parametrize(
    ("key", "chords", "closing"),
    [
        ("F", "F | Fm | C7", "F"),  # of the key's mode
        ("Fm", "F | Fm | C7", "Fm"),
        ("F", "Fm | C7", "Fm"),  # where there is none of its mode, the one that is there
        ("F", "F | F6 | C7", "F6"),  # the last of several
        ("F", "Bb | C7", None),
        ("C", "F | G7", "C"),  # home itself, though C6 is later
    ],
)
def test_a_tune_that_ends_in_another_key_has_its_home_there(
    key: str, chords: str, closing: str | None
) -> None:
    bars = f'| C | C | C6 |\n"""\n[sections.B]\nkey = "{key}"\nbars = """\n| {chords} |'
    expected = "" if closing is None else f" | +End0:{closing}"
    assert course_of(bars) == course_of(bars, ending=False) + expected
