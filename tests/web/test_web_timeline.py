"""The timeline: its form, and that it says what the MIDI file and the lesson say."""

from __future__ import annotations

import itertools
import json
from pathlib import Path

import jsonschema
import pytest
from web_pages import CHOKED, EXAMPLES, example, fonts_of, page_versions

import accomp.web
from accomp.harmony import Key, parse_chord
from accomp.job.options import Options
from accomp.neck.fingers import finger_moves
from accomp.tune import parse_tune
from accomp.web.fonts import PageFonts, played
from accomp.web.names import chord_names, spoken_chord
from accomp.web.notes import COUNT_IN, PageVersion
from accomp.web.timeline import timeline, timeline_json

SCHEMA = json.loads((Path(accomp.web.__file__).parent / "timeline.schema.json").read_text())
NAMES = sorted(path.stem for path in EXAMPLES.glob("*.toml"))
SMALL = PageFonts(b"voice", b"band", 8.9, "Font")


def _made(name: str, **options: object) -> tuple[list[PageVersion], dict]:
    versions = page_versions(example(name), Options(**options))
    fonts = fonts_of(versions[0].arrangement.instrument.name)
    return versions, timeline(versions, fonts, SMALL)


@pytest.mark.slow
@pytest.mark.many(3)
@pytest.mark.parametrize("name", NAMES)
def test_every_example_has_the_form_that_is_written_down(name: str) -> None:
    versions, value = _made(name)
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    jsonschema.validate(json.loads(timeline_json(value)), SCHEMA)
    bars = value["bars"]
    assert len(bars) == len(versions[0].arrangement.bars)
    assert all(a["end"] == b["start"] for a, b in itertools.pairwise(bars))
    assert bars[0]["start"] == 0.0
    assert all(len(key["bars"]) == len(bars) for key in value["keys"])
    for version in value["versions"]:
        chords = value["keys"][version["key"]]["chords"]
        assert all(0 <= chord < len(chords) for _, chord, _ in version["changes"])
        assert all(shape < len(version["shapes"]) for _, _, shape in version["changes"])


@pytest.mark.slow
def test_only_the_form_has_times_through() -> None:
    """Intro, verse, tag and coda stand under no "first time" and no "second time"."""
    road = """title = "T"
key = "C"
meter = "4/4"
tempo = 120
intro = "last 1"
end = "tag"
form = ["V", "2 x A"]
coda = "K"
[sections]
V = "| F |"
A = "| C | G7 | C |"
K = "| F | C |"
"""
    versions = page_versions(parse_tune(road, "t.toml"), Options())
    value = timeline(versions, fonts_of(versions[0].arrangement.instrument.name), SMALL)
    jsonschema.validate(json.loads(timeline_json(value)), SCHEMA)
    assert [bar["chorus"] for bar in value["bars"]] == [0, 0, 1, 1, 1, 2, 2, 2, *[0] * 6]


@pytest.mark.slow
def test_the_schema_is_strict() -> None:
    _, value = _made("harbour-street-parade", choruses=1)
    broken = json.loads(timeline_json(value))
    broken["versions"][0]["track"]["notes"][0].append(1)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(broken, SCHEMA)


@pytest.mark.many(1, 99)
@pytest.mark.parametrize("name", ["harbour-street-parade", "seven-stiles", "slow-barge-home"])
def test_its_notes_are_those_of_the_midi_file(name: str) -> None:
    versions, value = _made(name, choruses=1)
    performance, fonts = versions[0].performance, fonts_of(versions[0].arrangement.instrument.name)
    tracks = {track.name: track for track in performance.tracks}
    lead_s = _lead_s(versions[0])
    for track in [value["versions"][0]["track"], *value["keys"][0]["tracks"]]:
        notes = played(tracks[track["name"]], fonts).notes
        assert len(track["notes"]) == len(notes) > 0
        for told, note in zip(track["notes"], notes, strict=True):
            start, late, end, after, key, velocity, channel, bank = told
            assert start + late == pytest.approx(note.start_s - lead_s, abs=2e-4)
            assert end + after == pytest.approx(note.end_s - lead_s, abs=2e-4)
            heard = (note.pitch, note.velocity, note.channel, note.bank)
            assert (key, velocity, channel, bank) == heard


def _lead_s(version: PageVersion) -> float:
    """Where the first bar begins: chords are marked in the performance."""
    assert COUNT_IN == 1
    return version.performance.chords[0].start_s


def test_a_stroke_and_its_choke_do_not_grow_when_it_is_slower() -> None:
    versions = page_versions(parse_tune(CHOKED, "choked.toml"), Options(choruses=1))
    value = timeline(versions, fonts_of("tenor-banjo"), SMALL)
    beat_s = 0.5
    for start, late, end, after, *_ in value["versions"][0]["track"]["notes"]:
        assert start == pytest.approx(round(start / beat_s) * beat_s, abs=1e-3)
        assert abs(late) < 0.06
        assert end == start, "the hand lets go of the stroke it made"
        assert 0.05 < after < 0.2


def test_the_moves_are_those_of_the_lesson() -> None:
    versions, value = _made("harbour-street-parade", choruses=1)
    told = value["versions"][0]
    path = list(dict.fromkeys(s for bar in versions[0].arrangement.bars for c in bar.changes
                              if (s := c.shape) is not None))  # fmt: skip
    assert len(told["moves"]) == len(path) * (len(path) - 1)
    for pair, clauses in told["moves"].items():
        here, there = (path[int(index)] for index in pair.split(">"))
        words = [" ".join(told["clauses"][index]) for index in clauses]
        wanted = [move.words(4).replace(" finger ", " ", 1) for move in finger_moves(here, there)]
        assert words == wanted


@pytest.mark.slow
def test_positions_and_keys_share_bars_and_differ_in_shapes() -> None:
    _, value = _made("harbour-street-parade", choruses=1, keys=("F", "Bb"), positions=("all",))
    names = [(version["key"], version["position"]) for version in value["versions"]]
    assert len(set(names)) == len(names) >= 4
    assert [key["name"] for key in value["keys"]] == ["F major", "B♭ major"]
    first, second = value["keys"]
    assert [[cell[1:] for cell in bar] for bar in first["bars"]] == [
        [cell[1:] for cell in bar] for bar in second["bars"]
    ]
    numbers = [{chord["number"] for chord in key["chords"]} for key in (first, second)]
    assert numbers[0] == numbers[1]
    assert "I/5" in numbers[0]


@pytest.mark.parametrize(
    ("symbol", "words"),
    [
        ("Bb7", "B flat seven"), ("F#m7b5", "F sharp half-diminished"), ("C", "C"),
        ("Am", "A minor"), ("F/C", "F over C"), ("Ebmaj7", "E flat major seven"),
        ("G7#9", "G seven sharp nine"), ("Cbm", "C flat minor"),
        ("G#7sus4", "G sharp seven suspended fourth"), ("Gsus2", "G suspended second"),
        ("Bb13sus4", "B flat thirteen suspended fourth"),
        ("G7sus4(b9)", "G seven suspended fourth flat nine"),
        ("Gmaj7sus4", "G major seven suspended fourth"), ("G6sus4", "G suspended fourth add six"),
    ],
)  # fmt: skip
def test_a_chord_is_said_as_a_player_says_it(symbol: str, words: str) -> None:
    assert spoken_chord(parse_chord(symbol)) == words


def test_a_chord_is_printed_and_counted_with_real_signs() -> None:
    names = chord_names(parse_chord("Eb7"), Key.parse("F"))
    assert (names["text"], names["number"]) == ("E♭7", "♭VII7")
    names = chord_names(parse_chord("Gm7b5/Bb"), Key.parse("F"))
    assert (names["text"], names["number"]) == ("Gm7♭5/B♭", "ii7♭5/4")


def test_the_count_tells_force_strings_and_sound() -> None:
    _, value = _made("harbour-street-parade", choruses=1)
    slots = value["counts"][value["bars"][0]["count"]]["slots"]
    assert [slot["word"] for slot in slots] == ["1", "2", "3", "4"]
    assert [slot["force"] for slot in slots] == ["light", "heavy", "light", "heavy"]
    # Light strokes take root or fifth in turn, on whichever low strings the shape has them.
    assert [slot["strings"] for slot in slots] == ["low two", "all", "inner", "all"]
    assert [slot["sound"] for slot in slots] == ["", "choked", "", "choked"]
