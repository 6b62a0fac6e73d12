"""Where the accents of three known rhythms lie."""

from fractions import Fraction

import pytest

from accomp.rhythm import find_style


def eighths(places: list[Fraction]) -> list[Fraction]:
    return [place * 8 for place in places]


def accented(name: str) -> list[Fraction]:
    strokes = find_style(name).strum.strokes
    return eighths([stroke.start for stroke in strokes if stroke.force == "accent"])


def drum(name: str, sound: str) -> list[Fraction]:
    drums = find_style(name).drums
    assert drums is not None
    return eighths([note.start for note in drums.notes if note.what == sound])


def bass(name: str) -> list[Fraction]:
    part = find_style(name).bass
    assert part is not None
    return eighths([note.start for note in part.notes])


def test_tresillo_is_three_three_two() -> None:
    # Source: D. Peñalosa, "The Clave Matrix", 2009: the tresillo is 3+3+2 pulses (from memory).
    assert accented("rumba") == [0, 3, 6]
    assert drum("rumba", "claves") == [0, 3, 6]
    assert bass("rumba") == [0, 3, 6]


def test_habanera_is_dotted_eighth_sixteenth_and_two_eighths() -> None:
    # Source: "The New Harvard Dictionary of Music", ed. D. M. Randel, 1986, s.v. "Habanera" (from
    # memory).
    rhythm = [Fraction(3, 2), Fraction(1, 2), Fraction(1), Fraction(1)]
    starts = [sum(rhythm[:n], Fraction(0)) for n in range(4)]
    assert bass("habanera") == starts
    strokes = find_style("habanera").strum.strokes
    assert eighths([stroke.start for stroke in strokes]) == starts


def test_charleston_is_a_dotted_quarter_and_an_eighth() -> None:
    # Source: M. Levine, "The Jazz Piano Book", 1989, on comping (from memory): on one and on the
    # second half of two.
    assert accented("charleston") == [0, 3]
    snare = find_style("charleston").drums
    assert snare is not None
    hard = [n.start * 8 for n in snare.notes if n.what == "snare" and n.force == "accent"]
    assert hard == [3]


@pytest.mark.parametrize("name", ["four-light-heavy", "choked-four", "shuffle"])
def test_the_backbeat_is_on_two_and_four(name: str) -> None:
    # Common practice, no source.
    strokes = find_style(name).strum.strokes
    heavy = [stroke.start * 4 + 1 for stroke in strokes if stroke.force == "heavy"]
    assert heavy == [2, 4]


def test_four_light_and_heavy_is_the_rule_of_the_trade() -> None:
    # Common practice, no source: one and three light on the lower one or two strings, two and four
    # full chords.
    one, two, three, four = find_style("four-light-heavy").strum.strokes
    assert {one.strings, three.strings} <= {"low1", "low2"}
    assert {one.force, three.force} == {"light"}
    assert {two.strings, four.strings} == {"all"}
