"""Real lead sheets of music21's corpus, against independent readings of the same files.

Chord symbols are read here straight from the XML or ABC text, the melody by music21, which also
follows the repeats.
"""

from __future__ import annotations

import re
import zipfile
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import music21
import pytest

from accomp.intake import ImportedTune, read_leadsheet
from accomp.tune.model import Section
from accomp.tune.read import parse_tune
from accomp.tune.unfold import unfold

CORPUS = Path(music21.__file__).parent / "corpus"
RAGTIME = CORPUS / "leadSheet" / "berlinAlexandersRagtime.mxl"
HAIR = CORPUS / "leadSheet" / "fosterBrownHair.mxl"
KINDS = CORPUS / "demos" / "ComprehensiveChordSymbolsTestFile.mxl"
REELS = CORPUS / "nottingham-dataset" / "reelsa-c.abc"
ALL = [RAGTIME, HAIR, KINDS, REELS]

# Chord symbols for the kinds in those files, by the names of MusicXML's list. Common practice.
SUFFIX = {
    "major": "",
    "minor": "m",
    "augmented": "+",
    "diminished": "dim",
    "dominant": "7",
    "major-seventh": "maj7",
    "minor-seventh": "m7",
    "diminished-seventh": "dim7",
    "augmented-seventh": "7#5",
    "half-diminished": "m7b5",
    "minor-major": "m(maj7)",
    "major-sixth": "6",
    "minor-sixth": "m6",
    "dominant-ninth": "9",
    "major-ninth": "maj9",
    "minor-ninth": "m9",
    "dominant-11th": "11",
    "major-11th": "maj11",
    "minor-11th": "m11",
    "dominant-13th": "13",
    "major-13th": "maj13",
    "minor-13th": "m13",
    "suspended-second": "sus2",
    "suspended-fourth": "sus4",
}
DEGREES = {"add2": "add2", "subtract5": "no5", "subtract3": "no3"}


def by_xml(path: Path) -> dict[str, list[tuple[Fraction, str]]]:
    """Chord symbols by measure number, with their place in quarters."""
    with zipfile.ZipFile(path) as archive:
        (name,) = (name for name in archive.namelist() if not name.startswith("META-INF"))
        root = ElementTree.fromstring(archive.read(name))
    bars: dict[str, list[tuple[Fraction, str]]] = {}
    divisions = 1
    for measure in root.iter("measure"):
        place = 0
        chords = bars.setdefault(measure.get("number", ""), [])
        divisions = int(measure.findtext("attributes/divisions", str(divisions)))
        for element in measure:
            if element.tag == "note" and element.find("chord") is None:
                place += int(element.findtext("duration", "0"))
            elif element.tag == "harmony":
                chords.append((Fraction(place, divisions), symbol(element)))
            elif element.findtext("direction-type/words") == "N.C.":
                chords.append((Fraction(place, divisions), "N.C."))
    return bars


def symbol(harmony: ElementTree.Element) -> str:
    kind = harmony.findtext("kind", "")
    if kind not in SUFFIX:
        return "N.C."  # Neapolitan, Italian, Tristan: no chord of a rhythm player
    name = note(harmony, "root") + SUFFIX[kind]
    for degree in harmony.findall("degree"):
        name += DEGREES[degree.findtext("degree-type", "") + degree.findtext("degree-value", "")]
    bass = note(harmony, "bass")
    return f"{name}/{bass}" if bass else name


def note(harmony: ElementTree.Element, what: str) -> str:
    alter = harmony.findtext(f"{what}/{what}-alter", "0")
    return harmony.findtext(f"{what}/{what}-step", "") + {"0": "", "-1": "b", "1": "#"}[alter]


def heard(path: Path, numbers: list[int]) -> list[str]:
    """What stands over each played bar, as "F 0 C7 2", what goes on from before included."""
    written = by_xml(path)
    before = "N.C."
    result = []
    for number in numbers:
        chords = list(written[str(number)])
        if not chords or chords[0][0] > 0:
            chords.insert(0, (Fraction(0), before))
        before = chords[-1][1]
        result.append(" ".join(f"{name} {place}" for place, name in without_repeats(chords)))
    return result


def without_repeats(chords: list[tuple[Fraction, str]]) -> list[tuple[Fraction, str]]:
    kept = chords[:1]
    kept += [new for old, new in pairwise(chords) if old[1] != new[1]]
    return kept


def played(tune: ImportedTune) -> list[str]:
    assert tune.tune is not None
    return [
        " ".join(f"{span.chord or 'N.C.'} {4 * span.span.start}" for span in bar.chords)
        for bar in unfold(tune.tune)
    ]


@pytest.mark.parametrize(
    ("path", "numbers"),
    [
        (RAGTIME, [1, *range(2, 34), *range(2, 33), 34]),
        (HAIR, [1, *range(2, 34), *range(2, 32), 34, 35]),
        (KINDS, list(range(1, 58))),
    ],
    ids=["ragtime", "hair", "kinds"],
)
def test_chords_of_every_bar_as_played(path: Path, numbers: list[int]) -> None:
    (tune,) = read_leadsheet(path)
    assert played(tune) == heard(path, numbers)


# By hand from the ABC text; the first is A A B B, the second A (with two endings) A B B C C.
CUCKOO_A = "D 0|Em 0 A 2|C 0|Em 0 A7 2|D 0|Em 0 A7 2|D 0 A7 2|D 0".split("|")
CUCKOO_B = "D 0|D 0|C 0|C 0|D 0|A7 0|D 0 A7 2|D 0".split("|")
CZECH_A = "Am 0 E7 3|Am 0 E7 3|Am 0 Dm 3|Am 0 Am/C 2|Dm 0|Am/E 0|E7 0|Am 0".split("|")
CZECH_B = "Am 0 G7/B 2|C 0|D 0 E7 2|Am 0".split("|")
CZECH_C = "Am 0 Am/G 2|D/F# 0 F 2|E7 0|Am 0".split("|")


def test_several_tunes_in_one_file() -> None:
    cuckoo, czech = read_leadsheet(REELS)
    assert (cuckoo.title, czech.title) == ("Cuckoo's Nest", "Little Czech Number")
    assert (cuckoo.name, czech.name) == ("cuckoos-nest", "little-czech-number")
    assert played(cuckoo) == CUCKOO_A * 2 + CUCKOO_B * 2
    assert played(czech) == CZECH_A * 2 + CZECH_B * 2 + CZECH_C * 2
    for tune, key in ((cuckoo, "D"), (czech, "Am")):
        assert tune.tune is not None
        assert str(tune.tune.key) == key
        assert str(tune.tune.meter) == "4/4"
        assert tune.tune.pickup == Fraction(1, 4)


def test_symbols_of_the_abc_text_are_all_there() -> None:
    texts = REELS.read_text(encoding="utf-8").split("X:")[1:]
    for tune, text in zip(read_leadsheet(REELS), texts, strict=True):
        assert tune.tune is not None
        symbols = {
            re.sub(r"/([a-g])(\+?)", lambda m: "/" + m[1].upper() + "#" * len(m[2]), name)
            for name in re.findall(r'"([^"]*)"', text)
        }
        ours = {
            str(span.chord)
            for section in tune.tune.sections.values()
            for bar in section.bars
            for span in bar.chords
        }
        assert ours == symbols


def test_head_of_the_lead_sheets() -> None:
    (ragtime,) = read_leadsheet(RAGTIME)
    assert ragtime.tune is not None
    assert ragtime.tune.title == "Alexanders Ragtime Band"
    assert ragtime.tune.composer == "Irving Berlin"
    assert (ragtime.tune.intro, ragtime.tune.form) == ("Intro", ("A", "A"))
    assert [len(section.bars) for section in ragtime.tune.sections.values()] == [1, 31]
    assert [len(ending) for ending in ragtime.tune.sections["A"].endings] == [1, 1]
    (hair,) = read_leadsheet(HAIR)
    assert hair.tune is not None
    assert hair.tune.composer == "Stephen Foster"
    assert (hair.tune.intro, hair.tune.form) == ("Intro", ("A", "A"))


def test_what_is_not_taken_over_is_said() -> None:
    (kinds,) = read_leadsheet(KINDS)
    said = "\n".join(kinds.notices)
    assert "bar 55: 'CN6' (Neapolitan) is a chord that no symbol says; nobody plays there" in said
    assert "bar 56: 'FTristan' (tristan)" in said
    assert "bar 57: 'CIt+6' (Italian)" in said
    (hair,) = read_leadsheet(HAIR)
    assert any("lyrics not taken over" in notice for notice in hair.notices)
    assert any("no tempo is given; 120 beats a minute" in notice for notice in hair.notices)


@pytest.mark.parametrize("path", ALL, ids=lambda path: path.stem)
def test_the_tune_file_says_the_same(path: Path) -> None:
    for tune in read_leadsheet(path):
        again = parse_tune(tune.toml)
        assert again == tune.tune
        assert again.melody == tune.melody_name
        assert tune.toml_name == f"{tune.name}.toml"


@pytest.mark.parametrize("path", ALL, ids=lambda path: path.stem)
def test_reading_twice_gives_the_same_bytes(path: Path) -> None:
    first, second = read_leadsheet(path), read_leadsheet(path)
    assert [(tune.toml, tune.melody) for tune in first] == [
        (tune.toml, tune.melody) for tune in second
    ]


def sounds(part: music21.stream.Part) -> list[tuple[str, Fraction]]:
    """Pitches and lengths in quarters, ties joined."""
    notes = part.flatten().stripTies().notes
    return [
        (n.pitches[-1].nameWithOctave, Fraction(n.quarterLength))
        for n in notes
        if not isinstance(n, music21.harmony.Harmony) and not n.duration.isGrace
    ]


def theirs(path: Path) -> list[music21.stream.Part]:
    """music21's own reading, repeats followed."""
    if path.suffix == ".abc":
        # Without its version music21 takes a file for older than ABC 2.0 and lets an accidental
        # count for one note only, which nobody means who writes =c B A B c in one bar.
        text = "%abc-2.1\n" + path.read_text(encoding="utf-8")
        parsed = music21.converter.parseData(text, format="abc")
    else:
        parsed = music21.converter.parse(path, forceSource=True, storePickle=False)
    scores = list(parsed.scores) if isinstance(parsed, music21.stream.Opus) else [parsed]
    return [score.parts[0] for score in scores]


@pytest.mark.many(1, 99)
@pytest.mark.parametrize("path", [RAGTIME, HAIR, KINDS], ids=["ragtime", "hair", "kinds"])
def test_melody_as_music21_plays_it(path: Path) -> None:
    (tune,) = read_leadsheet(path)
    (part,) = theirs(path)
    assert tune.melody is not None
    ours = music21.converter.parseData(tune.melody, format="musicxml").parts[0]
    assert sounds(ours) == sounds(part.expandRepeats())


@pytest.mark.slow
# music21 takes every second ending of ABC for one bar, as it is here, and cannot follow repeats
# that begin without a sign after one; so the order is given and music21 asked for the bars.
@pytest.mark.parametrize(
    ("index", "numbers"),
    [
        (0, [*range(9), *range(9), *range(9, 18), *range(9, 18)]),
        (1, [*range(9), *range(8), 9, *range(10, 14), *range(10, 14), *[*range(14, 18)] * 2]),
    ],
)
def test_melody_of_abc_as_music21_reads_it(index: int, numbers: list[int]) -> None:
    tune = read_leadsheet(REELS)[index]
    part = theirs(REELS)[index]
    bars = {bar.number: bar for bar in part.getElementsByClass(music21.stream.Measure)}
    expected = [
        (n.pitches[-1].nameWithOctave, Fraction(n.quarterLength))
        for number in numbers
        for n in bars[number].notes
        if not isinstance(n, music21.harmony.Harmony)
    ]
    assert tune.melody is not None
    ours = music21.converter.parseData(tune.melody, format="musicxml").parts[0]
    found = [
        (n.pitches[-1].nameWithOctave, Fraction(n.quarterLength)) for n in ours.flatten().notes
    ]
    assert found == expected


@pytest.mark.parametrize("path", ALL, ids=lambda path: path.stem)
def test_melody_has_a_measure_for_every_bar(path: Path) -> None:
    for tune in read_leadsheet(path):
        assert tune.tune is not None
        assert tune.melody is not None
        root = ElementTree.fromstring(tune.melody)
        numbers = [measure.get("number") for measure in root.iter("measure")]
        first = 0 if tune.tune.pickup else 1
        assert numbers == [str(n) for n in range(first, len(unfold(tune.tune)) + 1)]


def test_sections_are_whole() -> None:
    for path in ALL:
        for tune in read_leadsheet(path):
            assert tune.tune is not None
            for section in tune.tune.sections.values():
                check_full(section)


def check_full(section: Section) -> None:
    for bar in section.bars:
        assert bar.chords[0].span.start == 0
        assert bar.chords[-1].span.end == section.meter.bar
        for before, after in pairwise(bar.chords):
            assert before.span.end == after.span.start
