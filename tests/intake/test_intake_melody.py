"""The melody beside the tune: MusicXML 4.0 by its schema, in step with the bars."""

from __future__ import annotations

import importlib.util
from fractions import Fraction
from pathlib import Path

import music21
import pytest
from drawn import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from leadsheet_made import score
from lxml import etree

from accomp.intake import read_leadsheet
from accomp.intake.abc import read_abc
from accomp.intake.build import build_tune
from accomp.intake.melody import melody_measures, melody_musicxml

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
