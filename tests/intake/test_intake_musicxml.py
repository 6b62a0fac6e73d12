"""MusicXML features: places, pickups, keys, transposing parts, notices with their bars."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import music21
import pytest
from leadsheet_made import direction, harmony, score

from accomp.errors import InputError
from accomp.intake import ImportedTune, read_leadsheet
from accomp.tune.unfold import unfold

Make = Callable[..., ImportedTune]


@pytest.fixture
def make(tmp_path: Path) -> Make:
    def read(text: str, name: str = "made-up.musicxml") -> ImportedTune:
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        (tune,) = read_leadsheet(path)
        return tune

    return read


def bars(tune: ImportedTune) -> list[str]:
    """Chords of each played bar with their places in quarters."""
    assert tune.tune is not None
    return [
        " ".join(f"{span.chord or 'N.C.'}@{4 * span.span.start}" for span in bar.chords)
        for bar in unfold(tune.tune)
    ]


def said(tune: ImportedTune, words: str) -> bool:
    return any(words in notice for notice in tune.notices)


def test_chords_at_their_places_and_carried_on(make: Make) -> None:
    tune = make(score("C F:minor@2", "", "G:dominant", "Bb@1"))
    assert bars(tune) == ["C@0 Fm@2", "Fm@0", "G7@0", "G7@0 Bb@1"]


def test_place_that_no_token_has_is_moved_and_said(make: Make) -> None:
    text = score("C F@2", "G").replace("<divisions>1<", "<divisions>3<")
    text = text.replace("<duration>1<", "<duration>3<").replace("<offset>2<", "<offset>4<")
    tune = make(text)  # F after a quarter and a third
    assert bars(tune) == ["C@0 F@3/2", "G@0"]
    assert said(tune, "bar 1: F on 2 1/3 is moved to 2 1/2, the nearest place")


def test_two_chords_at_one_place(make: Make) -> None:
    tune = make(score("C F", "G"))
    assert bars(tune) == ["C@0", "G@0"]
    assert said(tune, "bar 1: F stands at the same place as C and is left out")


def test_more_chords_than_tokens(make: Make) -> None:
    words = "C " + " ".join(
        f"{root}@{at}" for root, at in zip("DEFGABCDE", range(1, 10), strict=True)
    )
    text = score(words, "G").replace("<divisions>1<", "<divisions>4<")
    text = text.replace("<duration>1<", "<duration>4<")  # ten chords, one every sixteenth
    tune = make(text)
    (first, second) = bars(tune)
    assert first.startswith("C@0 D@1/2 E@1")
    assert second == "G@0"
    assert said(tune, "finds no room and is left out")


def test_no_chord_in_both_ways(make: Make) -> None:
    text = score("C", "NC", "F", "G").replace(
        '<measure number="4">', f'<measure number="4">{direction("<words>N.C.</words>")}'
    )
    tune = make(text)
    assert bars(tune)[1] == "N.C.@0"
    assert bars(tune)[3] == "N.C.@0"  # the words stand first, G at the same place is told of
    assert said(tune, "bar 4: G stands at the same place as N.C.")


def test_before_the_first_chord_nobody_plays(make: Make) -> None:
    tune = make(score("", "C"))
    assert bars(tune) == ["N.C.@0", "C@0"]
    assert said(tune, "bar 1: no chord symbol stands at its start; nobody plays before one")


def test_pickup(make: Make) -> None:
    tune = make(score("pickup :Q1", "C", "F", "G :Q3"))
    assert tune.tune is not None
    assert tune.tune.pickup == Fraction(1, 4)
    assert bars(tune) == ["C@0", "F@0", "G@0"]
    assert "pickup = 1" in tune.toml


def test_chord_over_a_pickup(make: Make) -> None:
    tune = make(score("pickup :Q1 G:dominant", "C", "F"))
    assert bars(tune) == ["C@0", "F@0"]
    assert said(tune, "bar 0: nobody plays with a pickup; G7 over it is left out")
    tune = make(score("pickup :Q1 G:dominant", "", "F"))
    assert bars(tune) == ["G7@0", "F@0"]
    assert said(tune, "bar 0: nobody plays with a pickup; G7 over it begins with the next bar")


def test_bar_split_by_a_repeat_sign(make: Make) -> None:
    # The pickup of the second passage fills the short bar before it; its chord sounds there.
    tune = make(score("pickup |: :Q1", "C", "F :Q3 :|", "|: D:dominant :Q1", "G", "A :Q3 :|"))
    assert tune.tune is not None
    assert tune.tune.form == ("A", "A", "B", "B")
    assert bars(tune)[:2] == ["C@0", "F@0"]
    assert bars(tune)[4:6] == ["G@0", "A@0"]
    # After F comes one pickup or the other, after A its pickup or the end.
    for bar in (2, 5):
        assert said(tune, f"bar {bar}: the pickups that follow it have different chords")
    assert len(bars(tune)) == 8
    tune = make(score("C", "F :Q3", "[B] D:dominant :Q1", "G"))
    assert bars(tune) == ["C@0", "F@0 D7@3", "G@0"]


def test_bar_split_within_a_passage(make: Make) -> None:
    tune = make(score("C", "F :Q2", "G :Q2", "A"))
    assert bars(tune) == ["C@0", "F@0 G@2", "A@0"]


def test_bars_too_short_and_too_long(make: Make) -> None:
    tune = make(score("C", "F :Q3", "G", "A :Q5 D@4", "E"))
    assert bars(tune) == ["C@0", "F@0", "G@0", "A@0", "D@0", "E@0"]
    assert said(tune, "bar 2: it holds 3 of 4 beats and is filled up with silence")
    assert said(tune, "bar 4: it holds 5 beats, and 4/4 has 4; it becomes 2 bars")


def test_marks_name_the_sections_and_equal_bars_are_one(make: Make) -> None:
    tune = make(score("[A] C", "F", "[B] G", "C", "[A] C", "F"))
    assert tune.tune is not None
    assert tune.tune.form == ("A", "B", "A")
    tune = make(score("C", "F ||", "C", "F ||", "G", "C ||", "C", "F"))
    assert tune.tune is not None
    assert tune.tune.form == ("A", "A", "B", "A")
    tune = make(score("[A] C", "[A] F", "[form] G"))
    assert tune.tune is not None
    assert tune.tune.form == ("A", "A 2", "Form")  # "form" under [sections] would be misread


def test_what_a_road_map_cannot_hold_is_said_to_be_written_out(make: Make) -> None:
    note = "its endings and jumps are written out in the order played"
    tune = make(score("|: C ToCoda", "1. F 1] :|", "2. G 2] DC", "Coda A"))
    assert said(tune, note)
    for held in (
        ["C", "F"],
        ["|: C", "1. F 1] :|", "2. G 2]"],
        ["C", "G ToCoda", "A DC", "Coda D"],
    ):
        assert not said(make(score(*held)), note)


def test_the_composer_is_who_is_called_so(make: Make) -> None:
    text = score("C")
    poet = '<creator type="lyricist">A Poet</creator>'
    for creators, composer in (
        (poet, ""),
        (f'{poet}<creator type="composer"> </creator><creator> A  Hand </creator>', "A Hand"),
        (f'<creator>No One</creator>{poet}<creator type="composer">A Hand</creator>', "A Hand"),
    ):
        told = f"<identification>{creators}</identification><part-list>"
        tune = make(text.replace("<part-list>", told)).tune
        assert tune is not None
        assert tune.composer == composer


def test_what_goes_on_into_a_section_from_different_chords(make: Make) -> None:
    tune = make(score("C", "|: ", "G :|", "A"))
    assert bars(tune) == ["C@0", "C@0", "G@0", "C@0", "G@0", "A@0"]
    assert said(tune, "bar 2: C goes on into it the first time and G later; the first is kept")


def test_endings(make: Make) -> None:
    tune = make(score("|: C", "1. F 1] :|", "2. G 2]", "A"))
    assert tune.tune is not None
    assert tune.tune.form == ("A", "A", "B")
    assert [len(ending) for ending in tune.tune.sections["A"].endings] == [1, 1]
    assert bars(tune) == ["C@0", "F@0", "C@0", "G@0", "A@0"]


# Modes by their signature: any theory book.
@pytest.mark.parametrize(
    ("fifths", "mode", "key"),
    [
        (0, "major", "C"),
        (-1, "minor", "Dm"),
        (0, "dorian", "Dm"),
        (0, "mixolydian", "G"),
        (2, "lydian", "G"),
        (0, "phrygian", "Em"),
        (-6, "major", "Gb"),
        (6, "minor", "D#m"),
    ],
)
def test_keys_and_modes(make: Make, fifths: int, mode: str, key: str) -> None:
    text = score("C", key=fifths).replace("<mode>major<", f"<mode>{mode}<")
    tune = make(text)
    assert tune.tune is not None
    assert str(tune.tune.key) == key
    assert said(tune, f"its mode is {mode}") == (mode not in ("major", "minor"))


def test_key_and_meter_change(make: Make) -> None:
    change = "<attributes><key><fifths>2</fifths></key><time><beats>3</beats>"
    change += "<beat-type>4</beat-type></time></attributes>"
    text = score("C", "F", "G :Q3", "A :Q3").replace(
        '<measure number="3">', f'<measure number="3">{change}'
    )
    tune = make(text)
    assert tune.tune is not None
    first, second = tune.tune.sections.values()
    assert (str(first.key), str(first.meter)) == ("C", "4/4")
    assert (str(second.key), str(second.meter), len(second.bars)) == ("D", "3/4", 2)


def test_tempo(make: Make) -> None:
    mark = "<metronome><beat-unit>quarter</beat-unit><beat-unit-dot/>"
    mark += "<per-minute>60</per-minute></metronome>"
    text = score("C", "F", meter="6/8").replace("<harmony>", direction(mark) + "<harmony>", 1)
    tune = make(text)
    assert tune.tune is not None
    assert tune.tune.tempo == 60  # dotted quarters, the beat of 6/8
    text = score("C", "F", meter="2/2").replace("<harmony>", '<sound tempo="120"/><harmony>', 1)
    tune = make(text)
    assert tune.tune is not None
    assert tune.tune.tempo == 60  # halves
    text = score("C", "F", "G").replace("<harmony>", '<sound tempo="120"/><harmony>', 1)
    text = text.replace('<measure number="3">', '<measure number="3"><sound tempo="90"/>')
    assert said(make(text), "bar 3: a change of tempo is not taken over")
    text = score("C").replace("<harmony>", '<sound tempo="9999"/><harmony>', 1)
    tune = make(text)
    assert tune.tune is not None
    assert tune.tune.tempo == 400
    assert said(tune, "a tempo of 9999 beats a minute becomes 400")


def test_transposing_part_is_moved_to_concert_pitch(make: Make) -> None:
    # A B flat part: written C major sounds B flat major.
    more = "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>"
    text = score("C", "G:dominant", "C E@2", key=0, more=more)
    tune = make(text)
    assert tune.tune is not None
    assert str(tune.tune.key) == "Bb"
    assert bars(tune) == ["Bb@0", "F7@0", "Bb@0 D@2"]
    assert said(tune, "a transposing part: chords and melody are at concert pitch")
    assert tune.melody is not None
    ours = music21.converter.parseData(tune.melody, format="musicxml")
    theirs = music21.converter.parseData(text, format="musicxml").toSoundingPitch()
    assert [n.nameWithOctave for n in ours.flatten().notes] == [
        n.nameWithOctave for n in theirs.flatten().notes if isinstance(n, music21.note.Note)
    ]


def test_transposition_without_letter_names(make: Make) -> None:
    more = "<transpose><chromatic>-9</chromatic></transpose>"  # an E flat part
    tune = make(score("C", "A:minor", more=more))
    assert bars(tune) == ["Eb@0", "Cm@0"]
    assert said(tune, "a transposing part")
    tune = make(score("C", "A:minor", more=more.replace("-9", "-12")))  # as a guitar is written
    assert bars(tune) == ["C@0", "Am@0"]
    assert not said(tune, "a transposing part"), "chords have no octave"
    assert names_of(tune.melody) == {"C3"}


def names_of(melody: bytes | None) -> set[str]:
    """The notes of a melody, as music21 reads them."""
    assert melody is not None
    read = music21.converter.parseData(melody, format="musicxml")
    return {note.nameWithOctave for note in read.flatten().notes}


def test_the_highest_note_that_midi_knows_is_one(make: Make) -> None:
    text = score("C", "F")
    high = "<step>{}</step><octave>{}</octave>"
    assert names_of(make(text.replace(high.format("C", 4), high.format("G", 9))).melody) == {"G9"}
    one = text.replace(high.format("C", 4), high.format("A", 9), 1)
    assert names_of(make(one).melody) == {"C4"}


def test_other_parts_are_named(make: Make) -> None:
    extra = (
        '<part id="P2"><measure number="1"><note><rest/><duration>4</duration></note></measure>'
        "</part></score-partwise>"
    )
    text = score("C").replace("</score-partwise>", extra)
    text = text.replace(
        "</part-list>", '<score-part id="P2"><part-name>Bass</part-name></score-part></part-list>'
    )
    assert said(make(text), "the part 'Bass' is not taken over")


def test_the_other_way_round(make: Make) -> None:
    text = score("C", "F")
    text = text.replace("score-partwise", "score-timewise").replace('<part id="P1">\n', "")
    text = text.replace("</part>\n", "")
    text = text.replace('<measure number="1">', '<measure number="1"><part id="P1">')
    text = text.replace('<measure number="2">', '<measure number="2"><part id="P1">')
    text = text.replace("</measure>", "</part></measure>")
    assert bars(make(text)) == ["C@0", "F@0"]


@pytest.mark.parametrize(
    ("xml", "chord", "notice"),
    [
        (harmony("C:minor-major"), "Cm(maj7)", ""),  # not in the list, written all the same
        (
            harmony("C").replace("major", "Neapolitan"),
            "N.C.",
            "'C' (Neapolitan) is a chord that no",
        ),
        (
            "<harmony><function>V7</function><kind>dominant</kind></harmony>",
            "N.C.",
            "the chord is given by its function (V7) and not by its root",
        ),
        (
            harmony("C").replace(
                "</harmony>",
                "<degree><degree-value>9</degree-value><degree-alter>-1</degree-alter>"
                "<degree-type>add</degree-type></degree></harmony>",
            ),
            "Caddb9",
            "",
        ),
        (harmony("F").replace("</harmony>", "<inversion>1</inversion></harmony>"), "F/A", ""),
        (
            harmony("F").replace(
                "</harmony>",
                "<bass><bass-step>G</bass-step><bass-alter>-1</bass-alter></bass></harmony>",
            ),
            "F/Gb",
            "",
        ),
        (harmony("C").replace("<kind>major</kind>", "<kind/>"), "C", ""),
    ],
)
def test_one_harmony(make: Make, xml: str, chord: str, notice: str) -> None:
    text = score("G", "G").replace('<measure number="2">', f'<measure number="2">{xml}')
    text = text.replace(xml + harmony("G"), xml)
    tune = make(text)
    assert bars(tune)[1] == f"{chord}@0"
    assert said(tune, f"bar 2: {notice}") == bool(notice)


def test_alternative_chord_is_left_out_and_said(make: Make) -> None:
    other = harmony("A").replace("<harmony>", '<harmony type="alternate">')
    text = score("C", "G").replace("</harmony>", "</harmony>" + other, 1)
    tune = make(text)
    assert bars(tune)[0] == "C@0"
    assert said(tune, "bar 1: 'A' is only an alternative")


def test_what_the_melody_loses_is_said(make: Make) -> None:
    grace = "<note><grace/><pitch><step>D</step><octave>4</octave></pitch></note>"
    chord = "<note><chord/><pitch><step>E</step><octave>5</octave></pitch><duration>1</duration>"
    chord += "</note>"
    voice = "<backup><duration>4</duration></backup><note><pitch><step>A</step><octave>3</octave>"
    voice += "</pitch><duration>4</duration><voice>2</voice></note>"
    text = score("C", "F")
    text = text.replace("</harmony>", "</harmony>" + grace, 1)
    text = text.replace("</note>\n", f"</note>{chord}{voice}\n", 1).replace(
        "</note></measure>", f"</note>{chord}{voice}</measure>", 1
    )
    tune = make(text)
    assert said(tune, "bar 1: grace notes not taken over")
    assert said(tune, "bar 1: the lower notes of chords in the melody not taken over")
    assert said(tune, "bar 1: other voices than the melody's not taken over")
    assert tune.melody is not None
    notes = music21.converter.parseData(tune.melody, format="musicxml").flatten().notes
    assert [n.nameWithOctave for n in notes][:4] == ["C4", "C4", "C4", "E5"]


def test_title_from_several_places(make: Make) -> None:
    plain = score("C").replace("<movement-title>Made Up</movement-title>", "")
    assert make(plain, "quiet-lane.musicxml").title == "quiet-lane"
    work = "<work><work-title>  A\n Name </work-title></work>"
    assert make(plain.replace("<part-list>", f"{work}<part-list>")).title == "A Name"
    credit = "<credit><credit-type>title</credit-type><credit-words>On Top</credit-words></credit>"
    assert make(plain.replace("<part-list>", f"{credit}<part-list>")).title == "On Top"


def test_hostile_title_stays_a_name(make: Make) -> None:
    text = score("C").replace("Made Up", "../../&quot;x&quot; | read() " + "y" * 300)
    tune = make(text)
    assert "/" not in tune.toml_name
    assert len(tune.title) <= 200
    assert tune.tune is not None


def test_no_chord_symbols_is_an_error(tmp_path: Path) -> None:
    path = tmp_path / "bare.musicxml"
    path.write_text(score("", ""), encoding="utf-8")
    with pytest.raises(InputError, match="'Made Up': it has no chord symbols") as caught:
        read_leadsheet(path)
    (problem,) = caught.value.problems
    assert problem.file == str(path)
    assert problem.found == "no chord symbols"
    assert "Write them over the melody" in problem.hint


@pytest.mark.parametrize(("beats", "shown"), [("7/8", "7/8"), ("2+3/8", "2+3/8"), ("1/4", "1/4")])
def test_meter_that_cannot_be_played(tmp_path: Path, beats: str, shown: str) -> None:
    upper, lower = beats.split("/")
    path = tmp_path / "odd.musicxml"
    change = f"<attributes><time><beats>{upper}</beats><beat-type>{lower}</beat-type></time>"
    text = score("C", "F").replace(
        '<measure number="2">', f'<measure number="2">{change}</attributes>'
    )
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_leadsheet(path)
    (problem,) = caught.value.problems
    assert f"bar 2: {shown} cannot be played here" in problem.message
    assert problem.line == 1 + text[: text.index('number="2"')].count("\n")
    assert problem.expected.startswith("one of 2/2, 3/2")


def test_free_time_is_an_error(tmp_path: Path) -> None:
    path = tmp_path / "free.musicxml"
    text = score("C").replace("<beats>4</beats><beat-type>4</beat-type>", "<senza-misura/>")
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match="bar 1: no meter cannot be played here"):
        read_leadsheet(path)


def test_endings_that_lead_past_every_bar(tmp_path: Path) -> None:
    path = tmp_path / "past.musicxml"
    path.write_text(score("2. C 2]"), encoding="utf-8")
    with pytest.raises(InputError, match="its endings lead past every bar"):
        read_leadsheet(path)


def test_of_very_many_notices_the_rest_is_counted(make: Make) -> None:
    tune = make(score("C", *["D:Tristan"] * 300))
    assert len(tune.notices) < 220
    assert said(tune, "more things are not as they should be")


@pytest.mark.slow
def test_too_many_bars(tmp_path: Path) -> None:
    path = tmp_path / "endless.musicxml"
    path.write_text(score("C", *[""] * 2000), encoding="utf-8")
    with pytest.raises(InputError, match="it has more than 2000 bars"):
        read_leadsheet(path)
    path.write_text(score("|: C", *[""] * 1200, ":|"), encoding="utf-8")
    with pytest.raises(InputError, match="with its repeats it has more than 2000 bars") as caught:
        read_leadsheet(path)
    assert caught.value.problems[0].line == 2, "where the score begins, below <?xml?>"
