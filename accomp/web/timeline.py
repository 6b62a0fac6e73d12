"""The timeline: everything a page plays and shows, as one JSON value.

It is the page's only source of truth, made from the same arrangement and performance as the MIDI
file. Its form is written down in `timeline.schema.json`, beside this module.

Conventions: times are seconds at the tune's own tempo (100 %), from the first bar line; times
before it (count-in, a pickup) are negative. A note's start and end are two numbers each: a time
that grows when the tune is played slower, and a time after it that does not (the spread of a
stroke, the moment until the hand lets go), so that slow practice sounds like slow playing. Shapes
run from the highest-numbered string to the first. Indices point into the lists of the same value.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from fractions import Fraction

from accomp.neck import Instrument, Shape
from accomp.neck.fingers import Doing, finger_moves
from accomp.rhythm import program_number
from accomp.rhythm.describe import count_word
from accomp.rhythm.stroke import Technique
from accomp.score.arrangement import ArrangedBar, ChordChange
from accomp.score.clock import Clock
from accomp.score.notate_chart import of_form
from accomp.score.performance import Note, Role
from accomp.score.tuning import tuning_performance
from accomp.time import Meter
from accomp.web.boxes import shape_json
from accomp.web.fonts import CLICKS, PageFonts, played
from accomp.web.names import ChordNames, sound_words, strings_words
from accomp.web.notes import Json, PageVersion, Times, clock_of, rounded, track_json
from accomp.write.audio.fonts import Fonts
from accomp.write.page_text import key_text

FORM = 1
_MOST_SHAPES = 40  # a version with more shapes has no moves but those of its course


def timeline(versions: Sequence[PageVersion], fonts: Fonts, small: PageFonts) -> Json:
    """The value for all versions of one tune at one tempo; a page opens with the first one."""
    first = versions[0]
    arrangement, clock = first.arrangement, clock_of(first)
    keys = tuple(dict.fromkeys(version.key for version in versions))
    counts: list[Json] = []
    styles = dict.fromkeys(bar.style.title for bar in arrangement.bars)
    return {
        "form": FORM,
        "title": arrangement.title,
        "composer": arrangement.composer,
        "tempo": arrangement.tempo,
        "meter": str(arrangement.bars[0].bar.meter),
        "style": ", ".join(styles),
        "instrument": _instrument(arrangement.instrument),
        "gain_db": small.gain_db,
        "voiced": bool(small.voice),
        "bars": [_bar(bar, clock, counts) for bar in arrangement.bars],
        "counts": counts,
        "clicks": [list(click) for click in CLICKS],
        "keys": [
            _key(next(version for version in versions if version.key == key), fonts) for key in keys
        ],
        "versions": [_version(version, keys.index(version.key), fonts) for version in versions],
        "tuning": _tuning(arrangement.instrument, fonts),
    }


def timeline_json(value: Json) -> str:
    """The value as text; equal values give equal text."""
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"), allow_nan=False)


def _instrument(instrument: Instrument) -> Json:
    return {
        "name": instrument.title.split(",")[0],
        "title": instrument.title,
        "strings": [str(pitch) for pitch in instrument.strings],
        "frets": [
            round(instrument.fret_mm(fret) / instrument.scale_mm, 5)
            for fret in range(instrument.frets + 1)
        ],
    }


def _bar(bar: ArrangedBar, clock: Clock, counts: list[Json]) -> Json:
    """A bar with its beats; bars that are counted and struck alike share one entry of `counts`."""
    zero_s = clock(Fraction(0))
    start_s, end_s = clock(bar.span.start), clock(bar.span.end)
    meter = bar.bar.meter
    count = _count(bar, clock)
    if count not in counts:
        counts.append(count)
    beats = [clock(bar.span.start + beat * meter.beat) for beat in range(meter.beats)]
    return {
        "start": rounded(start_s - zero_s),
        "end": rounded(end_s - zero_s),
        "beats": [rounded(beat_s - zero_s) for beat_s in beats],
        "chorus": bar.bar.chorus if of_form(bar) else 0,
        "section": bar.bar.section,
        "opens": bar.bar.opens,
        "count": counts.index(count),
    }


def _count(bar: ArrangedBar, clock: Clock) -> Json:
    """The counts of a bar and its strokes; places are shares of the bar's time as heard."""
    meter = bar.bar.meter
    strums = {strum.span.start - bar.span.start: strum for strum in bar.strums}
    numbers = {meter.unit * number for number in range(meter.count)}
    start_s, end_s = clock(bar.span.start), clock(bar.span.end)
    slots = []
    for at in sorted(numbers | strums.keys()):
        strum = strums.get(at)
        heard = (clock(bar.span.start + at) - start_s) / (end_s - start_s)
        slot: Json = {"at": round(heard, 4), "word": _word(at, meter)}
        if strum is not None and strum.technique != Technique.REST:
            slot |= {
                "stroke": strum.direction,
                "force": strum.force,
                "strings": strings_words(strum),
                "sound": sound_words(strum),
            }
        slots.append(slot)
    return {"slots": slots}


def _word(at: Fraction, meter: Meter) -> str:
    word = count_word(at, meter)
    return "" if word == "?" else word


def _key(version: PageVersion, fonts: Fonts) -> Json:
    """The values that change with the key alone: the chords over the bars, and the band."""
    chords = ChordNames(version.key)
    # [chord, place in the bar, 1 where it is written and 0 where it is only carried on].
    bars = [
        [
            [chords.index(change.chord), round(_share(bar, change), 4), int(change.written)]
            for change in bar.changes
        ]
        for bar in version.arrangement.bars
    ]
    times = Times(version)
    band = [track for track in version.performance.tracks if track.role in {Role.BAND, Role.MELODY}]
    basses = {program_number(bar.style.bass_player) - 1 for bar in version.arrangement.bars}
    return {
        "name": key_text(version.key),
        "chords": chords.names,
        "bars": bars,
        "tracks": [track_json(track, times, fonts, basses) for track in band if track.notes],
    }


def _share(bar: ArrangedBar, change: ChordChange) -> float:
    return float((change.span.start - bar.span.start) / bar.bar.meter.bar)


def _version(version: PageVersion, key: int, fonts: Fonts) -> Json:
    """The values that change with the position: shapes, moves and the player's notes."""
    arrangement, times = version.arrangement, Times(version)
    chords = ChordNames(version.key)
    shapes: dict[Shape, int] = {}
    changes: list[list[float]] = []
    for bar in arrangement.bars:
        for change in bar.changes:
            chord = chords.index(change.chord)
            shape = -1 if change.shape is None else shapes.setdefault(change.shape, len(shapes))
            if not changes or changes[-1][1:] != [chord, shape]:
                at_s = times.clock(change.span.start)
                changes.append([rounded(at_s - times.zero_s), chord, shape])
    frets = [fret for plan in arrangement.plans for fret in plan.frets if fret]
    player = next(track for track in version.performance.tracks if track.role == Role.PLAYER)
    clauses, moves = _moves(tuple(shapes), changes, len(arrangement.instrument.strings))
    return {
        "key": key,
        "position": version.position,
        "frets": [min(frets, default=0), max(frets, default=0)],
        "shapes": [shape_json(shape) for shape in shapes],
        "changes": changes,
        "clauses": clauses,
        "moves": moves,
        "track": track_json(player, times, fonts),
    }


def _moves(
    shapes: tuple[Shape, ...], changes: Sequence[Sequence[float]], strings: int
) -> tuple[list[list[str]], Json]:
    """Clauses of three parts (who, what, where), and for each change "from>to" its clauses.

    A loop may lead from any bar to any other, so all pairs of shapes are included, except in a tune
    with very many shapes.
    """
    order = [int(change[2]) for change in changes if change[2] >= 0]
    pairs = dict.fromkeys(zip(order, [*order[1:], *order[:1]], strict=True))
    if len(shapes) <= _MOST_SHAPES:
        pairs |= {(a, b): None for a in range(len(shapes)) for b in range(len(shapes))}
    clauses: dict[tuple[str, str, str], int] = {}
    moves: Json = {}
    for here, there in pairs:
        if here != there:
            told = [
                clauses.setdefault(_clause(move.words(strings), move.does), len(clauses))
                for move in finger_moves(shapes[here], shapes[there])
            ]
            moves[f"{here}>{there}"] = told
    return [list(clause) for clause in clauses], moves


def _clause(words: str, does: Doing) -> tuple[str, str, str]:
    """A clause cut into three parts at its verb."""
    verb = next(verb for verb in (does, "lies down") if f" {verb} " in words)
    who, _, where = words.partition(f" {verb} ")
    return who.removesuffix(" finger"), verb, where


def _tuning(instrument: Instrument, fonts: Fonts) -> list[Json]:
    """One note a string, as the tuning track sounds it."""
    track = played(tuning_performance(instrument).tracks[0], fonts)
    first: dict[int, Note] = {}
    for note in track.notes:
        first.setdefault(note.channel, note)
    return [
        {
            "name": str(pitch),
            "string": instrument.string_number(index),
            "note": [note.pitch, note.velocity, note.channel, note.bank],
        }
        for index, (pitch, note) in enumerate(zip(instrument.strings, first.values(), strict=True))
    ]
