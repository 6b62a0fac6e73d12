import re
from collections import Counter

import pytest

from accomp.harmony import parse_chord
from accomp.neck import Player, Vocabulary, find_hand, find_instrument, find_repertoire, propose
from accomp.neck.moves import default_moves, read_moves

TENOR = find_instrument("tenor-banjo")
MEDIUM = find_hand("medium")
TEACHER = Vocabulary(find_repertoire(TENOR), TENOR, MEDIUM)
ROOTS = "C Db D Eb E F F# G Ab A Bb B".split()
STRINGS = {"first": 1, "second": 2, "third": 3, "fourth": 4, "fifth": 5, "sixth": 6}
NUMBERS = {
    word: n
    for n, word in enumerate(
        "no one two three four five six seven eight nine ten eleven twelve".split()
    )
}


def known(symbol, vocabulary=TEACHER):
    return {str(one.shape): one for one in vocabulary.shapes(parse_chord(symbol))}


def told_frets(words):
    """The frets of "C 0 0 2 3, five frets up", and of a shape with a name of its own."""
    words = words.replace("G7 grip", "G7 2 0 3 2")
    match = re.fullmatch(r"\S+ ([\d ]+)(?:, (\w+) frets? (up|down))?", words)
    count = NUMBERS[match[2]] if match[2] in NUMBERS else int(match[2] or 0)
    away = count if match[3] == "up" else -count
    return [str(int(fret) + away) for fret in match[1].split()]


def read_back(words):
    """The frets that a sentence starts from, and those it ends at when its moves are made."""
    itself = re.fullmatch(
        r"\S+ ([\dx ]+) is (?:one of the first shapes|the shape (?:.+ itself|(.+)))\.", words
    )
    if itself:
        if itself[2]:
            assert told_frets(itself[2]) == itself[1].split()
        return itself[1].split(), itself[1].split()
    start = re.search(r"is made from \S+ ((?:x|\d+)(?: (?:x|\d+))*)(?: \((.+?)\))?:", words)
    if start[2] and start[2] != "G7 grip":
        assert told_frets(start[2]) == start[1].split()
    start = start[1].split()
    frets = list(start)
    moves = re.findall(r"the \w+ on the (\w+) string goes (\w+) frets? (up|down)", words)
    assert moves
    for string, count, way in moves:
        index = len(frets) - STRINGS[string]
        step = NUMBERS[count] * (1 if way == "up" else -1)
        frets[index] = str(int(frets[index]) + step)
    return start, frets


SUFFIXES = ("m 7 maj7 6 m7 m6 m7b5 dim7 + sus4 sus2 9 11 13 7b9 7#9 7#5 6/9 m9 7#5#9 add9").split()


@pytest.mark.many(6, 99)
@pytest.mark.parametrize("suffix", ["", *SUFFIXES])
def test_the_words_read_back_lead_to_the_shape(suffix):
    count = 0
    for root in ROOTS:
        symbol = root + suffix
        for frets, one in known(symbol).items():
            words = one.derivation.words(symbol)
            start, end = read_back(words)
            assert " ".join(end) == frets, words
            assert [str(fret) for fret in one.derivation.frets] == start
            count += 1
    assert count >= 12


def base_degrees(one):
    """Degrees of the known shape that a derivation starts from, by its own chord."""
    chord = parse_chord(one.derivation.chord)
    return [
        chord.degree_of(pitch + fret)
        for pitch, fret in zip(TENOR.open_pitches, one.derivation.frets, strict=True)
    ]


def moved(one):
    """(degree in the known major shape, frets) of every string that moves."""
    degrees = base_degrees(one)
    pairs = zip(one.derivation.frets, one.derivation.wide, degrees, strict=True)
    return Counter((degree, b - a) for a, b, degree in pairs if a != b)


# Common practice, no source: what moves, and how far, from the major shape. The minor chords'
# sevenths and sixths move the third as well.
ONE_MOVE = [
    ("7", {("1", -2): 1}),
    ("maj7", {("1", -1): 1}),
    ("6", {("1", -3): 1}, {("5", 2): 1}),
]
EVERY = [("m", "3", -1), ("+", "5", 1), ("sus4", "3", 1), ("sus2", "3", -2)]


@pytest.mark.parametrize("row", ONE_MOVE, ids=lambda row: row[0])
def test_one_tone_moves(row):
    suffix, *ways = row
    for root in ROOTS:
        for one in known(root + suffix).values():
            if one.derivation.moves and not rooted(one, root):
                assert dict(moved(one)) in ways


def rooted(one, root):
    """Whether a shape is the form with the root of one that would be another triad: of the shape
    that its own moves make without the last, what was doubled has gone to the root."""
    back = [move for move in one.derivation.moves if move.after == "1"]
    if len(back) != 1 or one.shape.rootless:
        return False
    before = list(one.shape.frets)
    before[back[0].string] -= back[0].frets
    pitches = [pitch + fret for pitch, fret in zip(TENOR.open_pitches, before, strict=True)]
    sounding = {pitch % 12 for pitch in pitches}
    plain = [
        parse_chord(f"{name}{kind}").by_pc.keys() for name in ROOTS for kind in ("", "m")
        if parse_chord(name).root.pc != parse_chord(root).root.pc
    ]  # fmt: skip
    return sounding in plain and abs(back[0].frets) <= 4


# Common practice, no source: a seventh chord made by lowering a doubled root, with its root back.
@pytest.mark.parametrize(
    ("symbol", "frets"), [("Cm7", "3 3 5 3"), ("Cmaj7", "4 4 5 3"), ("Cm7b5", "3 3 4 3")]
)
def test_what_became_another_triad_has_its_root_again(symbol, frets):
    one = known(symbol)[frets]
    assert not one.shape.rootless
    assert not one.new
    assert "becomes the root" in one.derivation.words(symbol)


@pytest.mark.parametrize(("suffix", "degree", "frets"), EVERY)
def test_every_string_with_the_tone_moves(suffix, degree, frets):
    for root in ROOTS:
        for one in known(root + suffix).values():
            having = base_degrees(one).count(degree)
            assert dict(moved(one)) == {(degree, frets): having}


def test_the_seventh_is_never_made_from_another_tone_than_a_root():
    for root in ROOTS:
        for one in known(f"{root}7").values():
            for move in one.derivation.moves:
                assert (move.before, move.frets, move.after) == ("1", -2, "b7")


def test_half_diminished_and_diminished_follow_from_one_another():
    # m7b5 is m7 with every fifth down one; dim7 is m7b5 with the seventh down one.
    for root in ROOTS:
        minor = known(f"{root}m7")
        half = known(f"{root}m7b5")
        for frets, one in half.items():
            if one.derivation.eased:
                continue
            raised = [
                fret + (degree == "b5")
                for fret, degree in zip(one.shape.frets, one.shape.degrees, strict=True)
            ]
            text = " ".join(map(str, raised))
            assert text in minor or max(raised) - min(raised) > 4, (frets, raised)
        for one in known(f"{root}dim7").values():
            if one.derivation.eased:
                continue
            raised = [
                fret + (degree == "bb7")
                for fret, degree in zip(one.shape.frets, one.shape.degrees, strict=True)
            ]
            assert parse_chord(f"{root}m7b5").essential_pcs <= {
                (pitch + fret) % 12 for pitch, fret in zip(TENOR.open_pitches, raised, strict=True)
            }


def test_shapes_every_pupil_makes():
    # Common practice, no source: fourth string to first.
    for symbol, frets in [("C7", "0 0 2 1"), ("C7", "4 3 5 3"), ("G7", "2 4 3 5"), ("F", "5 5 7 8"),
                          ("Cm", "0 0 1 3"), ("Fm", "0 1 3 3"), ("D7", "2 2 4 3")]:  # fmt: skip
        assert frets in known(symbol), symbol
    assert "4 3 5 7" not in known("C7")


def test_the_wide_seventh_is_eased_and_says_so():
    one = known("C7")["4 3 5 3"]
    assert one.derivation.wide == (4, 3, 5, 7)
    words = one.derivation.words("C7")
    assert "4 3 5 7 would be a wide stretch" in words
    assert words.endswith(
        "the third on the first string goes four frets down and becomes the root."
    )
    assert not one.shape.rootless
    assert one.shape.top == "1"


def test_a_hand_that_is_comfortable_with_it_keeps_the_wide_seventh():
    from dataclasses import replace

    wide = replace(MEDIUM, comfort_mm=93.0)
    shapes = known("C7", Vocabulary(find_repertoire(TENOR), TENOR, wide))
    assert "4 3 5 7" in shapes
    assert "4 3 5 3" not in shapes


def test_a_movable_shape_goes_wherever_the_neck_has_room():
    assert {"0 0 2 3", "12 12 14 15", "4 5 5 7", "7 9 10 10"} == set(known("C"))
    assert {"2 2 4 5", "14 14 16 17", "6 7 7 9", "9 11 12 12"} == set(known("D"))
    assert {"0 1 1 3", "8 8 10 11", "3 5 6 6", "12 13 13 15", "15 17 18 18"} >= set(known("Ab"))
    assert "2 0 3 2" in known("G7")
    # The index finger stops the open string; moved it is a grip that has yet to be learnt.
    assert not known("G7")["2 0 3 2"].new
    assert known("A7")["4 2 5 4"].new
    assert known("Ab7")["3 1 4 3"].new
    assert not known("D7")["2 2 4 3"].new


@pytest.mark.many(1, 99)
@pytest.mark.parametrize("name", ["tenor-banjo", "plectrum-banjo", "mandolin", "ukulele", "guitar"])
def test_every_known_shape_sounds_its_essential_tones_and_no_other(name):
    one = find_instrument(name)
    vocabulary = Vocabulary(find_repertoire(one) or propose(one, MEDIUM), one, MEDIUM)
    for root in ROOTS[::3]:
        for suffix in ("", "m", "7", "m7b5", "dim7", "13", "7#9", "m9", "9sus4"):
            chord = parse_chord(root + suffix)
            essential = {tone.pc for tone in chord.tones if tone.essential}
            tones = {tone.pc for tone in chord.tones}
            for made in vocabulary.shapes(chord):
                pcs = {pitch % 12 for pitch in made.shape.pitches if pitch is not None}
                assert essential <= pcs <= tones
                assert made.derivation.result == made.shape.frets


def test_where_the_table_is_silent_the_fewest_moves_are_taken():
    table = default_moves()
    chord = parse_chord("Cmaj7#5")
    assert not table.making(frozenset(tone.degree for tone in chord.tones))
    # By hand: from C 4 5 5 7 the root goes one down and the fifth one up: two moves.
    made = known("Cmaj7#5")
    assert "4 4 6 7" in made
    assert all(len(one.derivation.moves) + len(one.derivation.eased) <= 4 for one in made.values())


def test_families_made_from_a_shape_that_does_not_move_are_named_by_it():
    guitar = find_instrument("guitar")
    vocabulary = Vocabulary(find_repertoire(guitar), guitar, MEDIUM)
    families = {str(one.shape): one.family for one in vocabulary.shapes(parse_chord("C7"))}
    assert families["x 1 2 0 1 0"] == "7 from C x 3 2 0 1 0"
    assert known("C7")["0 0 2 1"].family == "7 from C 0 0 2 3"


def test_every_row_of_the_table_is_used():
    for row in default_moves().rows:
        symbols = {"major": "C", "minor": "Cm", "augmented": "C+"}
        symbol = symbols.get(row.name, f"C{row.name}")
        chord = parse_chord(symbol)
        assert frozenset(tone.degree for tone in chord.tones) == row.tones, row.name
        assert TEACHER.shapes(chord), row.name


@pytest.mark.parametrize(
    ("text", "message", "line"),
    [
        ('[[chord]]\nname = "7"\ntones = "1 3 5 b7"\nfrom = "major"\nmoves = []\n',
         "'major' is made nowhere above", 4),
        ('[[chord]]\nname = "x"\ntones = "1 3"\nmoves = ["each 3 down 1"]\n',
         "each of 'moves' must be a move as", 4),
        ('[[chord]]\nname = 3\n', "'tones' is missing in [[chord]]", 1),
    ],
)  # fmt: skip
def test_a_wrong_table_of_moves_says_where(tmp_path, text, message, line):
    from accomp.errors import InputError

    path = tmp_path / "moves.toml"
    path.write_text(text)
    with pytest.raises(InputError) as caught:
        read_moves(path)
    problem = caught.value.problems[0]
    assert message in problem.message
    assert problem.line == line


def test_a_sixth_keeps_its_root():
    from accomp.neck.pools import Pools

    for suffix in ("6", "m6"):
        for root in ROOTS:
            chord = parse_chord(root + suffix)
            player = Player.on(TENOR, MEDIUM)
            pools = Pools(player, player.cost_model(), [chord], vocabulary="all")
            shapes = [one.shape for one in TEACHER.shapes(chord)]
            assert shapes
            for shape in (*shapes, *(one.shape for one in pools.of_all(chord))):
                assert not shape.rootless
                assert {"1", "6"} <= set(shape.degrees)


@pytest.mark.parametrize("symbol", ["C9", "C13", "Cm9", "Cmaj9", "C7b9", "C7#9", "C13b9"])
def test_chords_of_many_tones_keep_third_seventh_and_tension_and_say_what_is_left_out(symbol):
    from accomp.neck.inversions import inversions
    from accomp.neck.naming import left_out

    chord = parse_chord(symbol)
    tension = chord.tones[-1].degree
    for shape in (*inversions(chord, TENOR, MEDIUM), *(one.shape for one in TEACHER.shapes(chord))):
        sounding = set(shape.degrees)
        assert {"3", "b3"} & sounding
        assert {"7", "b7"} & sounding
        assert tension in sounding
        words = left_out(shape.degrees, chord)
        assert len(words) == len(chord.tones) - len(sounding)
        assert ("1" in sounding) != ("no root: the bass has it" in words)
        assert ("5" in sounding) != ("no fifth: it is missed least" in words)
