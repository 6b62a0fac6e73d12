"""The wishes of a tune file for the left hand: shapes that are pinned, notes on top.

Conventions: `[shapes]` gives a chord its shape wherever it stands, frets from the highest-numbered
string to the first (x = not sounded); `[top]` gives a bar, counted from 1 in the order of the form,
the note on top of its chord, or of its chords in order, `-` for one without a wish. Whether a hand
can do it is judged where the instrument is known.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace

from accomp.errors import ChordError
from accomp.files.table import Table
from accomp.files.values import Value, WrongValueError, did_you_mean, short
from accomp.harmony import Interval, Spelling, parse_chord, transpose_chord
from accomp.tune.model import Pin, Section, TopNotes

_FRETS = re.compile(r"(x|\d{1,2})( +(x|\d{1,2}))+")
NO_NOTE = "-"


def read_pins(top: Table, sections: Mapping[str, Section]) -> tuple[Pin, ...]:
    """The shapes that are pinned; what is wrong is noted where it stands."""
    table = top.table("shapes")
    if table is None:
        return ()
    there = {
        str(span.chord): span.chord
        for section in sections.values()
        for bar in section.every_bar
        for span in bar.chords
        if span.chord is not None
    }
    pins = []
    for name in table.named():
        frets = table.get(name, _PIN, None)
        try:
            chord = parse_chord(name)
        except ChordError as error:
            what, hint = "a chord of the tune", "Write the chord as the bars have it."
            table.wrong(
                error.problems[0].message, name, found=short(name), expected=what, hint=hint
            )
            continue
        if there and chord not in there.values():
            close = did_you_mean(name, there) or f"Chords here are: {short(', '.join(there))}."
            message = f"no bar of the tune has the chord {name}."
            table.wrong(
                message, name, found=short(name), expected="a chord of the tune", hint=close
            )
            continue
        if frets is not None:
            pins.append(Pin(chord, frets, name))
    return tuple(pins)


def read_top_notes(top: Table, bars: int) -> tuple[TopNotes, ...]:
    """The notes wished on top, in the order of bars, for a form of so many."""
    table = top.table("top")
    if table is None:
        return ()
    found = []
    for name in table.named():
        notes = table.get(name, _NOTES, None)
        bar = int(name) if re.fullmatch(r"[1-9]\d{0,4}", name) else 0
        if not bar or (bars and bar > bars):
            table.wrong(
                f"{name[:60]!r} is no bar of the form, which has {bars}.",
                name,
                found=short(name),
                expected=f"a bar from 1 to {bars}",
                hint='Write the bar\'s number and its note, as 9 = "E".',
            )
        elif notes is not None:
            found.append(TopNotes(bar, notes))
    return tuple(sorted(found, key=lambda one: one.bar))


def transpose_wishes(
    pins: tuple[Pin, ...], tops: tuple[TopNotes, ...], interval: Interval
) -> tuple[tuple[Pin, ...], tuple[TopNotes, ...], tuple[str, ...]]:
    """The wishes an interval higher: closed shapes slide, open ones stay behind with a notice."""
    moved, notices = [], []
    for pin in pins:
        chord = transpose_chord(pin.chord, interval)
        if 0 in pin.frets:
            notices.append(
                f"{pin.chord} {pin.text} has open strings and cannot slide to {chord}: the plan "
                f"chooses a shape for {chord}."
            )
            continue
        frets = tuple(None if f is None else f + interval.semitones % 12 for f in pin.frets)
        moved.append(Pin(chord, frets, pin.name))
    raised = tuple(
        replace(one, notes=tuple(None if n is None else n.up(interval) for n in one.notes))
        for one in tops
    )
    return tuple(moved), raised, tuple(notices)


def _take_frets(found: object) -> tuple[int | None, ...]:
    if not isinstance(found, str) or not _FRETS.fullmatch(found.strip()):
        raise WrongValueError
    return tuple(None if word == "x" else int(word) for word in found.split())


def _take_notes(found: object) -> tuple[Spelling | None, ...]:
    if not isinstance(found, str) or not found.split():
        raise WrongValueError
    notes: list[Spelling | None] = []
    for word in found.split():
        try:
            notes.append(None if word == NO_NOTE else Spelling.parse(word))
        except ValueError:
            raise WrongValueError(found=short(word)) from None
    return tuple(notes)


_PIN: Value[tuple[int | None, ...]] = Value(
    "frets from the highest-numbered string to the first", _take_frets, '"0 0 2 1"'
)
_NOTES: Value[tuple[Spelling | None, ...]] = Value(
    "the note on top of the bar's chord, or of each of its chords", _take_notes, '"E" or "E G"'
)
