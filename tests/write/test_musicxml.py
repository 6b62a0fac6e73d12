"""MusicXML against its schema and against readers that other people wrote.

Sources: MusicXML 4.0 schema (W3C Music Notation Community Group); music21, partitura and verovio
as readers.
"""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hand_made import BANJO, FOUR, arrangement
from lxml import etree
from musicxml_cases import CASES, PLAIN, SYMBOLS, SYNCOPATED, Case

from accomp.harmony import Pitch
from accomp.score.notate import notate
from accomp.write.engrave import paper_copy
from accomp.write.musicxml import musicxml_bytes

each_case = pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)


def xml(arranged) -> etree._Element:
    return etree.fromstring(musicxml_bytes(notate(arranged)))


@each_case
def test_valid_against_the_schema(case: Case, assert_valid):
    assert_valid(musicxml_bytes(notate(case.arrangement)))


@pytest.mark.many(4, 99)
@each_case
def test_music21_reads_the_planned_pitches_at_their_places(case: Case, tmp_path):
    from music21 import converter

    (tmp_path / "score.musicxml").write_bytes(musicxml_bytes(notate(case.arrangement)))
    score = converter.parse(tmp_path / "score.musicxml", forceSource=True)
    pickup = float(case.arrangement.pickup) * 4
    strums = [strum for bar in case.arrangement.bars for strum in bar.strums]
    for part in list(score.parts)[:2]:
        heard = [
            (
                float(element.getOffsetInHierarchy(part)) - pickup,
                tuple(sorted(p.midi for p in element.pitches)),
            )
            for element in part.recurse().notes
            if "ChordSymbol" not in element.classes
            and "NoChord" not in element.classes
            and not (element.tie and element.tie.type in {"stop", "continue"})
            and not (
                element.isChord
                and element.notes[0].tie
                and element.notes[0].tie.type in {"stop", "continue"}
            )
        ]
        assert [pitches for _, pitches in heard] == case.pitches
        assert [at for at, _ in heard] == pytest.approx(
            [float(strum.span.start) * 4 for strum in strums]
        )


@pytest.mark.many(4, 99)
@pytest.mark.filterwarnings("ignore:ignoring direction type")  # it keeps few of them
@pytest.mark.filterwarnings("ignore:error parsing")  # words that are no tempo it knows
@pytest.mark.filterwarnings("ignore:ignoring empty <harmony> tag")  # it says so of every one
@each_case
def test_partitura_reads_the_planned_pitches(case: Case, tmp_path, partitura):
    (tmp_path / "score.musicxml").write_bytes(musicxml_bytes(notate(case.arrangement)))
    score = partitura.load_musicxml(str(tmp_path / "score.musicxml"))
    notes = score.parts[0].note_array()
    chords: dict[float, list[int]] = {}
    for note in notes:
        chords.setdefault(round(float(note["onset_quarter"]), 4), []).append(int(note["pitch"]))
    assert [tuple(sorted(chord)) for _, chord in sorted(chords.items())] == case.pitches


def verovio_reading(data: bytes) -> tuple[str, str]:
    """(MEI, the first page as SVG). What verovio complains of goes to stderr."""
    import verovio

    verovio.enableLog(verovio.LOG_WARNING)
    toolkit = verovio.toolkit()
    toolkit.setOptions({"header": "none", "footer": "none", "xmlIdSeed": 1})
    assert toolkit.loadData(data.decode())
    return toolkit.getMEI(), toolkit.renderToSVG(1)


@pytest.mark.many(4, 99)
@each_case
def test_verovio_reads_it_without_a_word(case: Case, capfd):
    data = musicxml_bytes(notate(case.arrangement))
    mei, svg = verovio_reading(data)
    assert capfd.readouterr() == ("", "")
    assert mei.count('notationtype="tab.guitar"') == 1
    assert mei.count("<harm ") == data.count(b"<harmony")
    assert "-2147483647" not in mei + svg


# A tone lower than usual, so that strings have flats.
_LOW = replace(BANJO, strings=tuple(map(Pitch.parse, ("Bb2", "F3", "C4", "G4"))))
LOWERED = Case("lowered", arrangement([("Eb", "0 2 3 3"), ("Bb7", "0 0 2 1")], instrument=_LOW))


@pytest.mark.many(6, 99)
@pytest.mark.parametrize("case", [CASES[0], LOWERED, *CASES[1:]], ids=lambda case: case.name)
def test_string_and_fret_give_the_pitch(case: Case):
    step = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
    root = xml(case.arrangement)
    tab = root.findall("part")[1]
    lines = tab.findall(".//staff-tuning")
    strings = len(lines)
    tuning = {  # the lowest line is the highest-numbered string
        strings + 1 - int(line.get("line")): 12 * (int(line.findtext("tuning-octave")) + 1)
        + step[line.findtext("tuning-step")]
        + int(line.findtext("tuning-alter", "0"))
        for line in lines
    }
    notes = [note for note in tab.iter("note") if note.find("rest") is None]
    assert notes
    for note in notes:
        pitch = note.find("pitch")
        midi = 12 * (int(pitch.findtext("octave")) + 1) + step[pitch.findtext("step")]
        midi += int(pitch.findtext("alter", "0"))
        string = int(note.findtext(".//string"))
        assert tuning[string] + int(note.findtext(".//fret")) == midi


def test_chord_symbols_read_back_as_the_same_tones(tmp_path):
    """music21 as the reader, of kind and degrees and not of the text. It takes the seventh of
    C7sus4 for a major one (see test_musicxml_chords.py)."""
    from music21 import converter

    arranged = arrangement([(symbol, "0 0 2 3") for symbol in SYMBOLS], key="C")
    (tmp_path / "score.musicxml").write_bytes(musicxml_bytes(notate(arranged)))
    score = converter.parse(tmp_path / "score.musicxml", forceSource=True)
    read = list(score.parts[0].recurse().getElementsByClass("ChordSymbol"))
    assert len(read) == len(SYMBOLS)
    for symbol, chord, bar in zip(SYMBOLS, read, arranged.bars, strict=True):
        ours = {tone.pc for tone in bar.changes[0].chord.tones}
        ours = ours - {10} | {11} if symbol == "C7sus4" else ours
        assert set(chord.pitchClasses) == ours, symbol


def test_symbols_are_printed_with_real_signs_and_no_word_twice():
    arranged = arrangement([(symbol, "0 0 2 3") for symbol in SYMBOLS], key="C")
    mei, _ = verovio_reading(etree.tostring(paper_copy(notate(arranged), [0])))
    assert re.findall(r"<harm [^>]*>([^<]*)</harm>", mei) == [
        "C", "Cm", "C7", "CΔ7", "Cm7", "Cø7", "C°7", "C+", "C6", "C6/9", "Cm6", "Csus4", "C7sus4",
        "C7(♭9)", "C7(♭9♯11)", "C7♯5", "C9", "C13",
    ]  # fmt: skip


def test_no_chord_is_written_as_such():
    root = xml(arrangement([("F", "0 2 3 3"), ("N.C.", "")]))
    silent = root.findall(".//harmony")[1]
    assert silent.findtext("kind") == "none"
    assert silent.find("kind").get("text") == "N.C."


def test_the_frame_holds_the_shape():
    from dataclasses import replace

    arranged = arrangement([("Bb", "5 7 8 8"), ("C", "0 0 2 3"), ("Bbm", "6 6 8 8")])
    bars = []
    fingers = {"Bb": (1, 3, 4, 4), "C": (0, 0, 1, 2), "Bbm": (1, 1, 3, 4)}
    for bar in arranged.bars:
        change = bar.changes[0]
        symbol = str(change.chord)
        shape = replace(
            change.shape,
            fingers=fingers[symbol],
            barre={"Bb": 8, "Bbm": 6}.get(symbol),
        )
        bars.append(replace(bar, changes=(replace(change, shape=shape),)))
    root = xml(replace(arranged, bars=tuple(bars)))
    frames = root.findall(".//frame")
    read = [
        [
            (
                int(note.findtext("string")),
                int(note.findtext("fret")),
                note.findtext("fingering"),
                note.find("barre").get("type") if note.find("barre") is not None else "",
            )
            for note in frame.findall("frame-note")
        ]
        for frame in frames
    ]
    assert read == [
        [(4, 5, "1", ""), (3, 7, "3", ""), (2, 8, "4", "start"), (1, 8, "4", "stop")],
        [(4, 0, None, ""), (3, 0, None, ""), (2, 2, "1", ""), (1, 3, "2", "")],
        [(4, 6, "1", "start"), (3, 6, "1", "stop"), (2, 8, "3", ""), (1, 8, "4", "")],
    ]
    assert [frame.findtext("first-fret") for frame in frames] == ["5", None, "6"]
    assert {frame.findtext("frame-strings") for frame in frames} == {"4"}


def test_marks_of_the_strokes():
    root = xml(arrangement([("F", "5 5 7 8")], SYNCOPATED))
    firsts = [
        note
        for note in root.find("part").iter("note")
        if note.find("chord") is None and note.find("tie[@type='stop']") is None
    ]
    bows = [
        "down"
        if n.find(".//down-bow") is not None
        else "up"
        if n.find(".//up-bow") is not None
        else ""
        for n in firsts
    ]
    assert bows == [row[2] for row in SYNCOPATED]
    assert [n.find(".//accent") is not None for n in firsts] == [
        row[3] == "accent" for row in SYNCOPATED
    ]
    assert [n.find(".//staccato") is not None for n in firsts] == [
        row[4] == "choked" for row in SYNCOPATED
    ]
    for part in root.findall("part"):  # a dead stroke has crosses on every note, in both parts
        crossed = [n for n in part.iter("note") if n.findtext("notehead") == "x"]
        assert len(crossed) == 4


def test_tempo_and_swing_stand_in_one_direction():
    root = xml(arrangement(PLAIN, swing=2.0))
    marks = [d for d in root.iter("direction") if d.find(".//metronome") is not None]
    assert len(marks) == 1
    assert [t[0].tag for t in marks[0].findall("direction-type")] == ["words", "metronome"]
    assert marks[0].findtext(".//words") == "Even four, swing "
    assert marks[0].findtext(".//per-minute") == "168"
    sound = marks[0].find("sound")
    assert sound.get("tempo") == "168"
    assert (sound.findtext("swing/first"), sound.findtext("swing/second")) == ("2", "1")


@pytest.mark.parametrize(
    ("meter", "unit", "dots", "quarters"),
    [
        ("4/4", "quarter", 0, "120"),
        ("2/2", "half", 0, "240"),
        ("6/8", "quarter", 1, "180"),
        ("6/4", "half", 1, "360"),
    ],
)
def test_the_tempo_counts_the_beat_of_the_meter(meter, unit, dots, quarters):
    rows = [("0", "1/4", "down", "plain", "ring", "all")]
    root = xml(arrangement([("F", "0 2 3 3")], rows, meter=meter, tempo=120))
    metronome = root.find(".//metronome")
    assert metronome.findtext("beat-unit") == unit
    assert len(metronome.findall("beat-unit-dot")) == dots
    assert root.find(".//sound").get("tempo") == quarters


def test_equal_scores_give_equal_bytes_without_a_date():
    score = notate(arrangement(PLAIN, SYNCOPATED))
    data = musicxml_bytes(score)
    assert data == musicxml_bytes(notate(arrangement(PLAIN, SYNCOPATED)))
    assert b"date" not in data


def test_every_note_and_measure_has_an_id_of_its_own():
    root = xml(arrangement(PLAIN, SYNCOPATED))
    named = [*root.iter("note"), *root.iter("measure")]
    ids = [element.get("id") for element in named]
    assert None not in ids
    assert len(set(ids)) == len(ids)


@pytest.mark.parametrize(
    "title", ["A & B <i>", '"]]>', "\x00\x07bell", "\ud800lone", "שלום", "x" * 300, "🎷", ""]
)
def test_titles_are_text(title, assert_valid):
    data = musicxml_bytes(notate(arrangement(PLAIN, title=title)))
    assert_valid(data)
    expected = re.sub("[\x00\x07\ud800]", "\ufffd", title)
    assert (etree.fromstring(data).findtext("work/work-title") or "") == expected


def test_the_file_is_written_where_asked(tmp_path: Path):
    (tmp_path / "a.musicxml").write_bytes(
        musicxml_bytes(notate(arrangement(PLAIN, FOUR, instrument=BANJO)))
    )
    assert (tmp_path / "a.musicxml").read_bytes().startswith(b"<?xml")


@pytest.mark.parametrize(("first", "divisions"), [("1/4", "2"), ("1/8", "2"), ("1/16", "4")])
def test_a_quarter_is_divided_no_finer_than_what_is_written(first: str, divisions: str):
    rest = str(1 - Fraction(first))
    bars = [[("F", "0 2 3 3", first), ("C7", "0 0 2 1", rest)]]
    whole = [("0", "1", "down", "plain", "ring", "all")]
    root = xml(arrangement(bars, whole))
    assert {found.text for found in root.iter("divisions")} == {divisions}
