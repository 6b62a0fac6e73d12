"""The tune file: TOML to `Tune`, with everything that is wrong in it told at once.

Conventions: a tune file says what is played in musicians' words; nothing in it is ever taken for
markup or for a path. What other rooms must judge (the names of styles, instruments and positions)
is only checked to be a text here, and its place is kept in `Tune.places`.
"""

from __future__ import annotations

import contextlib
from fractions import Fraction
from pathlib import Path
from typing import Any

from accomp.files.toml import Document, parse_toml, read_toml
from accomp.tune.fields import (
    file_name_field,
    key_field,
    meter_field,
    pickup_field,
    tempo_field,
    text_field,
)
from accomp.tune.findings import EnoughError, Findings, short
from accomp.tune.link import Linker
from accomp.tune.model import Chorus, Section, Tune
from accomp.tune.sections import read_form, read_sections

TUNE_KEYS = (
    "title",
    "key",
    "meter",
    "tempo",
    "style",
    "instrument",
    "form",
    "composer",
    "pickup",
    "melody",
    "sections",
    "chorus",
)
CHORUS_KEYS = ("position", "style")
DEFAULT_INSTRUMENT = "tenor-banjo"
MOST_CHORUSES = 100

_EXAMPLES = {
    "title": 'title = "A Name"',
    "key": 'key = "F"',
    "meter": 'meter = "4/4"',
    "tempo": "tempo = 120",
}


def read_tune(path: Path) -> Tune:
    """Read a tune file.

    Raises `InputError` with every problem of the file, in file order, each with its place.
    """
    document = read_toml(path)
    return tune_of(document, folder=path.parent)


def parse_tune(text: str, file: str = "") -> Tune:
    """Read a tune from a text; `file` is the name that problems give. Raises `InputError`."""
    return tune_of(parse_toml(text, file))


def tune_of(document: Document, folder: Path | None = None) -> Tune:
    """The tune that a document holds. Raises `InputError` with every problem in it.

    With a `folder`, the melody's file must be there.
    """
    findings = Findings(document)
    tune = None
    with contextlib.suppress(EnoughError):
        tune = _tune(findings, folder)
    findings.raise_if_any()
    assert tune is not None, "without a problem there is a tune"
    return tune


def _tune(findings: Findings, folder: Path | None) -> Tune | None:
    """The tune, or None where the findings hold a problem."""
    document = findings.document
    data = document.data
    findings.unknown((), TUNE_KEYS)
    for name, example in _EXAMPLES.items():
        if name not in data:
            findings.wrong(
                f"there is no {name}.", expected=name, hint=f"Add a line {example} at the top."
            )

    def text(name: str, *, empty: bool = False) -> str | None:
        return text_field(findings, (name,), data[name], empty=empty) if name in data else None

    title, composer = text("title"), text("composer", empty=True)
    style, instrument = text("style"), text("instrument")
    key = key_field(findings, ("key",), data["key"]) if "key" in data else None
    meter = meter_field(findings, ("meter",), data["meter"]) if "meter" in data else None
    tempo = tempo_field(findings, ("tempo",), data["tempo"]) if "tempo" in data else None
    melody = _melody(findings, folder) if "melody" in data else None
    typed = read_sections(findings, key, meter, TUNE_KEYS)
    form = read_form(findings, typed)
    sections = Linker(findings, typed, form).link()
    pickup = Fraction(0)
    if "pickup" in data and meter:
        first = sections.get(form[0]) if form else None
        bar = (first.meter if first else meter).bar
        pickup = pickup_field(findings, ("pickup",), data["pickup"], meter, bar) or pickup
    choruses = _choruses(findings)
    if findings.problems or not (title and key and meter and tempo):
        return None
    return Tune(
        title=title,
        key=key,
        meter=meter,
        tempo=tempo,
        sections=sections,
        form=form,
        style=style,
        instrument=instrument or DEFAULT_INSTRUMENT,
        composer=composer or "",
        pickup=pickup,
        melody=melody,
        choruses=choruses,
        file=document.file,
        notices=tuple(findings.notices),
        places=_places(document, sections, len(choruses)),
    )


def _melody(findings: Findings, folder: Path | None) -> str | None:
    name = file_name_field(findings, ("melody",), findings.document.data["melody"])
    if name and folder is not None and not (folder / name).is_file():
        findings.wrong(
            f"there is no {short(name)!r} beside the tune.",
            "melody",
            found=short(name),
            expected="a file in the tune's folder",
            hint="Put the melody there, or take the line out.",
        )
        return None
    return name


def _choruses(findings: Findings) -> tuple[Chorus, ...]:
    value: Any = findings.document.data.get("chorus", [])
    if not isinstance(value, list) or not all(isinstance(entry, dict) for entry in value):
        hint = "Write [[chorus]] above what changes, once for each time through."
        findings.not_a("a list of tables", value, ("chorus",), hint)
        return ()
    if len(value) > MOST_CHORUSES:
        findings.wrong(
            f"{len(value)} choruses are described.",
            "chorus",
            MOST_CHORUSES,
            expected=f"at most {MOST_CHORUSES}",
            hint="Take some out.",
        )
        return ()
    choruses = []
    for at, entry in enumerate(value):
        findings.unknown(("chorus", at), CHORUS_KEYS)
        words: dict[str, str | None] = {}
        for name in CHORUS_KEYS:
            if name in entry:
                words[name] = text_field(findings, ("chorus", at, name), entry[name])
        choruses.append(Chorus(**words))
    return tuple(choruses)


def _places(
    document: Document, sections: dict[str, Section], choruses: int
) -> dict[str, tuple[int, int]]:
    """Places of what the file says, by the names that `Tune.places` lists."""
    data = document.data
    places = {name: document.place(name) for name in TUNE_KEYS if name in data}
    for name in sections:
        places[f"sections.{name}"] = document.place("sections", name)
        value = data["sections"][name]
        if isinstance(value, dict) and "style" in value:
            places[f"sections.{name}.style"] = document.place("sections", name, "style")
    for at in range(choruses):
        for name in data["chorus"][at]:
            places[f"chorus.{at}.{name}"] = document.place("chorus", at, name)
    return places
