"""Our own MusicXML, read back as somebody else's lead sheet: the same tune comes out."""

from __future__ import annotations

from pathlib import Path

import pytest

from accomp.intake import read_leadsheet
from accomp.job.options import Options
from accomp.job.request import resolve
from accomp.job.versions import versions
from accomp.score.notate import notate
from accomp.score.notate_layout import ScoreLayout
from accomp.tune import Tune, read_tune, unfold
from accomp.write.musicxml import musicxml_bytes

EXAMPLES = sorted(Path("examples").glob("*.toml"))
SYMBOLS = (
    "C Cm C7 Cmaj7 CΔ7 Cm7 C-7 Cm7b5 Cø7 Cdim7 C°7 C+ Caug C6 Cm6 C6/9 Csus4 Csus2 C7sus4 C9 "
    "Cm9 C11 C13 C7b9 C7#9 C7#5 C7b5 C7b13 C7b9#11 C13b9 Cmaj7#11 Cadd9 C(add9) Cm(maj7) C5 "
    "C7(no5) C7alt C9sus4 C7#5b9 F/G B♭m7♭5/E♭ F#7/A#"
).split()


def there_and_back(
    tune: Tune, folder: Path, name: str, layout: ScoreLayout | None = None, choruses: int = 1
) -> Tune:
    """The tune, arranged so many times through, written and read."""
    version = versions(resolve(tune, Options(choruses=choruses)))[0]
    path = folder / name
    path.write_bytes(musicxml_bytes(notate(version.on_paper, layout)))
    (read,) = read_leadsheet(path)
    assert read.tune is not None, read.problems
    return read.tune


def bars(tune: Tune) -> list[object]:
    """What is played, bar by bar: key, meter and chords where they change."""
    out = []
    for bar in unfold(tune):
        chords = [
            (str(item.span.start), None if item.chord is None else tones(item.chord))
            for item in bar.chords
        ]
        changes = [row for i, row in enumerate(chords) if i == 0 or row[1] != chords[i - 1][1]]
        out.append((str(bar.key), str(bar.meter), changes))
    return out


def tones(chord):
    return (
        chord.root.pc,
        frozenset(tone.pc for tone in chord.tones),
        None if chord.bass is None else chord.bass.pc,
    )


@pytest.mark.many(2, 6)
@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
@pytest.mark.parametrize("name", ["score.musicxml", "score.mxl"])
def test_an_example_comes_back(path, name, tmp_path):
    tune = read_tune(path)
    read = there_and_back(tune, tmp_path, name, choruses=tune.times or 1)
    assert read.title == tune.title
    assert str(read.key) == str(tune.key)
    assert str(read.meter) == str(tune.meter)
    assert read.tempo == pytest.approx(tune.tempo)
    assert read.pickup == tune.pickup
    # What leads on is brought home by a bar that is printed too, and is no bar of the tune.
    assert read.form == tune.form
    assert bars(read) == bars(tune)


@pytest.mark.slow
@pytest.mark.parametrize("name", ["harbour-street-parade", "turnstile-polka"])
def test_times_through_come_back(name, tmp_path):
    tune = read_tune(Path(f"examples/{name}.toml"))
    read = there_and_back(tune, tmp_path, "score.musicxml", choruses=5)
    assert (read.form, read.times) == (tune.form, 5)
    assert bars(read) == bars(tune)


@pytest.mark.many(12)
@pytest.mark.parametrize("symbol", SYMBOLS)
def test_every_kind_of_chord_comes_back(symbol, tmp_path):
    text = (
        'title = "One chord"\nkey = "C"\nmeter = "4/4"\ntempo = 100\n[sections]\n'
        f'A = "| C | {symbol} | C |"\n'
    )
    (tmp_path / "tune.toml").write_text(text, encoding="utf-8")
    tune = read_tune(tmp_path / "tune.toml")
    assert bars(there_and_back(tune, tmp_path, "score.musicxml")) == bars(tune)


def test_a_part_for_b_flat_comes_back_as_it_sounds(tmp_path):
    """The B flat part of a tune in F is written in G, and says how it sounds: in F again."""
    tune = read_tune(Path("examples/harbour-street-parade.toml"))
    layout = ScoreLayout("slash", bass=False, reader="Bb")
    read = there_and_back(tune, tmp_path, "score.musicxml", layout)
    assert "<fifths>1</fifths>" in (tmp_path / "score.musicxml").read_text(encoding="utf-8")
    assert str(read.key) == str(tune.key) == "F"
    assert read.form == tune.form
    assert bars(read) == bars(tune)
