"""What words and signatures of lead sheets mean, whatever file they come from.

Words: common practice, no source. Signatures and modes: any theory book; the table below counts
fifths by whole scales.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from accomp.harmony import Key, Spelling
from accomp.intake.numbers import WrongNumberError
from accomp.intake.signs import (
    bar_length,
    chorus_number,
    ending_numbers,
    jump_of,
    key_of_mode,
    key_of_signature,
    mode_of,
    says_fine,
    says_to_coda,
    times_said,
)

# The scale degree of the major scale on which a mode begins, and whether its third is minor.
MODES = {
    "major": (0, False), "dorian": (1, True), "phrygian": (2, True), "lydian": (3, False),
    "mixolydian": (4, False), "minor": (5, True), "aeolian": (5, True), "locrian": (6, True),
}  # fmt: skip
NATURAL = "FCGDAEB"  # in fifths
DEGREES = (1, 3, 5, 0, 2, 4, 6)  # fifths from F to the degrees C D E F G A B


def tonic(sharps: int, mode: str) -> tuple[str, int]:
    """Letter and sharps of the note on which a mode begins in a signature."""
    place = DEGREES[MODES[mode][0]] + sharps
    return NATURAL[place % 7], place // 7


@pytest.mark.parametrize("mode", MODES)
def test_signatures_and_modes_give_keys_and_back(mode: str) -> None:
    for sharps in range(-10, 11):
        letter, alter = tonic(sharps, mode)
        minor = MODES[mode][1]
        own = Key(Spelling(letter, alter), minor).fifths if abs(alter) <= 1 else 99
        if abs(own) > 7:
            assert key_of_signature(sharps, mode) is None
            continue
        key = key_of_signature(sharps, mode)
        assert key is not None
        assert key == Key(Spelling(letter, alter), minor)
        assert key_of_mode(key.tonic, mode) == (key, sharps)


def test_a_mode_is_known_by_its_word() -> None:
    assert {word: mode_of(f" {word.title()} ") for word in MODES} == {word: word for word in MODES}
    assert mode_of("ionian") == "ionian"
    assert [mode_of(word) for word in ("", "none", "hypodorian")] == ["major"] * 3


def test_a_key_without_a_signature_is_refused_in_words() -> None:
    with pytest.raises(ValueError, match=r"^G# has no key signature$"):
        key_of_mode(Spelling("G", 1), "major")


@pytest.mark.parametrize(
    ("words", "jump", "coda", "fine"),
    [
        ("D.C.", "D.C.", False, False),
        ("dc", "D.C.", False, False),
        ("d. c.", "D.C.", False, False),
        ("Da Capo al Fine", "D.C.", False, False),
        ("dacapo", "D.C.", False, False),
        ("D.S.", "D.S.", False, False),
        ("ds", "D.S.", False, False),
        ("Dal Segno al Coda", "D.S.", False, False),
        ("D.S. al Coda, to coda", "D.S.", False, False),
        ("D.C. then D.S.", "D.S.", False, False),
        ("To Coda", "", True, False),
        ("to the coda", "", True, False),
        ("into coda", "", False, False),
        ("to codas", "", False, False),
        ("D.C. and to coda", "D.C.", False, False),
        ("Fine", "", False, True),
        (" fine. ", "", False, True),
        ("Fine!", "", False, False),
        ("al Fine", "", False, False),
        ("dcs", "", False, False),
        ("adc", "", False, False),
        ("", "", False, False),
    ],
)
def test_words_that_lead_somewhere(words: str, jump: str, coda: bool, fine: bool) -> None:
    assert (jump_of(words), says_to_coda(words), says_fine(words)) == (jump, coda, fine)


@pytest.mark.parametrize(
    ("words", "through", "chorus"),
    [
        ("3 x through", 3, 0),
        ("the form, 3 x through.", 3, 0),
        ("3 x throughout", 0, 0),
        ("3x through", 0, 0),
        ("x3 x through", 0, 0),
        ("Chorus 2", 0, 2),
        ("Choruses 2 to 4", 0, 4),
        ("Choruses 2", 0, 0),
        ("Chorus 2 to 4", 0, 2),
        ("chorus 2", 0, 0),
        ("Chorus 1 (3 x through)", 0, 1),  # that is said of this time through
        (" " * 380 + "3 x through", 3, 0),
        (" " * 389 + "3 x through", 3, 0),  # 400 characters are looked at
        (" " * 390 + "3 x through", 0, 0),
        (" " * 392 + "Chorus 2", 0, 2),
        (" " * 393 + "Chorus 2", 0, 0),
        (" " * 393 + "Chorus 2 3 x through", 0, 0),
    ],
)
def test_times_through(words: str, through: int, chorus: int) -> None:
    assert (times_said(words, 1), chorus_number(words, 1)) == (through, chorus)


@pytest.mark.parametrize(
    ("text", "numbers"),
    [
        ("1", {1}), ("1.", {1}), ("1,2", {1, 2}), ("1, 2.", {1, 2}), ("1-3", {1, 2, 3}),
        ("1 - 3, 5", {1, 2, 3, 5}), ("3-1", {1}), ("2-2", {2}), ("0", {1}), ("0-2", {1, 2}),
        ("", {1}), ("last", {1}), ("99", {99}), (" " * 399 + "23", {2}),
    ],
)  # fmt: skip
def test_numbers_over_a_bracket(text: str, numbers: set[int]) -> None:
    assert ending_numbers(text) == numbers


def test_numbers_over_a_bracket_end_at_99_and_know_their_line() -> None:
    for text in ("100", "98-100", "100-101"):
        with pytest.raises(WrongNumberError) as caught:
            ending_numbers(text, 7)
        assert str(caught.value) == (
            "an ending must be a whole number from 0 to 99, and this is '100'."
        )
        assert caught.value.line == 7


def test_a_bar_of_no_known_meter_is_a_whole_note() -> None:
    assert [bar_length(meter) for meter in ("3/4", "12/8", "3/2", "7/8", "")] == [
        Fraction(3, 4), Fraction(3, 2), Fraction(3, 2), 1, 1,
    ]  # fmt: skip
