"""A tune in another key.

Conventions: chords move by the interval between the keys' names, upward, so that they are spelled
as the new key spells them. A section with a key of its own moves with the rest; where its new key
would have no signature (G sharp major), it takes the other name of that key (A flat).
"""

from __future__ import annotations

from dataclasses import replace

from accomp.errors import InputError, Problem
from accomp.files.values import setting_taken
from accomp.harmony import Interval, Key, transpose_chord
from accomp.tune.fields import KEY
from accomp.tune.model import Bar, ChordSpan, Section, Tune, as_tune
from accomp.tune.wishes import transpose_wishes


def transpose_tune(tune: Tune, key: Key | str) -> Tune:
    """The tune in `key`, which must be of the tune's own mode. Raises `InputError`.

    The pitch classes of all chords move up by the semitones from the old tonic to the new one.
    """
    tune = as_tune(tune)
    if not isinstance(key, Key):
        key = setting_taken("key", KEY, key)
    if key.minor != tune.key.minor:
        wanted = str(Key(key.tonic, tune.key.minor))
        mode = "minor" if tune.key.minor else "major"
        line, column = tune.places.get("key", (0, 0))
        raise InputError(
            Problem(
                f"{tune.title!r} is in {tune.key}, and {key} is not a {mode} key.",
                tune.file,
                line,
                column,
                found=str(key),
                expected=f"a {mode} key",
                hint=f"Ask for {wanted!r}.",
            )
        )
    if key == tune.key:
        return tune
    interval = tune.key.interval_to(key)
    sections = {name: _section(section, interval) for name, section in tune.sections.items()}
    pins, tops, notices = transpose_wishes(tune.pins, tune.tops, interval)
    return replace(
        tune,
        key=key,
        sections=sections,
        pins=pins,
        tops=tops,
        notices=(*tune.notices, *notices),
    )


def transpose_key(key: Key, interval: Interval) -> Key:
    """The key an interval higher, under a name that has a signature."""
    return Key(key.tonic.up(interval), key.minor).with_signature


def _section(section: Section, interval: Interval) -> Section:
    key = transpose_key(section.key, interval)
    own = section.key.interval_to(key)  # the same semitones, other names where the key has another
    return replace(section.with_bars(lambda bar: _bar(bar, own)), key=key)


def _bar(bar: Bar, interval: Interval) -> Bar:
    return replace(bar, chords=tuple(_span(span, interval) for span in bar.chords))


def _span(span: ChordSpan, interval: Interval) -> ChordSpan:
    if span.chord is None:
        return span
    return replace(span, chord=transpose_chord(span.chord, interval))
