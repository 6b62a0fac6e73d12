"""The tune file: TOML to `Tune`, with everything that is wrong in it told at once.

Conventions: a tune file says what is played in musicians' words; nothing in it is ever taken for
markup or for a path. What other rooms must judge (the names of styles, instruments and positions)
is only checked to be a text here, and its place is kept in `Tune.places`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

from accomp.errors import InputError, Problem
from accomp.files import values
from accomp.files.data import DEFAULT_INSTRUMENT
from accomp.files.paths import StrPath, as_path
from accomp.files.table import Table
from accomp.files.toml import Document, parse_toml, read_toml
from accomp.harmony import Key
from accomp.time import METER, MOST_CHORUSES, TEMPO, USUAL_BPM, Meter
from accomp.tune.dim import with_sevenths
from accomp.tune.fields import BEGIN, DIM, END, KEY, VOCABULARY, melody, pickup
from accomp.tune.form import read_form
from accomp.tune.link import Linker
from accomp.tune.model import Chorus, Tune
from accomp.tune.road import RoadMap, steps
from accomp.tune.sections import TypedSection, read_sections
from accomp.tune.unfold import planned_bars
from accomp.tune.wishes import read_pins, read_top_notes

TUNE_KEYS = tuple(
    "title key meter tempo style instrument intro verse form choruses coda begin end composer"
    " pickup melody vocabulary dim shapes top sections chorus".split()
)
# These stand in for what is wrong, so that the rest of the file is judged too.
_ANY_KEY, _ANY_METER = Key.parse("C"), Meter.parse("4/4")


@dataclass(frozen=True)
class Draft:
    """A tune as far as its file can be understood, and everything wrong in the file.

    `named` are the styles and the instrument that the file names, played or not, by the names of
    their places in `Tune.places`: other rooms can judge them at the same time. `clear`: the chords,
    the way through them and the instrument are as the file has them, so that the wishes for the
    left hand can be judged too, even if something else is wrong.
    """

    tune: Tune
    problems: tuple[Problem, ...]
    named: Mapping[str, str]
    clear: bool


def read_tune(path: StrPath) -> Tune:
    """Read a tune file.

    Raises `InputError` with every problem of the file, in file order, each with its place.
    """
    file = as_path(path, "a tune file")
    return finished(draft_of(read_toml(file), file.parent))


def parse_tune(text: str, file: str = "") -> Tune:
    """Read a tune from a text; `file` is the name that problems give. Raises `InputError`."""
    return finished(draft_of(parse_toml(text, file)))


def finished(draft: Draft) -> Tune:
    """The tune of a draft without problems. Raises `InputError` with those it has."""
    if draft.problems:
        raise InputError(draft.problems)
    return draft.tune


def draft_of(document: Document, folder: Path | None = None) -> Draft:
    """The draft of a document; with a `folder`, the melody's file must be there.

    Raises `InputError` only when there are so many problems that the rest was not read.
    """
    top = Table.of(document)
    title, composer = top.text("title"), top.get("composer", values.text(empty=True), "")
    key = top.get("key", KEY, _ANY_KEY, needed=True)
    meter = top.get("meter", METER, None, needed=True)
    tempo = top.get("tempo", TEMPO, USUAL_BPM, needed=True)
    style = top.get("style", values.text(example="waltz"), None)
    instrument = top.get("instrument", values.text(example=DEFAULT_INSTRUMENT), None)
    vocabulary = top.get("vocabulary", VOCABULARY, None)
    dim = top.get("dim", DIM, "triad")
    before = len(top.findings.problems)
    typed = read_sections(top, key, meter, TUNE_KEYS)
    form = read_form(top, typed)
    sections = Linker(typed, form.road if not form.wrong else RoadMap(())).link()
    sevenths: tuple[str, ...] = ()
    if dim == "seventh":
        sections, sevenths = with_sevenths(sections)
    way = RoadMap(tuple(sections)) if form.wrong else form.road
    opening = next((step.section for step in steps(way, typed, 1)), "")
    clear = len(top.findings.problems) == before and top.sound("key", "meter")
    clear = clear and all(top.sound(name) for name in ("instrument", "dim") if name in top)
    first = sections.get(opening)
    bar = (first.meter if first else meter or _ANY_METER).bar
    pins = read_pins(top, sections)
    upbeat = top.get("pickup", pickup(meter, bar), Fraction(0))
    melody_file = top.get("melody", melody(folder), None)
    begin = top.get("begin", BEGIN, None)
    end = top.get("end", END, None)
    choruses = tuple(
        Chorus(*(table.get(name, values.text(), None) for name in ("position", "style")))
        for table in top.tables("chorus", most=MOST_CHORUSES)
    )
    if meter is None:
        sections = {}  # nobody knows what fits them
    tune = Tune(
        title=title,
        key=key,
        meter=meter or _ANY_METER,
        tempo=tempo,
        sections=sections,
        form=tuple(name for name in way.form if name in sections),
        style=style,
        instrument=instrument or DEFAULT_INSTRUMENT,
        composer=composer,
        pickup=upbeat,
        melody=melody_file,
        choruses=choruses,
        times=form.times,
        intro=form.intro,
        verse=tuple(name for name in way.verse if name in sections),
        coda=tuple(name for name in way.coda if name in sections),
        begin=begin,
        end=end,
        vocabulary=vocabulary,
        pins=pins,
        file=document.file,
        places=_places(document, typed, choruses),
    )
    tune = replace(tune, tops=read_top_notes(top, len(planned_bars(tune)) if sections else 0))
    findings = top.close()
    tune = replace(tune, notices=(*findings.notices, *sevenths))
    return Draft(tune, findings.problems, _named(style, instrument, typed, choruses), clear)


def _places(
    document: Document, sections: Mapping[str, TypedSection], choruses: tuple[Chorus, ...]
) -> dict[str, tuple[int, int]]:
    """Places of what the file says, by the names that `Tune.places` lists."""
    places = {name: document.place(name) for name in TUNE_KEYS if name in document.data}
    for name, section in sections.items():
        places[f"sections.{name}"] = document.place("sections", name)
        if section.style:
            places[f"sections.{name}.style"] = document.place("sections", name, "style")
    for table in ("shapes", "top"):
        there = document.data.get(table)
        for name in there if isinstance(there, dict) else ():
            places[f"{table}.{name}"] = document.place(table, name)
    for at in range(len(choruses)):
        for name in document.data["chorus"][at]:
            places[f"chorus.{at}.{name}"] = document.place("chorus", at, name)
    return places


def _named(
    style: str | None,
    instrument: str | None,
    sections: Mapping[str, TypedSection],
    choruses: tuple[Chorus, ...],
) -> dict[str, str]:
    named = {"style": style, "instrument": instrument}
    named |= {f"sections.{name}.style": section.style for name, section in sections.items()}
    named |= {f"chorus.{at}.style": chorus.style for at, chorus in enumerate(choruses)}
    return {where: name for where, name in named.items() if name}
