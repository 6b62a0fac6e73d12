"""Text on pages: the table of signs against the fonts themselves, names with real signs."""

from __future__ import annotations

import pytest
from font_table import STYLES, common_signs, embedded_fonts

from accomp.harmony import Key, parse_chord
from accomp.write.page_text import PageText, chord_text, key_text, printable_signs, sentence_text

pytest.importorskip("fontTools", reason="fontTools is not installed")


@pytest.mark.slow
def test_the_table_is_what_the_fonts_have():
    """When this fails the fonts have changed: tests/write/font_table.py prints the table anew."""
    assert printable_signs() == common_signs()


@pytest.mark.slow
def test_the_typesetter_has_the_faces():
    faces = embedded_fonts()
    assert {face for style in STYLES for face in style} <= faces.keys()


def test_what_the_pages_print_themselves_is_there():
    needed = "♭♯♮°øΔ↓↑×•–…→·="
    assert {ord(sign) for sign in needed} <= printable_signs()


@pytest.mark.parametrize(
    ("symbol", "printed"),
    [
        ("Bb", "B♭"),
        ("F#m7b5", "F♯m7♭5"),
        ("Bb7#9/Ab", "B♭7♯9/A♭"),
        ("B♭°7", "B♭°7"),
        ("Csus4", "Csus4"),
    ],
)
def test_chords_have_real_signs(symbol, printed):
    assert chord_text(parse_chord(symbol)) == printed
    assert chord_text(None) == "N.C."


def test_keys_in_words():
    assert key_text(Key.parse("Bb")) == "B♭ major"
    assert key_text(Key.parse("F#m")) == "F♯ minor"


def test_lost_signs_are_named_once():
    text = PageText()
    assert text("a🎷b🎷\tc\n", "The title") == "a\ufffdb\ufffd c"
    assert text("fine", "The composer's name") == "fine"
    assert len(text.notices) == 1
    assert text.notices[0].startswith("The title has signs")
    assert text.notices[0].count("🎷") == 1


@pytest.mark.parametrize(
    ("said", "printed"),
    [
        (
            "Bb 3 3 5 6 is 96 mm wide, and so is F#m7b5.",
            "B♭ 3 3 5 6 is 96 mm wide, and so is F♯m7♭5.",
        ),
        ("nothing lies here for C7/Bb or Eb; of all", "nothing lies here for C7/B♭ or E♭; of all"),
        ("A Bball, Glumb and a/Bb stay; Cb/", "A Bball, Glumb and a/Bb stay; Cb/"),
    ],
)
def test_chords_in_a_sentence_have_the_signs_of_the_page(said, printed):
    assert sentence_text(said) == printed
