"""Instrument files: reading, finding by name, and what is wrong in them.

Conventions: see the head comment of any file in data/instruments. A name with ".toml" at its end
or a folder in it is a user's own file; any other is looked up.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from accomp.errors import InputError, Problem
from accomp.files import data
from accomp.files.toml import nearest
from accomp.harmony import Pitch
from accomp.neck.fields import Fields
from accomp.neck.instrument import Instrument

DEFAULT_INSTRUMENT = "tenor-banjo"
MOST_FRETS = 36
MOST_STRINGS = 12
# A kit fiddle's scale and a theorbo's: anything outside is a typing error or another unit.
LEAST_SCALE_MM, MOST_SCALE_MM = 100.0, 2000.0

_KEYS = ("title", "strings", "frets", "scale", "octave", "program", "courses", "sounding")


def instrument_names() -> tuple[str, ...]:
    """All instruments that there are, the user's own included."""
    return data.names("instruments")


def find_instrument(name: str = DEFAULT_INSTRUMENT) -> Instrument:
    """An instrument by name, or from a user's file ("my-banjo.toml").

    Raises `InputError` when there is none (with the nearest name) or the file is wrong.
    """
    if name.endswith(".toml") or "/" in name:
        return read_instrument(Path(name))
    return _by_name(name)


@lru_cache(maxsize=64)
def _by_name(name: str) -> Instrument:
    path = data.find("instruments", name)
    if path is not None:
        return read_instrument(path)
    names = instrument_names()
    close = nearest(name, names)
    raise InputError(
        Problem(
            f"{name!r} is not an instrument.",
            found=name,
            expected=", ".join(names),
            hint=(f"Did you mean {close!r}? " if close else "")
            + f"Known instruments: {', '.join(names)}; or give a file ending in .toml.",
        )
    )


def read_instrument(path: Path) -> Instrument:
    """Read an instrument file. Raises `InputError` with every problem in it."""
    fields = Fields(path, _KEYS)
    title = fields.text("title", path.stem)
    strings = _strings(fields)
    instrument = Instrument(
        name=path.stem,
        title=title,
        strings=strings,
        frets=fields.whole("frets", least=1, most=MOST_FRETS),
        scale_mm=fields.number("scale", least=LEAST_SCALE_MM, most=MOST_SCALE_MM),
        octave=fields.whole("octave", least=-1, most=2, default=0),
        program=fields.whole("program", least=1, most=128, default=106),
        courses=fields.whole("courses", least=1, most=3, default=1),
        sounding=fields.whole(
            "sounding", least=2, most=max(2, len(strings)), default=max(2, min(4, len(strings)))
        ),
    )
    fields.check()
    return instrument


def _strings(fields: Fields) -> tuple[Pitch, ...]:
    value = fields.document.data.get("strings")
    expected = 'a list of pitches, highest-numbered string first, as ["C3", "G3", "D4", "A4"]'
    if not isinstance(value, list) or not value:
        fields.wrong("strings", "is not a list of pitches", expected)
        return ()
    if not 2 <= len(value) <= MOST_STRINGS:
        fields.wrong(
            "strings",
            f"has {len(value)} string{'s' if len(value) > 1 else ''}",
            f"2 to {MOST_STRINGS} strings",
        )
    pitches = []
    for index, name in enumerate(value):
        try:
            pitch = Pitch.parse(name) if isinstance(name, str) else None
        except ValueError:
            pitch = None
        if pitch is None or not 0 <= pitch.midi <= 127:
            fields.problems.append(
                fields.document.problem(
                    f"{name!r} is not a pitch: expected a note name and an octave, as C3 or Bb2.",
                    "strings",
                    index,
                    found=str(name),
                    expected="a note name and an octave, as C3 or Bb2",
                )
            )
        else:
            pitches.append(pitch)
    return tuple(pitches)
