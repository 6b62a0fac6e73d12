"""A set of scores that covers every construct the writer has, each with what was planned."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from hand_made import FOUR, GUITAR, UKULELE, arrangement

from accomp.score.arrangement import Arrangement

PLAIN = [
    ("F", "0 2 3 3"),
    [("F", "0 2 3 3", "1/2"), ("C7", "0 0 2 1", "1/2")],
    ("Bb", "5 7 8 8"),
    ("Bdim7", "5 7 6 8"),
    [("F/C", "5 5 7 8", "1/2"), ("D7", "4 5 4 5", "1/2")],
    ("N.C.", ""),
]
SYNCOPATED = [
    ("0", "1/8", "down", "plain", "ring", "low2"),
    ("1/8", "1/4", "up", "plain", "dead", "all"),
    ("1/4", "3/8", "down", "accent", "choked", "all"),
    ("3/8", "5/8", "up", "plain", "ring", "all"),
    ("5/8", "3/4", "up", "plain", "ring", "high2"),
    ("3/4", "5/6", "down", "plain", "ring", "all"),
    ("5/6", "11/12", "up", "plain", "ring", "all"),
    ("11/12", "1", "down", "plain", "ring", "all"),
]
JIG = [
    ("0", "1/8", "down", "accent", "ring", "all"),
    ("1/8", "1/4", "up", "plain", "ring", "all"),
    ("1/4", "3/8", "down", "plain", "ring", "all"),
    ("3/8", "5/8", "down", "accent", "choked", "all"),
    ("5/8", "11/16", "up", "plain", "ring", "all"),
    ("11/16", "3/4", "up", "plain", "ring", "all"),
]
SYMBOLS = "C Cm C7 CΔ7 Cm7 Cø7 C°7 C+ C6 C6/9 Cm6 Csus4 C7sus4 C7b9 C7(b9,#11) C7#5 C9 C13".split()


@dataclass(frozen=True)
class Case:
    """One score; `pitches` are the MIDI numbers of each stroke in order, tied notes once."""

    name: str
    arrangement: Arrangement

    @property
    def pitches(self) -> list[tuple[int, ...]]:
        return [
            tuple(sorted(p for i in strum.strings if (p := strum.shape.pitches[i]) is not None))
            for bar in self.arrangement.bars
            for strum in bar.strums
        ]


def _meter(meter: str, strokes: list[tuple[str, str, str, str, str, str]]) -> Arrangement:
    return arrangement([("F", "0 2 3 3"), ("C7", "0 0 2 1")], strokes, meter=meter)


def _ten_stroke_bars() -> dict[str, Arrangement]:
    made = {}
    for meter in ("2/2", "3/2", "2/4", "3/4", "5/4", "6/4", "3/8", "9/8", "12/8"):
        top, bottom = (int(part) for part in meter.split("/"))
        rows = [
            (f"{n}/{bottom}", f"{n + 1}/{bottom}", "down", "plain", "ring", "all")
            for n in range(top)
        ]
        made[f"meter {meter}"] = _meter(meter, rows)
    return made


CASES = [
    Case(name, arranged)
    for name, arranged in {
        "four in a bar": arrangement(PLAIN, FOUR),
        "with bass": arrangement(PLAIN, FOUR, bass=[("0", "1/2", "F2"), ("1/2", "1", "C2")]),
        "syncopated, swing, pickup": arrangement(
            PLAIN, SYNCOPATED, swing=2.0, pickup=Fraction(1, 4)
        ),
        "jig": arrangement(
            [("F", "0 2 3 3"), ("C7", "0 0 2 1")], JIG, meter="6/8", tempo=112.5, key="F"
        ),
        "key changes": arrangement(
            PLAIN[:4],
            SYNCOPATED[:5],
            keys=["Db", "Db", "F#", "Bm"],
            sections=["Intro", "Intro", "B & C", "<Out>"],
        ),
        "guitar": arrangement(
            [("C", "x 3 2 0 1 0"), ("F", "1 3 3 2 1 1"), ("G7", "3 2 0 0 0 1")],
            instrument=GUITAR,
            key="C",
        ),
        "re-entrant ukulele": arrangement(
            [("C", "0 0 0 3"), ("G7", "0 2 1 2")], instrument=UKULELE, key="C"
        ),
        "every kind of symbol": arrangement([(symbol, "0 0 2 3") for symbol in SYMBOLS], key="C"),
        "tremolo and roll": arrangement(
            [("F", "0 2 3 3")],
            [
                ("0", "3/4", "down", "plain", "tremolo", "all"),
                ("3/4", "1", "up", "plain", "roll", "all"),
            ],
        ),
        **_ten_stroke_bars(),
    }.items()
]
