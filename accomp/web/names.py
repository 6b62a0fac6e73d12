"""The names on a page: chords as printed, as numerals and as spoken; strokes in words.

Conventions: plain words, lower case, no markup; numbers up to twelve in words.
"""

from __future__ import annotations

from accomp.harmony import NO_CHORD as NO_SYMBOL
from accomp.harmony import Chord, Key, Spelling
from accomp.neck import Shape
from accomp.neck.naming import kind_said, number_word, numeral
from accomp.rhythm.stroke import StrokeSound, Technique
from accomp.score.arrangement import Strum
from accomp.write.page_text import chord_text, real_name

_SOUNDS = {
    StrokeSound.RING: "",
    StrokeSound.CHOKED: "choked",
    StrokeSound.HEEL: "damped",
    StrokeSound.DEAD: "dead",
}
NO_CHORD = {"text": NO_SYMBOL, "number": NO_SYMBOL, "said": "no chord"}


def chord_names(chord: Chord | None, key: Key) -> dict[str, str]:
    """A chord as it is printed, its numeral in the key, and its name as it is spoken."""
    if chord is None:
        return dict(NO_CHORD)
    return {
        "text": chord_text(chord),
        "number": _real_signs(numeral(chord, key)),
        "said": spoken_chord(chord),
    }


class ChordNames:
    """Chords in order of first use, by their names in a key."""

    def __init__(self, key: Key) -> None:
        self.key = key
        self.names: list[dict[str, str]] = []

    def index(self, chord: Chord | None) -> int:
        """The place of a chord in the list."""
        names = chord_names(chord, self.key)
        if names not in self.names:
            self.names.append(names)
        return self.names.index(names)


def spoken_chord(chord: Chord) -> str:
    """A chord's name as it is spoken: "B flat minor seven over F"."""
    bass = "" if chord.bass is None else f"over {_note(chord.bass)}"
    return " ".join(word for word in (_note(chord.root), kind_said(chord), bass) if word)


def _note(name: Spelling) -> str:
    sign = {-2: " double flat", -1: " flat", 0: "", 1: " sharp", 2: " double sharp"}
    return name.step + sign[name.alter]


def _real_signs(text: str) -> str:
    """A numeral with real signs, in its figures too: "♭VII7", "ii7♭5"."""
    return real_name("x" + text)[1:]


def strings_words(strum: Strum) -> str:
    """Which strings a stroke strikes: "all", "low two", "inner"."""
    sounding = sounding_strings(strum.shape)
    struck = tuple(sorted(strum.strings))
    number = number_word(len(struck))
    if struck == sounding:
        return "all"
    if struck == sounding[: len(struck)]:
        return f"low {number}" if len(struck) > 1 else "lowest"
    if struck == sounding[-len(struck) :]:
        return f"high {number}" if len(struck) > 1 else "highest"
    if struck == sounding[1:-1]:
        return "inner"
    if struck == (sounding[0], sounding[-1]):
        return "outer"
    return number


def sound_words(strum: Strum) -> str:
    """The technique and sound of a stroke, "" for a plain one that rings: "choked", "roll"."""
    plain = strum.technique in {Technique.STROKE, Technique.REST}
    technique = "" if plain else strum.technique
    return ", ".join(word for word in (technique, _SOUNDS[strum.sound]) if word)


def sounding_strings(shape: Shape) -> tuple[int, ...]:
    """Indices of the strings that a shape sounds."""
    return tuple(index for index, fret in enumerate(shape.frets) if fret is not None)
