"""A tune's wishes for the left hand, checked on the player's neck.

Conventions: as in `accomp.tune.wishes`. A wish that the player cannot do is a problem at its place
in the tune file.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Literal

from accomp.errors import InputError, Problem
from accomp.files.text import frets_text
from accomp.harmony import Chord, Spelling
from accomp.neck import Player, Wish, shape_at
from accomp.neck.fingering import Frets
from accomp.score.planning import TuneChords
from accomp.tune import Tune
from accomp.tune.model import Pin

_BESIDE = "Correct it, or take the line out."


def with_wishes(
    tune: Tune, chords: TuneChords, player: Player, wish: Wish, *, own: bool
) -> tuple[Wish, tuple[str, ...]]:
    """The wish with the tune file's shapes and top notes added, and notices.

    The file's wishes are for the tune's own instrument (`own`). On another instrument, wishes that
    cannot be done are left out with a notice. Raises `InputError` with every wish that cannot be
    done otherwise.
    """
    problems: list[Problem] = []
    notices: list[str] = []
    pins = []
    for pin in tune.pins:
        frets = _on_this_neck(pin, player)
        wrong = _wrong_pin(frets, pin.chord, player)
        if wrong and not own:
            notices.append(_elsewhere(f"{pin.chord} {pin.text}", "shape", player))
        elif wrong:
            problems.append(_problem(tune, f"shapes.{pin.name or pin.chord}", pin.text, *wrong))
        else:
            pins.append((pin.chord, frets))
    tops = []
    for one in tune.tops:
        row = chords.spans[one.bar - 1]
        indices = list(dict.fromkeys(index for index in row if index is not None))
        where, found = f"top.{one.bar}", " ".join(str(n or "-") for n in one.notes)
        if len(one.notes) > len(indices):
            count = len(indices)
            message = f"bar {one.bar} has {count} chord{'s' if count != 1 else ''}, and "
            message += f"{len(one.notes)} notes are wished on top."
            expected = f"at most {count} note{'s' if count != 1 else ''}"
            problems.append(_problem(tune, where, found, message, expected, _BESIDE))
            continue
        for index, note in zip(indices, one.notes, strict=False):
            if note is None:
                continue
            wrong = _wrong_top(note, chords.chords[index], player, wish)
            wrong = wrong or _beside_pin(note, chords.chords[index], dict(pins), player)
            if wrong and not own and note.pc in chords.chords[index].by_pc:
                what = f"{note} on top of {chords.chords[index]} in bar {one.bar}"
                notices.append(_elsewhere(what, "note", player))
                continue
            if wrong:
                problems.append(_problem(tune, where, str(note), *wrong))
            tops.append((index, note.pc))
    if problems:
        raise InputError(problems)
    return replace(wish, pins=tuple(pins), tops=tuple(tops)), tuple(notices)


def _elsewhere(what: str, kind: Literal["shape", "note"], player: Player) -> str:
    return (
        f"{what} is a {kind} for the tune's own instrument and is left out on "
        f"{player.instrument.title}."
    )


def _on_this_neck(pin: Pin, player: Player) -> tuple[int | None, ...]:
    """The frets of a pin; an octave lower if transposing has moved them beyond the neck."""
    stopped = [fret for fret in pin.frets if fret is not None]
    if max(stopped, default=0) > player.instrument.frets and min(stopped) > 12:
        return tuple(None if fret is None else fret - 12 for fret in pin.frets)
    return pin.frets


def _wrong_pin(
    frets: tuple[int | None, ...], chord: Chord, player: Player
) -> tuple[str, str, str] | None:
    """The problem of a pinned shape as (message, expected, hint), None without one."""
    one, text = player.instrument, " ".join("x" if f is None else str(f) for f in frets)
    strings = len(one.strings)
    if len(frets) != strings:
        message = f"{text} has {len(frets)} frets, and {one.title} has {strings} strings."
        return message, f"{strings} frets", _BESIDE
    if any(fret is not None and fret > one.frets for fret in frets):
        return (
            f"{text} is beyond the {one.frets} frets of {one.title}.",
            f"0 to {one.frets}",
            _BESIDE,
        )
    pitches = [p + f for p, f in zip(one.open_pitches, frets, strict=True) if f is not None]
    tones = " ".join(str(tone.spelling) for tone in chord.tones)
    beside = [pitch for pitch in pitches if chord.degree_of(pitch) is None]
    lacking = chord.essential_pcs - {pitch % 12 for pitch in pitches}
    if beside or lacking:
        return f"{text} is not {chord} on {one.title}.", f"tones of {chord}: {tones}", _BESIDE
    if shape_at(frets, chord, one, player.hand, mute=player.mute) is None:
        reach = f"a hand that reaches {player.hand.greatest_mm:g} mm"
        message = f"{chord} {text} cannot be fingered by {reach} with the strings it has to sound."
        return (
            message,
            "a shape that can be played",
            "Give another shape, a hand that reaches further, or let strings be silent.",
        )
    return None


def _wrong_top(
    note: Spelling, chord: Chord, player: Player, wish: Wish
) -> tuple[str, str, str] | None:
    """The problem of a wished top note as (message, expected, hint), None without one."""
    tones = [str(tone.spelling) for tone in chord.tones]
    if note.pc not in chord.by_pc:
        return f"{note} is no tone of {chord}.", f"one of {' '.join(tones)}", _BESIDE
    shapes = [s for s in player.playable(chord) if not (wish.closed is True and s.open)]
    if not any(shape.top_pitch % 12 == note.pc for shape in shapes):
        there = {chord.by_pc[shape.top_pitch % 12].spelling for shape in shapes}
        can = " ".join(sorted(map(str, there))) or "nothing"
        message = f"no shape of {chord} on {player.instrument.title} has {note} on top."
        return message, f"one of {can}", _BESIDE
    return None


def _beside_pin(
    note: Spelling, chord: Chord, pins: Mapping[Chord, Frets], player: Player
) -> tuple[str, str, str] | None:
    """The problem of a top note that the chord's pinned shape does not have, None without one."""
    frets = pins.get(chord)
    if frets is None:
        return None
    opens = player.instrument.open_pitches
    top = max(p + f for p, f in zip(opens, frets, strict=True) if f is not None) % 12
    if top == note.pc:
        return None
    there = chord.by_pc[top].spelling
    message = f"{chord} is to be {frets_text(frets)}, which has {there} on top and not {note}."
    return message, str(there), "Take out this line, or the shape's under [shapes]."


def _problem(tune: Tune, where: str, found: str, message: str, expected: str, hint: str) -> Problem:
    line, column = tune.places.get(where, (0, 0))
    return Problem(message, tune.file, line, column, found=found, expected=expected, hint=hint)
