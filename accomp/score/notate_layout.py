"""Which parts a written score has, and for whom.

Conventions: a *reader* is the player a part is written for: "concert" reads what sounds, "Bb" and
"Eb" read a part written a major second and a major sixth above the sound, "bass" reads concert
pitch in the bass clef. Intervals lead from the sound to the written note.
"""

from __future__ import annotations

from dataclasses import dataclass

from accomp.harmony import Interval, Key
from accomp.neck import Instrument
from accomp.score.written import Clef

PLAYER_PARTS = ("both", "notation", "tab", "slash", "none")
READERS = ("concert", "Bb", "Eb", "bass")

TAB = Clef("TAB", 5)
TREBLE, BASS = Clef("G", 2), Clef("F", 4)

# Up from the sound to the written note; the second is the same distance under another name, for
# keys whose signature would have more than seven signs.
_UP = {"Bb": (Interval(1, 2), Interval(2, 2)), "Eb": (Interval(5, 9), Interval(6, 9))}
_TITLES = {"concert": "", "Bb": "Part in B♭", "Eb": "Part in E♭", "bass": "Part in bass clef"}
_MOST_SIGNS = 6


@dataclass(frozen=True, slots=True)
class Layout:
    """What to write.

    `player` is the strummed part: notation and TAB ("both"), one of them, rhythm slashes with
    chord symbols ("slash"), or none; `bass` whether the bass part stands below (where there is
    one). `reader` is for notation and slashes. With `plain_clef` a part written an octave above
    its sound has a plain treble clef and says the octave by transposition. `fold` writes what
    comes again as repeats and endings.
    """

    player: str = "both"
    bass: bool = True
    reader: str = "concert"
    plain_clef: bool = False
    fold: bool = True

    def __post_init__(self) -> None:
        if self.player not in PLAYER_PARTS or self.reader not in READERS:
            raise ValueError(f"no part {self.player!r} for {self.reader!r} can be written")


def reader_title(reader: str) -> str:
    """The name of a part for this reader; none at concert pitch, where the player names it."""
    return _TITLES[reader]


def reading_interval(reader: str, key: Key) -> Interval:
    """How far above the sound the part is written in `key`, octaves apart."""
    if reader not in _UP:
        return Interval(0, 0)
    usual, other = _UP[reader]
    return usual if abs(reading_key(key, usual).fifths) <= _MOST_SIGNS else other


def reading_key(key: Key, interval: Interval) -> Key:
    """The key in which the part is written."""
    return Key(key.tonic.up(interval), key.minor)


def staff(layout: Layout, instrument: Instrument) -> tuple[Clef, int]:
    """The clef of the strummed part, and how many octaves above its sound it is encoded.

    A clef with a small 8 below says the octave itself, so that the sounding pitch is encoded: every
    program that was tried reads that right.
    """
    if layout.reader == "bass":
        return BASS, 0
    if layout.plain_clef or layout.reader != "concert":
        return TREBLE, instrument.octave
    return Clef("G", 2, -instrument.octave), 0
