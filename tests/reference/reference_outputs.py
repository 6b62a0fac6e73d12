"""All that comes out of a tune, as text and bytes: what is planned, taught, written and played.

Conventions: floats are rounded to six digits, times are exact where they are written and seconds
where they are played; no time, path or version stands in anything. Sound, engraving and typesetting
are other libraries' work and stay outside; what they are given is here.
"""

from __future__ import annotations

import contextlib
import json
import os
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from unittest.mock import patch

from lxml import etree
from msgspec import json as json_data
from reference_tunes import MELODY, Case

from accomp.errors import AccompError
from accomp.files.toml import parse_toml
from accomp.intake.read import read_musicxml_data
from accomp.job.check import tune_problems
from accomp.job.documents import keys_document, neck_notices, positions_document
from accomp.job.items import Item, midi_item
from accomp.job.make import tune_job
from accomp.job.options import Options
from accomp.job.paper import lesson_text, score_items, sheet_item
from accomp.job.request import resolve
from accomp.job.versions import Version, in_key
from accomp.neck import Plan
from accomp.neck.explain import explain, handout_lines
from accomp.neck.handout import handouts
from accomp.score.notate import notate
from accomp.score.notate_layout import ScoreLayout
from accomp.score.performance import Performance
from accomp.score.written import Score
from accomp.tune import Tune, parse_tune, transpose_tune, tune_toml, unfold
from accomp.web.fonts import PageFonts
from accomp.web.notes import PageVersion
from accomp.web.timeline import timeline
from accomp.write.audio.fonts import Fonts
from accomp.write.box import boxes_lines
from accomp.write.diagram import box_rows_svg
from accomp.write.engrave import System, paper_copy
from accomp.write.engrave_lines import Lines, ways_to_break
from accomp.write.formats import PAGES
from accomp.write.musicxml import musicxml_bytes
from accomp.write.pages import PageMaterials
from accomp.write.sheet import tune_pages
from accomp.write.soundfont import SoundFont

FILE = "tune.toml"
Made = dict[str, bytes]


def rounded(value: Any) -> Any:
    """A value of JSON with all its floats rounded."""
    if isinstance(value, float):
        return round(value, 6) + 0.0
    if isinstance(value, dict):
        return {str(key): rounded(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [rounded(one) for one in value]
    return value


def as_json(value: Any) -> str:
    return json.dumps(rounded(value), ensure_ascii=False, indent=0)


def said(error: AccompError) -> str:
    """What a user reads of an error."""
    return "".join(f"{one} {one.helps}\n" for one in error.problems_in(FILE))


def tried(make: Callable[[], str | bytes]) -> bytes:
    """What is made, or what is said instead."""
    try:
        made = make()
    except AccompError as error:
        made = said(error)
    return made if isinstance(made, bytes) else made.encode()


@contextlib.contextmanager
def folder_of_its_own() -> Iterator[Path]:
    """An empty folder that is the working one, so that no path stands in what is said."""
    with tempfile.TemporaryDirectory(prefix="reference-") as name:
        before, folder = os.getcwd(), Path(name).resolve() / "here"
        folder.mkdir()
        os.chdir(folder)
        try:
            yield folder
        finally:
            os.chdir(before)


def outputs(case: Case) -> Made:
    """What is looked at of one tune, by kind."""
    with folder_of_its_own() as folder:
        (folder / MELODY).write_text(case.melody, encoding="utf-8")
        return _outputs(case)


def _outputs(case: Case) -> Made:
    made: Made = {}
    try:
        tune = parse_tune(case.text, FILE)
        if "said" in case.kinds:
            made["check"] = tried(lambda: _checked(case))
            made["tune"] = tried(lambda: _the_tune(tune))
        request = resolve(tune, Options(only=("midi", "musicxml"), **case.options))
        if request.options.pack or request.options.ladder:
            made["pack"] = tried(lambda: _the_job(tune, request.options))
        found = in_key(request, request.keys[-1])
    except AccompError as error:
        return made | {"refused": said(error).encode()}
    return made | dict(_of_version(case.kinds, found[0]))


def _checked(case: Case) -> str:
    document = parse_toml(case.text, FILE)
    found = tune_problems(document, Path(FILE), planned=False)
    return "".join(f"{one!r}\n" for one in found)


def _the_tune(tune: Tune) -> str:
    """The tune as it is understood: written again, bar by bar, and in other keys."""
    lines = [tune_toml(tune), *tune.notices, *map(str, tune.places.items())]
    for bar in unfold(tune, 3):
        chords = [f"{one.chord}@{one.span.start}-{one.span.end}" for one in bar.chords]
        lines.append(
            f"{bar.number} {bar.chorus} {bar.section} {bar.section_bar} {bar.start} {bar.meter} "
            f"{bar.key} {bar.style} {bar.opens} {bar.spot} {bar.leaves} {' '.join(chords)}"
        )
    for key in ("Am", "F#m", "Ebm") if tune.key.minor else ("C", "Db", "B"):
        moved = transpose_tune(tune, type(tune.key).parse(key))
        lines += [tune_toml(moved), *moved.notices]
    return "\n".join(lines)


def _the_job(tune: Tune, options: Options) -> bytes:
    """Names, labels and bytes of all files, and what the manifest has of them."""
    job = tune_job(tune, options, "nowhere")
    head = f"{job.title}\n{job.tracks}\n{job.notices}\n"
    return head.encode() + b"".join(map(_of_item, job.items))


def _of_item(item: Item) -> bytes:
    """Names, labels as the manifest has them, and bytes."""
    head = (name.encode() + b" " + json_data.encode(label) for name, label in item.labels.items())
    return b"\n".join([*head, getattr(item, "data", b"")])


def _of_version(kinds: frozenset[str], version: Version) -> Iterator[tuple[str, bytes]]:
    """What is planned, taught, written and played of a version."""
    neck = version.neck
    plans = neck.every if kinds & {"plans", "lesson"} else ()
    notices = neck_notices(neck)
    if "plans" in kinds:
        yield "plans", tried(lambda: _planned(plans, notices))
        yield "boxes", tried(lambda: box_rows_svg([(p.facts, _titled(p)) for p in plans]))
    if "lesson" in kinds:
        some = plans[:2]
        document = positions_document(neck.tune, neck, some, notices)
        yield "positions", tried(lambda: as_json(document))
        yield "lesson", tried(lambda: _lesson(version, some))
    if "keys" in kinds:
        rows = neck.neck.keys(neck.tune.key, neck.wish)
        yield "keys", tried(lambda: as_json(keys_document(neck.tune, neck, rows, notices)))
    if "played" in kinds:
        item = midi_item(version.stem, version.label(), version.performance)
        yield "midi", _of_item(item)
        yield "played", tried(lambda: performed(version.performance))
    if "written" in kinds:
        yield "musicxml", b"".join(map(_of_item, score_items(version)))
        own = musicxml_bytes(notate(version.on_paper, ScoreLayout(bass=True)))
        yield "read back", tried(lambda: _read_back(own))
    if "pages" in kinds:
        yield "pages", tried(lambda: _pages(version, taught="lesson" in kinds))
    if "page" in kinds:
        yield "page", tried(lambda: as_json(_timeline(version)))


def _planned(plans: tuple[Plan, ...], notices: list[str]) -> str:
    lines = [*notices]
    for plan in plans:
        cost = f"{plan.cost:.6f} {plan.stretch_mm:.6f} {plan.proved} {plan.gap:.6f}"
        lines += [f"{plan.name} {plan.frets} {plan.open} {cost} {plan.facts}", *plan.notices]
        lines += [f"{shape} {shape.fingers} {shape.top} {shape.barre}" for shape in plan.path]
    return "\n".join(lines)


def _titled(plan: Plan) -> list[tuple[str, Any]]:
    return [(str(chord), shape) for chord, shape in plan.boxes]


def _lesson(version: Version, plans: tuple[Plan, ...]) -> str:
    player = version.request.player
    strings, comfort_mm = len(player.instrument.strings), player.hand.comfort_mm
    taught = version.neck.lesson_of(plans)

    def draw(boxes: Any) -> list[str]:
        return boxes_lines(boxes, width=100)

    lines = handout_lines(handouts(taught, strings, comfort_mm), draw)
    bars = [bar for bar, _ in version.neck.chords.places]
    lines += explain(taught, player.instrument, bars, comfort_mm=comfort_mm, draw=draw)
    return "\n".join([*lines, *(f"{one.facts} {one.notices}" for one in plans)])


def performed(performance: Performance) -> str:
    """A performance, event by event."""
    lines = [f"{performance.title!r} {performance.end_s:.6f}"]
    for kind in ("tempos", "meters", "keys", "markers", "chords"):
        for mark in getattr(performance, kind):
            values = (getattr(mark, name) for name in mark.__slots__)
            lines.append(f"{kind} {' '.join(str(rounded(one)) for one in values)}")
    for track in performance.tracks:
        head = (track.name, track.role, track.program, track.channels, track.level, track.pan)
        lines.append(" ".join(map(str, head)))
        lines += [
            f"{n.start_s:.6f} {n.end_s:.6f} {n.pitch} {n.velocity} {n.channel} {n.bank} {n.up:d}"
            for n in track.notes
        ]
    return "\n".join(lines)


def _pages(version: Version, *, taught: bool) -> str:
    """What the typesetter is given of chart, part and, where it is taught, lesson."""
    materials = PageMaterials(version.request.options.paper)
    with patch("accomp.job.paper.lesson_text", lambda version: None):
        printing = sheet_item(version).printing
    text = lesson_text(version, every=False) if taught else None
    with patch("accomp.write.sheet_fit.engrave", _engraved):
        made = tune_pages(version.on_paper, PAGES, printing, materials, text)
    return as_json([made, materials.pictures.files, materials.text.notices])


def _engraved(
    score: Score, width_mm: float, lines: Lines | None = None, *, boxes: bool = True
) -> tuple[System, ...]:
    """In place of the engraver: systems whose pictures are the music that it is given, and whose
    heights go by nothing but the number of measures."""
    lines = lines or ways_to_break(score.parts[0].measures, width_mm)[0]
    music = etree.tostring(paper_copy(score, lines.starts), encoding="unicode")
    ends = [*lines.starts[1:], len(score.parts[0].measures)]
    return tuple(
        System(f"{at} {boxes} {music if at == 0 else ''}", width_mm, (24 + 2.5 * (end - at)) * size)
        for at, end, size in zip(lines.starts, ends, [lines.size] * len(ends), strict=True)
    )


FONTS = Fonts(SoundFont(Path("band.sf2"), "band", frozenset({(128, 0), (128, 40), (0, 32)})))


def _timeline(version: Version) -> Any:
    one = PageVersion(version.tune.key, version.position, version.arrangement)
    return timeline([one], FONTS, PageFonts(b"", b"", 0.0, "band"))


def _read_back(data: bytes) -> str:
    one = read_musicxml_data(data, "sheet.musicxml")
    melody = (one.melody or b"").decode()
    return "\n".join([one.toml, *one.notices, melody])
