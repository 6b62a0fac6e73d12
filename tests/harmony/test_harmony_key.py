"""Keys against music21: signature, scale, spelling."""

from __future__ import annotations

import music21
import pytest

from accomp.errors import KeyNameError
from accomp.harmony import ALL_MAJOR, ALL_MINOR, Interval, Key, enharmonic_key

MAJOR = "C G D A E B F# C# F Bb Eb Ab Db Gb Cb".split()
MINOR = [f"{name}m" for name in "A E B F# C# G# D# A# D G C F Bb Eb Ab".split()]


def theirs(key: Key) -> music21.key.Key:
    mode = "minor" if key.minor else "major"
    return music21.key.Key(str(key.tonic).replace("b", "-"), mode)


@pytest.mark.parametrize("name", MAJOR + MINOR)
def test_signature_and_scale(name: str) -> None:
    key = Key.parse(name)
    other = theirs(key)
    assert key.fifths == other.sharps
    assert [str(step) for step in key.scale] == [
        pitch.name.replace("-", "b") for pitch in other.pitches[:7]
    ]
    assert str(key) == name


@pytest.mark.parametrize("name", MAJOR + MINOR)
def test_spelling_in_the_key(name: str) -> None:
    key = Key.parse(name)
    for step in key.scale:
        assert key.spell(step.pc) == step
    for pc in range(12):
        assert key.spell(pc).pc == pc


# Common practice, no source: the chromatic notes of a key.
@pytest.mark.parametrize(
    ("name", "chromatic"),
    [("C", "C# Eb F# G# Bb"), ("F", "C# Eb F# Ab B"), ("Am", "C# Eb F# G# Bb")],
)
def test_chromatic_names(name: str, chromatic: str) -> None:
    key = Key.parse(name)
    diatonic = {step.pc for step in key.scale}
    found = {str(key.spell(pc)) for pc in range(12) if pc not in diatonic}
    others = {"C#": "Db", "G#": "Ab", "Eb": "D#", "F#": "Gb", "Bb": "A#", "Ab": "G#", "B": "Cb"}
    for sign in chromatic.split():
        assert sign in found or others[sign] in found
    assert len(found) == 5


@pytest.mark.parametrize(
    ("text", "name"),
    [("B♭", "Bb"), ("F♯m", "F#m"), ("D minor", "Dm"), ("Dmin", "Dm"), ("G major", "G")],
)
def test_other_ways_to_write_a_key(text: str, name: str) -> None:
    assert str(Key.parse(text)) == name


@pytest.mark.parametrize("text", ["D#", "Gbm", "E#", "H", "", "c", "Cmaj7", "F b"])
def test_no_key(text: str) -> None:
    with pytest.raises(KeyNameError, match="key") as caught:
        Key.parse(text)
    assert caught.value.problems[0].found == text
    assert isinstance(caught.value, ValueError)  # as people expect of what cannot be parsed


@pytest.mark.parametrize(
    ("text", "name"),
    [("D#", "Eb"), ("G#", "Ab"), ("A#", "Bb"), ("E#", "F"), ("B#", "C"), ("Fb", "E"), ("D♯", "Eb"),
     ("Gbm", "F#m"), ("Dbm", "C#m"), ("Fbm", "Em"), ("E#m", "Fm"), ("D# major", "Eb"),
     ("F#", None), ("D#m", None), ("H", None), ("", None)],
)  # fmt: skip
def test_a_key_of_many_signs_has_another_name(text: str, name: str | None) -> None:
    found = enharmonic_key(text)
    assert (None if found is None else str(found)) == name


def test_all_keys_are_twelve() -> None:
    for names in (ALL_MAJOR, ALL_MINOR):
        keys = [Key.parse(name) for name in names]
        assert {key.tonic.pc for key in keys} == set(range(12))
        assert [str(key) for key in keys] == list(names)
        assert all(abs(key.fifths) <= 6 for key in keys)


def test_interval_between_keys() -> None:
    assert Key.parse("Bb").interval_to(Key.parse("Eb")) == Interval(3, 5)
    assert Key.parse("Dm").interval_to(Key.parse("C#m")) == Interval(6, 11)
