"""Recorded banjos, FluidR3's banjo and ours in one table.

    python -m benchmarks.voice_recorded_table [FONT]     ours, or any font laid out as ours is

`RECORDED`: a real 19-fret tenor banjo (C G D A), 74 single notes C3 to E6, forte and piano, one
player, of the Philharmonia Orchestra's free sample set (read from its public mirror
skratchdot/philharmonia-samples). The recordings are not ours to ship: these figures are.
`BEFORE`: this program's tenor banjo as it was before it was held against them, measured by
`benchmarks.voice_recorded`.

Conventions: rows and units as in `benchmarks.voice_recorded.summary`.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

from accomp.voice import voice_font
from benchmarks import voice_ear as ear
from benchmarks import voice_recorded as vr
from benchmarks.voice_figures import bank

Rows = dict[str, tuple[float, ...]]

FLUID = Path("/usr/share/sounds/sf2/FluidR3_GM.sf2")  # Debian's fluid-soundfont-gm

RECORDED: Rows = {
    "centroid low, forte": (799, 636, 534, 455, 384),
    "centroid mid, forte": (877, 898, 809, 840, 585),
    "centroid high, forte": (1021, 1315, 1357, 1084, 932),
    "centroid low, piano": (723, 574, 459, 471, 362),
    "centroid mid, piano": (847, 738, 673, 654, 729),
    "centroid high, piano": (851, 886, 966, 1060, 974),
    "level low": (-4, -8, -14, -18, -22, -32),
    "level mid": (-4, -9, -15, -19, -25, -37),
    "level high": (-7, -12, -16, -22, -30, -43),
    "attack": (9.0, 7.7, 6.1),
    "highest peak after": (10.8,),
    "peak over loudness": (16.7,),
    "early decay": (89, 97, 108),
    "late decay": (26, 28),
    "early decay of partials": (114, 102, 91),
    "between partials": (-21, -22, -23, -24, -25),
    "scatter of level": (2.0,),  # 1.5 to 2.5
    "brightness forte/piano": (1.18, 4.5),
    "noise before the note": (-46,),  # -42 to -51
}

BEFORE: Rows = {
    "centroid low, forte": (746, 787, 830, 834, 939),
    "centroid mid, forte": (911, 1083, 1208, 1362, 1291),
    "centroid high, forte": (1439, 1466, 1407, 1616, 1463),
    "centroid low, piano": (616, 536, 519, 442, 484),
    "centroid mid, piano": (607, 663, 661, 765, 812),
    "centroid high, piano": (945, 1004, 933, 1225, 1048),
    "level low": (-6, -10, -14, -18, -26, -34),
    "level mid": (-8, -11, -19, -24, -32, -41),
    "level high": (-7, -14, -23, -30, -40, -90),
    "attack": (1.0, 3.7, 3.1),
    "highest peak after": (3.1,),
    "peak over loudness": (18.9,),
    "early decay": (74, 96, 120),
    "late decay": (27, 33),
    "early decay of partials": (77, 30, 30),
    "between partials": (-34, -49, -56, -61, -62),
    "scatter of level": (0.1,),
    "brightness forte/piano": (1.42, 6.1),
    "noise before the note": (-120,),
}

# Notes of a mandolin of the same set, and ours before.
MANDOLIN = {"recorded": (-31.0, 14.9), "before": (-50.0, 18.4)}

UNITS = {
    "centroid low, forte": "Hz in 0-30, 30-100, 100-300, 300-600, 600-1200 ms",
    "level low": "dB under the highest at 50, 100, 200, 300, 500, 800 ms",
    "attack": "ms, 10-90 %, low / mid / high",
    "highest peak after": "ms",
    "peak over loudness": "dB, one note",
    "early decay": "dB/s, 20-120 ms, low / mid / high",
    "late decay": "dB/s, 0.3-1 s, low / mid",
    "early decay of partials": "dB/s, 0.6-1, 1-1.6, 1.6-2.5 kHz, low notes",
    "between partials": "dB re all at 0, 20, 40, 80, 120 ms",
    "scatter of level": "dB about the trend",
    "brightness forte/piano": "ratio of centroids in 0-30 ms; dB apart",
    "notes within": "% of notes, attack 3.5-11 ms; peak at 6-14 ms; at most 17.5 dB over loudness",
    "noise before the note": "dB re its peak, above 1 kHz, 20 ms",
}


def measured(font: Path, *, plain: bool = False) -> Rows:
    """All rows of a font."""
    player = ear.Player(font)
    forte, piano = (list(vr.notes(player, v, plain=plain)) for v in (vr.FORTE, vr.PIANO))
    player.close()
    return vr.summary(forte, piano)


def table(columns: dict[str, Rows]) -> str:
    """Columns of rows as Markdown."""
    lines = ["| " + " | ".join(("", *columns)) + " |", "|---" * (len(columns) + 1) + "|"]
    names = dict.fromkeys(name for rows in columns.values() for name in rows)
    for name in names:
        unit = f" ({UNITS[name]})" if name in UNITS else ""
        cells = [_words(rows.get(name, ())) for rows in columns.values()]
        lines.append(f"| {name}{unit} | " + " | ".join(cells) + " |")
    return "\n".join(lines) + "\n"


def _words(values: tuple[float, ...]) -> str:
    fine = len(values) <= 3 and all(abs(value) < 30 for value in values)
    places = 2 if len(values) == 2 and values[0] < 3 else 1 if fine else 0
    return " / ".join(f"{value:.{places}f}" for value in values) or "-"


def side_by_side(font: Path) -> str:
    """Recorded, FluidR3 where it is installed, ours as it was and as it is."""
    columns = {"recorded": RECORDED}
    if FLUID.exists():
        columns["FluidR3"] = measured(FLUID, plain=True)
    columns["before"] = BEFORE
    columns["ours"] = measured(font)
    return table(columns)


def mandolins(font: Path, program: int = 25) -> str:
    """The mandolin's two figures: between the partials at 40 ms, peak over loudness."""
    player = ear.Player(font, program=program)
    found = [
        vr.heard(player.note(key + fret, vr.FORTE, bank(0, string), held_s=2.0), key + fret)
        for string, key in ((4, 55), (3, 62), (2, 69), (1, 76))
        for fret in range(13)
    ]
    player.close()
    low = [note.between_db[2] for note in found if note.key < vr.REGISTERS["mid"][1]]
    ours = (float(np.median(low)), float(np.median([note.crest_db for note in found])))
    rows = {**MANDOLIN, "ours": ours}
    lines = ["| mandolin | " + " | ".join(rows) + " |", "|---" * (len(rows) + 1) + "|"]
    for place, name in enumerate(("between partials at 40 ms, dB", "peak over loudness, dB")):
        lines.append(
            f"| {name} | " + " | ".join(f"{row[place]:.1f}" for row in rows.values()) + " |"
        )
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    print(side_by_side(Path(sys.argv[1]) if len(sys.argv) > 1 else voice_font("tenor-banjo")))
    print(mandolins(voice_font("mandolin")))
