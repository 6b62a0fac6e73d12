"""Values, bars and names of a tune at their bounds, with whole sentences; ours unless a source is
named."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

import accomp
from accomp.errors import InputError, Problem
from accomp.files.values import WrongValueError
from accomp.harmony import ALL_MAJOR, ALL_MINOR, Interval, Key, Spelling
from accomp.time import METERS, Meter, Span
from accomp.tune import Bar, ChordSpan, parse_tune, slug, transpose_tune, tune_toml, unique_slugs
from accomp.tune.fields import KEY, melody, pickup
from accomp.tune.melody import MelodyNote, transpose_melody
from accomp.tune.model import as_tune
from accomp.tune.transpose import transpose_key
from accomp.tune.write import bar_tokens

HEAD = 'title = "T"\nkey = "C"\nmeter = "4/4"\ntempo = 120\n'


# --- fields --------------------------------------------------------------------------------------


def refused(take, value: object) -> tuple[str, str, str]:
    with pytest.raises(WrongValueError) as caught:
        take(value)
    return caught.value.hint, caught.value.instead, caught.value.found


@pytest.mark.parametrize(
    ("name", "same", "signs"),
    [
        ("D#", "Eb", "3 flats"), ("G#", "Ab", "4 flats"), ("A#", "Bb", "2 flats"),
        ("E#", "F", "1 flat"), ("B#", "C", "no signs"), ("Fb", "E", "4 sharps"),
        ("Gbm", "F#m", "3 sharps"), ("Dbm", "C#m", "4 sharps"), ("Fbm", "Em", "1 sharp"),
        ("Cbm", "Bm", "2 sharps"), ("E#m", "Fm", "4 flats"), ("B#m", "Cm", "3 flats"),
    ],
)  # fmt: skip
def test_a_key_without_signature_has_another_name(name: str, same: str, signs: str) -> None:
    hint = f"Write {same}, which sounds the same and has {signs}."
    assert refused(KEY.take, name) == (hint, "", "")


@pytest.mark.parametrize("meter", METERS)
def test_a_pickup_is_less_than_a_bar_of_any_meter(meter: str) -> None:
    beat, bar = Meter.parse(meter).beat, Meter.parse(meter).bar
    value = pickup(Meter.parse(meter), bar)
    beats = bar / beat
    assert value.expected == (
        f'a number of beats, less than the {beats} of the first bar, as 1, 0.5 or "1/3"'
    )
    least = Fraction(1, 192)
    whole = str((bar - least) / beat)
    if Fraction(whole).denominator < 1000 and len(whole.split("/")[0]) <= 3:
        assert value.take(whole) == bar - least
    assert value.take(0) == 0
    assert value.take("0.5") == beat / 2
    for wrong in (float(beats), str(beats), float(beats) + 0.5):
        assert refused(value.take, wrong)[0] == "Write what is longer as a bar."
    assert refused(value.take, -1) == ("", "", "")


def test_pickups_are_of_notes_and_plain_numbers() -> None:
    value = pickup(Meter.parse("4/4"), Fraction(1))
    for good, length in (
        ("1/3", Fraction(1, 12)), (" 2/3 ", Fraction(1, 6)), ("1/048", Fraction(1, 192)),
        (0.25, Fraction(1, 16)), ("3", Fraction(3, 4)), ("0.015625", Fraction(1, 256)),
        ("100/999", None), ("3.75", Fraction(15, 16)),
    ):  # fmt: skip
        if length is None or 192 % length.denominator:
            hint, instead, _ = refused(value.take, good)
            assert hint == 'Write thirds as "1/3" or "2/3", in quotes.'
            assert instead == f"is {good}, which cannot be written in notes"
        else:
            assert value.take(good) == length
    for wrong in ("1/0", "1/1000", "1000", "1.1234567", "-1", "", "x", True, None, float("inf")):
        assert refused(value.take, wrong) == ("", "", "")
    unknown = pickup(None, Fraction(1))  # of a meter that could not be read
    assert unknown.expected == 'a number of beats, as 1, 0.5 or "1/3"'
    assert unknown.take(9) == Fraction(9, 4)
    assert refused(unknown.take, -1) == ("", "", "")


def test_a_melody_lies_beside_the_tune(tmp_path) -> None:
    value = melody(None)
    assert value.expected == (
        "the name of a lead sheet beside the tune, which ends in .musicxml, .xml, .mxl or .abc"
    )
    for good in ("a.abc", "A.XML", "x y.mxl", "a.musicxml"):
        assert value.take(good) == good
    beside = "Put the melody into the tune's folder and give its name only."
    for wrong in ("a/b.abc", "a\\b.abc", "c:b.abc", ".abc"):
        assert refused(value.take, wrong)[0] == beside
    assert refused(value.take, "a.mid")[0] == "A melody is read from MusicXML or ABC."
    there = melody(tmp_path)
    assert refused(there.take, "a.abc")[:2] == (
        "Put the melody there, or take the line out.",
        "is 'a.abc', which is not there",
    )
    (tmp_path / "a.abc").write_text("")
    assert there.take("a.abc") == "a.abc"


# --- names ---------------------------------------------------------------------------------------


def test_slugs_at_their_longest() -> None:
    assert slug("a" * 60) == "a" * 60
    assert slug("a" * 61) == "a" * 60
    assert slug("a" * 59 + " b") == "a" * 59
    assert slug("a" * 60 + " b") == "a" * 60
    assert slug("ab " + "c" * 60) == "ab"
    lost = slug("a" * 60 + "東")
    assert len(lost) == 60
    assert lost.startswith("a" * 51 + "-")
    assert slug("a" * 51 + " 東")[:52] == "a" * 51 + "-"
    assert [slug(name) for name in ("com0", "lpt9", "nul", "com", "com10", "aux.txt")] == [
        "tune-com0", "tune-lpt9", "tune-nul", "com", "com10", "aux-txt",
    ]  # fmt: skip


def test_names_that_are_taken_get_the_next_number() -> None:
    assert unique_slugs(["a"] * 11)[-3:] == ("a-9", "a-10", "a-11")
    assert unique_slugs(["a", "a-2", "a", "a-2"]) == ("a", "a-2", "a-3", "a-2-2")
    assert unique_slugs(["a-2", "a", "a"]) == ("a-2", "a", "a-3")
    assert unique_slugs(["book", "tune book"], {"book"}) == ("tune-book", "tune-book-2")
    long = unique_slugs(["x" * 60] * 10)
    assert long[1] == "x" * 58 + "-2"
    assert long[9] == "x" * 57 + "-10"
    assert unique_slugs([]) == ()


# --- other keys ----------------------------------------------------------------------------------


def test_the_other_name_of_every_key_has_the_fewest_signs() -> None:
    names = [Key(Spelling(step, alter), minor) for step in "CDEFGAB" for alter in (-1, 0, 1)
             for minor in (False, True)]  # fmt: skip
    for key in names:
        if abs(key.fifths) > 7:
            continue
        for steps, semitones in ((1, 1), (1, 2), (2, 3), (2, 4), (3, 5), (3, 6), (4, 7), (5, 8)):
            moved = transpose_key(key, Interval(steps, semitones))
            assert (moved.tonic.pc - key.tonic.pc) % 12 == semitones
            assert moved.minor == key.minor
            straight = Key(key.tonic.up(Interval(steps, semitones)), key.minor)
            if abs(straight.fifths) <= 7:
                assert moved == straight
                continue
            same = [o for o in names if o.tonic.pc == moved.tonic.pc and o.minor == key.minor]
            fewest = min(abs(o.fifths) for o in same)
            assert abs(moved.fifths) == fewest
            flats = [o for o in same if abs(o.fifths) == fewest and o.fifths < 0]
            assert moved in (flats or [moved])


def test_a_melody_moves_a_tritone_up_or_a_fourth_and_more_down() -> None:
    note = MelodyNote(Span(Fraction(0), Fraction(1)), 60)
    for key in ALL_MAJOR:
        (moved,) = transpose_melody([note], Key.parse("C"), Key.parse(key))
        assert (moved.pitch - Key.parse(key).tonic.pc) % 12 == 0
        assert -5 <= moved.pitch - 60 <= 6
        assert moved.span == note.span


def test_only_keys_of_the_same_mode() -> None:
    major = parse_tune(HEAD + '[sections]\nA = "| C |"\n', "t.toml")
    minor = parse_tune(HEAD.replace('"C"', '"Cm"') + '[sections]\nA = "| Cm |"\n', "t.toml")
    for tune, key, mode, wanted in (
        (major, "Dm", "major", "D"), (minor, "D", "minor", "Dm"),
    ):  # fmt: skip
        with pytest.raises(InputError) as caught:
            transpose_tune(tune, key)
        assert caught.value.problems == (
            Problem(
                f"'T' is in {tune.key}, and {key} is not a {mode} key.", "t.toml", 2, 7, key,
                f"a {mode} key", f"Ask for {wanted!r}.",
            ),
        )  # fmt: skip
    assert len(ALL_MINOR) == 12
    with pytest.raises(InputError) as caught:
        transpose_tune(major, "D#")
    (problem,) = caught.value.problems
    assert problem == Problem(
        f"must be {KEY.expected}, and this is 'D#'.", "", 0, 0, "D#", KEY.expected,
        "Write Eb, which sounds the same and has 3 flats.", "key",
    )  # fmt: skip


# --- written again -------------------------------------------------------------------------------


def test_numbers_are_written_as_people_write_them() -> None:
    found = parse_tune(HEAD + '[sections]\nA = "| C |"\n', "")
    for tempo, text in ((120.0, "120"), (66.6, "66.6"), (100.125, "100.125")):
        assert f"\ntempo = {text}\n" in tune_toml(replace(found, tempo=tempo))
    for length, text in (
        ("1/4", "1"), ("1/8", "0.5"), ("3/4", "3"), ("1/12", '"1/3"'), ("1/16", "0.25"),
    ):  # fmt: skip
        assert f"\npickup = {text}\n" in tune_toml(replace(found, pickup=Fraction(length)))
    assert "pickup" not in tune_toml(found)


@pytest.mark.parametrize("meter", METERS)
def test_bars_of_every_count_of_tokens_come_back(meter: str) -> None:
    kind = Meter.parse(meter)
    for count in kind.shares:
        text = " ".join("CDEFGAB"[at % 7] for at in range(count))
        tune = parse_tune(HEAD.replace("4/4", meter) + f'[sections]\nA = "| {text} |"\n', "")
        assert " ".join(bar_tokens(tune.sections["A"].bars[0], kind)) == text


def test_facts_of_a_tune_in_code() -> None:
    for given, shown in ((5, "5"), (None, "None"), (["| C |"], "a list")):
        with pytest.raises(InputError) as caught:
            accomp.tune(given, key="C")  # type: ignore[arg-type]
        (problem,) = caught.value.problems
        assert problem.message == f"bars are needed here, and this is {shown}."
    with pytest.raises(InputError) as caught:
        accomp.tune("| C |")  # type: ignore[call-arg]
    assert str(caught.value.problems[0]) == 'the key is missing. Say it beside the bars: key="F".'
    found = accomp.tune(
        "| C |\n| H |".replace("H", "F"), key=Key.parse("F"), meter=Meter.parse("3/4")
    )
    assert (found.title, str(found.key), str(found.meter), found.tempo) == (
        "Untitled", "F", "3/4", 120,
    )  # fmt: skip
    with pytest.raises(InputError) as caught:
        accomp.tune("| C |\n| H |", key="C")
    assert (caught.value.problems[0].file, caught.value.problems[0].line) == ("bars", 2)
    assert caught.value.problems[0].column == 3
    with pytest.raises(InputError) as caught:
        accomp.tune({"A": "| C |", "B": "| H |"}, key="C")
    assert caught.value.problems[0].file == "sections.B"


@pytest.mark.parametrize(
    ("bars", "text"),
    [("| C |", "1 bar"), ("| C | F |", "2 bars")],
)
def test_a_tune_shows_itself_on_one_line(bars: str, text: str) -> None:
    found = accomp.tune(bars, key="C", tempo=66.5)
    assert repr(found) == f"<Tune 'Untitled': C, 4/4, 66.5 beats a minute, {text}>"
    assert repr(found.sections["A"]) == f"<Section 'A': {text}>"


def test_a_tune_is_asked_for_by_its_type() -> None:
    found = accomp.tune("| C |", key="C")
    assert as_tune(found) is found
    with pytest.raises(InputError) as caught:
        as_tune(3)
    assert str(caught.value) == (
        'a tune is needed here, and this is of type int. Read one with read_tune("porch.toml"), or '
        'build one with tune("| C | G7 |", key="C").'
    )


def test_without_a_file_there_is_no_place() -> None:
    span = ChordSpan(None, Span(Fraction(0), Fraction(1)))
    bar = Bar((span,))
    assert (span.line, span.column, bar.line, bar.column) == (0, 0, 0, 0)
