"""The MusicXML over the staff: chord symbols with their boxes, tempo, rehearsal marks, words.

Conventions: in a `frame`, string 1 is the first string, frets count from the nut and `first-fret`
is the fret of the topmost space. Signs inside a symbol's text are the real ♭ and ♯: programs draw
those as music glyphs and leave ASCII letters as they are.

Words come before the metronome mark in one direction, since programs print the other order, or two
directions, badly. `sound` gives quarters a minute for every beat.
"""

from __future__ import annotations

import re
from fractions import Fraction
from functools import lru_cache
from typing import Literal

from lxml import etree

from accomp.errors import ChordError
from accomp.files.text import xml_text
from accomp.harmony import (
    NO_CHORD,
    Alteration,
    Chord,
    Spelling,
    join_symbol,
    parse_chord,
    unsounded,
)
from accomp.harmony.suffix import UnreadSuffix, read_suffix, split_symbol
from accomp.neck import Shape
from accomp.score.written import ChordMark, Measure, Score
from accomp.write.box import barre_strings, box_frets, first_fret
from accomp.write.musicxml_note import TYPES, add

HIDDEN = "print-object"  # "no" on a degree that the text says already


def write_harmony(parent: etree._Element, mark: ChordMark, offset: int) -> None:
    """A `harmony` for a chord mark, with a frame when it has a shape.

    `offset` is in divisions from where the element stands, for a change under a held note.
    """
    harmony = add(parent, "harmony", **{"print-frame": "yes"} if mark.shape else {})
    if mark.chord is None:
        root = add(harmony, "root")
        add(root, "root-step", "C", text="")
        add(harmony, "kind", "none", text=NO_CHORD)
    else:
        _write_chord(harmony, mark.chord)
    if mark.shape is not None:
        write_frame(harmony, mark.shape)
    if offset:
        add(harmony, "offset", str(offset))


def _write_chord(harmony: etree._Element, chord: Chord) -> None:
    """The kind and every degree, so that the elements alone say the tones. Degrees that the text
    says already are marked as not to be printed."""
    _write_name(add(harmony, "root"), "root", chord.root)
    plain = _plain_part(chord)
    add(harmony, "kind", chord.kind, text=_real_signs(chord.suffix if plain is None else plain))
    if chord.bass is not None:
        _write_name(add(harmony, "bass"), "bass", chord.bass)
    for change in chord.alterations:
        _write_degree(harmony, change, shown=plain is not None)
    for change in unsounded(chord):
        _write_degree(harmony, change, shown=False)


def _write_degree(harmony: etree._Element, change: Alteration, *, shown: bool) -> None:
    degree = add(harmony, "degree", **({} if shown else {HIDDEN: "no"}))
    add(degree, "degree-value", str(change.degree))
    add(degree, "degree-alter", str(change.alter))
    kind = add(degree, "degree-type", change.action)
    if shown and change.action != "subtract" and change.alter:
        kind.set("text", "")  # for "♭9♯11", where some programs would print "♭9add♯11"


@lru_cache(maxsize=1024)
def _plain_part(chord: Chord) -> str | None:
    """The beginning of the suffix that says the kind, when the rest can be printed as degrees.

    None when the whole suffix is to be printed as it is, and no degree beside it: "6/9", "7sus4",
    "7alt".
    """
    if not chord.alterations:
        return chord.suffix
    if "/" in chord.suffix:
        return None
    for end in range(len(chord.suffix), -1, -1):
        start = chord.suffix[:end]
        symbol = join_symbol(str(chord.root), start)
        parts = split_symbol(symbol)
        if parts is None or isinstance(read_suffix(parts[1]), UnreadSuffix):
            continue  # parsing it would cost time: its error looks for the symbol that was meant
        try:
            plain = parse_chord(symbol)
        except ChordError:
            continue
        if plain.kind == chord.kind and not plain.alterations and plain.bass is None:
            return start
    return None


def printed_suffix(chord: Chord) -> str:
    """The part of a symbol after the root, with real signs: "m7♭5" for the suffix "m7b5"."""
    return _real_signs(chord.suffix)


def _real_signs(suffix: str) -> str:
    signs = {"b": "♭", "#": "♯"}
    return re.sub(r"[b#](?=\d)", lambda match: signs[match[0]], suffix)


def _write_name(parent: etree._Element, prefix: Literal["root", "bass"], name: Spelling) -> None:
    add(parent, f"{prefix}-step", name.step)
    if name.alter:
        add(parent, f"{prefix}-alter", str(name.alter))


def write_frame(harmony: etree._Element, shape: Shape) -> None:
    """The chord box: strings, frets, fingers, barre."""
    strings, first = len(shape.frets), first_fret(shape)
    frame = add(harmony, "frame")
    add(frame, "frame-strings", str(strings))
    add(frame, "frame-frets", str(box_frets(shape)))
    if first > 1:
        add(frame, "first-fret", str(first), text=f"{first}fr", location="right")
    barred = barre_strings(shape)
    for i, fret in enumerate(shape.frets):
        if fret is None:
            continue
        note = add(frame, "frame-note")
        add(note, "string", str(strings - i))
        add(note, "fret", str(fret))
        if shape.fingers[i]:
            add(note, "fingering", str(shape.fingers[i]))
        if barred and i in (barred[0], barred[-1]):
            add(note, "barre", type="start" if i == barred[0] else "stop")


def write_rehearsal(element: etree._Element, text: str, *, boxed: bool) -> None:
    """A name at the start of a section, in a box where it is the tune's own."""
    direction = add(element, "direction", placement="above")
    enclosure = "square" if boxed else "none"
    add(add(direction, "direction-type"), "rehearsal", text, enclosure=enclosure)


def write_words(element: etree._Element, text: str) -> None:
    """Plain words over the start of a measure."""
    direction = add(element, "direction", placement="above")
    add(add(direction, "direction-type"), "words", text)


# The names of the signs in `sound`; several programs know no other names.
_SEGNO, _CODA = "segno", "coda"


def write_arrival(element: etree._Element, measure: Measure) -> None:
    """The signs to which D.S. and "To Coda" lead, at the start of a measure."""
    for there, sign in ((measure.segno, _SEGNO), (measure.coda, _CODA)):
        if there:
            direction = add(element, "direction", placement="above")
            add(add(direction, "direction-type"), sign)
            add(direction, "sound", **{sign: sign})


def write_departures(element: etree._Element, measure: Measure) -> None:
    """The words at the end of a measure that end the music or lead elsewhere."""
    if measure.to_coda:
        _write_departure(element, "To Coda", tocoda=_CODA)
    if measure.fine:
        _write_departure(element, "Fine", fine="yes")
    if measure.jump is not None:
        leads = {"dalsegno": _SEGNO} if measure.jump.to_segno else {"dacapo": "yes"}
        _write_departure(element, measure.jump.value, **leads)


def _write_departure(element: etree._Element, words: str, **sound: str) -> None:
    direction = add(element, "direction", placement="above")
    add(add(direction, "direction-type"), "words", words)
    add(direction, "sound", **sound)


def write_tempo(element: etree._Element, score: Score) -> None:
    """The style's name, the metronome mark, and the feel for readers that play it."""
    direction = add(element, "direction", placement="above")
    words = xml_text(feel_words(score))
    if words:
        add(add(direction, "direction-type"), "words", words + " ")
    metronome = add(add(direction, "direction-type"), "metronome")
    dotted = score.beat.numerator == 3
    add(metronome, "beat-unit", TYPES[score.beat * Fraction(2, 3) if dotted else score.beat])
    if dotted:
        add(metronome, "beat-unit-dot")
    add(metronome, "per-minute", f"{score.tempo:g}")
    quarters = score.tempo * float(score.beat) * 4
    sound = add(direction, "sound", tempo=f"{quarters:g}")
    if score.swing != 1:
        ratio = Fraction(score.swing).limit_denominator(10)
        swing = add(sound, "swing")
        add(swing, "first", str(ratio.numerator))
        add(swing, "second", str(ratio.denominator))
        add(swing, "swing-type", "eighth")


def feel_words(score: Score) -> str:
    """The style's name, and that it swings when its name does not say so."""
    if score.swing == 1 or "swing" in score.feel.lower():
        return score.feel
    return f"{score.feel}, swing" if score.feel else "Swing"
