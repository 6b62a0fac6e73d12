"""The kind of a data file, found from its keys.

Conventions: a file has the kind whose keys it uses most, so that a tune without its [sections] is
still checked as a tune. Keys that several kinds share (title, meter, tempo) count only by the type
of their value: a tune has one tempo, a style a range. `strings` is a key of instruments and of
repertoires and counts only when no other key does. `shape` is a table of weights in a cost file,
and of chord and frets in a repertoire. A file named book.toml is a book when no key counts.
"""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from accomp.files.toml import Document

Kind = Literal["tune", "style", "instrument", "repertoire", "hand", "costs", "book", "voice"]
BOOK_FILE = "book.toml"

# Keys of each kind, and keys that no reader knows but people write: `section` for `sections`,
# `tuning` for `strings`, and `chord` and `movable` where [[shape]] over them was forgotten. Such a
# file is told what it lacks, and not that it is no kind of file.
_WORDS: dict[Kind, frozenset[str]] = {
    "tune": frozenset(
        "sections section key form composer pickup melody chorus style instrument".split()
    ),
    "style": frozenset(
        "strum bass drums comping swing swing_notes mood right_hand loose_ms loose_force answer "
        "build break lead_in ending".split()
    ),
    "instrument": frozenset("frets scale octave program courses sounding tuning".split()),
    "repertoire": frozenset({"chord", "movable"}),
    "hand": frozenset("comfort greatest neighbour".split()),
    "costs": frozenset({"change", "tune"}),
    "book": frozenset("players paper boxes part pages order keys".split()),
    "voice": frozenset("string neck head box microphone bridge decay plectrum dead layout".split()),
}


def kind_of(document: Document) -> Kind | None:
    """The kind of a file, None when no key of it tells."""
    data = document.data
    scores = {kind: sum(word in words for word in data) for kind, words in _WORDS.items()}
    tempo = data.get("tempo")
    scores["style" if isinstance(tempo, list) else "tune"] += tempo is not None
    scores["tune"] += isinstance(data.get("meter"), str) and scores["style"] == 0
    if "shape" in data:
        scores["costs" if _weights(data["shape"]) else "repertoire"] += 1
    if not any(scores.values()) and Path(document.file).name == BOOK_FILE:
        return "book"
    if not any(scores.values()):
        return "instrument" if "strings" in data else None
    return max(scores, key=lambda kind: scores[kind])


def _weights(shape: object) -> bool:
    """Whether the value of `shape` is the weights of a cost file, not the shape of a chord."""
    return isinstance(shape, dict) and not {"chord", "frets", "movable"} & shape.keys()
