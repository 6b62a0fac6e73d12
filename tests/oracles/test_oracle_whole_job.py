"""The whole job, heard from outside: chords sound their tones, in every tune and every meter.

The MIDI files are read back by mido and judged by `heard.py`, MusicXML by music21 and partitura;
neither knows the package. Sources: see there.
"""

import json
from fractions import Fraction
from pathlib import Path

import mido
import pytest
from heard import asked_for, heard

from accomp.cli import run

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.toml"))
PLAYER = "Tenor banjo"


def make(capsys, *words: object) -> dict:
    """Run `accomp make ... --json`, which must succeed; the manifest."""
    capsys.readouterr()
    code = run(["make", *map(str, words), "--json"])
    out, err = capsys.readouterr()
    assert code == 0, err
    return json.loads(out)


def files(manifest: dict, folder: Path, kind: str) -> list[Path]:
    return [folder / entry["path"] for entry in manifest["files"] if entry["kind"] == kind]


def judge(path: Path, whole: float = 1.0) -> int:
    """Every chord of a MIDI file sounds only its tones; returns how many there were.

    At least `whole` of them (a share) must be heard with all their essential tones.
    """
    chords = heard(mido.MidiFile(path, charset="utf-8"))
    struck = 0
    for chord in chords:
        pitches = chord.pitches[PLAYER]
        if chord.symbol == "N.C.":
            assert not pitches, f"{path.name}: {chord.start_s:.2f} s: somebody plays in N.C."
            continue
        tones, essential = asked_for(chord.symbol)
        wrong = {pitch for pitch in pitches if pitch % 12 not in tones}
        assert not wrong, f"{path.name}: {chord.symbol} at {chord.start_s:.2f} s sounds {wrong}"
        assert pitches, f"{path.name}: {chord.symbol} at {chord.start_s:.2f} s is not played"
        missing = essential - {pitch % 12 for pitch in pitches}
        struck += not missing
    played = sum(chord.symbol != "N.C." for chord in chords)
    assert struck >= whole * played, f"{path.name}: {struck} of {played} are whole"
    return played


@pytest.mark.many(1, 4)
@pytest.mark.parametrize("example", EXAMPLES, ids=lambda path: path.stem)
def test_our_own_tunes_sound_their_chords(example, capsys, tmp_path):
    manifest = make(capsys, example, "--out", tmp_path, "--only", "midi", "--choruses", 1)
    (path,) = files(manifest, tmp_path, "midi")
    # a light stroke takes only the lower strings, so a short chord may not be heard whole
    assert judge(path, whole=0.7) >= 8


METERS = "2/2 3/2 2/4 3/4 4/4 5/4 6/4 3/8 6/8 9/8 12/8".split()
# how many chords a bar may hold, as the tune file's description says
SHARES = {
    "2/4": (1, 2, 4), "2/2": (1, 2, 4), "4/4": (1, 2, 4, 8), "6/4": (1, 2, 3, 6, 12),
    "6/8": (1, 2, 6), "12/8": (1, 2, 4, 12), "3/4": (1, 3, 6), "3/2": (1, 3, 6),
    "5/4": (1, 5, 10), "3/8": (1, 3), "9/8": (1, 3, 9),
}  # fmt: skip
CHORDS = "G Em7 A7 D7 Gmaj7 Bm7b5 E7 Am C9 Cm6 G/B Bbdim7 D+".split()


def meter_tune(meter: str) -> tuple[str, list[list[str]]]:
    """A tune whose bars hold 1, 2, ... chords, as many as the meter lets them, and N.C."""
    bars = [CHORDS[:share] for share in SHARES[meter]] + [["N.C."], ["G"]]
    text = " | ".join(" ".join(bar) for bar in bars)
    return (
        f'title = "Every Way to Count"\nkey = "G"\nmeter = "{meter}"\ntempo = 60\n'
        f'[sections]\nA = "| {text} |"\n',
        bars,
    )


@pytest.mark.many(1, 4)
@pytest.mark.parametrize("meter", METERS)
def test_a_tune_in_every_meter_goes_all_the_way(meter, capsys, tmp_path):
    text, bars = meter_tune(meter)
    (tmp_path / "count.toml").write_text(text, encoding="utf-8")
    out = tmp_path / "out"
    manifest = make(
        capsys, tmp_path / "count.toml", "--out", out, "--choruses", 1, "--plan", "free",
        "--only", "midi", "--only", "musicxml",
    )  # fmt: skip
    (midi,), (xml,) = files(manifest, out, "midi"), files(manifest, out, "musicxml")
    count, unit = map(int, meter.split("/"))
    length = Fraction(count, unit)

    file = mido.MidiFile(midi, charset="utf-8")
    signatures = [m for m in file.tracks[0] if m.type == "time_signature"]
    assert [(m.numerator, m.denominator) for m in signatures] == [(count, unit)]
    symbols = [chord for bar in bars for chord in bar]
    chords = heard(file)
    assert [chord.symbol for chord in chords] == symbols
    judge(midi)
    starts = [
        (number + Fraction(place, len(bar))) * length
        for number, bar in enumerate(bars)
        for place in range(len(bar))
    ]
    whole_s = (chords[-1].start_s - chords[0].start_s) / float(starts[-1])
    for chord, start in zip(chords, starts, strict=True):
        assert chord.start_s - chords[0].start_s == pytest.approx(float(start) * whole_s, abs=2e-3)

    import music21

    score = music21.converter.parse(xml, forceSource=True)
    for part in score.parts:
        measures = list(part.getElementsByClass("Measure"))
        assert len(measures) == len(bars)
        assert measures[0].timeSignature.ratioString == meter
        for measure in measures:
            assert measure.duration.quarterLength == length * 4
    printed = [
        (m.number, c.figure if c.chordKind != "none" else "N.C.")
        for m in score.parts[0].getElementsByClass("Measure")
        for c in m.getElementsByClass(music21.harmony.ChordSymbol)
    ]
    assert len(printed) == len(symbols)
    assert [number for number, _ in printed] == [
        number for number, bar in enumerate(bars, 1) for _ in bar
    ]
    on_paper = {
        pitch.midi
        for note in score.parts[0].recurse().notes
        if "ChordSymbol" not in note.classes and "NoChord" not in note.classes
        for pitch in note.pitches
    }
    played = {pitch for chord in chords for pitch in chord.pitches[PLAYER]}
    assert on_paper == played
