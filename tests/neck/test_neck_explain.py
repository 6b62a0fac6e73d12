"""The lesson in words, whole: one position from the first line to the last, and what comes back."""

from __future__ import annotations

from neck_players import TEACHER, TENOR, chords

from accomp.harmony import Key
from accomp.neck import Neck, lesson
from accomp.neck.explain import explain

SONG = chords("C G7 C C7 F C G7 C")
PLANS = Neck(TEACHER, tuple(SONG), SONG[0]).positions()
# By the weights of the package; where they change, the costs in here do.
WHOLE = """
Say the chords by their place in the key:
  C: one (I)
  G7: five seven (V7)
  C7: one seven (I7)
  F: four (IV)

root-top, frets 1 to 3, open strings.

  C 0 0 2 3 is one of the first shapes. This grip is C and Am7 without root. Four times.
  G7 2 0 3 2 is the shape G7 grip itself. Twice.
  C7 0 0 2 1 is made from C 0 0 2 3: the root on the first string goes two frets down and becomes the seventh. Once.
  F 0 2 3 3 is one of the first shapes. This grip is F and Dm7 without root. Once.

  Families: four (C 0 0 2 3, G7 2 0 3 2, C7 0 0 2 1, F 0 2 3 3).

  Changes, the hardest first:
  1. C7 0 0 2 1 to F 0 2 3 3, bar 5 (cost 2.0): the hand goes one fret up; index finger comes down on the third string at fret 2; middle finger slides one fret up on the second string to fret 3; ring finger comes down on the first string at fret 3. Sounding on: fourth string.
  2. C 0 0 2 3 to C7 0 0 2 1, bar 4 (cost 1.5): the hand goes one fret down; index finger comes down on the first string at fret 1; middle finger takes over on the second string from the index finger. Sounding on: fourth, third and second strings.
  3. C 0 0 2 3 to G7 2 0 3 2, bars 2, 7 (cost 0.9): index finger comes down on the fourth string at fret 2; middle finger slides one fret down on the first string to fret 2; ring finger comes down on the second string at fret 3. Sounding on: third string.
  4. G7 2 0 3 2 to C 0 0 2 3, bars 3, 8 (cost 0.7): index finger comes down on the second string at fret 2; middle finger slides one fret up on the first string to fret 3; ring finger lifts from the second string. Sounding on: third string.
  5. F 0 2 3 3 to C 0 0 2 3, bar 6 (cost 0.4): index finger comes down on the second string at fret 2; middle finger takes over on the first string from the ring finger. Sounding on: fourth and first strings.

  Drill first: C7 to F, C to C7 and C to G7, to and fro, slowly, then in the tune.

  Cost 13.4: fingers 3.8, put down 3.0, shift 2.0, stretch 1.7, voices 0.8, slid 0.8, height 0.7, top 0.5, lifted 0.2.

No shape comes back.
"""  # noqa: E501

HEADS = [
    "Families: four (C 0 0 2 3, G7 2 0 3 2, C7 0 0 2 1, F 0 2 3 3).",
    "Families: four (C 4 5 5 7, G7 2 4 3 5, C7 4 3 5 3, C 0 0 2 3).",
    "New: three (C 4 5 5 7, G7 2 4 3 5, C7 4 3 5 3).",
    "Families: four (F 0 2 3 3, C7 0 0 2 1, G7 2 4 3 5, C 0 0 2 3).",
    "New: none.",
    "Families: four (C 0 0 2 3, C7 4 3 5 3, C7 0 0 2 1, F 0 2 3 3).",
    "New: none.",
]


def lines(count: int, comfort_mm: float = 80.0) -> list[str]:
    taught = lesson(PLANS[:count], SONG, Key.parse("C"), TEACHER.cost_model())
    return explain(taught, TENOR, list(range(1, 9)), comfort_mm=comfort_mm)


def test_a_lesson_of_one_position_whole() -> None:
    assert "\n".join(lines(1)) == WHOLE.strip("\n")


def test_what_comes_back_over_all_positions() -> None:
    found = lines(4)
    assert found[found.index("One shape, several chords:") + 1 :] == [
        "  C 0 0 2 3: C in root-top, F in third-top, F in fifth-top and C in root-top-high",
        "  C7 0 0 2 1: C7 in root-top, G7 in fifth-top and C7 in root-top-high",
        "  F 0 2 3 3: F in root-top, C in fifth-top and F in root-top-high",
        "  G7 2 4 3 5: G7 in third-top and C7 in fifth-top",
        "  C7 4 3 5 3: C7 in third-top and G7 in root-top-high",
    ]
    heads = [line.strip() for line in found if line.startswith(("  Families:", "  New:"))]
    assert heads == HEADS


def test_a_wide_stretch_is_warned_of_where_it_is_beyond_comfort() -> None:
    widest = PLANS[0].stretch_mm
    told = f"  The widest stretch is {widest:.0f} mm. Go slowly"
    assert any(line.startswith(told) for line in lines(1, widest - 0.1))
    assert not any(line.startswith("  The widest") for line in lines(1, widest))
