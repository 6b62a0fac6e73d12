"""The words of the trade one by one, what fingers do and what moves are called."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import pytest
from neck_players import MEDIUM, TENOR

from accomp.errors import InputError
from accomp.files.text import frets_text
from accomp.harmony import Key, parse_chord
from accomp.neck import shape_at
from accomp.neck.bass import bass_has, left_to_the_bass
from accomp.neck.fingers import (
    FingerMove,
    brief_moves,
    finger_moves,
    hand_words,
    held_strings,
    lifted,
)
from accomp.neck.keys import KeyPosition, KeyPositions, with_slides
from accomp.neck.moves import Derivation, Move, move_words, read_moves
from accomp.neck.naming import (
    degree_name,
    finger_name,
    frets_word,
    left_out,
    number_word,
    numeral,
    ordinal,
    read_frets,
    spoken,
    string_name,
)
from accomp.neck.plan import Plan


def test_numbers_in_words_up_to_twelve_and_figures_beyond() -> None:
    ordinals = "first second third fourth fifth sixth seventh eighth ninth tenth eleventh twelfth"
    assert [ordinal(n) for n in range(1, 14)] == [*ordinals.split(), "13th"]
    assert [string_name(n) for n in (1, 12, 13)] == [
        "first string",
        "twelfth string",
        "13th string",
    ]
    numbers = "no one two three four five six seven eight nine ten eleven twelve"
    assert [number_word(n) for n in range(15)] == [*numbers.split(), "13", "14"]
    assert [frets_word(n) for n in range(3)] == ["no frets", "one fret", "two frets"]
    assert [finger_name(n) for n in range(5)] == ["no finger", "index", "middle", "ring", "little"]
    names = {"1": "root", "b2": "second", "#4": "fourth", "bb7": "seventh", "b13": "thirteenth"}
    assert {degree: degree_name(degree) for degree in names} == names
    assert degree_name("15") == "15"


@pytest.mark.parametrize(
    ("given", "frets"),
    [
        ("0 2 3 3", (0, 2, 3, 3)),
        ("x 99 0 x", (None, 99, 0, None)),
        ("0 2 3", None),
        ("0 2 3 3 3", None),
        ("x x x x", None),
        ("0 2 3 100", None),
        ("0 2 3 -1", None),
        ("0 2 3 X", None),
        ("", None),
        ([0, 99, 3, 3], (0, 99, 3, 3)),
        ([0, 2, 3, 100], None),
        ([0, 2, 3, -1], None),
        ([0, 2, 3, True], None),
        ([0, 2, 3, 3.0], None),
        ([0, 2, 3], None),
        (233, None),
    ],
)
def test_frets_as_players_write_them(given: object, frets: object) -> None:
    assert read_frets(given, 4) == frets
    if frets is not None and isinstance(given, str):
        assert frets_text(frets) == given


# The numeral and what a band says, in C or A minor, by the scale of the key.
PLACES = [
    ("C", "C", "I", "one"),
    ("C", "Dm7", "ii7", "two minor seven"),
    ("C", "Bb7", "bVII7", "flat seven seven"),
    ("C", "F#dim7", "#ivdim7", "sharp four diminished seven"),
    ("C", "G7/D", "V7/2", "five seven over two"),
    ("C", "C/Bb", "I/b7", "one over flat seven"),
    ("C", "Cmaj7", "Imaj7", "one major seven"),
    ("C", "Am(maj7)", "vi(maj7)", "six minor, major seven"),
    ("C", "E7b9", "III7b9", "three seven flat nine"),
    ("C", "Csus4", "Isus4", "one suspended fourth"),
    ("C", "G9sus4", "V9sus4", "five nine suspended fourth"),
    ("C", "Gmaj7sus4", "Vmaj7sus4", "five major seven suspended fourth"),
    ("C", "Cadd9", "Iadd9", "one add nine"),
    ("C", "C7#11", "I7#11", "one seven sharp eleven"),
    ("C", "Cmin", "i", "one minor"),
    ("C", "C-7", "i7", "one minor seven"),
    ("C", "Cb", "bI", "flat one"),
    ("C", "C#", "#I", "sharp one"),
    ("Am", "C", "III", "three"),
    ("Am", "E7", "V7", "five seven"),
    ("Am", "G#dim", "#viidim", "sharp seven diminished"),
    ("C", "C5", "I5", "one power chord"),
    ("C", "Cno5", "Ino5", "one no five"),
]


@pytest.mark.parametrize(("key", "symbol", "written", "said"), PLACES)
def test_a_chords_place_in_the_key(key: str, symbol: str, written: str, said: str) -> None:
    chord, of = parse_chord(symbol), Key.parse(key)
    assert (numeral(chord, of), spoken(chord, of)) == (written, said)


def test_what_is_left_out_and_why_nobody_misses_it() -> None:
    c9 = parse_chord("C9")
    assert left_out(("3", "b7", "9"), c9) == (
        "no root: the bass has it", "no fifth: it is missed least",
    )  # fmt: skip
    assert left_out(("1", "3", "5", "9", None), c9) == ("no seventh: it may be left out",)
    assert left_out(("1", "3", "5", "b7", "9"), c9) == ()


def at(symbol: str, frets: str):
    row = read_frets(frets, 4)
    found = shape_at(row, parse_chord(symbol), TENOR, MEDIUM.with_reach(120), mute=True)
    assert found is not None
    return found


def test_what_the_bass_has() -> None:
    pairs = [("C", "0 0 2 3"), ("F/G", "0 2 3 3"), ("C7", "4 3 5 7"), ("F/C", "0 2 3 3")]
    given = [(parse_chord(symbol), at(symbol, frets)) for symbol, frets in pairs]
    assert [str(left_to_the_bass(*pair)) for pair in given] == ["None", "G", "C", "None"]
    assert bass_has(given) == ["The bass has the G of F/G and the C of C7."]
    assert bass_has(given * 2) == bass_has(given)  # once
    assert bass_has(given[:1]) == []
    assert bass_has(given[1:2], lambda chord: f"<{chord}>") == ["The bass has the <G> of <F/G>."]


# Fingers


def test_what_a_finger_does_in_whole_clauses() -> None:
    def words(does: str, strings: tuple[int, ...], before: int, to: int, *others: int) -> str:
        return FingerMove(1, does, strings, before, to, others).words(4)

    assert words("stays", (0,), 3, 3) == "index finger stays on the fourth string"
    assert words("stays", (0, 3), 3, 3) == "index finger stays on the fourth and first strings"
    assert words("takes over", (1,), 3, 3, 2) == (
        "index finger takes over on the third string from the middle finger"
    )
    assert words("takes over", (1, 2), 3, 3, 2, 3) == (
        "index finger takes over on the third and second strings from the middle and ring finger"
    )
    assert words("lifts", (2,), 5, 0) == "index finger lifts from the second string"
    assert (
        words("comes down", (3,), 0, 7) == "index finger comes down on the first string at fret 7"
    )
    assert words("comes down", (2, 3), 0, 7) == (
        "index finger lies down on the second and first strings at fret 7"
    )
    assert words("slides", (3,), 5, 7) == (
        "index finger slides two frets up on the first string to fret 7"
    )
    assert words("slides", (3,), 5, 4) == (
        "index finger slides one fret down on the first string to fret 4"
    )
    assert [hand_words(n) for n in (0, 1, -2)] == [
        "the hand stays", "the hand goes one fret up", "the hand goes two frets down",
    ]  # fmt: skip


def test_moves_in_as_few_words_as_go_with_pictures() -> None:
    moves = [
        FingerMove(1, "stays", (0,), 3, 3),
        FingerMove(2, "slides", (1,), 4, 6),
        FingerMove(3, "slides", (2,), 5, 6),
        FingerMove(4, "comes down", (3,), 0, 8),
    ]
    assert brief_moves(moves, 2, 4) == [
        "index stays", "middle slides along", "ring slides one fret up",
        "little goes to the first string",
    ]  # fmt: skip
    more = [
        FingerMove(1, "stays", (0,), 3, 3),
        FingerMove(2, "stays", (1,), 3, 3),
        FingerMove(3, "slides", (2,), 5, 4),
        FingerMove(4, "slides", (3,), 5, 4),
    ]
    assert brief_moves(more, -1, 4) == ["index and middle stay", "ring and little slide along"]
    assert brief_moves(more, 0, 4)[1:] == [
        "ring slides one fret down",
        "little slides one fret down",
    ]
    rest = [
        FingerMove(1, "comes down", (0, 1), 0, 2),
        FingerMove(2, "comes down", (2,), 0, 3),
        FingerMove(3, "comes down", (3,), 0, 4),
        FingerMove(4, "lifts", (3,), 5, 0),
        FingerMove(4, "takes over", (3,), 5, 5, (1, 2)),
    ]
    assert brief_moves(rest, 0, 4) == [
        "little takes over from index and middle",
        "index lies across the fourth and third strings",
        "middle goes to the second string, ring to the first",
        "little lifts",
    ]
    assert brief_moves([], 0, 4) == []
    assert brief_moves(
        [FingerMove(3, "lifts", (1,), 5, 0), FingerMove(4, "lifts", (3,), 5, 0)], 0, 4
    ) == ["ring and little lift"]


SHAPES = [
    ("C", "0 0 2 3"), ("C7", "0 0 2 1"), ("F", "0 2 3 3"), ("F", "5 5 7 8"), ("C", "4 5 5 7"),
    ("G7", "2 0 3 2"), ("C", "7 9 10 10"), ("G7", "7 7 9 8"), ("C7", "4 3 5 3"), ("G", "7 4 5 5"),
]  # fmt: skip


def test_every_finger_is_told_of_once_by_the_rules() -> None:
    """The rules of the conventions, string by string."""
    for one, other in product(SHAPES, repeat=2):
        here, there = at(*one), at(*other)
        same = [
            i for i in range(4) if here.frets[i] is not None and here.frets[i] == there.frets[i]
        ]
        assert list(held_strings(here, there)) == same
        told = {(move.finger, move.does == "lifts"): move for move in finger_moves(here, there)}
        covered: set[int] = set()
        for finger in range(1, 5):
            on = tuple(i for i in range(4) if there.fingers[i] == finger)
            before = tuple(i for i in range(4) if here.fingers[i] == finger)
            if on:
                move = told[finger, False]
                slid = [here.frets[i] for i in on if i in before and i not in same]
                others = {here.fingers[i] for i in on} - {finger}
                if set(on) <= set(same):
                    covered |= set(on)
                    expected = "takes over" if others else "stays"
                else:
                    expected = "slides" if slid else "comes down"
                start = {"slides": (slid or [0])[0], "comes down": 0}.get(
                    expected, there.frets[on[0]]
                )
                assert (move.does, move.strings) == (expected, on), (one, other)
                assert (move.from_fret, move.to_fret) == (start, there.frets[on[0]])
        gone = [
            (finger, tuple(i for i in range(4) if here.fingers[i] == finger))
            for finger in range(1, 5)
            if finger in here.fingers and finger not in there.fingers
        ]
        assert lifted(here, there) == [row for row in gone if not set(row[1]) <= covered]


# Moves of single notes


def test_a_move_in_words() -> None:
    assert move_words(Move(1, -2, "1", "b7"), 4) == (
        "the root on the third string goes two frets down and becomes the seventh"
    )
    assert move_words(Move(3, 1, "5", "#5"), 4) == "the fifth on the first string goes one fret up"


def test_how_a_shape_is_made_in_one_sentence() -> None:
    c = (4, 5, 5, 7)
    plain = Derivation("C 4 5 5 7", "C", c)
    assert plain.words("C") == "C 4 5 5 7 is one of the first shapes."
    assert plain.words("Am7") == "Am7 4 5 5 7 is the shape C 4 5 5 7 itself."
    up = Derivation("C 4 5 5 7", "D", (6, 7, 7, 9), up=2)
    assert up.words("D") == "D 6 7 7 9 is the shape C 4 5 5 7, two frets up."
    down = Derivation("D 6 7 7 9", "C", c, up=-1)
    assert down.words("C") == "C 4 5 5 7 is the shape D 6 7 7 9, one fret down."
    like = replace(plain, alike="Ddim7")
    assert like.words("Bdim7").startswith("Bdim7 4 5 5 7 (the same tones as Ddim7) is the shape")
    seventh, fifth = Move(1, -2, "1", "b7"), Move(3, 1, "5", "#5")
    made = replace(plain, moves=(seventh,))
    assert made.result == (4, 3, 5, 7)
    assert made.words("C7") == (
        "C7 4 3 5 7 is made from C 4 5 5 7: "
        "the root on the third string goes two frets down and becomes the seventh."
    )
    assert (
        replace(up, moves=(seventh,))
        .words("D7")
        .startswith("D7 6 5 7 9 is made from D 6 7 7 9 (C 4 5 5 7, two frets up): the root")
    )
    eased = replace(made, eased=(fifth,))
    assert (eased.wide, eased.result) == ((4, 3, 5, 7), (4, 3, 5, 8))
    assert eased.words("C7#5").endswith(
        "becomes the seventh; 4 3 5 7 would be a wide stretch, so "
        "the fifth on the first string goes one fret up."
    )
    only = replace(plain, eased=(fifth,))
    assert ": 4 5 5 7 would be a wide stretch, so the fifth" in only.words("C+")
    back = Move(1, 2, "b7", "1")
    assert made.then((back,)).moves == ()  # a string that comes back stays
    assert eased.then((Move(1, -1, "b7", "6"),)).moves == (Move(1, -3, "1", "6"), fifth)


def test_a_row_of_moves_stands_below_what_it_is_made_from(tmp_path) -> None:
    path = tmp_path / "moves.toml"
    path.write_text(
        '[[chord]]\nname = "seven"\ntones = "1 3 5 b7"\nfrom = "major"\n'
        'moves = ["one 1 down 2", "every b3 up 10 without 5"]\n'
    )
    with pytest.raises(InputError) as caught:
        read_moves(path)
    (problem,) = caught.value.problems
    assert (problem.line, problem.column, problem.found) == (4, 8, "major")
    assert str(problem).endswith(
        "'major' is made nowhere above. Move it down, or correct the name."
    )
    path.write_text('[[chord]]\nname = "major"\ntones = "1 3 5"\n' + path.read_text())
    first, second = (rule for row in read_moves(path).rows for rule in row.rules)
    assert (first.every, first.degree, first.frets, first.without) == (False, "1", -2, "")
    assert (second.every, second.degree, second.frets, second.without) == (True, "b3", 10, "5")


# Slides


def test_a_slide_is_marked_with_the_lowest_of_its_kind() -> None:
    def plan(name: str, *frets: str) -> Plan:
        return Plan(
            name, tuple(at(symbol, row) for symbol, row in (text.split(":") for text in frets)), 0.0
        )

    low = plan("root-top", "F:5 5 7 8", "C:7 9 10 10")
    high = plan("third-top", "G:7 7 9 10", "D:9 11 12 12")
    other = plan("fifth-top", "G:7 7 9 10", "C:7 9 10 10")
    loose = plan("open", "C:0 0 2 3")
    rows = [
        KeyPositions(Key.parse(key), (), tuple(map(KeyPosition, plans)))
        for key, plans in (("G", (high, other, loose)), ("F", (low, loose)))
    ]
    marked = with_slides(rows)
    assert [[one.slid_from for one in row.positions] for row in marked] == [
        [("F", "root-top"), None, None], [None, None],
    ]  # fmt: skip
