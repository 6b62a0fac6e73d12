"""Every chord quality against music21.harmony, mir_eval.chord and pychord.

Each library is asked for the tones of the names that it knows itself. Where it differs from us
the name stands in a table here, with what was decided and why. Pitch classes count from the root.
"""

from __future__ import annotations

import warnings
from importlib import import_module
from types import ModuleType

import music21.harmony
import pychord
import pytest
from pychord.constants.qualities import DEFAULT_QUALITIES

from accomp.errors import ChordError
from accomp.harmony import Chord, parse_chord
from accomp.harmony.table import chord_table

# The alterations of printed lead sheets beside the named chords of the table.
ALTERED = (
    "7b5 7b9 7#9 7#11 7b13 7b5b9 7b5#9 7#5b9 7b9#9 7b9#11 7#9#11 7b9b13 7#9b13 9b5 9#11 9b13 "
    "13b5 13b9 13#9 13#11 13b9#11 11b9 maj7b5 maj7#11 maj9#11 maj13#11 m7#5 m7b9 m7add11 "
    "maj7add13 m6b5 add9 madd9 add4 madd4 add11 6add9 7b9sus4 maj7sus4 6sus4 7sus2 sus4add9 "
    "no5 m(no5) 7no5 7no3 m(b6) (b5) m7b5b9 m7b5add11 dim(maj7)"
).split()

# --- decisions -----------------------------------------------------------------------------------

# The three libraries sound the 11th in a 13th chord. Practice leaves it out, it lies a semitone
# over the third; so the 11th is taken from what they say of these names before comparing.
THIRTEENTHS = {
    "music21": "13 M13 Maj13 m13 min13 dom13 mM13 minmaj13 +13 aug13 13#5 13b5".split(),
    "pychord": "13 maj13 M13 13b9 13#9 13-9 13+9 7b9b13".split(),
    "mir_eval": "13 maj13 m13".split(),
}

# music21 reads the number and drops the alteration, so it says nothing about these:
MUSIC21_DROPS = {"13b9", "13#9", "13#11", "13b9#11", "11b9", "13-9"}
# music21 takes a minus for a flat on the root, so names with it are not asked.
# "ob9" is to music21 a diminished seventh with a minor ninth; we read what stands there, a
# diminished triad with one (whoever wants the seventh writes °7b9).
MUSIC21_OTHERWISE = {"ob9", "dimb9"}
# Its names of functional and non-chord kinds, which no lead sheet asks a rhythm player for, and
# names of its own making that no printed sheet uses.
MUSIC21_UNREAD = {
    *("N6", "It+6", "It", "Fr+6", "Fr", "Gr+6", "Ger", "pedal", "tristan", "power"),
    *("dom7dim5", "+M11", "augmaj11", "o11", "dim11", "+M13", "augmaj13", "ø13"),
}
# "4" means sus4 to some writers and an added fourth to others: not read.
PYCHORD_UNREAD = {"4"}

# What no library knows, decided from the names alone: a suspension replaces the third of the chord
# it stands in, alterations replace or add the degree they name, "no" takes it out.
NOBODY = {
    "13sus4": "1 4 5 b7 9 13",  # a 9sus4 with the thirteenth, its third gone
    "maj13#11": "1 3 5 7 9 #11 13",  # the named eleventh does sound in a thirteenth
    "maj9#11": "1 3 5 7 9 #11",
    "13b9#11": "1 3 5 b7 b9 #11 13",
    "11b9": "1 3 5 b7 b9 11",
    "7b9sus4": "1 4 5 b7 b9",
    "maj7sus4": "1 4 5 7",
    "6sus4": "1 4 5 6",
    "7sus2": "1 2 5 b7",
    "7no5": "1 3 b7",
    "7no3": "1 5 b7",
    "m(b6)": "1 b3 5 b6",
    "dim(maj7)": "1 b3 b5 7",
}


def ours(suffix: str) -> Chord:
    return parse_chord(f"C{suffix}")


def pcs(chord: Chord) -> frozenset[int]:
    return frozenset(chord.by_pc)


# --- what the libraries say; None when they do not know the name ---------------------------------


def by_music21(suffix: str) -> frozenset[int] | None:
    if suffix.startswith("-") or suffix in MUSIC21_DROPS:
        return None
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            symbol = music21.harmony.ChordSymbol(f"C{suffix}")
    except Exception:  # it raises many kinds for names it does not know
        return None
    return frozenset(symbol.pitchClasses)


_NATURAL = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


def by_pychord(suffix: str) -> frozenset[int] | None:
    if "/" in suffix:  # it takes 6/9 for a chord over a bass
        return None
    try:
        names = pychord.Chord(f"C{suffix}").components()
    except ValueError:
        return None
    return frozenset((_NATURAL[name[0]] + name.count("#") - name.count("b")) % 12 for name in names)


# mir_eval's shorthand for our names; it takes no other spelling.
_MIR_EVAL = """
    :maj m:min +:aug dim:dim sus4:sus4 sus2:sus2 7:7 maj7:maj7 m7:min7 m(maj7):minmaj7 6:maj6
    m6:min6 dim7:dim7 m7b5:hdim7 maj9:maj9 m9:min9 9:9 m11:min11 11:11 maj13:maj13 m13:min13
    13:13 5:5 7b9:b9 7#9:#9 9#11:#11
"""
MIR_EVAL = dict(pair.split(":") for pair in _MIR_EVAL.split())


def mir_eval_chord() -> ModuleType:
    """Imported where it is asked: it brings half of SciPy, which every worker would wait for."""
    return import_module("mir_eval.chord")


def by_mir_eval(suffix: str) -> frozenset[int] | None:
    name = MIR_EVAL.get(suffix)
    if name is None:
        return None
    theirs = mir_eval_chord()
    base, degrees = theirs.EXTENDED_QUALITY_REDUX.get(name, (name, set()))
    bitmap = theirs.quality_to_bitmap(base)
    for degree in degrees:
        bitmap = bitmap | theirs.scale_degree_to_bitmap(degree, modulo=True)
    return frozenset(index for index, sounds in enumerate(bitmap) if sounds)


LIBRARIES = {"music21": by_music21, "pychord": by_pychord, "mir_eval": by_mir_eval}
VOCABULARY = [*(row.spellings[0] for row in chord_table().rows), *ALTERED]


def says(library: str, suffix: str) -> frozenset[int] | None:
    """What the library says, without the eleventh where practice leaves it out."""
    found = LIBRARIES[library](suffix)
    if found is not None and suffix in THIRTEENTHS[library]:
        assert 5 in found, "the library has come round to practice: take the name from the list"
        return found - {5}
    return found


def other_names(suffix: str) -> list[str]:
    """The same quality under every name that the table has for it."""
    row = chord_table().by_spelling.get(suffix)
    return list(row.spellings) if row else [suffix]


@pytest.mark.many(30, 60)
@pytest.mark.parametrize("library", LIBRARIES)
@pytest.mark.parametrize("suffix", VOCABULARY)
def test_quality_as_the_library_has_it(suffix: str, library: str) -> None:
    for name in other_names(suffix):
        if (library, name) in {("music21", "69"), ("music21", "2"), ("music21", "m69")}:
            continue  # it drops the figures it does not understand: C69 is C D A to it
        found = says(library, name)
        if found is not None:
            assert pcs(ours(name)) == found, name


@pytest.mark.slow
def test_what_nobody_knows_is_listed_and_decided() -> None:
    unknown = {
        suffix
        for suffix in VOCABULARY
        if all(says(lib, name) is None for lib in LIBRARIES for name in other_names(suffix))
    }
    assert unknown == set(NOBODY)
    for suffix, degrees in NOBODY.items():
        assert " ".join(tone.degree for tone in ours(suffix).tones) == degrees


def test_every_name_of_music21() -> None:
    unread = set()
    for _, names in music21.harmony.CHORD_TYPES.values():
        for name in names:
            try:
                chord = ours(name)
            except ChordError:
                unread.add(name)
                continue
            if name not in MUSIC21_OTHERWISE:
                assert pcs(chord) == says("music21", name), name
    assert unread == MUSIC21_UNREAD


def test_every_name_of_pychord() -> None:
    unread = set()
    for name, _ in DEFAULT_QUALITIES:
        try:
            chord = ours(name)
        except ChordError:
            unread.add(name)
            continue
        assert pcs(chord) == says("pychord", name), name
    assert unread == PYCHORD_UNREAD


def test_every_shorthand_of_mir_eval() -> None:
    # "1" and "" are a single note and nothing. "b13" is not a chord of practice there (it has the
    # natural 11th and no 9th in the schema it comes from), so 7b13 is left to the others.
    theirs = mir_eval_chord()
    names = {*theirs.QUALITIES, *theirs.EXTENDED_QUALITY_REDUX} - {"1", "", "b13"}
    assert set(MIR_EVAL.values()) == names
    for suffix in MIR_EVAL:
        assert pcs(ours(suffix)) == says("mir_eval", suffix), suffix


@pytest.mark.parametrize("kind", sorted({row.kind for row in chord_table().rows}))
def test_kind_as_music21_has_it(kind: str) -> None:
    symbol = music21.harmony.ChordSymbol(root="C", kind=kind)
    row = chord_table().by_kind[kind]
    found = {degree.semitones % 12 for degree in (*row.degrees, *row.silent)}
    assert found == set(symbol.pitchClasses)


@pytest.mark.many(40)
@pytest.mark.parametrize("root", "C C# Db D D# Eb E F F# Gb G G# Ab A A# Bb B Cb".split())
@pytest.mark.parametrize("suffix", ["", "m", "7", "maj7", "m7b5", "dim7", "7#5", "m9", "7b9"])
def test_spelling_of_tones_as_music21_has_it(root: str, suffix: str) -> None:
    theirs = music21.harmony.ChordSymbol(f"{root.replace('b', '-')}{suffix}")
    names = {pitch.name.replace("-", "b") for pitch in theirs.pitches}
    if root == "Cb" and suffix == "dim7":
        names = {"Cb", "Ebb", "Gbb", "Ab"}  # a name with three flats is of no use to a player
    chord = parse_chord(root + suffix)
    assert {str(tone.spelling) for tone in chord.tones} == names
