"""Bars played are bars printed: whoever follows the page plays what the track plays.

The page (MusicXML) is followed by music21 and partitura, the track (MIDI) read by mido; see
`road.py`.
"""

from __future__ import annotations

import re
import tomllib
from itertools import groupby
from pathlib import Path

import music21
import pytest
from road import midi_bars, music21_order, partitura_order, written_bars
from road_tunes import ROADS

from accomp.cli import run

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.toml"))
TIMES = re.compile(rb' times="[0-9]+"')


def made(tune: Path, out: Path, *words: object) -> tuple[Path, Path]:
    """The MIDI and the MusicXML file of a tune."""
    only = ("--only", "midi", "--only", "musicxml")
    assert run(["make", str(tune), "--out", str(out), *only, *map(str, words)]) == 0
    (midi,), (score,) = out.glob("*.mid"), out.glob("*.musicxml")
    return midi, score


def judge(midi: Path, score: Path, partitura) -> list[tuple[str, ...]]:
    """The bars of the track, to which the page leads by two readers' rules."""
    played, page = midi_bars(midi), written_bars(score)
    order = counted(music21_order(score))
    assert [page[name] for name in order] == played
    data = score.read_bytes()
    if TIMES.search(data):  # which partitura does not read: both follow the signs alone
        score = score.with_name("signs.xml")
        score.write_bytes(TIMES.sub(b"", data))
        order = counted(music21_order(score))
    assert counted(partitura_order(partitura, score)) == order
    return played


def filled(bars: list[tuple[str, ...]]) -> list[str]:
    """What sounds in each bar, one chord only once, whether its symbol is written again or not."""
    sounding, found = "", []
    for bar in bars:
        found.append(" ".join(name for name, _ in groupby(bar or (sounding,))))
        sounding = bar[-1] if bar else sounding
    return found


def counted(order: list[str]) -> list[str]:
    """Without a pickup, which is no bar."""
    return [name for name in order if name != "0"]


@pytest.mark.many(1, 3)
@pytest.mark.parametrize("road", ROADS, ids=lambda road: road.name)
def test_tunes_bar_by_bar(road, partitura, tmp_path):
    path = tmp_path / "tune.toml"
    path.write_text(road.text, encoding="utf-8")
    midi, score = made(path, tmp_path / "out", *road.options)
    assert judge(midi, score, partitura) == road.bars
    page = score.read_text(encoding="utf-8")
    assert [sign for sign in road.page if sign not in page] == []
    assert ("<coda/>" in page) == ("To Coda" in page)  # a sign that something leads to
    assert not ("last time<" in page and "D.S. al" in page + page.replace("D.C.", "D.S."))


@pytest.mark.many(1, 3)
@pytest.mark.parametrize("road", ROADS, ids=lambda road: road.name)
def test_tunes_come_back_from_our_own_file(road, tmp_path):
    path = tmp_path / "tune.toml"
    path.write_text(road.text, encoding="utf-8")
    midi, score = made(path, tmp_path / "out", *road.options)
    assert run(["read", str(score), "--out", str(tmp_path / "back")]) == 0
    (back,) = (tmp_path / "back").glob("*.toml")
    before, after = tomllib.loads(road.text), tomllib.loads(back.read_text(encoding="utf-8"))
    lines = [line for line in back.read_text(encoding="utf-8").splitlines() if "melody" not in line]
    ours = [f'{key} = "{before[key]}"' for key in ("style", "begin", "end") if key in before]
    back.write_text("\n".join([*ours, *lines]), encoding="utf-8")
    again, _ = made(back, tmp_path / "again", *road.options)
    assert filled(midi_bars(again)) == filled(midi_bars(midi))
    assert {"End", "Tag", "Vamp"}.isdisjoint(after["sections"])
    assert after["tempo"] == before["tempo"]
    assert len(after["sections"]) <= len(before["sections"])  # as a road map, not written out


@pytest.mark.long
@pytest.mark.parametrize("choruses", [1, 2, 5])
@pytest.mark.parametrize("example", EXAMPLES, ids=lambda path: path.stem)
def test_examples(example, choruses, partitura, tmp_path):
    midi, score = made(example, tmp_path, "--choruses", choruses)
    assert len(judge(midi, score, partitura)) >= choruses * 8


CORPUS = Path(music21.__file__).parent / "corpus"
LEADSHEETS = {
    "ragtime": CORPUS / "leadSheet" / "berlinAlexandersRagtime.mxl",
    "hair": CORPUS / "leadSheet" / "fosterBrownHair.mxl",
    "kinds": CORPUS / "demos" / "ComprehensiveChordSymbolsTestFile.mxl",
    "reels": CORPUS / "nottingham-dataset" / "reelsa-c.abc",
}


@pytest.mark.long
@pytest.mark.parametrize("choruses", [1, 3])
@pytest.mark.parametrize("name", LEADSHEETS)
def test_lead_sheets_of_others(name, choruses, partitura, tmp_path):
    """Tunes that stand in music21's corpus, read, played and printed."""
    assert run(["read", str(LEADSHEETS[name]), "--out", str(tmp_path)]) == 0
    tunes = sorted(tmp_path.glob("*.toml"))
    assert tunes
    for tune in tunes[:12]:
        out = tmp_path / f"{tune.stem}-out"
        midi, score = made(tune, out, "--choruses", choruses, "--shapes", "all", "--plan", "free")
        assert judge(midi, score, partitura)
