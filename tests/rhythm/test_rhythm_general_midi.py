"""General MIDI words against an outside table."""

import re

import pretty_midi
import pytest

from accomp.rhythm.general_midi import (
    percussion_key,
    percussion_words,
    program_number,
    program_words,
)


def plain(name):
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")


# Source: pretty_midi.constants, its copy of the General MIDI 1 tables.
@pytest.mark.parametrize("number", range(1, 129))
def test_programs_are_general_midis(number):
    name = pretty_midi.program_to_instrument_name(number - 1)
    assert program_number(plain(name)) == number


@pytest.mark.parametrize("key", range(35, 82))
def test_percussion_keys_are_general_midis(key):
    assert percussion_key(plain(pretty_midi.note_number_to_drum_name(key))) == key


def test_every_word_has_a_number_and_no_number_is_missing():
    assert {percussion_key(word) for word in percussion_words()} == set(range(35, 82))
    assert {program_number(word) for word in program_words()} == set(range(1, 129))
    assert len(set(percussion_words())) == len(percussion_words())
    assert len(set(program_words())) == len(program_words())
    assert not set(percussion_words()) & set(program_words())


# Common practice, no source: which of several is meant by the plain word.
@pytest.mark.parametrize(
    ("word", "key"), [("bass-drum", 36), ("snare", 38), ("hat", 42), ("ride", 51), ("rim", 37)]
)
def test_short_words(word, key):
    assert percussion_key(word) == key


def test_an_unknown_word():
    with pytest.raises(KeyError):
        percussion_key("piano")
    with pytest.raises(KeyError):
        program_number("snare")
