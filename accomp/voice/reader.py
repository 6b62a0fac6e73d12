"""Reading a voice's parameters from a file in `soundfonts/`, with every problem and its place.

Conventions: as in `accomp.voice.parameters`; a key is a field of the table's type, and each number
must be above zero unless it is listed here as one that may be zero or negative.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any, cast, get_args, get_origin, get_type_hints

from accomp.errors import InputError, Problem
from accomp.files.toml import Document, TomlPath, read_toml, unknown_keys
from accomp.voice.parameters import (
    Box,
    Bridge,
    Dead,
    Decay,
    Head,
    Layout,
    Microphone,
    Neck,
    Plectrum,
    StringParameters,
    Voice,
)

_NEGATIVE = {
    "angle_deg", "arc_deg", "area_cm2", "around_deg", "end_db", "foot", "heave", "level_db",
    "middle", "outer", "rock", "shift_mm", "side_mm",
}  # fmt: skip
_ZERO = {
    "after_loss", "apart", "bending_loss", "bridge_mm", "course_cents", "damping_ns_m", "end_loss",
    "hand_loss", "knock", "knock_after_ms", "knock_mm", "knock_n", "lean", "noise", "noise_n",
    "off_axis_deg", "pattern", "presence_db", "program", "rock_damping_nms", "rock_stiffness_nm",
    "roots", "spread_db", "spread_deg", "spread_mm", "stiffness_n_m", "tension_loss",
}  # fmt: skip


def read_voice(path: Path) -> Voice:
    """Read a parameter file. Raises `InputError` with every problem found and its place."""
    return voice_of(read_toml(path), path.stem)


def voice_of(document: Document, name: str) -> Voice:
    """The voice in a document. Raises `InputError`."""
    problems: list[Problem] = []
    known = (
        "title",
        "string",
        "neck",
        "head",
        "box",
        "microphone",
        "bridge",
        "decay",
        "plectrum",
        "dead",
        "layout",
    )
    problems += unknown_keys(document, (), known)
    title = document.data.get("title")
    if not isinstance(title, str) or not title:
        problems.append(document.problem("a voice has a title.", "title"))
    if ("head" in document.data) == ("box" in document.data):
        problems.append(document.problem("a voice has a [head] or a [box], one of them."))

    def one(kind: type[Any], name: str) -> Any:
        return _row(document, problems, kind, (name,))

    voice = Voice(
        name=name,
        title=str(title),
        strings=_rows(document, problems, StringParameters, ("string",)),
        neck=one(Neck, "neck"),
        head=one(Head, "head") if "head" in document.data else None,
        box=one(Box, "box") if "box" in document.data else None,
        microphone=one(Microphone, "microphone"),
        bridge=one(Bridge, "bridge"),
        decay=one(Decay, "decay"),
        plectrum=one(Plectrum, "plectrum"),
        dead=one(Dead, "dead"),
        layout=one(Layout, "layout"),
    )
    problems = problems or list(_sense(document, voice))
    if problems:
        raise InputError(problems)
    return voice


def _sense(document: Document, voice: Voice) -> Iterator[Problem]:
    """What is wrong between values that are each allowed."""
    limits = [force.up_to for force in voice.plectrum.force]
    if limits != sorted(set(limits)) or limits[-1] != 127:
        yield document.problem("levels of force rise to velocity 127.", "plectrum", "force")
    roots = list(voice.layout.roots)
    if not roots or roots != sorted(set(roots)) or roots[-1] > voice.neck.frets:
        yield document.problem("roots are rising frets of the neck.", "layout", "roots")
    if voice.layout.program > 127:
        yield document.problem("a program lies between 0 and 127.", "layout", "program")
    if voice.layout.window & (voice.layout.window - 1):
        yield document.problem("the window is a power of two.", "layout", "window")


def _rows(
    document: Document, problems: list[Problem], kind: type[Any], path: TomlPath
) -> tuple[Any, ...]:
    table = _at(document, path)
    if table is None and path[-1] in ("heave", "rock"):
        return ()  # a stiff bridge
    if not isinstance(table, list) or not table:
        problems.append(document.problem(f"at least one [[{_words(path)}]] is needed.", *path))
        return ()
    return tuple(_row(document, problems, kind, (*path, place)) for place in range(len(table)))


def _row(document: Document, problems: list[Problem], kind: type[Any], path: TomlPath) -> Any:
    """One table as its dataclass; what is missing or wrong is reported and stands as zero."""
    table = _at(document, path)
    hints: dict[str, Any] = get_type_hints(kind)
    if not isinstance(table, dict):
        problems.append(document.problem(f"the table [{_words(path)}] is missing.", *path))
        return None
    problems += unknown_keys(document, path, [field.name for field in fields(kind)])
    values = {}
    for name, wanted in hints.items():
        inner: Any = get_args(wanted)[0] if get_origin(wanted) is tuple else wanted
        if is_dataclass(wanted):
            values[name] = _row(document, problems, cast(type[Any], wanted), (*path, name))
        elif is_dataclass(inner):
            values[name] = _rows(document, problems, cast(type[Any], inner), (*path, name))
        else:
            values[name] = _number(document, problems, wanted, (*path, name))
    return kind(**values)


def _number(document: Document, problems: list[Problem], wanted: Any, path: TomlPath) -> Any:
    """A float, a whole number or a tuple of whole numbers."""
    name, value = str(path[-1]), _at(document, path)
    if value is None:
        where = _words(path[:-1])
        problems.append(document.problem(f"{name} is missing in [{where}].", *path))
        return 0
    several = get_origin(wanted) is tuple
    for number in value if several and isinstance(value, list) else [value]:
        right = (int, float) if wanted is float else int
        if isinstance(number, bool) or not isinstance(number, right):
            expected = "a number" if wanted is float else "a whole number"
        elif not math.isfinite(number):
            expected = "a finite number"
        elif name not in _NEGATIVE and (number < 0 or (number == 0 and name not in _ZERO)):
            expected = "zero or more" if name in _ZERO else "above zero"
        else:
            continue
        found = str(number)[:40]
        problems.append(
            document.problem(f"{name} must be {expected}.", *path, found=found, expected=expected)
        )
        return 0
    if several:
        return tuple(value) if isinstance(value, list) else (value,)
    return float(value) if wanted is float else value


def _at(document: Document, path: TomlPath) -> Any:
    table: Any = document.data
    for part in path:
        try:
            table = table[part]
        except (KeyError, IndexError, TypeError):
            return None
    return table


def _words(path: TomlPath) -> str:
    return ".".join(str(part) for part in path if isinstance(part, str))
