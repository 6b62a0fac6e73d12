"""Instrument files: reading, finding by name, and what is wrong in them.

Conventions: see the head comment of any file in data/instruments. A name with ".toml" at its end
or a folder in it is a user's own file; any other is looked up.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path

from accomp.files import data, values
from accomp.files.data import DEFAULT_INSTRUMENT
from accomp.files.table import Table
from accomp.harmony import Pitch
from accomp.neck.instrument import USUAL_PROGRAM, Instrument, written_at

MOST_FRETS = 36
MOST_STRINGS = 12
_LOWEST_AT_PITCH = 55  # G3
# A kit fiddle's scale and a theorbo's: anything outside is a typing error or another unit.
LEAST_SCALE_MM, MOST_SCALE_MM = 100.0, 2000.0


def instrument_names() -> tuple[str, ...]:
    """All instruments that there are, the user's own included."""
    return data.names("instruments")


def find_instrument(name: str = DEFAULT_INSTRUMENT) -> Instrument:
    """An instrument by name, or from a user's file ("my-banjo.toml").

    Raises `InputError` when there is none (with the nearest name) or the file is wrong.
    """
    name = data.as_name(name, "an instrument")
    if data.is_file(name):
        return read_instrument(Path(name))
    return _by_name(name)


@lru_cache(maxsize=64)
def _by_name(name: str) -> Instrument:
    return read_instrument(data.look_up("instruments", name, "an instrument", data.OR_A_FILE))


def read_instrument(path: Path) -> Instrument:
    """Read an instrument file. Raises `InputError` with every problem in it."""
    table = Table.of(path)
    strings = table.several("strings", PITCH, least=2, most=MOST_STRINGS)
    given = table.data.get("strings")
    most = max(2, len(given)) if isinstance(given, list) else MOST_STRINGS
    octave = table.get("octave", values.whole(-1, 2), None)
    supposed = octave if octave is not None else usual_octave(strings)
    notices = () if octave is not None else (_supposed(path.stem, supposed),)
    instrument = Instrument(
        name=path.stem,
        title=table.text("title", path.stem),
        strings=strings,
        frets=table.whole("frets", 1, MOST_FRETS, example="17"),
        scale_mm=table.number("scale", LEAST_SCALE_MM, MOST_SCALE_MM, example="533"),
        octave=supposed,
        program=table.whole("program", 1, 128, USUAL_PROGRAM),
        courses=table.whole("courses", 1, 3, 1),
        sounding=table.whole("sounding", 2, most, min(4, most)),
        notices=notices,
    )
    table.check()
    return instrument


def usual_octave(strings: Sequence[Pitch]) -> int:
    """How many octaves above its sound such an instrument is written.

    One where a string lies below the G under middle C, the lowest note of treble clef that stands
    without a third ledger line: banjos, tenor guitar and guitar are, mandolin and ukulele are not
    (common practice, no source).
    """
    return int(min((pitch.midi for pitch in strings), default=60) < _LOWEST_AT_PITCH)


def _supposed(name: str, octave: int) -> str:
    return (
        f"{name} has no `octave`: it is written {written_at(octave)}, as instruments tuned like it "
        f"are."
    )


def _pitch(name: str) -> Pitch:
    pitch = Pitch.parse(name)
    if not 0 <= pitch.midi <= 127:
        raise ValueError(name)
    return pitch


# One string of a tuning, in instrument and repertoire files.
PITCH = values.parsed(_pitch, "a note name and an octave in quotes, as C3 or Bb2", "C3")
