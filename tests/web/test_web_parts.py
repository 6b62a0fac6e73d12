"""What a page shows of a few bars, worked out by hand; the words and times that it is made of."""

from __future__ import annotations

import html
import itertools
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from web_pages import page_versions

from accomp.errors import SoundError
from accomp.harmony import parse_chord
from accomp.job.options import Options
from accomp.job.outside import Ingredients
from accomp.job.request import resolve
from accomp.job.sound import Sound
from accomp.job.versions import versions
from accomp.neck import find_instrument
from accomp.rhythm import program_number
from accomp.score.arrangement import Strum
from accomp.score.tuning import tuning_performance
from accomp.tune import parse_tune
from accomp.voice.soundfont import Sample
from accomp.web import fonts as fonts_module
from accomp.web.boxes import shape_json
from accomp.web.fonts import CLICKS, PageFonts, gain_of_voice, pack, page_fonts, played
from accomp.web.item import page_item
from accomp.web.licences import about
from accomp.web.names import ChordNames, sound_words, spoken_chord, strings_words
from accomp.web.notes import PageVersion, Times, rounded
from accomp.web.page import policy
from accomp.web.template import filled
from accomp.web.timeline import timeline

GATES = """title = "Three Gates"
composer = "Nobody"
key = "F"
meter = "4/4"
tempo = 120
style = "choked-four"
pickup = 1
form = ["A", "B"]
[sections]
A = "| F | C7 / Bb C7 |"
B = { bars = "| N.C. | F |", meter = "3/4" }
"""
NO_VOICE: Any = SimpleNamespace(
    voice=None,
    band=SimpleNamespace(path=Path("band.sf2"), name="Band"),
    program=lambda track: track.program,
    voices=lambda track: False,
)


def versions_of(text: str = GATES, **asked: Any) -> list[PageVersion]:
    return page_versions(parse_tune(text, "t.toml"), Options(**{"choruses": 1, **asked}))


@pytest.fixture(scope="module")
def gates() -> list[PageVersion]:
    return versions_of()


@pytest.fixture(scope="module")
def value(gates: list[PageVersion]) -> dict[str, Any]:
    return timeline(gates, NO_VOICE, PageFonts(b"", b"x", 8.9, "Band"))


def test_the_head_of_a_timeline(value: dict[str, Any]) -> None:
    head = "form title composer tempo meter style gain_db voiced clicks".split()
    assert {name: value[name] for name in head} == {
        "form": 1, "title": "Three Gates", "composer": "Nobody", "tempo": 120.0, "meter": "4/4",
        "style": "Choked four, Plain three", "gain_db": 8.9, "voiced": False,
        "clicks": [[76, 110], [77, 90]],
    }  # fmt: skip
    frets = value["instrument"].pop("frets")
    assert value["instrument"] == {
        "name": "Tenor banjo", "title": "Tenor banjo", "strings": ["C3", "G3", "D4", "A4"],
    }  # fmt: skip
    # The rule of the twelfth root of two: where each of the 17 frets lies, by the scale's length.
    assert frets == [round(1 - 2 ** (-fret / 12), 5) for fret in range(18)]


def test_bars_and_beats_lie_where_the_tempo_puts_them(value: dict[str, Any]) -> None:
    """A beat is half a second; the pickup lies before the first bar line, which is 0."""
    bars = [(0.0, 4, "A", True), (2.0, 4, "A", False), (4.0, 3, "B", True), (5.5, 3, "B", False)]
    assert value["bars"] == [
        {
            "start": start, "end": start + beats / 2, "section": section, "opens": opens,
            "beats": [start + beat / 2 for beat in range(beats)], "chorus": 1, "count": number,
        }
        for number, (start, beats, section, opens) in enumerate(bars)
    ]  # fmt: skip


def test_a_bar_is_counted_and_struck(value: dict[str, Any]) -> None:
    down = {"stroke": "down", "strings": "all", "sound": "choked"}
    up = down | {"stroke": "up"}
    assert [count["slots"] for count in value["counts"]] == [
        [
            {"at": number / 4, "word": str(number + 1), **down, "force": force}
            for number, force in enumerate(["plain", "heavy", "plain", "heavy"])
        ],
        [  # the chords of the second bar come in early, and as they change
            {"at": 0.0, "word": "1", **down, "force": "accent"},
            {"at": 0.25, "word": "2", **down, "force": "plain"},
            {"at": 0.4167, "word": "&", **up, "force": "accent"},  # swung: two thirds of a beat
            {"at": 0.5, "word": "3", **up, "force": "accent"},
            {"at": 0.75, "word": "4", **down, "force": "heavy"},
        ],
        [{"at": at, "word": word} for at, word in ((0.0, "1"), (0.3333, "2"), (0.6667, "3"))],
        [
            {"at": at, "word": word, **down, "sound": "", "force": force}
            for at, word, force in ((0.0, "1", "heavy"), (0.3333, "2", "plain"),
                                    (0.6667, "3", "plain"))
        ],
    ]  # fmt: skip


def test_chords_stand_over_the_bars(value: dict[str, Any]) -> None:
    (key,) = value["keys"]
    assert key["name"] == "F major"
    assert key["chords"] == [
        {"text": "F", "number": "I", "said": "F"},
        {"text": "C7", "number": "V7", "said": "C seven"},
        {"text": "B♭", "number": "IV", "said": "B flat"},
        {"text": "N.C.", "number": "N.C.", "said": "no chord"},
    ]
    assert key["bars"] == [
        [[0, 0.0, 1]], [[1, 0.0, 1], [2, 0.5, 1], [1, 0.75, 1]], [[3, 0.0, 1]], [[0, 0.0, 1]],
    ]  # fmt: skip
    assert [(track["group"], track["drums"], track["channels"]) for track in key["tracks"]] == [
        ("bass", False, [10]), ("drums", True, [9]),
    ]  # fmt: skip
    held = versions_of(GATES.replace("| N.C. | F |", "| F | % |"))
    told = timeline(held, NO_VOICE, PageFonts(b"", b"", 0.0, ""))["keys"][0]["bars"]
    assert [bar[0][2] for bar in told] == [1, 1, 1, 0]


def test_a_position_tells_its_shapes_and_changes(value: dict[str, Any]) -> None:
    (version,) = value["versions"]
    assert (version["key"], version["position"], version["frets"]) == (
        0, "fifth-top-high", [10, 15],
    )  # fmt: skip
    assert version["shapes"] == [
        {"frets": [12, 14, 15, 15], "fingers": [1, 2, 3, 4], "first": 12, "rows": 4,
         "barre": None, "degrees": ["5", "3", "1", "5"]},
        {"frets": [12, 12, 14, 13], "fingers": [1, 1, 3, 2], "first": 12, "rows": 4,
         "barre": [12, 0, 1], "degrees": ["1", "5", "3", "b7"]},
        {"frets": [10, 10, 12, 13], "fingers": [1, 1, 3, 4], "first": 10, "rows": 4,
         "barre": [10, 0, 1], "degrees": ["1", "5", "3", "1"]},
    ]  # fmt: skip
    assert version["changes"] == [
        [0.0, 0, 0], [2.0, 1, 1], [3.0, 2, 2], [3.5, 1, 1], [4.0, 3, -1], [5.5, 0, 0],
    ]  # fmt: skip
    assert list(version["moves"]) == ["0>1", "1>2", "2>1", "1>0", "0>2", "2>0"]
    words = [" ".join(version["clauses"][at]) for at in version["moves"]["1>2"]]
    assert words == [
        "index slides two frets down on the fourth and third strings to fret 10",
        "ring slides two frets down on the second string to fret 12",
        "little takes over on the first string from the middle finger",
    ]
    assert version["clauses"][0] == ["index", "lies down",
                                     "on the fourth and third strings at fret 12"]  # fmt: skip


def test_notes_belong_to_their_strokes(value: dict[str, Any]) -> None:
    track = value["versions"][0]["track"]
    assert (track["group"], track["name"], track["program"], track["level"]) == (
        "me", "Tenor banjo", 105, 78,
    )  # fmt: skip
    assert (track["channels"], track["pans"]) == ([0, 1, 2, 3], [34, 38, 44, 48])
    strokes_s = [0, 0.5, 1, 1.5, 2, 2.5, 2.8333, 3, 3.5, 5.5, 6, 6.5]
    assert sorted({note[0] for note in track["notes"]}) == strokes_s
    choked = [note for note in track["notes"] if note[0] < 4]
    assert all(note[0] == note[2] and 0.08 < note[3] < 0.14 for note in choked)
    assert {note[7] for note in choked} == {1}  # the bank of choked strokes
    ringing = [note for note in track["notes"] if note[0] >= 4]
    assert all(note[2] > note[0] for note in ringing)
    bass = value["keys"][0]["tracks"][0]["notes"]
    assert [note[0] for note in bass] == [0, 0.5, 1, 1.5, 2, 2.5, 3, 3.5, 5.5]
    assert all(abs(note[1]) < 0.01 and note[3] == 0 for note in bass)


def test_the_strings_are_sounded_once_each_to_be_tuned(value: dict[str, Any]) -> None:
    assert value["tuning"] == [
        {"name": name, "string": 4 - at, "note": [pitch, 80, at, 0]}
        for at, (name, pitch) in enumerate((("C3", 48), ("G3", 55), ("D4", 62), ("A4", 69)))
    ]


@pytest.mark.slow
def test_versions_know_their_key_and_the_first_is_shown_first() -> None:
    two = versions_of(GATES, keys=("F", "Bb"), positions=("third-top", "fifth-top"))
    told = timeline(two, NO_VOICE, PageFonts(b"v", b"", 1.0, ""))
    assert [(one["key"], one["position"]) for one in told["versions"]] == [
        (0, "third-top"), (0, "fifth-top"), (1, "third-top"), (1, "fifth-top"),
    ]  # fmt: skip
    assert [key["name"] for key in told["keys"]] == ["F major", "B♭ major"]
    assert told["voiced"]


def test_only_pairs_that_follow_each_other_are_told_where_there_are_very_many_shapes() -> None:
    from accomp.neck import find_hand, playable_shapes
    from accomp.web.timeline import _moves

    many = playable_shapes(
        parse_chord("C7"), find_instrument("tenor-banjo"), find_hand("medium"), mute=False
    )[:41]
    order = [[0.0, 0, at] for at in (0, 1, 0, 2)]
    _, few = _moves(many[:40], order, 4)
    assert len(few) == 40 * 39
    _, told = _moves(many, order, 4)
    assert list(told) == ["0>1", "1>0", "0>2", "2>0"]
    _, none = _moves(many, [[0.0, 0, -1]], 4)
    assert none == {}


def struck(frets: tuple[int | None, ...], strings: tuple[int, ...], **more: Any) -> Any:
    shape = SimpleNamespace(frets=frets)
    return SimpleNamespace(shape=shape, strings=strings, technique="stroke", sound="ring", **more)


def test_which_strings_a_stroke_strikes_in_words() -> None:
    four = (0, 0, 0, 0)
    words = {
        (0, 1, 2, 3): "all", (0,): "lowest", (3,): "highest", (0, 1): "low two", (1, 2): "inner",
        (2, 3): "high two", (0, 1, 2): "low three", (1, 2, 3): "high three", (0, 3): "outer",
        (1,): "one", (2,): "one", (0, 2): "two", (1, 3): "two", (0, 1, 3): "three",
        (0, 2, 3): "three", (): "no",
    }  # fmt: skip
    assert set(words) == {
        some for count in range(5) for some in itertools.combinations(range(4), count)
    }
    for strings, word in words.items():
        if strings:
            assert strings_words(struck(four, strings)) == word
            assert strings_words(struck(four, strings[::-1])) == word
    # Strings that a shape leaves out are none of those that are counted.
    assert strings_words(struck((None, 0, 0, 0), (1, 2, 3))) == "all"
    assert strings_words(struck((None, 0, 0, 0), (2,))) == "inner"
    assert strings_words(struck((None, 0, 0, 0), (1, 3))) == "outer"
    assert strings_words(struck((0, None), (0,))) == "all"
    ten = (0,) * 12
    assert strings_words(struck(ten, tuple(range(9)))) == "low nine"
    assert strings_words(struck(ten, tuple(range(10)))) == "low ten"


@pytest.mark.parametrize(
    ("technique", "sound", "words"),
    [
        ("stroke", "ring", ""), ("rest", "ring", ""), ("stroke", "choked", "choked"),
        ("stroke", "heel", "damped"), ("stroke", "dead", "dead"), ("roll", "ring", "roll"),
        ("tremolo", "choked", "tremolo, choked"),
    ],
)  # fmt: skip
def test_how_a_stroke_sounds_in_words(technique: str, sound: str, words: str) -> None:
    assert sound_words(SimpleNamespace(technique=technique, sound=sound)) == words  # type: ignore[arg-type]


def test_chords_are_listed_once_each_in_their_order() -> None:
    names = ChordNames(parse_tune(GATES, "t.toml").key)
    chords = [parse_chord(text) for text in ("F", "C7", "F", "Bb")]
    assert [names.index(chord) for chord in (*chords, None, chords[0], None)] == [
        0, 1, 0, 2, 3, 0, 3,
    ]  # fmt: skip
    assert len(names.names) == 4
    assert spoken_chord(parse_chord("Abm7/Gb")) == "A flat minor seven over G flat"


def test_a_time_belongs_to_the_stroke_that_it_is_near(gates: list[PageVersion]) -> None:
    """A stroke strays 30 ms ahead at most; 200 ms after it, it is over."""
    times = Times(gates[0])
    zero = times.zero_s
    for late in (-0.029, 0.0, 0.1, 0.199):
        assert times.of_stroke(zero + 1.0 + late, "strums") == [1.0, rounded(late)]
    for away in (0.201, 0.3, -0.031):
        assert times.of_stroke(zero + 1.0 + away, "strums") == [rounded(1.0 + away), 0]
    assert times.of_stroke(zero - 0.031, "strums") == [-0.031, 0]
    assert times.of_stroke(zero - 0.029, "strums") == [0.0, -0.029]
    assert times.whole(zero + 1.23456) == [1.2346, 0]
    assert str(rounded(-0.00001)) == "0.0"
    assert rounded(0.12344) == 0.1234


@pytest.mark.parametrize(
    ("technique", "one"), [("stroke", True), ("tremolo", False), ("roll", False)]
)
def test_a_tremolo_is_many_movements(technique: str, one: bool, gates: list[PageVersion]) -> None:
    bars = gates[0].arrangement.bars
    strums = tuple(replace(strum, technique=technique) for strum in bars[0].strums)
    arrangement = replace(gates[0].arrangement, bars=(replace(bars[0], strums=strums), *bars[1:]))
    times = Times(replace(gates[0], arrangement=arrangement))
    assert isinstance(strums[0], Strum)
    found = times.of_stroke(times.zero_s + 0.1, "strums")
    assert found == ([0.0, 0.1] if one else [0.1, 0])


def test_a_shape_is_drawn_in_its_window() -> None:
    from accomp.neck import find_hand, playable_shapes

    banjo, hand = find_instrument("tenor-banjo"), find_hand("medium")
    shapes = {str(one): one for one in playable_shapes(parse_chord("C"), banjo, hand, mute=False)}
    drawn = shape_json(shapes["0 0 2 3"])
    assert (drawn["first"], drawn["rows"], drawn["barre"]) == (1, 4, None)
    assert drawn["frets"] == [0, 0, 2, 3]
    assert drawn["degrees"] == ["1", "5", "3", "1"]


def test_what_a_page_carries_of_each_font(
    gates: list[PageVersion], monkeypatch: pytest.MonkeyPatch
) -> None:
    packed: dict[str, set[Any]] = {}

    def kept(path: Path, notes: Any) -> bytes:
        packed[str(path)] = set(notes)
        return str(path).encode()

    monkeypatch.setattr(fonts_module, "_packed", kept)
    performance = gates[0].performance
    small = page_fonts([performance], NO_VOICE)
    assert small == PageFonts(b"", b"band.sf2", 0.0, "Band")
    clicks = {(128, 0, *click) for click in CLICKS}
    wanted = {
        (128 if track.channels == (9,) else 0, track.program, note.pitch, note.velocity)
        for track in performance.tracks
        for note in track.notes
    }
    assert packed == {"band.sf2": clicks | wanted}
    packed.clear()
    voice = SimpleNamespace(path=Path("voice.sf2"))
    both: Any = SimpleNamespace(
        voice=voice, band=NO_VOICE.band, program=NO_VOICE.program,
        voices=lambda track: track.role == "player",
    )  # fmt: skip
    monkeypatch.setattr(fonts_module, "by_hand", lambda track, font: track)
    monkeypatch.setattr(fonts_module, "voice_gain_db", lambda *asked: asked)
    small = page_fonts([performance], both)
    assert (small.voice, small.gain_db) == (b"voice.sf2", (voice, both.band, 105))
    mine = {
        (note.bank, 105, note.pitch, note.velocity)
        for track in performance.tracks
        for note in track.notes
        if track.role == "player"
    }
    assert packed["voice.sf2"] == mine
    assert {bank for bank, *_ in mine} == {0, 1}
    nobody: Any = SimpleNamespace(
        voice=voice, band=both.band, program=both.program, voices=lambda track: False
    )
    assert page_fonts([performance], nobody).voice == b""
    assert gain_of_voice([performance], nobody) == 0.0
    (tuning,) = tuning_performance(find_instrument("tenor-banjo")).tracks
    monkeypatch.setattr(fonts_module, "by_hand", lambda track, font: "by hand")
    assert played(tuning, nobody) is tuning
    assert played(tuning, NO_VOICE) is tuning
    assert played(tuning, both) == "by hand"
    assert program_number("acoustic-bass") - 1 == 32


def test_a_font_that_cannot_be_cut_down_is_told(tmp_path: Path) -> None:
    with pytest.raises(SoundError, match=r"none\.sf2: cannot be read \(no such file"):
        fonts_module._packed(tmp_path / "none.sf2", [])
    other = tmp_path / "other.sf2"
    other.write_bytes(b"RIFF no font")
    with pytest.raises(SoundError, match=r"A page needs a plain \.sf2 file: name one\.$"):
        fonts_module._packed(other, [])


def test_a_short_sample_is_carried_as_it_is() -> None:
    def sample(size: int) -> Sample:
        wave = (8000 * np.sin(np.arange(size) / 20)).astype(np.int16)
        return SimpleNamespace(data=wave, rate_hz=44_100)  # type: ignore[return-value]

    assert pack(sample(5_999)) is None
    packed = pack(sample(6_000))
    assert packed is not None
    assert packed.startswith(b"OggS")
    assert packed == pack(sample(6_000))


MIT = "Made with accomp (MIT licence). It works offline and sends nothing anywhere."
TYPE = "The type is Libertinus Serif, under the SIL Open Font License 1.1."
COMPUTED = "The player's sounds are computed from a model and free for any use."


def paragraphs(small: PageFonts) -> list[str]:
    return [html.unescape(line[3:-4]) for line in about(small).splitlines() if line[:3] == "<p>"]


def test_the_foot_of_a_page_names_all_that_is_in_it() -> None:
    plain = paragraphs(PageFonts(b"", b"", 0.0, "mine.sf2"))
    assert plain[0] == MIT
    assert "spessasynth_core" in plain[1]
    assert plain[1].endswith("under the Apache License, version 2.0.")
    assert plain[2].endswith(", under the same.")
    assert plain[-2:] == [
        "The band's sounds are parts of the SoundFont mine.sf2; its own licence says whether this "
        "page may be given away.", TYPE,
    ]  # fmt: skip
    assert COMPUTED not in plain
    known = paragraphs(PageFonts(b"v", b"", 0.0, "TimGM6mb.sf2"))
    assert known[-3] == COMPUTED
    assert known[-2].startswith("The band's sounds are parts of the SoundFont TimGM6mb by Tim")
    assert known[-2].endswith("timgm6mb-soundfont.")
    from accomp.voice.kit.merge import MODELLED

    merged = paragraphs(PageFonts(b"", b"", 0.0, f"TimGM6mb.sf2{MODELLED}"))
    assert merged[-2] == (
        f"{known[-2]} Its drums and bass are computed from models and free for any use."
    )
    text = about(PageFonts(b"", b"", 0.0, "TimGM6mb"))
    order = ["Apache License", "GNU GENERAL PUBLIC LICENSE", "SIL OPEN FONT LICENSE"]
    at = [text.index(name, text.index("<pre>")) for name in order]
    assert at == sorted(at)


def test_a_page_is_labelled_with_all_that_it_holds() -> None:
    request = resolve(
        parse_tune(GATES, "t.toml"),
        Options(choruses=1, keys=("F", "Bb"), positions=("third-top", "fifth-top")),
    )
    item = page_item(Ingredients(tuple(versions(request)), Sound()))
    ((name, label),) = item.labels.items()
    assert name == "three-gates_practice.html"
    assert (label.kind, label.role, label.part) == ("page", "full", "tenor-banjo")
    assert (label.key, label.position) == ("F, Bb", "third-top, fifth-top")
    assert (label.tempo, label.style) == (120.0, "choked-four, plain-three-four")
    assert item.weight == 60.0
    assert [(str(one.key), one.position) for one in item.versions][1:3] == [
        ("F", "fifth-top"), ("Bb", "third-top"),
    ]  # fmt: skip


def test_a_page_may_do_no_more_than_its_own() -> None:
    assert policy("", "x") == (
        "default-src 'none'; script-src 'sha256-LXEWQrcmsEQBYnyp+6wy9chTD7GQPMTbAiWHF5IaSIE=' "
        "data: 'wasm-unsafe-eval'; style-src 'sha256-47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU='"
        "; font-src data:; connect-src 'none'; base-uri 'none'; form-action 'none'"
    )
    with pytest.raises(KeyError):
        filled("{{none}}", {})
