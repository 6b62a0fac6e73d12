"""The chord table guards itself: no alias twice, every row used, essential and drop complete."""

from __future__ import annotations

import re
import tomllib
from collections import Counter
from importlib.resources import files
from pathlib import Path
from xml.etree import ElementTree

import musicxml
import pytest

from accomp.harmony import parse_chord
from accomp.harmony.alter import altered
from accomp.harmony.suffix import Suffix, plain_signs, read_suffix
from accomp.harmony.table import KindRow, chord_table, spelled_out

TABLE = chord_table()
DATA = tomllib.loads(files("accomp").joinpath("data/chords.toml").read_text(encoding="utf-8"))
# Kinds that name no chord of a lead sheet.
NO_CHORDS = {"Neapolitan", "Italian", "French", "German", "pedal", "Tristan", "other", "none"}


def test_every_kind_of_musicxml_is_there() -> None:
    # Source: the MusicXML 4.0 schema as the package "musicxml" carries it.
    schema = Path(musicxml.__file__).parent / "generate_classes" / "musicxml_4_0.xsd"
    xs = "{http://www.w3.org/2001/XMLSchema}"
    tree = ElementTree.parse(schema)
    kinds = {
        value.get("value")
        for kind in tree.iter(f"{xs}simpleType")
        if kind.get("name") == "kind-value"
        for value in kind.iter(f"{xs}enumeration")
    }
    assert len(kinds) == 33
    assert {row.kind for row in TABLE.rows} == kinds - NO_CHORDS


def test_no_alias_twice() -> None:
    names = Counter(name for row in TABLE.rows for name in row.spellings)
    assert [name for name, count in names.items() if count > 1] == []
    changes = Counter(
        (name, change.bracketed) for change in TABLE.changes for name in change.spellings
    )
    assert [name for name, count in changes.items() if count > 1] == []
    rows = Counter(row.degrees for row in TABLE.rows)
    assert [degrees for degrees, count in rows.items() if count > 1] == []


def test_every_word_is_used_and_every_alias_is_plain() -> None:
    text = str(DATA["chord"]) + str(DATA["alteration"])
    for word, choices in DATA["words"].items():
        assert f"<{word}>" in text
        assert len(choices) == len(set(choices))
    for name in (*TABLE.by_spelling, *TABLE.change_by_spelling):
        assert name == plain_signs(name)
        assert not re.search(r"[\s<>|]", name)


@pytest.mark.parametrize("row", TABLE.rows, ids=lambda row: row.spellings[0] or "major")
def test_row_is_read_and_whole(row: KindRow) -> None:
    for name in row.spellings:
        suffix = read_suffix(name)
        assert isinstance(suffix, Suffix)
        assert (suffix.row, suffix.changes) == (row, ()), name
    assert {*row.essential, *row.drop} == set(row.degrees)
    assert len(row.essential) + len(row.drop) == len(row.degrees)
    assert list(row.degrees) == sorted(row.degrees)
    assert 2 <= len(row.essential) <= 4
    assert not set(row.silent) & set(row.degrees)
    sounds = [degree.semitones % 12 for degree in row.degrees]
    assert len(sounds) == len(set(sounds))


def test_every_change_is_used() -> None:
    chords = ["", "m", "7", "m7", "11", "13", "9"]
    for change in TABLE.changes:
        for name in change.spellings:
            texts = [f"{chord}({name})" for chord in chords]
            found = [read_suffix(text) for text in texts]
            used = [suffix for suffix in found if isinstance(suffix, Suffix)]
            assert any(suffix.changes == (change,) for suffix in used), name


# Rule of the trade (arranging textbooks generally, from memory): keep third and seventh, then the
# named tension; drop the fifth, then the root.
@pytest.mark.parametrize("row", TABLE.rows, ids=lambda row: row.spellings[0] or "major")
def test_drop_rule(row: KindRow) -> None:
    numbers = {degree.number: degree for degree in row.degrees}
    essential = set(row.essential)
    third = numbers.get(3) or numbers.get(4) or numbers.get(2)
    assert third is None or third in essential
    assert 7 not in numbers or numbers[7] in essential
    fifth = numbers[5]
    if fifth.alter:
        assert fifth in essential
    elif row.drop:
        assert row.drop[0] == fifth
    top = row.degrees[-1]
    assert top == fifth or top in essential, "the tone that the symbol names"


def test_triads_and_symmetrical_chords_are_whole() -> None:
    for symbol in "C Cm C+ Cdim Csus4 Csus2 C5 Cdim7".split():
        chord = parse_chord(symbol)
        assert all(tone.essential for tone in chord.tones)
        assert chord.drop_order == ()


def test_words_fill_every_combination() -> None:
    words = {"a": ["x", "y"], "b": ["1", "2"]}
    assert spelled_out("<a>-<b>", words) == ["x-1", "x-2", "y-1", "y-2"]
    assert spelled_out("plain", words) == ["plain"]


def test_altered_keeps_a_plain_row() -> None:
    for row in TABLE.rows:
        content = altered(row, ())
        assert content.degrees == row.degrees
        assert content.kind == row.kind
