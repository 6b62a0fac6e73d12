"""What a good tune file means."""

from fractions import Fraction

import pytest

from accomp.harmony import Key
from accomp.time import Meter
from accomp.tune import Chorus, parse_tune, read_tune, unfold

# The file that the description of the form shows, all parts used.
FULL = '''
title  = "Harbour Street Parade"
key    = "F"                 # "Bb", "F#", "Dm" ...
meter  = "4/4"
tempo  = 168                 # beats a minute
style  = "four-light-heavy"
instrument = "tenor-banjo-19"
composer = "Nobody"
pickup = 1
melody = "parade.musicxml"
form   = ["A", "A", "B", "A"]

[sections]
A = """
| F       | F / C7 /  | C7      | F  F7 |
| Bb Bdim7| F/C D7    | Gm7 C7  | F     |
"""
B = { bars = "| N.C. | Bb | F | C7 |", key = "Bb", meter = "3/4", style = "waltz" }

[[chorus]]
position = "root-top"
style    = "two-beat"

[[chorus]]
'''
PLAIN = 'title = "T"\nkey = "C"\nmeter = "4/4"\ntempo = 100\n'


def played(tune):
    return [[span.chord and span.chord.symbol for span in bar.chords] for bar in unfold(tune)]


def test_every_part_of_a_file_is_understood():
    tune = parse_tune(FULL, "parade.toml")
    assert tune.title == "Harbour Street Parade"
    assert (str(tune.key), str(tune.meter), tune.tempo) == ("F", "4/4", 168.0)
    assert (tune.style, tune.instrument) == ("four-light-heavy", "tenor-banjo-19")
    assert (tune.composer, tune.melody) == ("Nobody", "parade.musicxml")
    assert tune.pickup == Fraction(1, 4)
    assert tune.form == ("A", "A", "B", "A")
    assert list(tune.sections) == ["A", "B"]
    a, b = tune.sections["A"], tune.sections["B"]
    assert (a.key, a.meter, a.style) == (Key.parse("F"), Meter.parse("4/4"), None)
    assert (b.key, b.meter, b.style) == (Key.parse("Bb"), Meter.parse("3/4"), "waltz")
    assert tune.choruses == (Chorus("root-top", "two-beat"), Chorus())
    assert tune.file == "parade.toml"
    assert tune.notices == ()
    a_bars = [["F"], ["F", "C7"], ["C7"], ["F", "F7"]]
    a_bars += [["Bb", "Bdim7"], ["F/C", "D7"], ["Gm7", "C7"], ["F"]]
    assert played(tune) == [*a_bars, *a_bars, [None], ["Bb"], ["F"], ["C7"], *a_bars]


def test_places_are_kept_for_who_judges_the_names():
    tune = parse_tune(FULL, "parade.toml")
    assert tune.places["style"] == (6, 10)
    assert tune.places["instrument"] == (7, 14)
    assert tune.places["melody"] == (10, 10)
    assert tune.places["sections.B.style"] == (18, 75)
    assert tune.places["chorus.0.position"] == (21, 12)
    assert tune.places["chorus.0.style"] == (22, 12)
    assert "chorus.1.style" not in tune.places
    assert "pickup" in tune.places


def test_the_least_that_a_file_must_say():
    tune = parse_tune(PLAIN + '[sections]\nB = "| C |"\nA = "| G7 |"\n', "")
    assert tune.form == ("B", "A")
    assert (tune.style, tune.instrument, tune.composer) == (None, "tenor-banjo", "")
    assert (tune.pickup, tune.melody, tune.choruses) == (0, None, ())
    assert tune.places["tempo"] == (4, 9)
    assert "form" not in tune.places


def test_a_file_is_read_from_disk_with_its_melody(tmp_path):
    (tmp_path / "m.xml").write_text("")
    path = tmp_path / "t.toml"
    path.write_text(PLAIN + 'melody = "m.xml"\n[sections]\nA = "| C |"\n', encoding="utf-8")
    tune = read_tune(path)
    assert tune.melody == "m.xml"
    assert tune.file == str(path)


def test_an_unused_section_is_a_notice():
    tune = parse_tune(PLAIN + 'form = ["A"]\n[sections]\nA = "| C |"\nB = "| F |"\n', "")
    (notice,) = tune.notices
    assert "'B'" in notice
    assert "not played" in notice


@pytest.mark.parametrize("kind", ["text", "dotted", "table", "inline"])
def test_a_section_may_be_written_in_any_way_toml_has(kind):
    text = {
        "text": '[sections]\nA = "| C |"',
        "dotted": '[sections]\nA.bars = "| C |"',
        "table": '[sections.A]\nbars = "| C |"',
        "inline": 'sections = { A = { bars = "| C |" } }',
    }[kind]
    assert played(parse_tune(PLAIN + text, "")) == [["C"]]


@pytest.mark.parametrize("name", ["A", "verse 1", "Ünïcode ♭", "a.b", "'quoted'", "1", "title"])
def test_a_section_may_have_any_printable_name(name):
    tune = parse_tune(f'{PLAIN}form = ["{name}"]\n[sections]\n"{name}" = "| C |"\n', "")
    assert tune.form == (name,)


@pytest.mark.parametrize(
    ("meter", "written", "whole_notes"),
    [
        ("4/4", "1", Fraction(1, 4)),
        ("4/4", "0.5", Fraction(1, 8)),
        ("4/4", "3", Fraction(3, 4)),
        ("4/4", "0", Fraction(0)),
        ("2/2", "0.5", Fraction(1, 4)),
        ("6/8", '"1/3"', Fraction(1, 8)),
        ("6/8", '"2/3"', Fraction(1, 4)),
        ("6/4", "1", Fraction(3, 4)),
        ("12/8", '"1"', Fraction(3, 8)),
        ("2/4", '"0.25"', Fraction(1, 16)),
    ],
)
def test_a_pickup_counts_beats(meter, written, whole_notes):
    text = PLAIN.replace("4/4", meter) + f'pickup = {written}\n[sections]\nA = "| C |"\n'
    assert parse_tune(text, "").pickup == whole_notes


@pytest.mark.parametrize("tempo", ["20", "400", "20.0", "66.6", "0x64"])
def test_tempo_may_be_any_sensible_number(tempo):
    text = PLAIN.replace("100", tempo) + '[sections]\nA = "| C |"\n'
    assert parse_tune(text, "").tempo == float(int(tempo, 16) if "x" in tempo else tempo)


CARRIED = PLAIN + 'form = {form}\n[sections]\nA = "| C | F |"\nB = "| / | G7 |"\nC = "| Am | F |"\n'


def test_a_section_may_start_with_what_the_form_brings():
    tune = parse_tune(CARRIED.format(form='["A", "B", "A", "C", "B"]'), "")
    assert played(tune)[2] == ["F"]
    assert tune.sections["B"].bars[0].chords[0].written is False


def test_a_whole_section_may_carry_on():
    text = PLAIN + 'form = ["A", "B", "B", "A"]\n[sections]\nA = "| C | F |"\nB = "| / | / / |"\n'
    assert played(parse_tune(text, "")) == [["C"], ["F"], ["F"], ["F"], ["F"], ["F"], ["C"], ["F"]]


def test_titles_are_data():
    for title in ("../../etc/passwd", "a/b\\\\c", "#read('x')", "<b>", "x" * 300, "שיר 🎵", "CON"):
        text = PLAIN.replace('"T"', f'"{title}"') + '[sections]\nA = "| C |"\n'
        assert parse_tune(text, "").title == title.replace("\\\\", "\\")


def test_tunes_can_go_to_another_process():
    import pickle

    tune = parse_tune(FULL, "x")
    again = pickle.loads(pickle.dumps(tune))
    assert again == tune
    assert again.places == tune.places
