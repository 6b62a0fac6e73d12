"""The right hand under the chords of a bar: which strokes sound them, on which strings, and what
becomes of strokes and notes that meet."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from played import FLAT, arranged, pattern, performed, style, tune

from accomp.rhythm import BandNote, BandPattern, Pattern, Stroke, jitter
from accomp.rhythm.drift import straying
from accomp.rhythm.passage import Passage
from accomp.score.arrangement import Arrangement, BandStroke, MelodyStroke
from accomp.score.performance import Performance, Track
from accomp.score.shape import shape_db, velocity_at
from accomp.time import Span

C, F, G7 = "0 0 2 3", "0 2 3 3", "2 0 3 2"
WHOLE, HALF = Fraction(1), Fraction(1, 2)
LETTER = {"ring": "", "choked": "c", "dead": "d", "heel": "h"}


def strokes(text: str, length: Fraction = WHOLE) -> Pattern:
    """A pattern as "0 ring, 1/2 rest up": start, sound or "rest", direction, strings, force."""
    rows = [row.split() for row in text.split(",") if row.strip()]
    starts = [Fraction(row[0]) for row in rows] + [length]
    made = []
    for row, start, end in zip(rows, starts, starts[1:], strict=False):
        stroke = Stroke(Span(start, end))
        for word in row[1:]:
            name = {"up": "direction", "rest": "technique", "split": "technique",
                    "heavy": "force", "accent": "force"}.get(word)  # fmt: skip
            name = name or ("sound" if word in LETTER else "strings")
            stroke = replace(stroke, **{name: word})
        made.append(stroke)
    return Pattern(length, tuple(made))


def heard(made: Arrangement) -> list[str]:
    """Each bar's strokes as "start-end chord", with the sound's letter, r for a rest, u for up and
    the force where it is not plain."""
    return [
        ", ".join(
            f"{s.span.start - bar.span.start}-{s.span.end - bar.span.start} {s.chord}"
            + ("r" if s.technique == "rest" else LETTER[s.sound])
            + "u" * (s.direction == "up")
            + ("" if s.force == "plain" else f" {s.force}")
            for s in bar.strums
        )
        for bar in made.bars
    ]


@pytest.mark.parametrize(
    ("hand", "bars", "expected"),
    [
        ("0 ring, 1/2 ring up", "| C F |", ["0-1/2 C, 1/2-1 Fu"]),
        # no stroke falls under F: it gets one like the last before it
        ("0 ring, 1/4 ring up heavy", "| C F |", ["0-1/4 C, 1/4-1/2 Cu heavy, 1/2-1 Fu heavy"]),
        # the first stroke under F only clicks, or rests: it sounds instead
        ("0 ring, 1/2 dead, 3/4 dead", "| C F |", ["0-1/2 C, 1/2-3/4 F, 3/4-1 Fd"]),
        ("0 ring heavy, 1/2 rest", "| C F |", ["0-1/2 C heavy, 1/2-1 F heavy"]),
        # a rest later under F: the chord sounds before it
        ("0 ring, 3/4 rest", "| C F |", ["0-1/2 C, 1/2-3/4 F, 3/4-1 Fr"]),
        ("0 ring, 3/4 dead, 7/8 rest", "| C F |", ["0-1/2 C, 3/4-7/8 F, 7/8-1 Fr"]),
        # a stroke that sounds later is enough
        ("0 ring, 1/2 dead, 3/4 ring", "| C F |", ["0-1/2 C, 1/2-3/4 Fd, 3/4-1 F"]),
        # one that opens with a click is like the first that sounds
        ("0 dead, 1/4 ring up", "| C F C F |", ["0-1/4 Cu, 1/4-1/2 Fu, 1/2-3/4 Cu, 3/4-1 Fu"]),
        ("0 dead, 1/2 dead", "| C F |", ["0-1/2 Cd, 1/2-1 Fd"]),  # it only clicks, and stays so
        ("0 rest", "| C |", ["0-1 Cr"]),
        ("1/4 dead", "| C F |", ["1/4-1/2 Cd, 1/2-1 Fd"]),
        # what is only carried over the bar line needs none
        ("0 ring, 1/4 ring, 5/4 ring", "| C | / |", ["0-1/4 C, 1/4-1 C", "1/4-1 C"]),
        ("0 ring", "| N.C. C |", ["1/2-1 C"]),
        ("", "| C F |", [""]),  # a hand that does nothing
    ],
)
def test_every_written_chord_is_heard(hand: str, bars: str, expected: list[str]) -> None:
    length = Fraction(2) if "5/4" in hand else WHOLE
    shapes = {"C": C, "F": F}
    chords = [word for word in bars.split() if word in shapes]
    made = arranged(tune(bars), style(strokes(hand, length)), *(shapes[chord] for chord in chords))
    assert heard(made) == expected


def test_in_stop_time_a_chord_has_the_first_hit_of_the_break() -> None:
    stop = Passage("break", bars=(1, 2), phrase=2, strum=strokes("0 choked accent, 1/8 rest"))
    made = arranged(tune("| C F | F / G7 / |"), style(FLAT, passages=(stop,)), C, F, G7)
    assert heard(made)[:2] == [
        "0-1/8 Cc accent, 1/8-1/2 Cr, 1/2-1 Fc accent",
        "0-1/8 Fc accent, 1/8-1/2 Fr, 1/2-1 G7c accent",
    ]
    late = Passage("break", bars=(1, 2), phrase=2, strum=strokes("1/2 choked"))
    made = arranged(tune("| C | C F |"), style(FLAT, passages=(late,)), C, F)
    assert heard(made) == ["1/2-1 Cc", "1/2-1 Fc"]  # C goes on from before: the hole stays


def low(made: Arrangement) -> str:
    """The lowest string of each stroke, as players number them."""
    return " | ".join("".join(str(4 - s.strings[0]) for s in bar.strums) for bar in made.bars)


# C has its root on string 4 and its fifth on string 3.
@pytest.mark.parametrize(
    ("starts", "bars", "expected"),
    [
        (("0",), "| C | / | / |", "4 | 3 | 4"),  # on over the bar line, one a bar
        (("0", "1/2"), "| C | / |", "43 | 43"),
        (("0", "1/4", "1/2"), "| C | / |", "434 | 434"),  # several in a bar: it begins anew
        (
            ("0",),
            "| C | F | C | / |",
            "4 | 4 | 4 | 3",
        ),  # each chord begins anew; F has its fifth there
        (("0", "1/2"), "| C F | C |", "44 | 43"),
    ],
)
def test_low_strokes_alternate_from_each_chord_on(
    starts: tuple[str, ...], bars: str, expected: str
) -> None:
    hand = pattern(WHOLE, *((start, "ring", "down", "low1") for start in starts))
    shapes = {"C": C, "F": "0 2 3 3"}
    chords = [word for word in bars.split() if word in shapes]
    made = arranged(tune(bars), style(hand), *(shapes[chord] for chord in chords))
    assert low(made) == expected


def test_low_strokes_begin_anew_with_each_section_and_turn_round_on_the_way_up() -> None:
    hand = pattern(WHOLE, ("0", "ring", "down", "low2"))
    made = arranged(tune("| C | / | / |", head='form = ["A", "A"]'), style(hand), C)
    assert low(made) == "4 | 3 | 4 | 4 | 3 | 4"
    up = pattern(WHOLE, ("0", "ring", "up", "low2"))
    (stroke,) = arranged(tune("| C |"), style(up), C).bars[0].strums
    assert stroke.strings == (1, 0)


def test_drums_stop_on_the_chords_together_and_are_as_loud_as_their_bar() -> None:
    places = (("0", "bass-drum"), ("0", "hat"), ("1/8", "snare"))
    quiet = BandPattern(WHOLE, tuple(BandNote(Fraction(at), what) for at, what in places))
    build = Passage("break", bars=(1,), phrase=1, drums=quiet, strum=FLAT, louder=1)
    made = arranged(tune("| C F | / G7 |"), style(FLAT, passages=(build,)), C, F, G7)
    found = [
        [(str(n.span.start), n.pitch, n.force) for n in bar.drums] for bar in made.bars[:2]
    ]  # kick 36 and closed hat 42 in General MIDI
    first = [[(start, 36, "heavy"), (start, 42, "heavy")] for start in ("0", "1/2", "1", "3/2")]
    snare = [[(start, 38, "heavy")] for start in ("1/8", "9/8")]
    assert found == [first[0] + snare[0] + first[1], first[2] + snare[1] + first[3]]


# Notes of the band


def band(made: Arrangement) -> dict[str, Track]:
    return {track.name: track for track in performed(made).tracks}


def with_bass(*notes: tuple[str, str, int]) -> Arrangement:
    made = arranged(tune("| C |"), style(FLAT), C)
    line = tuple(
        BandStroke(Span(Fraction(a), Fraction(b)), pitch, "plain") for a, b, pitch in notes
    )
    return replace(made, bars=(replace(made.bars[0], bass=line),))


def test_of_two_notes_of_one_pitch_the_earlier_gives_way() -> None:
    made = with_bass(("0", "1", 40), ("1/2", "1", 40), ("1/4", "1/2", 43), ("1/2", "1", 43))
    notes = band(made)["Bass"].notes
    assert [(n.start_s, n.end_s, n.pitch) for n in notes] == [
        (0.0, 1.0, 40), (0.5, 1.0, 43), (1.0, 2.0, 40), (1.0, 2.0, 43),
    ]  # fmt: skip
    twice = with_bass(("0", "1", 40), ("0", "1/2", 40))  # two at once are one
    assert [(n.start_s, n.end_s) for n in band(twice)["Bass"].notes] == [(0.0, 1.0)]


def test_tracks_have_their_players_channels_and_levels() -> None:
    comping = BandPattern(WHOLE, (BandNote(Fraction(0), "chord"),), "piano")
    bass = BandPattern(WHOLE, (BandNote(Fraction(0), "root"),))
    drums = BandPattern(WHOLE, (BandNote(Fraction(0), "bass-drum"),))

    def tracks(**more: object) -> list[tuple[str, int, tuple[int, ...], int, int]]:
        made = arranged(tune("| C |"), style(FLAT, bass=bass, drums=drums, **more), C)
        line = (MelodyStroke(Span(Fraction(0), WHOLE), 72),)
        played = performed(replace(made, melody=line), 1).tracks
        return [(t.name, t.program, t.channels, t.level, t.pan) for t in played]

    player = ("Tenor banjo", 105, (0, 1, 2, 3), 78, 41)
    click = ("Count-in", 0, (9,), 120, 64)
    assert tracks(comping=comping) == [
        player,
        ("Bass", 32, (10,), 100, 64),
        ("Piano", 0, (11,), 96, 80),
        ("Drums", 0, (9,), 100, 66),
        ("Melody", 71, (15,), 88, 64),
        click,
    ]
    levels = {"accordion": 72, "tango-accordion": 72, "harmonica": 72, "nylon-guitar": 78,
              "jazz-guitar": 104, "rock-organ": 96}  # fmt: skip
    for name, level in levels.items():
        found = tracks(comping=replace(comping, player=name))[2]
        assert found[0] == name.replace("-", " ").capitalize()
        assert found[3] == level
    made = arranged(tune("| C |"), style(FLAT, drums=replace(drums, player="brushes")), C)
    assert [(t.name, t.program) for t in performed(made).tracks][1:] == [("Drums", 40)]


def test_a_melody_is_played_but_for_what_comes_before_the_file_begins() -> None:
    made = arranged(tune("| C |"), style(FLAT), C)
    line = (
        MelodyStroke(Span(Fraction(-1, 4), Fraction(0)), 67),
        MelodyStroke(Span(Fraction(0), HALF), 72),
    )

    def notes(count_in: int) -> list[tuple[float, float, int, int, int]]:
        found: Performance = performed(replace(made, melody=line), count_in)
        track = next(track for track in found.tracks if track.role == "melody")
        return [(n.start_s, n.end_s, n.pitch, n.velocity, n.channel) for n in track.notes]

    assert notes(0) == [(0.0, 1.0, 72, 84, 10)]
    assert notes(1) == [(1.5, 2.0, 67, 84, 10), (2.0, 3.0, 72, 84, 10)]


def test_a_loose_player_of_the_band_is_late_and_loud_by_the_names_of_their_notes() -> None:
    bass = BandPattern(WHOLE, (BandNote(Fraction(0), "root"), BandNote(HALF, "fifth")))
    kit = BandPattern(WHOLE, (BandNote(HALF, "snare"), BandNote(HALF, "hat")))
    loose = style(FLAT, bass=bass, drums=kit, jitter_ms=9.0, jitter_force=6.0)
    made = replace(arranged(tune("| C | / |"), loose, C), seed=4)
    tracks = {track.name: track.notes for track in performed(made, 1).tracks}
    for part, name in (("bass", "Bass"), ("drums", "Drums")):
        found = sorted((n.start_s, n.pitch, n.velocity) for n in tracks[name])
        expected = []
        for bar, db in zip(made.bars, shape_db(made.bars), strict=True):
            for stroke in getattr(bar, part):
                moment = stroke.span.start - bar.span.start
                late = straying(4, part, bar.address, moment, WHOLE)
                names = (4, part, bar.address, moment, stroke.pitch if part == "drums" else 0)
                if part == "drums":  # hands and feet come apart
                    late += 0.6 * jitter(*names, "time")
                due_s = 2.0 + 2.0 * float(stroke.span.start)
                length_s = 2.0 * float(stroke.span.duration)
                loud = velocity_at(80, db) + 6.0 * jitter(*names, "force")
                start_s = due_s + min(0.009 * late, length_s / 4)
                expected.append((pytest.approx(start_s), stroke.pitch, round(loud)))
        assert found == sorted(expected, key=lambda row: row[0].expected)


def test_a_roll_takes_three_fifths_of_its_time_at_most() -> None:
    hand = Pattern(Fraction(1, 8), (Stroke(Span(Fraction(0), Fraction(1, 8)), technique="roll"),))
    notes = performed(arranged(tune("| C |"), style(hand), C)).tracks[0].notes
    first = sorted(note.start_s for note in notes)[:4]
    assert first == pytest.approx([0.25 * 0.6 * n / 3 for n in range(4)], rel=1e-9)
