"""One chord symbol of a MusicXML file, as a symbol of ours.

Conventions: kind and degrees have the meaning of MusicXML 4.0. Some programs write other kinds; the
usual ones are understood. The caller moves symbols of a transposing part to concert pitch.
"""

from __future__ import annotations

from functools import lru_cache

from lxml import etree

from accomp.errors import ChordError
from accomp.files.values import one_of
from accomp.harmony import Alteration, Spelling, join_symbol, parse_chord, symbol_from_kind
from accomp.harmony.chord import DEGREE_ACTIONS
from accomp.harmony.pitch import LETTERS
from accomp.harmony.suffix import plain_signs
from accomp.intake.numbers import read_number, read_whole
from accomp.intake.source import line_of

# Kinds beyond the list of MusicXML 4.0 that programs write, seen in files.
_OTHER_NAMES = {
    "": "major",
    "dominant-seventh": "dominant",
    "half-diminished-seventh": "half-diminished",
    "minor-major": "major-minor",
    "minor-major-seventh": "major-minor",
    "maj": "major",
    "min": "minor",
    "aug": "augmented",
    "dim": "diminished",
    "maj7": "major-seventh",
    "min7": "minor-seventh",
    "dim7": "diminished-seventh",
    "m7b5": "half-diminished",
    "dominant-seven": "dominant",
    "sus47": "suspended-fourth",
    "7": "dominant",
    "9": "dominant-ninth",
    "maj9": "major-ninth",
    "min9": "minor-ninth",
    "maj69": "major-sixth",
    "min6": "minor-sixth",
    "6": "major-sixth",
    "minMaj7": "major-minor",
}


_LONGEST_TEXT = 60  # characters printed for a kind, far more than a chord symbol needs


class NotTakenError(ValueError):
    """A harmony that no chord symbol can express; the text names it and says why."""


class AlternativeError(NotTakenError):
    """A harmony that is an alternative to another one, which goes on."""


def harmony_symbol(harmony: etree._Element, *, ours: bool = False) -> str | None:
    """The symbol of a `<harmony>`, None for N.C.

    In a file of `ours` it is the symbol as typed ("C7+"), else our usual spelling of the chord.
    Raises `NotTakenError`, and `WrongNumberError` for a wrong number.
    """
    kind = (harmony.findtext("kind") or "").strip()[:_LONGEST_TEXT]
    if kind == "none":
        return None
    text = harmony.find("kind").get("text", "") if harmony.find("kind") is not None else ""
    if harmony.get("type", "explicit") == "alternate":
        raise AlternativeError(f"{_shown(harmony, text)!r} is only an alternative and is left out")
    root = _note(harmony, "root")
    if root is None:
        what = (
            harmony.findtext("function") or harmony.findtext("numeral/numeral-root") or ""
        ).strip()
        named = f" ({what[:_LONGEST_TEXT]})" if what else ""
        raise NotTakenError(f"the chord is given by its function{named} and not by its root")
    changes = tuple(_degree(element) for element in harmony.findall("degree"))
    bass = _note(harmony, "bass")
    try:
        symbol = _symbol(root, _OTHER_NAMES.get(kind, kind), changes, bass)
    except ChordError:
        raise NotTakenError(
            f"{_shown(harmony, text)!r} ({kind}) is a chord that no symbol says"
        ) from None
    if all(element.get("print-object") == "no" for element in harmony.findall("degree")):
        symbol = _by_its_text(symbol, root, text.strip(), bass, ours=ours)
    return symbol if bass is not None else _inverted(symbol, harmony)


@lru_cache(maxsize=1024)  # the same few chords come again and again, and each costs a millisecond
def _symbol(
    root: Spelling, kind: str, changes: tuple[Alteration, ...], bass: Spelling | None
) -> str:
    return symbol_from_kind(root, kind, changes, bass)


def _by_its_text(
    symbol: str, root: Spelling, text: str, bass: Spelling | None, *, ours: bool
) -> str:
    """The symbol that the kind's text prints, where it fits the kind; else `symbol`.

    It fits when it names the same tones ("7alt"), or says more than a kind without degrees ("7sus4"
    for a suspended fourth). Programs write such texts where printed degrees would say it twice.
    """
    if len(text) > _LONGEST_TEXT:
        return symbol
    over = "" if bass is None else str(bass.plain)
    printed = join_symbol(str(root.plain), text, over)
    try:
        said, meant = parse_chord(printed), parse_chord(symbol)
    except ChordError:
        return symbol
    if said.kind != meant.kind:
        return symbol
    if said.tones == meant.tones:
        as_typed = join_symbol(str(root.plain), plain_signs(text), over)
        return as_typed if said.alterations or ours else symbol
    return symbol if meant.alterations else printed


def _inverted(symbol: str, harmony: etree._Element) -> str:
    """The symbol with the bass that `<inversion>` asks for."""
    inversion = _whole(harmony, "inversion", 0, 20)
    tones = parse_chord(symbol).tones
    if not 0 < inversion < len(tones):
        return symbol
    return f"{symbol}/{tones[inversion].spelling.plain}"


def _note(harmony: etree._Element, name: str) -> Spelling | None:
    """The note of a root or bass, None without one."""
    step = one_of((harmony.findtext(f"{name}/{name}-step") or "").strip(), LETTERS)
    if step is None:
        return None
    return Spelling(step, _alter(harmony, f"{name}/{name}-alter"))


def _degree(element: etree._Element) -> Alteration:
    number = _whole(element, "degree-value", 1, 19)
    alter = _alter(element, "degree-alter")
    # An unknown type counts as "add".
    word = (element.findtext("degree-type") or "").strip()
    action = one_of(word, DEGREE_ACTIONS) or "add"
    return Alteration(action, number, alter)


def _whole(element: etree._Element, name: str, least: int, most: int) -> int:
    """A whole number inside an element, the least one where there is none."""
    text = (element.findtext(name) or "").strip()
    if not text:
        return least
    return read_whole(text, f"the {name} of a chord", least, most, line=line_of(element))


def _alter(element: etree._Element, path: str) -> int:
    """The semitones of a `<...-alter>` element; 0 without one."""
    text = (element.findtext(path) or "0").strip() or "0"
    what = f"the {path.rpartition('/')[2]} of a chord"
    return round(read_number(text, what, -2, 2, line=line_of(element)))


def _shown(harmony: etree._Element, text: str) -> str:
    """The symbol as the file would print it."""
    root = _note(harmony, "root")
    return " ".join(f"{root or ''}{text}".split())[:40]
