"""Chords and their shapes, on every instrument, transposed and weighed; slips in symbols."""

from __future__ import annotations

import json
from collections.abc import Callable
from itertools import pairwise, product
from pathlib import Path

from reference_outputs import Made, as_json, folder_of_its_own, tried
from reference_tunes import POOLS

from accomp.errors import AccompError
from accomp.harmony import Chord, Interval, Key, parse_chord, transpose_chord
from accomp.harmony.table import chord_table
from accomp.job.documents import instrument_row, player_notices, shapes_document
from accomp.job.named import find_player
from accomp.job.options import Options
from accomp.neck import Player, Shape, chord_shapes, instrument_names, playable_shapes
from accomp.neck.missing import no_shape
from accomp.rhythm import describe_style, find_style, style_names
from accomp.write.diagram import boxes_svg

ROOTS = ("C", "F#", "Eb")
CHORDS = ("C", "Am", "G7", "Dm7b5", "Ebmaj7", "F#dim7", "Bb6/9", "E7#9", "A13", "C/E", "D/C", "B5",
          "Gsus4", "Fm(maj7)", "Ab+", "C9", "Dm11", "G7b9", "Cadd9", "F/B")  # fmt: skip
OTHERS = {
    "small hand": Options(hand="small"),
    "large hand": Options(hand="large"),
    "short reach": Options(reach_mm=40.0),
    "long reach": Options(reach_mm=150.0),
    "muted": Options(mute=True),
}  # fmt: skip


def every() -> dict[str, Callable[[], Made]]:
    """All of it by name."""
    found: dict[str, Callable[[], Made]] = {}
    for root in ROOTS:
        found[f"symbols on {root}"] = lambda root=root: _symbols(root)
    for at, name in enumerate(instrument_names()):
        if name != "guitar":
            some = CHORDS[at % 3 :: 3]
            found[f"shapes on {name}"] = lambda name=name, some=some: _on(
                Options(instrument=name), some
            )
    found["shapes on guitar"] = lambda: _on(Options(instrument="guitar"), ("C", "G7/B"))
    for what, options in OTHERS.items():
        found[f"shapes, {what}"] = lambda options=options: _on(options, CHORDS[:6])
    found["changes"] = _changes
    found["no shape"] = _no_shape
    found["instruments of one's own"] = _own_instruments
    found["slips"] = _slips
    found["keys"] = _keys
    for name in style_names():
        found[f"style {name}"] = lambda name=name: _style(name)
    return found


def _told(chord: Chord) -> str:
    tones = " ".join(f"{tone.spelling}:{tone.degree}" for tone in chord.tones)
    return f"{chord} {chord.kind} {tones} {chord.bass} {chord.alterations}"


def _parsed(symbol: str) -> str:
    try:
        chord = parse_chord(symbol)
    except AccompError as error:
        return "".join(f"{symbol}: {one!r}\n" for one in error.problems_in(""))
    moved = (transpose_chord(chord, Interval(*by)) for by in ((1, 1), (3, 6), (5, 9)))
    return f"{symbol}: {_told(chord)}; {' '.join(map(str, moved))}\n"


def _symbols(root: str) -> Made:
    table = chord_table()
    spelt = [*table.by_spelling, *(f"7({one})" for one in table.change_by_spelling)]
    spelt += [f"{one}/{root}" for one in ("", "m7", "7b9")] + ["/D", "m/Eb", "7/F#", "maj9/B"]
    return {"symbols": "".join(_parsed(f"{root}{one}") for one in spelt).encode()}


def _on(options: Options, chords: tuple[str, ...]) -> Made:
    """All shapes of some chords, what they cost term by term, the first of them as pictures."""
    made: Made = {}
    player = find_player(options)
    for symbol in chords:
        chord = parse_chord(symbol)
        made[symbol] = tried(lambda chord=chord: _of_chord(player, chord))
    return made


def _of_chord(player: Player, chord: Chord) -> str:
    lines = []
    for vocabulary, closed in (("all", False), ("first", False), ("inversions", True)):
        try:
            found = chord_shapes(player, chord, closed=closed, vocabulary=vocabulary, best=12)
        except AccompError as error:
            lines += map(str, error.problems_in(""))
            continue
        lines.append(as_json(shapes_document(found, player)))
        lines += [known.derivation.words(str(chord)) for _, known in found.shapes if known]
        lines.append(boxes_svg([(shape.top, shape) for shape, _ in found.shapes[:3]]))
    costs = player.cost_model(choked=True)
    for shape in player.playable(chord):
        lines.append(f"{shape} {shape.fingers} {as_json(costs.shape_terms(shape, chord))}")
    return "\n".join([*lines, str(no_shape([chord], player, closed=True))])


def _no_shape() -> Made:
    """What is said where a hand, or any hand, has no shape."""
    lines = []
    for options in (
        Options(reach_mm=30.0), Options(reach_mm=30.0, mute=True), Options(mute=True),
        Options(instrument="ukulele"), Options(instrument="irish-tenor-banjo", reach_mm=1.0),
    ):  # fmt: skip
        player = find_player(options)
        for symbols in (
            ["C"],
            ["E7#9"],
            ["G13b9"],
            ["C13b9#11"],
            ["Bm7", "A7b9b13"],
            ["F", "B6/9"],
        ):
            chords = list(map(parse_chord, symbols))
            for closed in (False, True):
                error = no_shape(chords, player, closed=closed)
                lines.append(f"{error} {error.helps}")
    return {"said": "\n".join(lines).encode()}


STRINGS = (["C3", "G3"], ["G3", "D4", "A4", "E5"], ["C2", "G2", "D3", "A3"], ["F#3", "B3", "E4"],
           ["G3", "C4", "E4", "A4"], ["E2", "A2", "D3", "G3", "B3", "E4"])  # fmt: skip


def _own_instruments() -> Made:
    """What is supposed of an instrument whose file says little, its first shapes and its limits."""
    lines = []
    with folder_of_its_own():
        for strings, more in product(STRINGS, ("", "octave = -1\n", "octave = 2\ncourses = 3\n")):
            text = f"strings = {json.dumps(strings)}\nfrets = 12\nscale = 380\n{more}"
            Path("own-one.toml").write_text(text, encoding="utf-8")
            for mute in (False, True) if len(strings) < 6 else (False,):
                player = find_player(Options(instrument="own-one.toml", mute=mute))
                lines += [as_json(instrument_row(player.instrument)), player.repertoire.text()]
                lines += player_notices(player, "Edit it.")
                if len(strings) < 4:
                    chords = list(map(parse_chord, ("C", "Am7")))
                    told = [no_shape(chords[:n], player, closed=mute) for n in (1, 2)]
                    lines += [f"{one} {one.helps}" for one in told]
    return {"said": "\n".join(lines).encode()}


def _changes() -> Made:
    """What changes between many shapes cost, term by term."""
    made: Made = {}
    for name in ("tenor-banjo", "mandolin", "ukulele"):
        player = find_player(Options(instrument=name))
        costs = player.cost_model()
        shapes: list[Shape] = []
        for symbol in ("C", "A7", "Dm7", "G/B"):
            every = playable_shapes(parse_chord(symbol), player.instrument, player.hand)
            shapes += every[:: max(1, len(every) // 9)]
        rows = [(one, other) for gap in (1, 7) for one, other in pairwise(shapes[::gap])]
        lines = [f"{a} {b} {as_json(costs.change_terms(a, b))}" for a, b in rows]
        made[name] = "\n".join(lines).encode()
    return made


def _slips() -> Made:
    """What is said of symbols that have a letter too few, too many, or in another place."""
    made: Made = {}
    for symbol in sorted({symbol for pool in POOLS for symbol in pool})[::2]:
        slips = [symbol[:at] + symbol[at + 1 :] for at in range(len(symbol))]
        places = range(len(symbol) + 1)
        slips += [symbol[:at] + sign + symbol[at:] for at in places for sign in "b(x7"]
        slips += [symbol.lower(), symbol.upper(), f" {symbol}", f"{symbol}{symbol}"]
        made[symbol] = "".join(map(_parsed, slips)).encode()
    return {"slips": b"".join(made.values())}


def _keys() -> Made:
    lines = []
    for step in "CDEFGABHc":
        for sign in ("", "b", "#", "♭", "♯", "bb"):
            for mode in ("", "m", "min"):
                try:
                    key = Key.parse(f"{step}{sign}{mode}")
                    lines.append(f"{key} {key.fifths} {key.minor} {key.tonic}")
                except AccompError as error:
                    lines.append(f"{step}{sign}{mode} {error}")
    return {"keys": "\n".join(lines).encode()}


def _style(name: str) -> Made:
    return {"style": "\n".join(describe_style(find_style(name))).encode()}
