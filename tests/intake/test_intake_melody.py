"""The melody beside the tune: MusicXML 4.0 by its schema, in step with the bars."""

from __future__ import annotations

import importlib.util
from fractions import Fraction
from functools import cache
from pathlib import Path

import music21
import pytest
from drawn import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from leadsheet_made import score
from lxml import etree

from accomp.harmony import Key, Pitch, Spelling
from accomp.intake import read_leadsheet
from accomp.intake.abc import read_abc
from accomp.intake.build import build_tune
from accomp.intake.layout import FormLayout
from accomp.intake.melody import MelodyError, melody_measures, melody_musicxml
from accomp.intake.written import SourceNote, WrittenBar, WrittenTune
from accomp.time import Meter

SCHEMAS = Path(__file__).parent.parent / "schema"
HEAD = "X:1\nT:Made Up\nC:A. Hand\nM:4/4\nL:1/4\nK:D\n"


@pytest.fixture(scope="module")
def schema() -> etree.XMLSchema:
    """MusicXML 4.0 as the package `musicxml` carries it, its two imports from small files."""
    spec = importlib.util.find_spec("musicxml")
    assert spec is not None
    assert spec.origin is not None
    path = Path(spec.origin).parent / "generate_classes" / "musicxml_4_0.xsd"
    text = path.read_text(encoding="utf-8")
    for name in ("xml", "xlink"):
        place = f"http://www.musicxml.org/xsd/{name}.xsd"
        assert place in text
        text = text.replace(place, f"{(SCHEMAS / name).as_uri()}.xsd")
    return etree.XMLSchema(etree.fromstring(text.encode()))


def melody(text: str) -> bytes:
    (written,) = read_abc(text, Path("made-up.abc"))
    built = build_tune(written)
    assert built is not None
    return melody_musicxml(written.title, written.composer, melody_measures(written, built.played))


MUSIC = [
    '"D"DEFG|A4|',
    '|:A|"D"d3/2c/B/A/G/F/|"G"G3:||:B|"A"A4|"D"D3:|',
    '"D"(3DEFG2|(5:4:5D/E/F/G/A/B2|',
    '"D"D3-D/E/|E4-|E4|',
    '"D"D5/2E3/2|D/8E/8F/4G3|',
    'z|"D"z4|D2z2|',
    '"D"DzEz/F/|zDz2|',
    '"D"D4|[M:3/4][K:Bb]"Bb"B3|B>AB|',
]


@pytest.mark.parametrize("music", MUSIC)
def test_melody_is_valid_musicxml(schema: etree.XMLSchema, music: str) -> None:
    data = melody(HEAD + music + "\n")
    schema.assertValid(etree.fromstring(data))


@pytest.mark.parametrize("music", MUSIC)
def test_every_measure_is_full_and_every_value_true(music: str) -> None:
    root = etree.fromstring(melody(HEAD + music + "\n"))
    divisions = int(root.findtext("part/measure/attributes/divisions"))
    values = {"whole": 1, "half": 2, "quarter": 4, "eighth": 8, "16th": 16, "32nd": 32}
    values["64th"] = 64
    bar = Fraction(1)
    for measure in root.iter("measure"):
        if measure.find("attributes/time") is not None:
            beats = int(measure.findtext("attributes/time/beats"))
            bar = Fraction(beats, int(measure.findtext("attributes/time/beat-type")))
        total = Fraction(0)
        for note in measure.findall("note"):
            length = Fraction(int(note.findtext("duration")), 4 * divisions)
            total += length
            dots = len(note.findall("dot"))
            shown = Fraction(2 ** (dots + 1) - 1, values[note.findtext("type")] * 2**dots)
            if note.find("time-modification") is not None:
                shown *= Fraction(
                    int(note.findtext("time-modification/normal-notes")),
                    int(note.findtext("time-modification/actual-notes")),
                )
            assert shown == length
        if measure.get("implicit") != "yes":
            assert total == bar
        else:
            assert total < bar


@given(st.lists(st.sampled_from(["D", "E/", "F3/2", "G2", "A/4", "z", "B5/4"]), min_size=1))
@settings(max_examples=examples(60))
def test_notes_survive_bar_lines(notes: list[str]) -> None:
    # One long bar without bar lines: our bars cut it, ties join it again.
    text = HEAD + '"D"D4' + "".join(notes) + "\n"
    (written,) = read_abc(text, Path("made-up.abc"))
    (bar,) = written.bars
    wanted = [(4 * note.onset, note.pitch.midi, 4 * note.length) for note in bar.notes]
    part = music21.converter.parseData(melody(text), format="musicxml").parts[0]
    found = [
        (Fraction(n.offset), n.pitch.midi, Fraction(n.quarterLength))
        for n in part.flatten().stripTies().notes
    ]
    assert found == wanted


def test_pickup_notes_sound_before_their_passage(tmp_path: Path) -> None:
    text = HEAD + '|:A|"D"d4|"G"G3:||:B|"A"A4|"D"D3:|\n'
    root = etree.fromstring(melody(text))
    steps = [
        "".join(note.findtext("pitch/step", "-") for note in measure.findall("note"))
        for measure in root.iter("measure")
    ]
    assert steps == ["A", "D", "GA", "D", "GB", "A", "DB", "A", "D-"]


def test_title_and_composer_are_text(schema: etree.XMLSchema) -> None:
    data = melody(HEAD.replace("Made Up", "<b> & #read") + '"D"D4|\n')
    root = etree.fromstring(data)
    assert root.findtext("work/work-title") == "<b> & #read"
    assert root.findtext("identification/creator") == "A. Hand"
    schema.assertValid(root)


def test_no_notes_no_melody(tmp_path: Path) -> None:
    path = tmp_path / "rests.musicxml"
    text = score("C", "F")
    note = "<pitch><step>C</step><octave>4</octave></pitch>"
    path.write_text(text.replace(note, "<rest/>"), encoding="utf-8")
    (tune,) = read_leadsheet(path)
    assert tune.melody is None
    assert tune.tune is not None
    assert tune.tune.melody is None


def plain(element: etree._Element) -> str:
    """An element with all that is in it, on one line: name, attributes, text, children."""
    name = element.tag + "".join(f" {key}={value}" for key, value in element.attrib.items())
    inside = " ".join(map(plain, element)) or (element.text or "").strip()
    return f"{name}({inside})" if inside else name


def note(pitch: str, duration: int, shown: str, tie: str = "") -> str:
    """A note as the file has it; `shown` its value with dots, ` 3` behind a triplet's."""
    ties = {"": [], ")": ["stop"], "(": ["start"], ")(": ["stop", "start"]}[tie]
    step, alter, octave = pitch[:1], pitch[1:-1], pitch[-1:]
    value, *third = shown.split()
    dots = value.count(".")
    parts = [
        f"pitch(step({step}) {f'alter({alter}) ' if alter else ''}octave({octave}))"
        if pitch
        else "rest",
        f"duration({duration})",
        *(f"tie type={kind}" for kind in ties),
        "voice(1)",
        f"type({value.rstrip('.')})",
        *["dot"] * dots,
        *["time-modification(actual-notes(3) normal-notes(2))" for _ in third],
        *([f"notations({' '.join(f'tied type={kind}' for kind in ties)})"] if ties else []),
    ]
    return f"note({' '.join(parts)})"


def attributes(fifths: int, mode: str, beats: int, more: tuple[str, str] = ("", "")) -> str:
    key = f"key(fifths({fifths}) mode({mode}))"
    time = f"time(beats({beats}) beat-type(4))"
    return f"attributes({more[0]}{key} {time}{more[1]})"


def test_the_whole_file_of_a_melody() -> None:
    head = HEAD.replace("4/4", "3/4")
    music = 'A,|"D"D2-D-|D3/2z/F|[K:Gm][M:2/4]"Gm"_e5/4E/4(3B/c/d/|'
    first = ("divisions(12) ", " clef(sign(G) line(2))")
    measures = [
        ("number=0 implicit=yes", attributes(2, "major", 3, first), note("A3", 12, "quarter")),
        ("number=1", note("D4", 24, "half", "("), note("D4", 12, "quarter", ")(")),
        (
            "number=2",
            note("D4", 18, "quarter.", ")"),
            note("", 6, "eighth"),
            note("F14", 12, "quarter"),
        ),
        (
            "number=3",
            attributes(-2, "minor", 2),
            note("E-15", 12, "quarter", "("),
            note("E-15", 3, "16th", ")"),
            note("E-14", 3, "16th"),
            note("B-14", 4, "eighth 3"),
            note("C5", 2, "16th 3", "("),
        ),
        (
            "number=4",
            note("C5", 2, "16th 3", ")"),
            note("D5", 4, "eighth 3"),
            note("", 18, "quarter."),
        ),
    ]
    part = " ".join(f"measure {named}({' '.join(inside)})" for named, *inside in measures)
    assert plain(etree.fromstring(melody(head + music + "\n"))) == (
        "score-partwise version=4.0(work(work-title(Made Up)) "
        "identification(creator type=composer(A. Hand)) "
        "part-list(score-part id=P1(part-name(Melody))) "
        f"part id=P1({part}))"
    )
    nobody = melody((head + music + "\n").replace("C:A. Hand\n", ""))
    assert b"identification" not in nobody


@cache
def sounding(start: str, length: str, midi: int, tied: bool) -> SourceNote:
    pitch = Pitch.spelled(midi, Spelling("C"))
    return SourceNote(Fraction(start) / 4, Fraction(length) / 4, pitch, tied)


def rows(*bars: list[tuple[str, str, int, bool]], pickup: str = "0") -> list[str]:
    """The melody of bars in 4/4 that are played one after the other, in quarters."""
    meter, key = Meter.parse("4/4"), Key(Spelling("C"))
    written = WrittenTune("T", "")
    for notes in bars:
        made = tuple(sounding(*note) for note in notes)
        written.bars.append(WrittenBar("1", meter.bar, "4/4", key, notes=made))
    positions = {at: at * meter.bar for at in range(len(bars))}
    layout = FormLayout(
        0, len(bars), meter, tuple(range(len(bars))), positions, Fraction(pickup) / 4, None
    )
    return [
        f"{one.number}:"
        + " ".join(
            f"{4 * s.start}-{4 * s.end}{'~' * s.tied}" + (f"={s.pitch.midi}" if s.pitch else "")
            for s in one.row
        )
        for one in melody_measures(written, [layout])
    ]


def test_rows_of_sounds_fill_their_measures() -> None:
    c, e = 60, 72
    one = [("1", "2", c, False)]
    assert rows(one) == ["1:0-1 1-3=60 3-4"]
    assert rows(one, one) == ["1:0-1 1-3=60 3-4", "2:4-5 5-7=60 7-8"]
    assert rows([("0", "4", c, False)]) == ["1:0-4=60"]
    assert rows([]) == []
    # over a bar line
    assert rows([("3", "3", c, False)], []) == ["1:0-3 3-4=60", "2:4-6~=60 6-8"]
    # one that begins while another sounds ends it, at once if they begin together
    assert rows([("0", "4", c, False), ("1", "1", e, False)]) == ["1:0-1=60 1-2=72 2-4"]
    assert rows([("1", "2", c, False), ("1", "1", e, False)]) == ["1:0-1 1-2=72 2-4"]
    assert rows([("0", "1", c, False), ("0", "1", c, True)]) == ["1:0-1=60 1-4"]
    # ties: to the same note, where it ends
    assert rows([("0", "1", c, False), ("1", "1", c, True)]) == ["1:0-1=60 1-2~=60 2-4"]
    assert rows([("0", "1", c, False), ("1", "1", e, True)]) == ["1:0-1=60 1-2=72 2-4"]
    assert rows([("0", "1", c, False), ("2", "1", c, True)]) == ["1:0-1=60 1-2 2-3=60 3-4"]
    assert rows([("0", "1", c, True)]) == ["1:0-1=60 1-4"]
    assert rows([("0", "1", c, False), ("1", "2", c, True), ("2", "1", e, False)]) == [
        "1:0-1=60 1-2~=60 2-3=72 3-4"
    ]


def test_how_much_melody_is_read() -> None:
    """A million divisions of a quarter, and so many notes as a file of some hundred pages has."""
    assert rows([("0", "1/1000000", 60, False)])[0].startswith("1:0-1/1000000=60")
    with pytest.raises(MelodyError, match="the melody's note lengths have no common measure"):
        rows([("0", "1/1000001", 60, False)])
    with pytest.raises(MelodyError, match="no common measure"):
        rows([("0", "1/1009", 60, False), ("1", "1/1013", 60, False)])
    many = [("0", "1", 60, False)] * 100_001
    message = "the melody has 100,001 notes, and at most 100,000 are read"
    with pytest.raises(MelodyError, match=f"^{message}$"):
        rows(many)
