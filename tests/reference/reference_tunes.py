"""Small tunes of our own invention, drawn by a seed, that use all a tune file can say.

Each is asked for in its own way (`options`); some cannot be played as they ask, and then what is
said of that is their output.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from reference_dice import Dice
from road_tunes import ROADS

from accomp.rhythm import find_style, style_names

HOME = Path(__file__).parents[2]
DRAWN = 84
MELODY = "sung.abc"

COUNTS = {
    "2/2": (1, 2, 4), "2/4": (1, 2, 4), "3/2": (1, 3, 6), "3/4": (1, 3, 6), "4/4": (1, 2, 4, 8),
    "5/4": (1, 5, 10), "6/4": (1, 2, 3, 6, 12), "3/8": (1, 3), "6/8": (1, 2, 6), "9/8": (1, 3, 9),
    "12/8": (1, 2, 4, 12),
}  # fmt: skip
MAJOR = "C Db D Eb E F F# Gb G Ab A Bb B C# Cb".split()
MINOR = "Am Bbm Bm Cm C#m Dm D#m Ebm Em Fm F#m Gm G#m A#m Abm".split()
# A pool of chords for each tune keeps the search short; together they have every kind.
POOLS = [
    pool.split()
    for pool in (
        "C F G7 Am", "F Bb C7 Bdim7 D7", "Gm7b5 C7b9 Fm6 Bb7", "Ebmaj7 Ab6 Bb9sus4 Cm7",
        "D A7 G/B Em7", "B7#9 E9 A13 D6/9", "Bb Eb7 Edim7 Bb/F", "Am Dm E7 F+",
        "G C(add9) D7sus4 Em", "Cm(maj7) G7#5 Ab7 F#m7b5", "A♭maj9 D♭7 E♭11 Fm9", "E5 A5 B5",
        "C#m7 F#13 B Emaj7#11",
        "Gsus2 Dsus4 Cmaj13", "Dm/A A+ Gm/Bb C7/E", "F#dim G#° C+7 Bm7", "Gb Cb Db7 Abm7",
        "Ddim Fø7 B°7 E7alt", "C6 Am7 FΔ7 G9", "Bm11 E7b13 Am(add9) G#aug",
    )
]  # fmt: skip
# Shapes that those who know the tenor banjo pin; elsewhere they are other chords, which is told.
PINS = {
    "C": ("0 0 2 3", "4 5 5 7"), "F": ("0 2 3 3", "9 10 10 12"), "Bb": ("2 3 3 5", "5 7 8 8"),
    "D": ("2 2 4 5", "x 7 7 9"), "G": ("4 4 5 7", "x 0 0 2"), "Am": ("2 2 2 3", "0 2 2 7"),
}  # fmt: skip
INSTRUMENTS = (
    "tenor-banjo", "tenor-banjo-19", "irish-tenor-banjo", "plectrum-banjo", "mandolin", "ukulele",
    "tenor-guitar", "tenor-banjo", "tenor-banjo",
)  # fmt: skip
TITLES = (
    "Tin Cup Rag",
    "Ångström's <b>&amp;</b> Reel",
    'O\'Grady \\ Quote "Q"',
    "7 Wet Steps",
    "A Title That Goes On And On Until Nobody Reads It Any More, And Then Some More " * 2,
)
PARTS = ("score", "both", "notation", "tab", "slash", "bass")
READERS = ("concert", "Bb", "Eb", "bass")


@dataclass(frozen=True)
class Case:
    """A tune, what is asked of it, and which of its outputs are looked at: to make them all of
    every tune would cost too much."""

    name: str
    text: str
    options: dict[str, Any] = field(default_factory=dict)
    kinds: frozenset[str] = frozenset({"said", "plans", "written", "played"})
    melody: str = ""  # what lies beside the tune


@cache
def by_meter() -> dict[str, list[str]]:
    """The styles of each meter that come along."""
    found: dict[str, list[str]] = {meter: [] for meter in COUNTS}
    for name in style_names():
        found[str(find_style(name).meter)].append(name)
    return found


def every_case() -> dict[str, Case]:
    """All tunes by name."""
    cases = [drawn(number) for number in range(DRAWN)]
    cases += [style_case(name, number) for number, name in enumerate(style_names())]
    for number, road in enumerate(ROADS):
        options = {"choruses": int(road.options[1])} if road.options[:1] == ("--choruses",) else {}
        options["parts"] = (PARTS[number % 5],)
        kinds = frozenset({"said", "written"})
        cases.append(Case(f"road: {road.name}", road.text, options, kinds))
    for number, path in enumerate(sorted((HOME / "examples").glob("*.toml"))):
        text = path.read_text("utf-8")
        options = {"choruses": 1, "parts": (PARTS[number % 4],)}
        cases.append(Case(f"example: {path.stem}", text, options))
    return {case.name: case for case in cases}


def style_case(style: str, number: int) -> Case:
    """A short form that shows a style's every passage: eights, stops, a second and third time."""
    dice = Dice(f"style {style}")
    meter = str(find_style(style).meter)
    pool = POOLS[number % 9]
    count = COUNTS[meter][1]
    split = " ".join([pool[0], *["/"] * (count - 2), pool[2]]) if count > 1 else pool[0]
    eight = [pool[0], pool[1], split, pool[2], pool[1], pool[0], pool[2], pool[0]]
    eight[dice.below(7)] = "N.C." if dice.falls(0.3) else "%" if dice.falls(0.3) else pool[-1]
    eight[0] = pool[0]
    rest = [pool[-1], pool[1], split, pool[2]] * dice.one((1, 2, 3))
    head = f'title = "In the Manner of {style}"\nkey = "{pool[0][:2].strip("m7/")}"\n'
    tempo = dice.one((20, 60, 90, 132, 180, 240, 400))
    text = (
        f'{head}meter = "{meter}"\ntempo = {tempo}\nstyle = "{style}"\nform = ["A", "B"]\n'
        f'[sections]\nA = "| {" | ".join(eight)} |"\nB = "| {" | ".join(rest)} |"\n'
    )
    options = {"choruses": dice.one((1, 2, 2)), "count_in": dice.below(3), "seed": dice.below(9)}
    options |= {"parts": (dice.one(PARTS),), "vocabulary": "first"}
    kinds = frozenset({"played"} if number % 4 else {"played", "written"})
    return Case(f"style: {style}", text, options, kinds)


def drawn(number: int) -> Case:
    """A tune of any shape."""
    dice = Dice(f"tune {number}")
    meter = dice.one([*COUNTS, "4/4", "4/4", "3/4", "2/4", "6/8"])
    made = _Drawn(dice, meter, POOLS[number % len(POOLS)])
    kinds = {"said", *(("written", "pages") if number % 2 else ("played",))}
    for kind, every in (("plans", 4), ("page", 8), ("lesson", 12), ("keys", 40)):
        kinds |= {kind} if number % every == 0 else set()
    text, options = made.text(), _options(dice)
    if number % 7 == 0:
        text = f'melody = "{MELODY}"\n{text}'
        options["melody"] = True
    return Case(f"tune {number:02}", text, options, frozenset(kinds), _melody(dice, meter))


def _melody(dice: Dice, meter: str) -> str:
    """Bars of a melody, some of them short, tied or silent."""
    count, unit = map(int, meter.split("/"))
    bars = []
    for _ in range(8):
        notes = [dice.one(("C", "e", "^f", "B,", "z", "g-")) for _ in range(count * 8 // unit)]
        bars.append(dice.one((f"{notes[0]}{len(notes)}", "".join(notes))))
    return f"X:1\nT:Sung\nM:{meter}\nL:1/8\nK:C\n{' | '.join(bars)} |\n"


def quoted(text: object) -> str:
    return json.dumps(text, ensure_ascii=False)


@dataclass
class _Drawn:
    """A tune file in the making."""

    dice: Dice
    meter: str
    pool: list[str]
    first: str = ""  # its first chord
    meters: bool = False  # a section has one of its own

    def text(self) -> str:
        dice = self.dice
        head = [
            f"title = {quoted(dice.one(TITLES))}",
            f"key = {quoted(dice.one(MINOR if dice.falls(0.3) else MAJOR))}",
            f"meter = {quoted(self.meter)}",
            f"tempo = {dice.one((20, 400, 60, 88.5, 120, 132, 160, 200, 255))}",
        ]
        if dice.falls(0.8):
            head.append(f"style = {quoted(dice.one(by_meter()[self.meter]))}")
        head.append(f"instrument = {quoted(dice.one(INSTRUMENTS))}")
        for share, line in (
            (0.3, f"composer = {quoted(dice.one(('B. Lind', 'Ü & <i>', 'x' * 90)))}"),
            (0.25, f"pickup = {dice.one(('0.5', '1', '0.25', quoted('1/3'), quoted('2/3')))}"),
            (0.2, f"begin = {quoted(dice.one(('vamp', 'roll-off', 'pick-up')))}"),
            (0.3, f"end = {quoted(dice.one(('tag', 'ritard', 'short-stop')))}"),
            (0.2, f"dim = {quoted(dice.one(('triad', 'seventh')))}"),
            (0.3, f"vocabulary = {quoted(dice.one(('first', 'inversions', 'all')))}"),
        ):
            head += [line] if dice.falls(share) else []
        way, sections = self._form()
        return "\n".join([*head, *way, "[sections]", *sections, *self._tail()]) + "\n"

    def _form(self) -> tuple[list[str], list[str]]:
        dice = self.dice
        way = dice.one(("plain", "plain", "chorus", "verse", "coda", "letters", "again"))
        intro = [f"intro = {quoted(f'last {dice.one((1, 2, 4))}')}"] if dice.falls(0.25) else []
        plain = [self._section("A"), self._section("B")]
        ends = self._endings()
        if way == "chorus":
            times = dice.whole(1, 4)
            return [*intro, f"form = [{quoted('V')}, {quoted(f'{times} x A')}]"], [
                self._section("V"), f"A = {{ {ends} }}",
            ]  # fmt: skip
        if way == "verse":
            lines = [*intro, 'verse = "B"', 'form = ["A", "A"]', f"choruses = {dice.whole(1, 3)}"]
            return lines, [f"A = {{ {ends} }}", plain[1]]
        if way == "coda":
            leaves = f"A = {{ bars = {quoted(self._bars(4))}, to_coda = {dice.whole(1, 4)} }}"
            form = dice.one((["A", "B"], ["B", "A"], ["A"]))
            lines = [*intro, f"form = {quoted(form)}"]
            lines += ['coda = "Out"', f"choruses = {dice.whole(1, 3)}"]
            return lines, [leaves, plain[1], self._section("Out")]
        if way == "letters":
            form = [dice.one("AB") for _ in range(dice.whole(1, 4))]
            return [*intro, f"form = {quoted(['A', *form])}"], plain
        if way == "again":
            form = ["2 x A", "B", "A"]
            return [*intro, f"form = {quoted(form)}"], [f"A = {{ {ends} }}", plain[1]]
        return intro, plain[: dice.whole(1, 2)]

    def _endings(self) -> str:
        """The inside of a section with endings."""
        dice = self.dice
        parts = [f"bars = {quoted(self._bars(dice.one((2, 4))))}"]
        parts += [f"first = {quoted(self._bars(dice.one((1, 2))))}"]
        if dice.falls(0.5):
            parts.append(f"second = {quoted(self._bars(dice.one((1, 2))))}")
        if dice.falls(0.6) or len(parts) == 2:
            parts.append(f"last = {quoted(self._bars(2))}")
        return ", ".join(parts)

    def _section(self, name: str) -> str:
        dice, meter = self.dice, self.meter
        if dice.falls(0.7):
            return f"{name} = {quoted(self._bars(dice.one((1, 2, 4, 4, 6)), repeats=True))}"
        more = ""
        if dice.falls(0.4):
            meter = dice.one(list(COUNTS))
            more += f", meter = {quoted(meter)}"
            self.meters = True
        if dice.falls(0.4):
            more += f", key = {quoted(dice.one(MAJOR[:12]))}"
        if dice.falls(0.4):
            more += f", style = {quoted(dice.one(by_meter()[meter]))}"
        return f"{name} = {{ bars = {quoted(self._bars(4, meter, repeats=True))}{more} }}"

    def _bars(self, count: int, meter: str = "", *, repeats: bool = False) -> str:
        """Bars as text; the first begins with a chord."""
        dice = self.dice
        rows = []
        for index in range(count):
            if index and dice.falls(0.12):
                rows.append("%")
                continue
            tokens = dice.one((1, 1, *COUNTS[meter or self.meter]))
            row = [dice.one(self.pool)]
            self.first = self.first or row[0]
            for _ in range(tokens - 1):
                row.append("/" if dice.falls(0.6) else self._token())
            if index and dice.falls(0.1):
                row[0] = dice.one(("/", "N.C."))
            rows.append(" ".join(row))
        if repeats and count > 1 and dice.falls(0.25):
            rows[0] = f": {rows[0]}"
            end = dice.below(count - 1) + 1
            times = dice.one(("", "", " x 3"))
            done = " | ".join(rows[: end + 1])
            rest = " | ".join(rows[end + 1 :])
            closed = f"|{done} :|{times}"
            return f"{closed} {'|' if times and rest else ''} {rest} |" if rest else closed
        return f"| {' | '.join(rows)} |"

    def _token(self) -> str:
        return "N.C." if self.dice.falls(0.1) else self.dice.one(self.pool)

    def _tail(self) -> list[str]:
        dice = self.dice
        tail = []
        if dice.falls(0.3) and self.first in PINS:
            tail += ["[shapes]", f"{quoted(self.first)} = {quoted(dice.one(PINS[self.first]))}"]
        if dice.falls(0.2):
            root = re.match("[A-G][b#]?", self.first)
            tail += ["[top]", f"1 = {quoted(dice.one((root[0], '-', 'E')) if root else '-')}"]
        for _ in range(dice.one((0, 0, 0, 1, 2, 3))):
            tail.append("[[chorus]]")
            if dice.falls(0.5):
                tail.append(f"position = {quoted(dice.one(('root-top', 'third-top', '5', '0')))}")
            if dice.falls(0.5) and not self.meters:
                tail.append(f"style = {quoted(dice.one(by_meter()[self.meter]))}")
        return tail


def _options(dice: Dice) -> dict[str, Any]:
    """What is asked of a drawn tune."""
    found: dict[str, Any] = {"parts": tuple(dice.some(PARTS, dice.one((1, 1, 2))))}
    for share, name, values in (
        (0.2, "closed", (True, False)),
        (0.15, "plan", ("free",)),
        (0.2, "hand", ("small", "large", "medium")),
        (0.1, "reach_mm", (70.0, 120.0, 95.5)),
        (0.7, "choruses", (1, 1, 1, 2)),
        (0.3, "count_in", (0, 2, 8)),
        (0.3, "seed", (1, 7)),
        (0.3, "plain_clef", (True,)),
        (0.2, "side", ("right",)),
        (0.3, "boxes", ("changes", "none")),
        (0.3, "paper", ("letter",)),
        (0.3, "positions", (("third-top",), ("root-top", "0"), ("5",), ("fifth-top",))),
        (0.3, "tempos", ((90.0,), (20.0,), (211.25,), (70.0, 140.0))),
        (0.25, "keys", (("F",), ("Bb", "E"), ("Gb",))),
        (0.1, "ladder", ((60,), (10, 200))),
        (0.3, "readers", (("Bb",), ("concert", "Eb"), ("bass", "concert"))),
    ):  # fmt: skip
        if dice.falls(share):
            found[name] = dice.one(values)
    if dice.falls(0.08):
        found |= {"pack": True, "choruses": 1, "tempos": (100.0,), "ladder": (60,)}
        found |= {"positions": ("root-top", "third-top")[: dice.whole(1, 2)]}
    return found
