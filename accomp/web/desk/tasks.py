"""Tasks of the workers about the text of a tune: its mistakes, its bars, its positions.

Conventions: a text is judged as if it lay on the shelf under its name, saved or not, so that files
that it names are found beside it. Answers are plain values for JSON; problems are rows as `accomp
check` prints them.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from accomp.errors import InputError
from accomp.files import data
from accomp.files.text import frets_text
from accomp.files.toml import parse_toml
from accomp.harmony import ALL_MAJOR, ALL_MINOR, parse_chord
from accomp.job.check import tune_problems
from accomp.job.named import instrument_named, style_named
from accomp.job.positions import TuneNeck, in_its_place, tune_neck
from accomp.job.request import Request, resolve
from accomp.neck import Plan, chord_shapes, instrument_names
from accomp.rhythm import describe_style, style_names
from accomp.rhythm.read_style import style_from
from accomp.time.meter import METERS
from accomp.tune import transpose_tune, unfold
from accomp.tune.model import Tune
from accomp.tune.read import draft_of
from accomp.web.boxes import shape_json
from accomp.web.desk.asked import options_of
from accomp.web.desk.problems import FIELDS, problem_rows
from accomp.web.desk.processes import Tell
from accomp.web.names import ChordNames
from accomp.write.page_text import chord_text, key_text

Json = dict[str, Any]
MOST_OTHERS = 24  # shapes of a chord that are offered at most


def judge(asked: Json, tell: Tell) -> Json:
    """The problems of a text, the values of its head, and its bars as far as they can be read."""
    path = Path(asked["file"])
    try:
        document = parse_toml(asked["text"], str(path))
    except InputError as error:
        return {
            "problems": problem_rows(error.problems),
            "fields": None,
            "chart": None,
            "notices": [],
        }
    draft = draft_of(document, path.parent)
    return {
        "problems": problem_rows(tune_problems(document, path, planned=False)),
        "fields": {name: document.data.get(name) for name in FIELDS},
        "chart": chart(draft.tune),
        "notices": list(draft.tune.notices),
    }


def judge_style(asked: Json, tell: Tell) -> Json:
    """The problems of a style's text, and its strokes on the count."""
    path = Path(asked["file"])
    try:
        style = style_from(parse_toml(asked["text"], str(path)), path.stem)
    except InputError as error:
        return {"problems": problem_rows(error.problems), "meter": "", "lines": []}
    lines = list(describe_style(style))
    return {"problems": [], "meter": str(style.meter), "lines": lines, "tempo": list(style.tempo)}


def chart(tune: Tune) -> Json:
    """The bars of one time through, in the form that a timeline has."""
    chords = ChordNames(tune.key)
    bars, cells = [], []
    for bar in unfold(tune):
        bars.append({"chorus": 1, "section": bar.section, "opens": bar.opens})
        cells.append(
            [
                [
                    chords.index(one.chord),
                    round(float(one.span.start / bar.meter.bar), 4),
                    int(one.written),
                ]
                for one in bar.chords
            ]
        )
    return {
        "bars": bars,
        "key": {"name": key_text(tune.key), "chords": chords.names, "bars": cells},
    }


def request_of(asked: Json) -> Request:
    """The request of a text with its options, every name looked up. Raises `InputError`."""
    path = Path(asked["file"])
    options = options_of(asked.get("options", {}), asked.get("beside", ()), path.parent)
    draft = draft_of(parse_toml(asked["text"], str(path)), path.parent)
    if draft.problems:
        raise InputError(draft.problems)
    return resolve(draft.tune, options)


def on_the_neck(asked: Json) -> TuneNeck:
    """The tune of a text on its player's neck, in the first key asked for. Raises `InputError`."""
    request = request_of(asked)
    return tune_neck(transpose_tune(request.tune, request.keys[0]), request)


def positions(asked: Json, tell: Tell) -> Json:
    """Every position of a tune, with its boxes, the number of new grips and the hardest changes."""
    try:
        neck = on_the_neck(asked)
        with in_its_place(neck):
            plans = neck.every
            first = neck.neck.best(neck.wish).name
    except InputError as error:  # usual while somebody is typing, so it is answered, not raised
        return {"problems": problem_rows(error.problems), "positions": []}
    return {
        "problems": [],
        "key": key_text(neck.tune.key),
        "instrument": neck.neck.player.instrument.title,
        "strings": len(neck.neck.player.instrument.strings),
        "first": first,
        "comfort_mm": neck.neck.player.hand.comfort_mm,
        "positions": [_position(plan, neck) for plan in plans],
        "notices": list(neck.chords.notices),
    }


def _position(plan: Plan, neck: TuneNeck) -> Json:
    names = ChordNames(neck.tune.key)
    chords = neck.chords.chords
    pins = {str(pin.chord) for pin in neck.tune.pins}
    boxes = []
    wide = dict(zip(zip(chords, plan.path, strict=True), plan.wide, strict=True))
    pairs = list(zip(chords, plan.path, strict=True))
    new = set(plan.new)
    for chord, shape in dict.fromkeys(pairs):
        boxes.append(
            {
                "chord": str(chord),
                **names.names[names.index(chord)],
                "shape": shape_json(shape),
                "times": pairs.count((chord, shape)),
                "new": shape.grip in new,
                "wide": wide[chord, shape],
                "pinned": str(chord) in pins,
            }
        )
    strings = len(neck.neck.player.instrument.strings)
    return {
        "name": plan.name,
        "frets": list(plan.frets),
        "open": plan.open,
        "stretch_mm": round(plan.stretch_mm),
        "cost": round(plan.cost, 1),
        "boxes": boxes,
        "new": len(plan.new),
        "hardest": [
            {
                "from": chord_text(one.from_chord),
                "to": chord_text(one.to_chord),
                "words": one.words(strings),
            }
            for one in neck.hardest(plan)
        ],
        "notices": list(plan.notices),
    }


def other_shapes(asked: Json, tell: Tell) -> Json:
    """Shapes of a chord for the player of a text, best first, with frets as a pin is written.
    Raises `InputError`."""
    chord = parse_chord(str(asked["chord"]))
    neck = on_the_neck(asked)
    player = neck.neck.player
    found = chord_shapes(player, chord, closed=neck.wish.closed is True, best=MOST_OTHERS)
    return {
        "chord": str(chord),
        "text": chord_text(chord),
        "of": found.of,
        "shapes": [
            {
                "frets": frets_text(shape.frets),
                "shape": shape_json(shape),
                "top": shape.top,
                "stretch_mm": round(shape.stretch_mm),
                "words": "" if known is None else known.derivation.words(str(chord)),
            }
            for shape, known in found.shapes
        ],
    }


def nothing(asked: Any, tell: Tell) -> None:
    """Do nothing, so that a worker loads this module, which most other tasks need."""


def choices(asked: Any, tell: Tell) -> Json:
    """The choices of the page: keys, meters, instruments, hands, styles with their counts."""
    styles = [style_named(name) for name in style_names()]
    styles.sort(key=lambda style: style.title)
    return {
        "major": list(ALL_MAJOR),
        "minor": list(ALL_MINOR),
        "meters": list(METERS),
        "instruments": [
            {"name": name, "title": instrument_named(name).title} for name in instrument_names()
        ],
        "hands": list(data.names("hands")),
        "styles": [
            {
                "name": style.name,
                "title": style.title,
                "meter": str(style.meter),
                "lines": list(describe_style(style)),
            }
            for style in styles
        ],
    }
