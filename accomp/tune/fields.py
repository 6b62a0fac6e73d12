"""The single values of a tune file: each checked for its type, its range and its sense.

Conventions: every function takes the findings, the path of the value and the value, and gives
what it means, or None when it is wrong (the findings then say why). Tempo counts beats a minute.
"""

from __future__ import annotations

import math
import re
import unicodedata
from fractions import Fraction

from accomp.files.toml import TomlPath, nearest
from accomp.harmony import ALL_MAJOR, ALL_MINOR, Key
from accomp.time import FASTEST_BPM, METERS, SLOWEST_BPM, Meter
from accomp.tune.findings import Findings, short

MOST_CHARACTERS = 1000

# Written note values down to triplet demisemiquavers are whole multiples of 1/96 or 1/64 note.
_FINEST = 192

_SIMPLE_FRACTION = re.compile(r"[0-9]{1,3}(/0*[1-9][0-9]{0,2}|\.[0-9]{1,6})?")
_MELODY_ENDINGS = (".musicxml", ".xml", ".mxl", ".abc")


def text_field(findings: Findings, path: TomlPath, value: object, *, empty: bool = False) -> str:
    """A text of one line, "" when it is wrong. It is data: any sign but a control character."""
    if not isinstance(value, str):
        findings.not_a("a text in quotes", value, path)
        return ""
    name = path[-1]
    if not value.strip() and not empty:
        findings.wrong(
            f"{name!r} is empty.", *path, found=repr(value), expected="a text", hint="Write one."
        )
        return ""
    if len(value) > MOST_CHARACTERS:
        findings.wrong(
            f"{name!r} has {len(value)} characters.",
            *path,
            found=short(value),
            expected=f"at most {MOST_CHARACTERS} characters",
            hint="Shorten it.",
        )
        return ""
    offset = control_character(value)
    if offset is not None:
        code = f"U+{ord(value[offset]):04X}"
        findings.wrong(
            f"{name!r} holds the control character {code}, which cannot be printed.",
            *path,
            offset=offset,
            found=code,
            expected="text on one line",
            hint="Take it out.",
        )
        return ""
    return value


def control_character(text: str) -> int | None:
    """Where the first control character or line break is, None without one."""
    for offset, sign in enumerate(text):
        if unicodedata.category(sign) in {"Cc", "Zl", "Zp"}:
            return offset
    return None


def key_field(findings: Findings, path: TomlPath, value: object) -> Key | None:
    """A key name."""
    if not isinstance(value, str):
        findings.not_a('a key in quotes, as "F" or "Dm"', value, path)
        return None
    try:
        return Key.parse(value)
    except ValueError as error:
        close = nearest(value.strip(), (*ALL_MAJOR, *ALL_MINOR)) if value.strip() else None
        findings.wrong(
            f"{error}.",
            *path,
            found=short(value),
            expected="a key as F, Bb, F# or Dm",
            hint=f"Did you mean {close!r}?" if close else "",
        )
        return None


def meter_field(findings: Findings, path: TomlPath, value: object) -> Meter | None:
    """A meter."""
    if not isinstance(value, str):
        findings.not_a('a meter in quotes, as "4/4"', value, path)
        return None
    try:
        return Meter.parse(value)
    except ValueError:
        close = nearest(value.strip(), METERS)
        findings.wrong(
            f"{short(value)!r} is not a meter that can be played here.",
            *path,
            found=short(value),
            expected=f"one of {', '.join(METERS)}",
            hint=f"Did you mean {close!r}?" if close else f"Meters are {', '.join(METERS)}.",
        )
        return None


def tempo_field(findings: Findings, path: TomlPath, value: object) -> float | None:
    """Beats a minute."""
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        hint = "Write it without quotes." if isinstance(value, str) else ""
        findings.not_a("a number of beats a minute", value, path, hint)
        return None
    if not SLOWEST_BPM <= value <= FASTEST_BPM:  # so written, NaN is refused too
        findings.wrong(
            f"a tempo of {short(value)} cannot be played.",
            *path,
            found=short(value),
            expected=f"{SLOWEST_BPM} to {FASTEST_BPM} beats a minute",
            hint=f"A tempo lies between {SLOWEST_BPM} and {FASTEST_BPM} beats a minute.",
        )
        return None
    return float(value)


def pickup_field(
    findings: Findings, path: TomlPath, value: object, meter: Meter, bar: Fraction
) -> Fraction | None:
    """The length before the first bar, given in beats of `meter`, in whole notes.

    `bar` is the length of the first bar, which the pickup must not reach.
    """
    beats = _beats(value)
    if beats is None:
        findings.not_a('a number of beats, as 1, 0.5 or "1/3"', value, path)
        return None
    length = beats * meter.beat
    expected = f"from 0 to less than {bar / meter.beat} beats"
    if not 0 <= length < bar:
        findings.wrong(
            f"a pickup of {short(value)} beats is not shorter than the first bar."
            if length >= bar
            else f"a pickup of {short(value)} beats cannot be.",
            *path,
            found=short(value),
            expected=expected,
            hint=f"A pickup in {meter} is {expected} long; write what is longer as a bar.",
        )
        return None
    if _FINEST % length.denominator:
        findings.wrong(
            f"a pickup of {short(value)} beats cannot be written in notes.",
            *path,
            found=short(value),
            expected="beats and simple parts of beats",
            hint='Write thirds as "1/3" or "2/3", in quotes.',
        )
        return None
    return length


def _beats(value: object) -> Fraction | None:
    """A number, or a text as "1/3", exactly; infinities and nonsense are None."""
    if isinstance(value, str):
        # Only short and plain: Fraction would also take "1e999999999", and never finish.
        plain = _SIMPLE_FRACTION.fullmatch(value.strip())
        return Fraction(plain[0]) if plain else None
    if isinstance(value, float) and math.isfinite(value):
        return Fraction(repr(value))
    return Fraction(value) if isinstance(value, int) and not isinstance(value, bool) else None


def file_name_field(findings: Findings, path: TomlPath, value: object) -> str | None:
    """The name of a lead sheet beside the tune; never a way to another folder."""
    name = text_field(findings, path, value)
    if not name:
        return None
    if any(sign in name for sign in "/\\:") or name.startswith("."):
        findings.wrong(
            f"{short(name)!r} is not a plain file name.",
            *path,
            found=short(name),
            expected="the name of a file beside the tune",
            hint="Put the melody into the tune's folder and give its name only.",
        )
        return None
    if not name.lower().endswith(_MELODY_ENDINGS):
        findings.wrong(
            f"{short(name)!r} is not a lead sheet by its name.",
            *path,
            found=short(name),
            expected=f"a name that ends in {', '.join(_MELODY_ENDINGS)}",
            hint="A melody is read from MusicXML or ABC.",
        )
        return None
    return name
