"""What a chord in a MusicXML file means to whoever reads the file alone.

The table of kinds is the standard's own: the words of `kind-value` in the MusicXML 4.0 schema,
"dominant-ninth (dominant-seventh, major ninth)", read as intervals here. Degrees change a kind as
`degree-alter` says there: an altered or subtracted degree must be in the kind, an added one counts
from a dominant chord. Nothing of the package's own table is used to read a file.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterable
from fractions import Fraction

import pytest
from hand_made import arrangement
from lxml import etree

from accomp.errors import ChordError
from accomp.harmony import Chord, join_symbol, parse_chord
from accomp.harmony.degree import Degree
from accomp.harmony.naming import suffix_of
from accomp.harmony.suffix import Suffix, read_suffix
from accomp.harmony.table import chord_table
from accomp.intake.musicxml_harmony import harmony_symbol
from accomp.score.notate import notate
from accomp.score.written import ChordMark
from accomp.write.engrave import paper_copy
from accomp.write.musicxml import musicxml_bytes
from accomp.write.musicxml_directions import write_harmony

STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
NUMBERS = {
    "second": 2, "third": 3, "fourth": 4, "fifth": 5, "sixth": 6, "seventh": 7, "ninth": 9,
    "11th": 11, "13th": 13,
}  # fmt: skip
MAJOR = {1: 0, 2: 2, 3: 4, 4: 5, 5: 7, 6: 9, 7: 11, 9: 14, 11: 17, 13: 21}
PERFECT = {4, 5, 11}
BASES = ["", "7", "m7", "maj7", "6/9", "m(maj7)", "sus4", "9", "13", "m", "dim7", "m7b5", "+"]
TWO = [("b5", "b9"), ("#5", "#9"), ("b9", "#9"), ("#9", "#11"), ("b9", "b13"), ("no5", "add9")]


def interval(words: str) -> tuple[int, int]:
    """Degree and semitones of "minor seventh"."""
    quality, name = words.split()
    number = NUMBERS[name]
    down = {"major": 0, "perfect": 0, "added": 0, "minor": -1, "augmented": 1}
    if quality == "diminished":
        return number, MAJOR[number] - (1 if number in PERFECT else 2)
    return number, MAJOR[number] + down[quality]


@pytest.fixture(scope="session")
def kinds(musicxml_schema_text: str) -> dict[str, dict[int, int]]:
    """Semitones by degree of each kind, from the words of the standard."""
    found: dict[str, dict[int, int]] = {}
    text = musicxml_schema_text
    text = text[text.index('name="kind-value"') :]
    for kind, words in re.findall(
        r"^ +([\w-]+) \(([^)]*)\)$", text[: text.index("</xs:doc")], re.M
    ):
        if kind == "pedal":
            continue
        tones = {1: 0}
        for word in words.split(", "):
            below = word.removesuffix(" triad")
            below = {"dominant-seventh": "dominant"}.get(below, below)
            if below in found:
                tones |= found[below]
            else:
                number, semitones = interval(word)
                tones[number] = semitones
        found[kind] = tones
    return found


def test_the_words_of_the_standard_are_understood(kinds: dict[str, dict[int, int]]) -> None:
    assert len(kinds) == 25
    assert kinds["half-diminished"] == {1: 0, 3: 3, 5: 6, 7: 10}
    assert kinds["diminished-seventh"] == {1: 0, 3: 3, 5: 6, 7: 9}
    assert kinds["major-13th"] == {1: 0, 3: 4, 5: 7, 7: 11, 9: 14, 11: 17, 13: 21}
    assert kinds["suspended-fourth"] == {1: 0, 4: 5, 5: 7}
    assert {row.kind for row in chord_table().rows} == set(kinds)


def sounds(harmony: etree._Element, kinds: dict[str, dict[int, int]]) -> set[tuple[int, int]]:
    """(degree, pitch class) of all that a `harmony` element asks for."""
    step = STEPS[harmony.findtext("root/root-step", "")]
    root = step + int(harmony.findtext("root/root-alter", "0"))
    tones = set(kinds[harmony.findtext("kind", "")].items())
    for degree in harmony.findall("degree"):
        number = int(degree.findtext("degree-value", ""))
        alter = int(degree.findtext("degree-alter", ""))
        action = degree.findtext("degree-type")
        if action == "add":
            tones.add((number, MAJOR[number] - (number == 7) + alter))
            continue
        (old,) = [tone for tone in tones if tone[0] == number]  # it must be there, once
        tones.remove(old)
        if action == "alter":
            tones.add((number, old[1] + alter))
    return {(number, (root + semitones) % 12) for number, semitones in tones}


def vocabulary() -> list[str]:
    """Every spelling of every kind, and every alteration after the bases, alone and by twos."""
    table = chord_table()
    found = dict.fromkeys(table.by_spelling)
    for base, change in itertools.product(BASES, table.change_by_spelling):
        found |= dict.fromkeys([f"{base}{change}", f"{base}({change})"])
    for base, (one, two) in itertools.product(BASES, TWO):
        found |= dict.fromkeys([f"{base}{one}{two}", f"{base}({one},{two})"])
    known = [text for text in found if isinstance(read_suffix(text), Suffix)]
    return [text for text in known if read(join_symbol("C", text)) is not None]


def read(symbol: str) -> Chord | None:
    try:
        return parse_chord(symbol)
    except ChordError:
        return None


SUFFIXES = vocabulary()


def element(chord: Chord) -> etree._Element:
    parent = etree.Element("measure")
    write_harmony(parent, ChordMark(Fraction(0), chord, None), 0)
    return parent[0]


@pytest.fixture(scope="session")
def written() -> list[tuple[str, Chord, etree._Element]]:
    """Suffix, chord and element of the whole vocabulary, on three roots in turn."""
    assert len(SUFFIXES) > 600
    roots = itertools.cycle(["C", "Bb", "F#"])
    chords = [(suffix, parse_chord(join_symbol(next(roots), suffix, "E"))) for suffix in SUFFIXES]
    return [(suffix, chord, element(chord)) for suffix, chord in chords]


Written = list[tuple[str, Chord, etree._Element]]


@pytest.mark.slow
def test_kind_and_degrees_are_the_tones_of_the_chord(
    written: Written, kinds: dict[str, dict[int, int]]
) -> None:
    for _, chord, harmony in written:
        ours = {(Degree.parse(tone.degree).number, tone.pc) for tone in chord.tones}
        assert sounds(harmony, kinds) == ours, str(chord)


def notes(chord: Chord) -> tuple[object, ...]:
    return [(tone.degree, tone.spelling) for tone in chord.tones], chord.root, chord.bass


@pytest.mark.slow
def test_our_own_reader_gives_the_symbol_back(written: Written) -> None:
    """The very symbol where it is one that the table writes, else the table's for its tones."""
    names = {row.spellings[0] for row in chord_table().rows} | {"7alt"}
    for suffix, chord, harmony in written:
        symbol = harmony_symbol(harmony)
        assert symbol is not None
        back = parse_chord(symbol)
        assert notes(back) == notes(chord), f"{chord} as {back}"
        if suffix in names:
            assert symbol == str(chord)
        elif symbol != str(chord):
            degrees = tuple(Degree.parse(tone.degree) for tone in chord.tones)
            assert back.suffix.strip("()") == (suffix_of(degrees, chord.kind) or "").strip("()")


@pytest.mark.slow
def test_a_file_of_ours_gives_back_what_was_typed(written: Written) -> None:
    """ "C7+", not the table's "C7#5", wherever the text of the kind says the whole chord."""
    whole = [
        (chord, made)
        for _, chord, made in written
        if all(one.get("print-object") == "no" for one in made.findall("degree"))
    ]
    assert len(whole) > 600
    for chord, made in whole:
        assert harmony_symbol(made, ours=True) == str(chord)


@pytest.mark.slow
def test_what_the_text_says_already_is_not_printed_again(written: Written) -> None:
    for _, chord, made in written:
        shown = [one for one in made.findall("degree") if one.get("print-object") != "no"]
        text = made.find("kind").get("text").replace("♭", "b").replace("♯", "#")  # type: ignore[union-attr]
        said = parse_chord(join_symbol(str(chord.root), text))
        if shown:
            assert not said.alterations, str(chord)
            assert said.kind == chord.kind
        else:
            assert said.tones == chord.tones, str(chord)


def all_in_one_file(suffixes: Iterable[str]) -> bytes:
    symbols = [(join_symbol("C", suffix), "0 0 2 3") for suffix in suffixes]
    return musicxml_bytes(notate(arrangement(symbols, key="C")))


@pytest.mark.slow
def test_the_file_is_valid(assert_valid) -> None:
    assert_valid(all_in_one_file(SUFFIXES[::5]))


# music21 10.5 takes a seventh that is added to a suspended chord for a major one; the standard has
# it minor, as in a dominant chord.
MAJOR_SEVENTH_THERE = {"7sus4", "9sus4", "13sus4"}


@pytest.mark.long
def test_music21_hears_the_same_chords(tmp_path) -> None:
    from music21 import converter

    suffixes = [row.spellings[0] for row in chord_table().rows]
    suffixes += ["7b9", "7#9", "7#11", "13b9", "13#11", "add9", "madd9", "7b5", "maj7#11", "no3"]
    suffixes = [suffix for suffix in suffixes if read(join_symbol("C", suffix)) is not None]
    (tmp_path / "score.musicxml").write_bytes(all_in_one_file(suffixes))
    score = converter.parse(tmp_path / "score.musicxml", forceSource=True)
    heard = list(score.parts[0].recurse().getElementsByClass("ChordSymbol"))
    assert len(heard) == len(suffixes)
    wrong = {}
    for suffix, chord in zip(suffixes, heard, strict=True):
        ours = {tone.pc for tone in parse_chord(join_symbol("C", suffix)).tones}
        if suffix in MAJOR_SEVENTH_THERE:
            ours = ours - {10} | {11}
        if set(chord.pitchClasses) != ours:
            wrong[suffix] = sorted(set(chord.pitchClasses) ^ ours)
    assert wrong == {}


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore:ignoring direction type")
@pytest.mark.filterwarnings("ignore:error parsing")
@pytest.mark.filterwarnings("ignore:ignoring empty <harmony> tag")
def test_partitura_keeps_root_and_text(tmp_path, partitura) -> None:
    """It knows no degrees: what it has of a chord is its root and the text of its kind."""
    suffixes = ["", "7sus4", "9#5", "13", "6/9", "7alt"]
    (tmp_path / "score.musicxml").write_bytes(all_in_one_file(suffixes))
    score = partitura.load_musicxml(str(tmp_path / "score.musicxml"))
    read = score.parts[0].iter_all(partitura.score.ChordSymbol)
    texts = [(chord.root, chord.kind) for chord in read]
    assert texts == [("C", suffix.replace("#", "♯")) for suffix in suffixes]


def test_the_engraver_gets_the_text_alone() -> None:
    """It prints every degree that it finds, whether asked to or not."""
    score = notate(arrangement([("C7sus4", "0 0 2 3"), ("C7b9", "0 0 2 3")], key="C"))
    hidden, shown = paper_copy(score, [0]).findall(".//harmony")[:2]
    assert (hidden.find("kind").get("text"), hidden.findall("degree")) == ("7sus4", [])  # type: ignore[union-attr]
    assert shown.findtext("degree/degree-value") == "9"
