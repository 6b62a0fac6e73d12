"""The chords of somebody else's lead sheet in the order they are played, by music21 alone.

Which tones are essential is decided from what music21 says a chord holds: a triad whole, of larger
chords third (or what suspends it), seventh, an altered fifth, and the tension that names them.
An eleventh is not asked of a thirteenth chord, in which practice leaves it out.

Conventions: pitch classes 0 (C) to 11; one entry a chord change, a repeated chord only once.
"""

from dataclasses import dataclass
from pathlib import Path

import music21
from music21.expressions import TextExpression

_NAMES = {"ninth": 2, "11th": 5, "13th": 9}
_UNPLAYED = {"Neapolitan", "Italian", "French", "German", "pedal", "Tristan", "tristan", "none"}

# A minor chord with a major seventh: music21 has a name for it and no tones under that name.
_OTHERWISE = {"minor-major": (0, 3, 7, 11)}
# On this sheet a D chord over F sharp; music21 takes the sharp for an augmented fifth.
_MISREAD = {"D/f+": (0, 4, 7)}


@dataclass(frozen=True)
class Asked:
    """A chord of the sheet: root, bass, what it may sound, what it must; -1 where it is none."""

    root: int
    bass: int
    tones: frozenset[int]
    essential: frozenset[int]


SILENCE = Asked(-1, -1, frozenset(), frozenset())

# music21 takes a repeat without a beginning back to the start of the tune; players take it back to
# the repeat before. So the bars in playing order, by music21's numbers, read off the sheet by hand.
PLAYED = {
    "Cuckoo's Nest": [*range(1, 9)] * 2 + [*range(10, 18)] * 2,
    "Little Czech Number": [
        *(*range(1, 8), 8),
        *(*range(1, 8), 9),
        *[*range(10, 14)] * 2,
        *[*range(14, 18)] * 2,
    ],
}


def sheets(path: Path) -> list[music21.stream.Score]:
    """The tunes of a file, as music21 reads them."""
    read = music21.converter.parse(path, forceSource=True)
    return list(read.scores) if isinstance(read, music21.stream.Opus) else [read]


def asked_chords(score: music21.stream.Score) -> list[Asked]:
    """Every change of chord, repeats and endings played out."""
    part = score.parts[0]
    order = PLAYED.get(score.metadata.title)
    if order is None:
        measures = list(part.expandRepeats().getElementsByClass(music21.stream.Measure))
    else:
        measures = [part.measure(number) for number in order]
    found: list[Asked] = []
    for measure in measures:
        for element in measure.getElementsByClass((music21.harmony.Harmony, TextExpression)):
            if isinstance(element, TextExpression):
                if element.content != "N.C.":
                    continue
                one = SILENCE
            else:
                one = _asked(element)
            if not found or found[-1] != one:
                found.append(one)
    return found


def _asked(symbol: music21.harmony.ChordSymbol) -> Asked:
    if symbol.chordKind in _UNPLAYED:
        return SILENCE
    root = symbol.root().pitchClass
    # a bass that is no tone of the chord is the bass player's
    held = _held(symbol, root)
    third = held & ({2, 5} if "suspended" in symbol.chordKind else {3, 4})
    if len(held) <= 3:
        must = set(held)
    else:
        must = third | held & {10, 11}
        if not held & {7}:
            must |= held & {6, 8}
        if 9 in held and not held & {10, 11}:  # a sixth or a diminished seventh
            must |= {9}
        for word, tension in _NAMES.items():
            if word in symbol.chordKind:
                must |= {tension} & held
    return Asked(
        root,
        symbol.bass().pitchClass,
        frozenset((root + tone) % 12 for tone in held),
        frozenset((root + tone) % 12 for tone in must),
    )


def _held(symbol: music21.harmony.ChordSymbol, root: int) -> set[int]:
    """Semitones above the root, without the bass where it is no tone of the chord."""
    if symbol.chordKind in _OTHERWISE:
        return set(_OTHERWISE[symbol.chordKind])
    if symbol.figure in _MISREAD:
        return set(_MISREAD[symbol.figure])
    plain = music21.harmony.ChordSymbol(root=symbol.root().name, kind=symbol.chordKind)
    for change in symbol.chordStepModifications:
        plain.addChordStepModification(change)
    return {(pitch.pitchClass - root) % 12 for pitch in plain.pitches}
