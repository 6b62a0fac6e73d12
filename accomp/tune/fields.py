"""The values of a tune file that no other file has: key, pickup, melody.

Conventions: as in `accomp.files.values`; a pickup is given in beats and read in whole notes.
"""

from __future__ import annotations

import math
import os
import re
from fractions import Fraction
from pathlib import Path
from typing import Literal, get_args

from accomp.files import values
from accomp.files.text import word_list
from accomp.files.toml import LEADSHEET_ENDINGS
from accomp.files.values import Value, WrongValueError, short
from accomp.harmony import ALL_MAJOR, ALL_MINOR, Key, enharmonic_key
from accomp.time import Meter
from accomp.tune.model import BEGINNINGS, FINISHES, VOCABULARIES


def _key(text: str) -> Key:
    same = enharmonic_key(text)
    if same is not None:
        raise WrongValueError(f"Write {same}, which sounds the same and has {_signs(same)}.")
    return Key.parse(text)


def _signs(key: Key) -> str:
    number = abs(key.fifths)
    what = "sharp" if key.fifths > 0 else "flat"
    return f"{number} {what}{'s' * (number > 1)}" if number else "no signs"


KEY = values.parsed(
    _key,
    "a key of up to seven signs in quotes, as F, Bb, F# or Dm",
    "F",
    known=(*ALL_MAJOR, *ALL_MINOR),
)

# What "dim" and "°" without a 7 mean: on passing chords of a band's chart the seventh chord.
DimMeaning = Literal["triad", "seventh"]
DIM: Value[DimMeaning] = values.word(get_args(DimMeaning))

BEGIN, END = values.word(BEGINNINGS), values.word(FINISHES)
VOCABULARY = values.word(VOCABULARIES)

# Written note values down to triplet demisemiquavers are whole multiples of 1/96 or 1/64 note.
FINEST = 192

_SIMPLE_FRACTION = re.compile(r"[0-9]{1,3}(/0*[1-9][0-9]{0,2}|\.[0-9]{1,6})?")


def pickup(meter: Meter | None, bar: Fraction) -> Value[Fraction]:
    """The length before the first bar, which is `bar` long, given in beats of `meter`.

    Without a meter (because it could not be read) only the number itself is judged.
    """
    less = f", less than the {bar / meter.beat} of the first bar" if meter else ""

    def take(found: object) -> Fraction:
        beats = _beats(found)
        if beats is None:
            raise WrongValueError
        length = beats * (meter.beat if meter else Fraction(1, 4))
        if beats < 0 or (meter and length >= bar):
            raise WrongValueError("" if beats < 0 else "Write what is longer as a bar.")
        if FINEST % length.denominator:
            raise WrongValueError(
                'Write thirds as "1/3" or "2/3", in quotes.',
                instead=f"is {short(found)}, which cannot be written in notes",
            )
        return length

    return Value(f'a number of beats{less}, as 1, 0.5 or "1/3"', take, "1")


def _beats(value: object) -> Fraction | None:
    """A number, or a text as "1/3", exactly; infinities and nonsense are None."""
    if isinstance(value, str):
        # Only short and plain: Fraction would also take "1e999999999", and never finish.
        plain = _SIMPLE_FRACTION.fullmatch(value.strip())
        return Fraction(plain[0]) if plain else None
    if isinstance(value, float) and math.isfinite(value):
        return Fraction(repr(value))
    return Fraction(value) if isinstance(value, int) and not isinstance(value, bool) else None


def melody(folder: Path | None) -> Value[str]:
    """The name of a lead sheet beside the tune, never a path; with a `folder` the file must be
    there."""
    is_text = values.text()

    def take(found: object) -> str:
        name = is_text.take(found)
        if any(sign in name for sign in "/\\:") or name.startswith("."):
            raise WrongValueError("Put the melody into the tune's folder and give its name only.")
        if not name.lower().endswith(LEADSHEET_ENDINGS):
            raise WrongValueError("A melody is read from MusicXML or ABC.")
        if folder is not None and not os.path.isfile(folder / name):
            raise WrongValueError(
                "Put the melody there, or take the line out.",
                instead=f"is {short(name)!r}, which is not there",
            )
        return name

    endings = word_list(LEADSHEET_ENDINGS, " or ")
    return Value(
        f"the name of a lead sheet beside the tune, which ends in {endings}", take, '"melody.abc"'
    )
