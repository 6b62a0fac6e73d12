"""Reading a voice's parameters from a file in `soundfonts/`, with every problem and its place.

Conventions: as in `accomp.voice.parameters`. Each key is a field of the table's type. A number
must be above zero unless its key is listed here. A key whose field has a default may be left out,
so that files for an earlier model can still be read.
"""

from __future__ import annotations

from dataclasses import MISSING, fields, is_dataclass
from pathlib import Path
from typing import Any, get_args, get_origin, get_type_hints

from accomp.files import values
from accomp.files.table import Table
from accomp.files.toml import Document, read_toml
from accomp.files.values import Value
from accomp.voice.parameters import (
    Box,
    Bridge,
    Dead,
    Decay,
    Head,
    Layout,
    Microphone,
    NeckParameters,
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
    """The voice in a document. Raises `InputError` with every problem found and its place."""
    top = Table.of(document)
    title = top.text("title")
    if ("head" in top) == ("box" in top):
        hint = "Leave one of them." if "head" in top else "Add one of them."
        found = "[head] and [box]" if "head" in top else ""
        message = "a voice has a [head] or a [box], one of them."
        top.wrong(message, found=found, expected="[head] or [box]", hint=hint)
    strings = tuple(
        _row(table, StringParameters) for table in top.tables("string", "its parameters")
    )
    parts = {
        key: _one(top, key, kind, needed=key not in {"head", "box"})
        for key, kind in (
            ("neck", NeckParameters),
            ("head", Head),
            ("box", Box),
            ("microphone", Microphone),
            ("bridge", Bridge),
            ("decay", Decay),
            ("plectrum", Plectrum),
            ("dead", Dead),
            ("layout", Layout),
        )
    }
    voice = Voice(name=name, title=title, strings=strings, **parts)
    _check_relations(top, voice)
    top.check()
    return voice


def _check_relations(top: Table, voice: Voice) -> None:
    """Note problems between values that are valid on their own."""
    neck, layout, plectrum = map(top.table, ("neck", "layout", "plectrum"))
    levels = plectrum.tables("force") if plectrum else ()
    if levels and all(level.sound("up_to") for level in levels):
        limits = [force.up_to for force in voice.plectrum.force]
        if limits != sorted(set(limits)) or limits[-1] != 127:
            top.wrong(
                "levels of force rise to velocity 127.",
                "plectrum",
                "force",
                found=", ".join(map(str, limits)),
                expected="rising `up_to`, the last 127",
                hint="Put the levels in order, up_to = 127 last.",
            )
    if layout and neck and layout.sound("roots") and neck.sound("frets"):
        roots = list(voice.layout.roots)
        if roots != sorted(set(roots)) or roots[-1] > voice.neck.frets:
            layout.must(
                f"rising frets of the neck, up to {voice.neck.frets}",
                "roots",
                hint="Put them in order, each once.",
                instead=f"is {', '.join(map(str, roots))}",
            )
    if layout and layout.sound("window") and voice.layout.window & (voice.layout.window - 1):
        power = 1 << (voice.layout.window.bit_length() - 1)
        layout.must("a power of two", "window", hint=f"The nearest below is {power}.")


def _one(table: Table, key: str, kind: type[Any], *, needed: bool = True) -> Any:
    inner = table.table(key, "its parameters" if needed else "")
    return None if inner is None else _row(inner, kind)


def _row(table: Table, kind: type[Any]) -> Any:
    """One table as its dataclass. A missing or wrong value is noted as a problem and read as 0."""
    given: dict[str, Any] = {}
    hints: dict[str, Any] = get_type_hints(kind)
    for field in fields(kind):
        name, wanted = field.name, hints[field.name]
        needed, many = field.default is MISSING, get_origin(wanted) is tuple
        inner: Any = next(iter(get_args(wanted)), wanted)  # inside `tuple` or `| None`
        parameters: bool = is_dataclass(inner)
        if not parameters:
            number = _number(name, inner)
            if many:
                given[name] = table.several(name, number)
            else:
                absent = 0 if needed else field.default
                given[name] = table.get(name, number, absent, needed=needed)
        elif many:
            example = "its parameters" if needed else ""
            given[name] = tuple(_row(each, inner) for each in table.tables(name, example))
        else:
            given[name] = _one(table, name, inner, needed=needed)
    return kind(**given)


def _number(name: str, wanted: Any) -> Value[float]:
    """The range of a key's number: above zero, unless the key is listed otherwise."""
    make = values.number if wanted is float else values.whole
    if name == "program":
        return values.whole(0, 127)
    return make() if name in _NEGATIVE else make(0, above=name not in _ZERO)
