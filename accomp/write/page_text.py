"""Text as the pages can print it, with a mark for each sign that their fonts lack.

Conventions: the fonts are the ones that come inside the typesetter (their licences allow it);
`fonts.toml` lists the signs that every style in use has. Sharps and flats of chord symbols and keys
are printed with the real signs.
"""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

from accomp.errors import ChordError
from accomp.files.data import package_data
from accomp.harmony import NO_CHORD, Chord, Key, parse_chord
from accomp.harmony.pitch import REAL_SIGNS
from accomp.write.musicxml_directions import printed_suffix

MARK = "\ufffd"


class PageText:
    """Makes text printable and remembers what it had to replace."""

    def __init__(self) -> None:
        self.lost: dict[str, list[str]] = {}

    def __call__(self, text: str, what: str) -> str:
        """`text` with a mark for every sign that no font has; `what` names it in the notice."""
        one_line = " ".join(text.split())
        out = []
        for sign in one_line:
            if ord(sign) in printable_signs():
                out.append(sign)
            elif unicodedata.category(sign) not in {
                "Cf",
                "Mn",
            }:  # these print nothing alone
                out.append(MARK)
                self.lost.setdefault(what, []).append(sign)
        return "".join(out)

    @property
    def notices(self) -> tuple[str, ...]:
        """A sentence for each text in which a sign was replaced."""
        return tuple(
            f"{what} has signs that the page fonts lack "
            f"({', '.join(_named(sign) for sign in dict.fromkeys(signs))}): "
            f"a replacement mark is printed for each."
            for what, signs in self.lost.items()
        )


def _named(sign: str) -> str:
    return sign if sign.isprintable() else f"U+{ord(sign):04X}"


@lru_cache(maxsize=1)
def printable_signs() -> frozenset[int]:
    """Code points that every style of the page fonts has."""
    table = package_data("fonts.toml")
    found: set[int] = set()
    for piece in table["signs"].split():
        first, _, last = piece.partition("-")
        found.update(range(int(first, 16), int(last or first, 16) + 1))
    return frozenset(found)


def chord_text(chord: Chord | None) -> str:
    """A chord symbol as it is printed: "B♭m7♭5/F"."""
    if chord is None:
        return NO_CHORD
    bass = "" if chord.bass is None else "/" + str(chord.bass).translate(REAL_SIGNS)
    return real_name(str(chord.root)) + printed_suffix(chord) + bass


def real_name(name: str) -> str:
    """A note name with the real sign: "B♭" for "Bb"."""
    return name[:1] + name[1:].translate(REAL_SIGNS)


_SYMBOL = re.compile(r"(?<![\w/])[A-G][^\s,;:]*[b#][^\s,;:.]*")


def sentence_text(sentence: str) -> str:
    """A sentence with the chords in it as they are printed.

    The program's messages have names that can be typed again, "Bb"; on paper they need not be.
    """

    def printed(found: re.Match[str]) -> str:
        try:
            return chord_text(parse_chord(found[0]))
        except ChordError:
            return found[0]

    return _SYMBOL.sub(printed, sentence)


def key_text(key: Key) -> str:
    """A key in words: "B♭ major"."""
    return f"{real_name(str(key.tonic))} {'minor' if key.minor else 'major'}"


# Widths of signs in ems of the text font, rounded up; for choosing type sizes only.
_WIDE = {"m": 0.82, "M": 0.85, "Δ": 0.72, "♭": 0.45, "♯": 0.5, "/": 0.4, "(": 0.36, ")": 0.36}


def ems(text: str) -> float:
    """The estimated width of a text, in ems."""
    return sum(
        _WIDE.get(sign) or (0.72 if sign.isupper() else 0.5 if sign.isdigit() else 0.54)
        for sign in text
    )


_WORDS = re.compile(r"([a-z]+)(\d+)")


def strings_text(choice: str) -> str:
    """A choice of strings in a word or two: "low 2"."""
    if choice == "all":
        return ""
    match = _WORDS.fullmatch(choice)
    return choice if match is None else f"{match[1]} {match[2]}"
