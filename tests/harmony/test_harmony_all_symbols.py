"""Every chord symbol there is, in every key: the same chord, and printed so that it reads back.

The vocabulary is made from chords.toml: each spelling of each kind, each alteration after it with
and without brackets, after a bare root too, where its sign could be taken for the root's own.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from fractions import Fraction

import pytest
from lxml import etree

from accomp.errors import ChordError
from accomp.harmony import (
    ALL_MAJOR,
    ALL_MINOR,
    Chord,
    Interval,
    Key,
    join_symbol,
    parse_chord,
    transpose_chord,
)
from accomp.harmony.suffix import Suffix, plain_signs, read_suffix, split_symbol
from accomp.harmony.symbol import LONGEST
from accomp.harmony.table import chord_table
from accomp.intake.musicxml_harmony import harmony_symbol
from accomp.neck import Vocabulary, find_hand, find_instrument, playable_shapes
from accomp.neck.repertoire import Repertoire, RepertoireShape
from accomp.score.written import ChordMark
from accomp.write.musicxml_directions import write_harmony
from accomp.write.page_text import chord_text

ROOTS = [step + sign for step in "ABCDEFG" for sign in ("", "b", "#")]
BASES = ["", "7", "m7", "maj7", "6/9", "m(maj7)", "sus4"]  # what alterations are tried after
TWO = [("b5", "b9"), ("#5", "#9"), ("#9", "#11"), ("b9", "b13"), ("#11", "b13"), ("#5", "no1")]


def suffixes() -> list[str]:
    """Every suffix of the vocabulary that makes a chord; real signs where there are any."""
    table = chord_table()
    found = dict.fromkeys(table.by_spelling)
    for base, change in itertools.product(BASES, table.change_by_spelling):
        found |= dict.fromkeys([f"{base}{change}", f"{base}({change})"])
    for base, (one, two) in itertools.product(BASES, TWO):
        texts = [f"{one}{two}", f"{one}({two})", f"({one}){two}", f"({one}, {two})"]
        found |= dict.fromkeys(base + text for text in texts)
    found |= {f"{change}(13)": None for change in table.change_by_spelling}
    found |= {text.replace("b", "♭").replace("#", "♯"): None for text in found if "sus" not in text}
    return [text for text in found if makes_a_chord(text)]


def makes_a_chord(suffix: str) -> bool:
    if not isinstance(read_suffix(plain_signs(suffix)), Suffix):
        return False  # an error would look for what was meant: for hundreds that takes a while
    try:
        parse_chord(join_symbol("C", suffix))
    except ChordError:
        return False
    return True


SUFFIXES = suffixes()
INTERVALS = sorted(
    {
        Key.parse(old).interval_to(Key.parse(new))
        for names in (ALL_MAJOR, ALL_MINOR)
        for old, new in itertools.product(names, names)
    },
    key=lambda interval: (interval.semitones, interval.steps),
)
SIGNS = tuple("b#♭♯")
NAMES = {row.spellings[0] for row in chord_table().rows}


def what_sounds(chord: Chord, up: int = 0) -> tuple[object, ...]:
    """All that a player hears or reads of a chord, so many semitones higher."""
    return (
        chord.kind,
        chord.alterations,
        [(tone.degree, (tone.pc + up) % 12, tone.essential) for tone in chord.tones],
        chord.drop_order,
        (chord.root.pc + up) % 12,
        None if chord.bass is None else (chord.bass.pc + up) % 12,
    )


def check(root: str, suffix: str, bass: str, interval: Interval) -> None:
    chord = parse_chord(join_symbol(root, suffix, bass))
    moved = transpose_chord(chord, interval)
    assert what_sounds(moved) == what_sounds(chord, interval.semitones), (str(chord), str(moved))
    assert moved.root == chord.root.up(interval).plain
    assert what_sounds(parse_chord(str(moved))) == what_sounds(moved)
    printed = chord_text(moved)
    assert what_sounds(parse_chord(printed)) == what_sounds(moved), printed


def chords_after(root: str, all_of_them: bool) -> Iterator[str]:
    """The suffixes to try on a root: those that begin with a sign, or all."""
    for suffix in SUFFIXES:
        if all_of_them or suffix.startswith(SIGNS):
            yield suffix


def test_the_vocabulary_is_large_and_holds_what_could_be_misread() -> None:
    assert len(SUFFIXES) > 700
    assert {"#5", "b5", "b9", "#9", "#11", "b13", "(#5)", "b5b9", "#5(#9)"} <= set(SUFFIXES)
    assert {spelling for row in chord_table().rows for spelling in row.spellings} <= set(SUFFIXES)


@pytest.mark.many(2, 7)
@pytest.mark.parametrize("root", ROOTS)
def test_a_sign_after_the_root_stays_the_chords_own_in_every_key(root: str) -> None:
    for suffix, interval in itertools.product(chords_after(root, all_of_them=False), INTERVALS):
        check(root, suffix, "", interval)
        check(root, suffix, "F", interval)


@pytest.mark.slow
@pytest.mark.many(1)
@pytest.mark.parametrize("root", ["C", "Bb", "F#"])
def test_every_chord_keeps_its_tones_up_a_half_step_and_a_fourth(root: str) -> None:
    for suffix in chords_after(root, all_of_them=True):
        for interval in (Interval(1, 1), Interval(3, 5), Interval(0, 0)):
            check(root, suffix, "", interval)
            check(root, suffix, "Eb", interval)


@pytest.mark.long
@pytest.mark.parametrize("root", ROOTS)
def test_every_chord_keeps_its_tones_in_every_key(root: str) -> None:
    for suffix, interval in itertools.product(chords_after(root, all_of_them=True), INTERVALS):
        check(root, suffix, "", interval)
        check(root, suffix, "F#", interval)


@pytest.mark.parametrize("root", ["B", pytest.param("Bb", marks=pytest.mark.long)])
def test_musicxml_says_the_same_chord(root: str) -> None:
    for suffix in SUFFIXES:
        if root == "B" and not suffix.startswith(SIGNS) and suffix not in NAMES:
            continue
        chord = parse_chord(join_symbol(root, suffix))
        parent = etree.Element("measure")
        write_harmony(parent, ChordMark(Fraction(0), chord, None), 0)
        symbol = harmony_symbol(parent[0])
        assert symbol is not None
        back = parse_chord(symbol)
        assert [tone.pc for tone in back.tones] == [tone.pc for tone in chord.tones], str(chord)
        # and what a reader prints of it: the root, then the text of the kind and its degrees
        kind = parent.find("harmony/kind")
        assert kind is not None
        shown = kind.get("text", "")
        if parent.find("harmony/degree") is None:
            printed = parse_chord(f"{chord_text(chord)[: len(str(chord.root))]}{shown}")
            assert what_sounds(printed) == what_sounds(chord), shown


@pytest.mark.parametrize(
    ("symbol", "interval", "moved"),
    [
        ("Bb#5", Interval(1, 1), "Cb#5"),
        ("Bb#5", Interval(0, 1), "B(#5)"),
        ("B♭♯5", Interval(0, 1), "B(♯5)"),
        ("Bbb5", Interval(1, 2), "C(b5)"),
        ("Abb9/C", Interval(0, 1), "A(b9)/C#"),
        ("Bb#9#11", Interval(0, 1), "B(#9#11)"),
        ("Bbb5(b9)", Interval(0, 1), "B(b5)(b9)"),
        ("Bb+", Interval(0, 1), "B+"),
        ("Bb+5", Interval(0, 1), "B+5"),
        ("C(#5)", Interval(1, 1), "Db(#5)"),
        ("Bb5", Interval(0, 1), "B5"),
        ("Ab#5b9sus4", Interval(0, 1), "A(#5b9sus4)"),
    ],
)
def test_written_as_a_player_would(symbol: str, interval: Interval, moved: str) -> None:
    assert str(transpose_chord(parse_chord(symbol), interval)) == moved


def test_nothing_moves_by_nothing() -> None:
    for symbol in ("B♭7b9/D", "Ab(#5)", "Bb#5"):  # mixed signs stay mixed
        assert str(transpose_chord(parse_chord(symbol), Interval(0, 0))) == symbol


def test_the_longest_symbol_has_room_to_grow() -> None:
    symbol = "Bminormajor7(addb9, add#11, Add13, Add4, Add2, omit5, omit1)"
    assert len(symbol) == LONGEST
    moved = transpose_chord(parse_chord(symbol), Interval(0, -1))
    assert (str(moved.root), len(moved.symbol)) == ("Bb", LONGEST + 1)


@pytest.mark.slow
def test_taken_apart_and_put_together() -> None:
    for root, suffix in itertools.product(ROOTS, SUFFIXES):
        parts = split_symbol(join_symbol(root, suffix, "D"))
        assert parts is not None
        assert (parts[0], parts[2]) == (root, "D")
        one, other = read_suffix(parts[1]), read_suffix(split_symbol(f"Cb{suffix}")[1])  # type: ignore[index]
        assert isinstance(one, Suffix)
        assert isinstance(other, Suffix)
        assert (one.row, one.changes) == (other.row, other.changes)


def test_a_misspelt_symbol_is_not_taken_to_another_root() -> None:
    with pytest.raises(ChordError, match=r"Did you mean 'C\(b13\)'\?"):
        parse_chord("C(b13x)")


@pytest.mark.parametrize(
    ("step", "alter", "text", "symbol"),
    [
        ("B", -2, "9sus4", "A9sus4"),  # not B flat with a flat ninth
        ("B", 0, "b9sus4", "B(b9sus4)"),
        ("B", 0, "♭9sus4", "B(♭9sus4)"),
        ("B", -1, "♭9sus4", "Bb♭9sus4"),
        ("F", 2, "9sus4", "G9sus4"),
    ],
)
def test_the_text_of_a_kind_is_read_on_its_own_root(
    step: str, alter: int, text: str, symbol: str
) -> None:
    xml = (
        f"<harmony><root><root-step>{step}</root-step><root-alter>{alter}</root-alter></root>"
        f'<kind text="{text}">suspended-fourth</kind></harmony>'
    )
    assert harmony_symbol(etree.fromstring(xml)) == symbol


def test_a_known_shape_is_named_on_another_root_as_the_chord_it_is() -> None:
    instrument, hand = find_instrument("tenor-banjo"), find_hand("medium")
    chord = parse_chord("Bb#5")
    shape = next(one for one in playable_shapes(chord, instrument, hand) if not one.open)
    own = RepertoireShape("mine", chord, shape.frets, movable=True)
    vocabulary = Vocabulary(Repertoire("Mine", instrument.strings, (own,)), instrument, hand)
    names = {known.derivation.chord for known in vocabulary.shapes(parse_chord("B(#5)"))}
    assert "B(#5)" in names
    assert "B#5" not in names
