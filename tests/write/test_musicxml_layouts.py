"""Parts for other readers, slashes, repeats and long rests, as other programs read them.

Sources: MusicXML 4.0 schema; music21, partitura, verovio; musicxml2ly and LilyPond where they are
installed.
"""

from __future__ import annotations

import shutil
import subprocess
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hand_made import BANJO, FOUR, GUITAR, UKULELE, arrangement
from lxml import etree
from musicxml_cases import SYNCOPATED

from accomp.score.notate import notate
from accomp.score.notate_layout import ScoreLayout
from accomp.score.readers import READERS
from accomp.write.musicxml import musicxml_bytes, zipped

SHAPES = {"F": "0 2 3 3", "C7": "0 0 2 1", "Bb": "5 7 8 8", "D7": "4 5 4 5", "N.C.": ""}


def tune(sections, strokes=FOUR, **more):
    """Sections as "A: F F C7 F", played in order."""
    rows = [(name, text.split()) for name, text in (part.split(":") for part in sections)]
    bars = [(symbol, SHAPES[symbol]) for _, symbols in rows for symbol in symbols]
    arranged = arrangement(bars, strokes, **more)
    made, place = [], 0
    for name, symbols in rows:
        for i in range(len(symbols)):
            bar = arranged.bars[place]
            made.append(replace(bar, bar=replace(bar.bar, section=name, opens=i == 0)))
            place += 1
    return replace(arranged, bars=tuple(made))


def with_rests():
    arranged = tune(["A: F N.C. N.C. N.C. F"])
    return replace(
        arranged,
        bars=tuple(
            replace(bar, changes=tuple(replace(c, written=i in (0, 1, 4)) for c in bar.changes))
            for i, bar in enumerate(arranged.bars)
        ),
    )


BASS = [("0", "1/2", "F2"), ("1/2", "1", "C2")]
ROADS = {
    "repeat": tune(["A: F F C7 F", "A: F F C7 F", "B: Bb D7"]),
    "endings": tune(["A: F F C7 F", "A: F F C7 D7", "B: Bb"], pickup=Fraction(1, 4)),
    "three times": tune(["A: F C7", "A: F C7", "A: F C7"], bass=BASS),
    "long rest": with_rests(),
    "nothing to fold": tune(["A: F C7", "B: Bb"], SYNCOPATED[:5]),
}
LAYOUTS = {
    "score": ScoreLayout(),
    "notation": ScoreLayout("notation", bass=False),
    "plain clef": ScoreLayout("notation", bass=False, plain_clef=True),
    "tab": ScoreLayout("tab", bass=False),
    "slash": ScoreLayout("slash", bass=False),
    **{f"notation {reader}": ScoreLayout("notation", False, reader) for reader in READERS},
    **{f"slash {reader}": ScoreLayout("slash", False, reader) for reader in READERS},
}
each = pytest.mark.parametrize(
    ("road", "layout"),
    [(road, layout) for road in ROADS for layout in ("score", "slash")]
    + [("endings", layout) for layout in LAYOUTS if layout not in ("score", "slash")],
)


def written(road, layout):
    return musicxml_bytes(notate(ROADS[road], LAYOUTS[layout]))


@pytest.mark.many(6, 99)
@each
def test_valid_and_verovio_has_nothing_to_say(road, layout, assert_valid, capfd):
    import verovio

    data = written(road, layout)
    assert_valid(data)
    verovio.enableLog(verovio.LOG_WARNING)
    toolkit = verovio.toolkit()
    toolkit.setOptions({"header": "none", "footer": "none", "xmlIdSeed": 1})
    assert toolkit.loadData(data.decode())
    assert "-2147483647" not in toolkit.getMEI() + toolkit.renderToSVG(1)
    assert capfd.readouterr() == ("", "")


def heard(score, arranged):
    """(bar, quarters in it, pitches) of everything music21 plays after repeats, ties joined."""
    part = score.parts[0].expandRepeats()
    found, start = [], -float(arranged.pickup) * 4
    for measure in part.getElementsByClass("Measure"):
        for element in measure.recurse().notes:
            if "Harmony" in element.classes:
                continue
            notes = element.notes if element.isChord else [element]
            if notes[0].tie and notes[0].tie.type in {"stop", "continue"}:
                continue
            at = start + float(element.getOffsetInHierarchy(measure))
            found.append((at, tuple(sorted(p.midi for p in element.pitches))))
        start += float(measure.duration.quarterLength)
    return found


@pytest.mark.slow
@pytest.mark.parametrize("road", ROADS)
def test_after_repeats_the_bars_are_those_arranged(road, tmp_path):
    from music21 import converter

    arranged = ROADS[road]
    path = tmp_path / "score.musicxml"
    path.write_bytes(written(road, "score"))
    score = converter.parse(path, forceSource=True)
    planned = [
        (float(s.span.start) * 4, tuple(sorted(s.shape.pitches[i] for i in s.strings)))
        for bar in arranged.bars
        for s in bar.strums
    ]
    found = heard(score, arranged)
    assert [pitches for _, pitches in found] == [pitches for _, pitches in planned]
    assert [at for at, _ in found] == pytest.approx([at for at, _ in planned])


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore:ignoring direction type")  # partitura keeps few of them
@pytest.mark.filterwarnings("ignore:error parsing")  # words that are no tempo it knows
@pytest.mark.filterwarnings("ignore:ignoring empty <harmony> tag")  # it says so of every one
@pytest.mark.parametrize("road", ["repeat", "endings"])
def test_partitura_unfolds_to_as_many_notes(road, tmp_path, partitura):
    path = tmp_path / "score.musicxml"
    path.write_bytes(written(road, "notation"))
    part = partitura.score.unfold_part_maximal(partitura.load_musicxml(str(path)).parts[0])
    arranged = ROADS[road]
    planned = sorted(
        (float(s.span.start) * 4, s.shape.pitches[i])
        for bar in arranged.bars
        for s in bar.strums
        for i in s.strings
    )
    notes = part.note_array()
    found = sorted((float(n["onset_quarter"]), int(n["pitch"])) for n in notes)
    assert [pitch for _, pitch in found] == [pitch for _, pitch in planned]
    assert [at for at, _ in found] == pytest.approx([at for at, _ in planned], abs=1e-3)


@pytest.mark.many(4, 99)
@pytest.mark.parametrize("reader", READERS)
@pytest.mark.parametrize(
    ("instrument", "frets"),
    [(BANJO, "0 0 2 3"), (UKULELE, "0 0 0 3"), (GUITAR, "x 3 2 0 1 0")],
    ids=lambda value: getattr(value, "name", ""),
)
def test_music21_sounds_transposed_parts_at_concert_pitch(reader, instrument, frets, tmp_path):
    from music21 import converter

    arranged = arrangement([("C", frets)], instrument=instrument, key="C")
    layout = ScoreLayout("notation", False, reader)
    (tmp_path / "score.musicxml").write_bytes(musicxml_bytes(notate(arranged, layout)))
    score = converter.parse(tmp_path / "score.musicxml", forceSource=True).toSoundingPitch()
    chord = next(c for c in score.recurse().notes if "Harmony" not in c.classes)
    assert sorted(p.midi for p in chord.pitches) == sorted(
        p for p in arranged.bars[0].strums[0].shape.pitches if p is not None
    )


@pytest.mark.parametrize("reader", READERS)
def test_verovio_sounds_transposed_parts_at_concert_pitch(reader):
    import base64
    import io

    import mido
    import verovio

    arranged = arrangement([("C", "0 0 2 3")], key="C")
    toolkit = verovio.toolkit()
    assert toolkit.loadData(
        musicxml_bytes(notate(arranged, ScoreLayout("notation", False, reader))).decode()
    )
    midi = mido.MidiFile(file=io.BytesIO(base64.b64decode(toolkit.renderToMIDI())))
    heard = {m.note for track in midi.tracks for m in track if m.type == "note_on" and m.velocity}
    assert heard == {48, 55, 64, 72}  # C3 G3 E4 C5


@pytest.mark.parametrize("reader", READERS)
def test_slashes_are_slashes_and_carry_the_readers_symbols(reader):
    root = etree.fromstring(
        musicxml_bytes(notate(ROADS["repeat"], ScoreLayout("slash", False, reader)))
    )
    notes = [n for n in root.iter("note") if n.find("rest") is None]
    assert {n.findtext("notehead") for n in notes} == {"slash"}
    assert not list(root.iter("accidental"))
    first = root.find(".//harmony/root")
    name = (first.findtext("root-step"), first.findtext("root-alter"))
    assert name == {"Bb": ("G", None), "Eb": ("D", None)}.get(reader, ("F", None))


def test_a_long_rest_is_marked_once_in_every_part():
    root = etree.fromstring(written("long rest", "score"))
    for part in root.findall("part"):
        found = [(m.get("number"), m.findtext(".//multiple-rest")) for m in part]
        assert [row for row in found if row[1]] == [("2", "3")]


def test_mxl_holds_the_same_score(tmp_path):
    from music21 import converter

    score = notate(ROADS["endings"])
    for name in ("a.mxl", "b.mxl"):
        (tmp_path / name).write_bytes(zipped(musicxml_bytes(score)))
    assert (tmp_path / "a.mxl").read_bytes() == (tmp_path / "b.mxl").read_bytes()
    import zipfile

    with zipfile.ZipFile(tmp_path / "a.mxl") as archive:
        assert archive.testzip() is None
        names = archive.namelist()
        container = etree.fromstring(archive.read("META-INF/container.xml"))
        inside = container.find(".//rootfile").get("full-path")
        assert archive.read(inside) == musicxml_bytes(score)
    assert names[0] == "mimetype"
    read = converter.parse(tmp_path / "a.mxl", forceSource=True)
    assert len(list(read.parts[0].getElementsByClass("Measure"))) == 7  # the pickup and six


LILYPOND = shutil.which("lilypond") is None or shutil.which("musicxml2ly") is None


@pytest.mark.long
@pytest.mark.skipif(LILYPOND, reason="LilyPond is not installed")
@pytest.mark.parametrize(("road", "layout"), [("endings", "score"), ("repeat", "slash Bb")])
def test_lilypond_engraves_what_musicxml2ly_reads(road, layout, tmp_path: Path):
    (tmp_path / "score.musicxml").write_bytes(written(road, layout))
    for command in (["musicxml2ly", "-o", "score.ly", "score.musicxml"], ["lilypond", "score.ly"]):
        done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stderr
    assert (tmp_path / "score.pdf").stat().st_size > 10_000
