import pytest

from accomp.errors import InputError
from accomp.files.data import names, package_file
from accomp.harmony import Pitch, parse_chord
from accomp.neck import (
    Instrument,
    Player,
    Vocabulary,
    find_hand,
    find_instrument,
    find_repertoire,
    instrument_names,
    propose,
    read_repertoire,
)

MEDIUM = find_hand("medium")
TENOR = find_instrument("tenor-banjo")

PUPIL = """title = "Lesson one"
strings = ["C3", "G3", "D4", "A4"]

[[shape]]
chord = "C"
frets = "0 0 2 3"

[[shape]]
chord = "Dm7"
frets = [0, 2, 3, 3]
movable = false
"""


def written(tmp_path, text):
    path = tmp_path / "pupil.toml"
    path.write_text(text)
    return path


def test_what_every_beginner_of_the_tenor_learns_first():
    # Common practice, no source.
    shapes = {(str(s.chord), s.frets, s.movable) for s in find_repertoire(TENOR).shapes}
    assert shapes == {
        ("C", (0, 0, 2, 3), True),
        ("F", (0, 2, 3, 3), True),
        ("C", (4, 5, 5, 7), True),
        ("G7", (2, 0, 3, 2), True),
    }
    assert find_repertoire(TENOR).names == ("C 0 0 2 3", "F 0 2 3 3", "C 4 5 5 7", "G7 grip")


def test_what_a_ukulele_player_learns_first_is_known_and_makes_the_rest():
    # Common practice, no source: the open chords of the first lessons, fourth string to first.
    one = find_instrument("ukulele")
    vocabulary = Vocabulary(find_repertoire(one), one, MEDIUM)
    for symbol, frets in {
        "C": "0 0 0 3", "F": "2 0 1 0", "G": "0 2 3 2", "A": "2 1 0 0", "Am": "2 0 0 0",
        "Dm": "2 2 1 0", "G7": "0 2 1 2", "C7": "0 0 0 1", "A7": "0 1 0 0", "Gm": "0 2 3 1",
    }.items():  # fmt: skip
        shapes = {str(known.shape) for known in vocabulary.shapes(parse_chord(symbol))}
        assert frets in shapes, (symbol, shapes)


def test_the_same_tuning_has_the_same_repertoire():
    for name in ("tenor-banjo-19", "tenor-guitar"):
        assert find_repertoire(find_instrument(name)) == find_repertoire(TENOR)
    assert find_repertoire(ODD) is None


def test_a_pupils_own_file(tmp_path):
    repertoire = read_repertoire(written(tmp_path, PUPIL.replace("Dm7", "F")), TENOR)
    assert [(str(s.chord), s.movable) for s in repertoire.shapes] == [("C", True), ("F", False)]
    vocabulary = Vocabulary(repertoire, TENOR, MEDIUM)
    assert [str(one.shape) for one in vocabulary.shapes(parse_chord("F"))] == ["0 2 3 3", "5 5 7 8"]


def test_a_rootless_shape_may_be_known_by_two_names(tmp_path):
    # 0 2 3 3 sounds C A F C: F, and a D minor seventh without its root.
    repertoire = read_repertoire(written(tmp_path, PUPIL), TENOR)
    assert str(repertoire.shapes[1].chord) == "Dm7"


def test_lesson_by_lesson_the_known_shapes_grow(tmp_path):
    first = PUPIL[: PUPIL.rindex("[[shape]]")]
    second = first + '[[shape]]\nchord = "C"\nfrets = "4 5 5 7"\n'
    few = Vocabulary(read_repertoire(written(tmp_path, first)), TENOR, MEDIUM)
    more = Vocabulary(read_repertoire(written(tmp_path, second)), TENOR, MEDIUM)
    for symbol in ("C", "G7", "Am7", "Bm7b5"):
        before = {str(one.shape) for one in few.shapes(parse_chord(symbol))}
        after = {str(one.shape) for one in more.shapes(parse_chord(symbol))}
        assert before < after


@pytest.mark.parametrize(
    ("old", "new", "message", "line", "column"),
    [
        ("Dm7", "Am", "0 2 3 3 is not Am: fret 3 on string 2 is no tone of it", 10, 9),
        ('"0 0 2 3"', '"0 0 2 4"', "0 0 2 4 is not C: fret 4 on string 1 is no tone of it", 6, 9),
        ('"0 0 2 3"', '"0 0 10 3"', "0 0 10 3 is not C: E is missing", 6, 9),
        ('"0 0 2 3"', '"0 0 2"', "'frets' must be 4 frets from the highest", 6, 9),
        ('"0 0 2 3"', '"0 0 y 3"', "and this is '0 0 y 3'", 6, 9),
        ('"0 0 2 3"', "3", "and this is 3", 6, 9),
        ('"C"', '"H"', "'H' is not a chord symbol", 5, 9),
        ("false", '"no"', "'movable' must be true or false, and this is 'no'", 11, 11),
        ("title", "titel", "'titel' is not known here", 1, 1),
        ('"A4"]', '"A4x"]', "each of 'strings' must be a note name", 2, 30),
    ],
)  # fmt: skip
def test_a_wrong_repertoire_says_where_and_what(tmp_path, old, new, message, line, column):
    path = written(tmp_path, PUPIL.replace(old, new))
    with pytest.raises(InputError) as caught:
        read_repertoire(path)
    found = [p for p in caught.value.problems if message in p.message]
    assert found, [p.message for p in caught.value.problems]
    assert (found[0].line, found[0].column) == (line, column)


def test_a_repertoire_for_another_tuning(tmp_path):
    path = written(tmp_path, PUPIL.replace("Dm7", "F"))
    with pytest.raises(InputError, match="not for Plectrum banjo, tuned C3 G3 B3 D4"):
        read_repertoire(path, find_instrument("plectrum-banjo"))
    with pytest.raises(InputError, match="is not for Mandolin"):
        Player(find_instrument("mandolin"), MEDIUM, read_repertoire(path))


def test_no_shape_in_a_repertoire(tmp_path):
    with pytest.raises(InputError, match=r"\[\[shape\]\] is missing"):
        read_repertoire(written(tmp_path, PUPIL[: PUPIL.index("[[shape]]")]))


ODD = Instrument("odd", "Odd", tuple(map(Pitch.parse, ("D3", "A3", "D4", "F#4"))), 14, 455.0)


@pytest.mark.parametrize("name", [*instrument_names(), "odd"])
def test_a_proposal_is_a_few_easy_complete_triads_one_a_top_degree(name):
    one = ODD if name == "odd" else find_instrument(name)
    repertoire = propose(one, MEDIUM)
    tops = []
    for shape in repertoire.shapes:
        pitches = [
            p.midi + f for p, f in zip(one.strings, shape.frets, strict=True) if f is not None
        ]
        degrees = [shape.chord.degree_of(pitch) for pitch in pitches]
        assert set(degrees) == {"1", "3", "5"}
        assert shape.movable
        assert 0 not in shape.frets
        fretted = [fret for fret in shape.frets if fret]
        assert one.fret_mm(max(fretted)) - one.fret_mm(min(fretted)) <= MEDIUM.comfort_mm
        tops.append(shape.chord.degree_of(max(pitches)))
    assert sorted(tops) == ["1", "3", "5"]
    assert repertoire.proposed


def test_a_repertoire_is_written_as_a_file_that_reads_the_same(tmp_path):
    for repertoire in (find_repertoire(TENOR), propose(find_instrument("guitar"), MEDIUM)):
        again = read_repertoire(written(tmp_path, repertoire.text()))
        assert again.shapes == repertoire.shapes
        assert again.strings == repertoire.strings


SEMITONES = dict(zip("1 b3 3 5 b7".split(), (0, 3, 4, 7, 10), strict=True))
TRIADS_AND_SEVENTHS = {"": "1 3 5", "m": "1 b3 5", "7": "1 3 5 b7"}
LETTERS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


@pytest.mark.parametrize("name", names("repertoires"))
def test_each_first_shape_is_its_chord_by_arithmetic(name):
    """Open string + fret, counted here: no tone beside the chord, no third or seventh missing."""
    import tomllib

    data = tomllib.loads(package_file(f"repertoires/{name}.toml").read_text(encoding="utf-8"))
    opens = []
    for string in data["strings"]:
        opens.append(LETTERS[string[0]] + 12 * int(string[-1]))
        assert len(string) == 2
    assert len(data["shape"]) >= 4
    for shape in data["shape"]:
        chord = shape["chord"]
        root = LETTERS[chord[0]] - (chord[1:2] == "b")
        kind = chord.lstrip("ABCDEFG").lstrip("b")
        degrees = TRIADS_AND_SEVENTHS[kind].split()
        wanted = {(root + SEMITONES[degree]) % 12 for degree in degrees}
        telling = {(root + SEMITONES[degree]) % 12 for degree in degrees if degree != "5"}
        frets = shape["frets"].split()
        assert len(frets) == len(opens)
        sounding = {
            (low + int(fret)) % 12 for low, fret in zip(opens, frets, strict=True) if fret != "x"
        }
        assert telling <= sounding <= wanted, (chord, shape["frets"])
        if not shape["movable"]:
            assert "0" in frets, "only what rings has to stay"


@pytest.mark.parametrize("name", instrument_names())
def test_every_instrument_that_ships_has_first_shapes_that_a_hand_can_take(name):
    one = find_instrument(name)
    repertoire = find_repertoire(one)
    assert repertoire is not None
    assert not repertoire.proposed
    from accomp.neck import shape_at

    for shape in repertoire.shapes:
        played = shape_at(shape.frets, shape.chord, one, MEDIUM)
        assert played is not None, (name, shape)
        assert played.stretch_mm <= MEDIUM.comfort_mm or name in (
            "tenor-banjo-19",
            "tenor-guitar",
            "irish-tenor-banjo",
        ), shape


@pytest.mark.parametrize("name", ["mandolin", "irish-tenor-banjo"])
def test_folk_grips_of_the_first_position(name):
    known = {str(shape.chord) for shape in find_repertoire(find_instrument(name)).shapes}
    assert known >= set("G C D A Em Am Dm F D7 A7 E7 G7".split())
