"""What a notebook shows and is told, whole: each page line by line, each answer and refusal."""

from __future__ import annotations

from base64 import b64decode
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from lxml import etree, html

import accomp
from accomp.errors import InputError, NotInstalledError, Problem
from accomp.job.items import Outcome
from accomp.job.manifest import Label
from accomp.job.sound import Sound
from accomp.neck.handout import CAUTION
from accomp.notebook import audio, bridges, page
from accomp.notebook import piece as piece_module
from accomp.notebook.drawing import drawing
from accomp.notebook.page import page_piece
from accomp.notebook.wanted import asked_for, options_of
from accomp.rhythm import describe_style
from accomp.score.performance import Performance

ROAD = accomp.tune(
    {
        "A": "| C | A7 / D7 / | G7 | N.C. | F |",
        "B": {"bars": "| Bb | F |", "key": "Bb", "meter": "2/4", "style": "two-beat"},
    },
    key="C", title="Porch Light", composer="Nobody", tempo=92.5, form=["A", "B", "A"],
)  # fmt: skip


def lines(value: object) -> list[str]:
    """The text of each line of a page, tables by rows, drawings as what they are called."""
    found = []
    for one in html.fromstring(page_piece(value)):
        drawn = one.find(".//{*}svg")
        if one.tag == "table":
            found += ["|".join(cell.text_content() for cell in row) for row in one]
        elif one.tag == "ul":
            found += [f"- {row.text_content()}" for row in one]
        elif drawn is not None:
            found.append(f"[{drawn.get('aria-label')}]")
        elif one.tag in ("img", "audio"):
            found.append(f"[{one.get('alt') or one.get('src')}]")
        else:
            found.append(one.text_content())
    return found


def test_a_tune_is_shown_line_by_line() -> None:
    assert lines(ROAD) == [
        "Porch Light  Nobody  C major, 4/4, 92.5 beats a minute",
        "Form: A B A",
        "A",
        "C|A7  D7|G7|N.C.",
        "F",
        "B  B♭ major, 2/4, two-beat",
        "B♭|F",
    ]
    plain = accomp.tune("| C | C | C | C | C | C | C | C |", key="C", title="T")
    assert lines(plain) == ["T  C major, 4/4, 120 beats a minute", "A", "C|C|C|C", "C|C|C|C"]
    told = replace(plain, notices=("is in Bb", "is in Bb", "other"))
    assert lines(told)[-2:] == ["Note: is in B♭", "Note: other"]
    style = html.fromstring(page_piece(ROAD)).get("style")
    assert style.startswith("background:#fffdf8;color:#26211c;")


def test_positions_and_a_piece_are_shown_plan_by_plan(tune: accomp.Tune) -> None:
    found = accomp.positions(tune, style="plain-four-four")
    plans = [
        line
        for plan in found
        for line in (plan.facts, f"[{plan.name}: "
                     f"{', '.join(f'{chord}: {shape}' for chord, shape in plan.boxes)}]")
    ]  # fmt: skip
    assert lines(found) == ["Porch Light  C major, on Tenor banjo", *plans]
    noted = replace(found, plans=(replace(found[0], notices=("said", "said")),))
    assert lines(noted) == ["Porch Light  C major, on Tenor banjo", *plans[:2], "Note: said"]
    piece = accomp.arrange(tune, position="third-top", style="plain-four-four", choruses=3)
    assert lines(piece) == [*lines(tune), plans[2], plans[3]]


@pytest.mark.slow
def test_keys_are_shown_with_the_home_chord(tune: accomp.Tune) -> None:
    found = accomp.keys(tune, key="Bb")
    shown = lines(found)
    assert shown[0] == "Porch Light  the home chord on Tenor banjo"
    row = found["Bb"]
    at = shown.index("B♭ major")
    words = ", ".join(f"{one.plan.name}: {one.plan.path[0]}" for one in row.positions)
    assert shown[at + 1] == f"[B♭ major: {words}]"
    facts = [
        f"{one.plan.facts}{f', slid from {chr(32).join(one.slid_from)}' if one.slid_from else ''}"
        for one in row.positions
    ]
    assert shown[at + 2 : at + 2 + len(facts)] == facts
    tiny = accomp.keys(accomp.tune("| C7(#9) | G13 |", key="C"), accomp.player(reach_mm=12),
                       key="C", closed=True)  # fmt: skip
    assert lines(tiny)[1:] == ["C major", tiny[0].problem]


@pytest.mark.slow
def test_a_lesson_is_told_position_by_position(piece: accomp.Piece) -> None:
    shown = lines(piece.lesson)
    assert shown[0] == "The chords by their place in the key"
    assert shown[1].startswith("C: ")
    assert shown[1].count("; ") == len(piece.lesson.names) - 1
    first = piece.lesson.positions[0]
    at = shown.index(first.plan.facts)
    assert shown[at + 1].startswith(f"[{first.plan.name}: C: ")
    end = at + 2 + len(dict.fromkeys(first.plan.notices))
    assert shown[end].startswith("Families: ")
    assert shown[end].endswith(".")
    assert "Met before" not in shown[end]
    assert shown[end + 1] == "Drill first, to and fro, slowly, then in the tune:"
    drills = [line for line in shown[end + 2 :] if line[:2] == "- "]
    assert drills[0] == (
        f"- {first.hardest[0].from_chord} to {first.hardest[0].to_chord}: "
        f"{first.hardest[0].words(4)}."
    )
    met = replace(first, met=("a", "b", "c"))
    again = lines(replace(piece.lesson, positions=(met,)))
    assert again[end - at + 2].endswith(". Met before: a, b and c.")


def test_a_score_is_lines_of_pictures(piece: accomp.Piece, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[object] = []

    def engraved(score: object, width_mm: float) -> list[Any]:
        asked.append((score, width_mm))
        return [SimpleNamespace(svg=f"<svg{n}/>", width_mm=n * 10.04) for n in (1, 2)]

    monkeypatch.setattr(page, "engrave", engraved)
    score = replace(piece.score("slash"), composer="Nobody")
    assert lines(score) == [
        f"Porch Light  Nobody  {score.feel}, 140 beats a minute", "[Line 1 of the score]",
        "[Line 2 of the score]",
    ]  # fmt: skip
    assert asked == [(score, 180.0)]
    pictures = list(html.fromstring(page_piece(score)).iter("img"))
    assert [b64decode(one.get("src").partition(",")[2]) for one in pictures] == [
        b"<svg1/>", b"<svg2/>",
    ]  # fmt: skip
    assert "width:10.0mm;" in pictures[0].get("style")
    assert "width:20.1mm;" in pictures[1].get("style")


def test_sound_is_heard_up_to_twelve_million_bytes(monkeypatch: pytest.MonkeyPatch) -> None:
    small = accomp.Audio("T", bytes(3), "mp3", notices=("said",))
    assert lines(small) == [
        "T  MP3", "[data:audio/mpeg;base64,AAAA]",
        "Start quietly, on headphones above all, and rest your ears.", "Note: said",
    ]  # fmt: skip
    assert page._MOST_HEARD == 12_000_000
    monkeypatch.setattr(page, "_MOST_HEARD", 3)
    assert lines(small)[1].startswith("[data:")
    assert lines(accomp.Audio("T", bytes(4), "wav"))[1].startswith("0 MB are too many")
    large = accomp.Audio("T", bytes(12_600_000), "ogg")
    assert lines(large)[1:] == ["13 MB are too many to be kept in a page: write it with to_file()."]
    assert repr(large) == "<Audio of 'T': ogg, 12,600,000 bytes>"
    assert bytes(small) == bytes(3)
    assert small.address == "data:audio/mpeg;base64,AAAA"


def test_what_is_no_page_and_no_drawing() -> None:
    with pytest.raises(TypeError, match=r"^a int is not shown as a page$"):
        page_piece(3)
    with pytest.raises(TypeError, match=r"^a int is not drawn$"):
        drawing(3)


def test_a_drawing_is_for_those_who_cannot_see_it_too() -> None:
    shapes = accomp.shapes("Bb7", best=2)
    root = etree.fromstring(drawing(shapes).encode())
    words = f"B♭7: 2 of {shapes.of} shapes, best first: {shapes[0]}, {shapes[1]}"
    assert (root.get("role"), root.get("aria-label"), root.get("style")) == (
        "img", words, "background:#fffdf8",
    )  # fmt: skip


def test_a_performance_is_sounded_by_its_group(monkeypatch: pytest.MonkeyPatch) -> None:
    told: list[Any] = []

    class Sounding:
        def __init__(self, files: Any, performance: Any, sound: Any) -> None:
            told.append((files, performance.title, sound.format))
            self.labels = {"sound.ogg": None}

        def write(self, paths: dict[str, Path], progress: Any) -> Outcome:
            progress(0.25)
            (path,) = paths.values()
            assert path.name == "sound.ogg"
            path.write_bytes(b"OggS")
            return Outcome(("made",), "font", None)

    monkeypatch.setattr(audio, "sound_item", Sounding)
    empty = Performance("T", (), (), (), (), (), (), 0.0)
    label = Label(None, "player")
    shares: list[Any] = []
    made = audio.rendered(
        empty, Sound(format="ogg", notices=("first",)), label, "player",
        lambda *said: shares.append(said),
    )  # fmt: skip
    assert made == accomp.Audio("T", b"OggS", "ogg", "font", "", ("first", "made"))
    assert told == [({"player": ("sound", label)}, "T", "ogg")]
    assert shares == [("Sounding", 0.25)]


def test_a_piece_asks_for_sound_as_it_was_asked(
    piece: accomp.Piece, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    asked: list[Any] = []

    def fonts(instrument: Any, options: Any, tell: Any) -> Sound:
        tell("Building", 0.5)
        return Sound(format=options.audio_format)

    def sounded(performance: Any, sound: Any, label: Any, group: Any, tell: Any) -> accomp.Audio:
        tell("Sounding", 1.0)
        asked.append((sound.format, str(label.role), str(group)))
        return accomp.Audio(performance.title, b"data", sound.format)

    monkeypatch.setattr(piece_module, "sound_for", fonts)
    monkeypatch.setattr(piece_module, "rendered", sounded)
    shares: list[Any] = []
    assert piece.audio().format == "flac"
    piece.audio(format="ogg", group="player", progress=lambda *said: shares.append(said))
    assert piece.to_audio() == b"data"
    for ending, kind in (("mp3", "mp3"), ("WAV", "wav")):
        path = piece.to_audio(tmp_path / f"a.{ending}", group="without-player")
        assert path.read_bytes() == b"data"
        assert asked[-1] == (kind, "without-player", "without-player")
    assert asked[:3] == [("flac", "full", "full"), ("ogg", "player", "player"),
                         ("flac", "full", "full")]  # fmt: skip
    assert shares == [("Building", 0.5), ("Sounding", 1.0)]


def refusal(call: Any) -> list[Problem]:
    with pytest.raises(InputError) as caught:
        call()
    return list(caught.value.problems)


def test_refusals_in_full(tune: accomp.Tune, piece: accomp.Piece) -> None:
    words = '"full" or "without-player" or "player"'
    assert refusal(lambda: piece.perform(group="plaier")) == [
        Problem(f"must be {words}, and this is 'plaier'.", found="plaier", expected=words,
                hint="Did you mean 'player'?", setting="group"),
    ]  # fmt: skip
    nearest, plain = "The nearest is 1.", "Write it without quotes."
    for best, hint in ((0, nearest), (-1, nearest), (1.5, ""), (True, ""), ("3", plain)):
        (problem,) = refusal(lambda best=best: accomp.shapes("C", best=best))
        assert problem.message.startswith("must be a whole number of 1 or more, and this is ")
        assert (problem.setting, problem.hint) == ("best", hint)
    assert len(accomp.shapes("C", best=1)) == 1
    words = '"first" or "inversions" or "all"'
    nobodys: Any = None  # there is no tune that could say which
    assert refusal(lambda: accomp.shapes("C", vocabulary=nobodys)) == [
        Problem(f"must be {words}, and this is None.", found="None", expected=words,
                setting="vocabulary"),
    ]  # fmt: skip
    assert refusal(lambda: accomp.arrange(tune, position="all")) == [
        Problem("a piece is in one position.", found="all", setting="position",
                hint="Ask for one position after another; `positions` lists them."),
    ]  # fmt: skip
    assert refusal(lambda: accomp.positions(tune, key="all")) == [
        Problem("this is done in one key.", found="all", setting="key",
                hint="Ask for one key after another."),
    ]  # fmt: skip
    best = accomp.positions(tune).best
    assert refusal(lambda: accomp.arrange(tune, position=best, key="D")) == [
        Problem(f"the position {best.name} is not one of this tune in D for this player.",
                found=best.name, expected="a position of this tune, in this key",
                hint="Ask for it by its name, or take it from `positions` of the same tune, player "
                     "and key.", setting="position"),
    ]  # fmt: skip
    known = (
        "key, style, plan, vocabulary, closed, tempo, choruses, count_in, melody, seed, position, "
        "part, reader, paper, plain_clef, soundfont, audio_format"
    )
    (wrong,) = refusal(lambda: options_of({"qqqq": 1}))
    assert wrong.message == "'qqqq' is not known here."
    assert wrong.expected == known
    assert wrong.hint == (
        "Known are: key, style, plan, vocabulary, closed, tempo, choruses, count_in, melody, seed."
    )
    (nearly,) = refusal(lambda: options_of({"tempos": 1}))
    assert nearly.hint == "Did you mean 'tempo'?"


def test_what_a_call_says_becomes_options() -> None:
    made = options_of({
        "key": accomp.Key.parse("F"), "tempo": 90, "position": "third-top", "part": "tab",
        "reader": None, "style": accomp.find_style("two-beat"), "seed": None, "closed": False,
    })  # fmt: skip
    assert (made.keys, made.tempos, made.positions) == (("F",), (90.0,), ("third-top",))
    assert (made.parts, made.readers, made.seed, made.closed) == (("tab",), ("concert",), 0, False)
    assert made.style is not None
    assert made.style.endswith("two-beat.toml")

    def wrong() -> None:
        raise InputError((Problem("a", setting="keys"), Problem("b", setting="seed")))

    assert [one.setting for one in refusal(lambda: asked_for(wrong))] == ["key", "seed"]


@pytest.mark.slow
def test_keys_are_found_by_sound_or_place(tune: accomp.Tune) -> None:
    every = accomp.keys(tune, key="D")
    row = every[0]
    names = ("C", "Db", "D")
    found = replace(every, rows=tuple(replace(row, key=accomp.Key.parse(one)) for one in names))
    assert found["C#"] is found["Db"] is found[1]
    assert [str(one.key) for one in found[1:]] == ["Db", "D"]
    assert len(found) == 3
    assert refusal(lambda: found["Dm"]) == [
        Problem("'Dm' is not among these keys.", found="Dm", expected="C, Db, D",
                hint="Known: C, Db, D."),
    ]  # fmt: skip
    count = len(row.positions)
    assert repr(every) == f"<1 key for 'Porch Light' on tenor-banjo: {count} positions>"
    assert repr(found) == f"<3 keys for 'Porch Light' on tenor-banjo: {3 * count} positions>"


def test_a_library_that_is_not_there_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    def missing(name: str) -> Any:
        raise ModuleNotFoundError(f"No module named {name!r}", name=name)

    monkeypatch.setattr(bridges.importlib, "import_module", missing)
    with pytest.raises(NotInstalledError) as caught:
        bridges._library("music21.converter")
    assert str(caught.value) == (
        "music21 is not installed, and is needed for this. Install it with pip install "
        "'accomp[bridges]'."
    )

    def broken(name: str) -> Any:
        raise ModuleNotFoundError("No module named 'other'", name="other")

    monkeypatch.setattr(bridges.importlib, "import_module", broken)
    with pytest.raises(ModuleNotFoundError, match="other"):
        bridges._library("mido")
    monkeypatch.setattr(
        bridges.importlib, "import_module", lambda name: (_ for _ in ()).throw(
            ModuleNotFoundError("nameless")))  # fmt: skip
    with pytest.raises(ModuleNotFoundError, match="nameless"):
        bridges._library("mido")


def test_a_score_goes_to_music21_as_its_file(
    piece: accomp.Piece, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[Any] = []
    parsed = SimpleNamespace(parse=lambda text, format: asked.append((text, format)) or "stream")
    opened = SimpleNamespace(
        MidiFile=lambda file, charset: (file.read(), charset),
        PrettyMIDI=lambda file: file.read(),
    )
    monkeypatch.setattr(
        bridges, "_library", lambda name: parsed if name == "music21.converter" else opened
    )
    score, performance = piece.score("slash"), piece.perform()
    assert bridges.to_music21(score) == "stream"
    assert asked == [(score.to_musicxml().decode(), "musicxml")]
    assert bridges.to_mido(performance) == (performance.to_midi(), "utf-8")
    assert bridges.to_pretty_midi(performance) == performance.to_midi()


def test_a_style_and_a_shape_are_shown_by_their_names() -> None:
    style = accomp.find_style("two-beat")
    first, *rest = describe_style(style)
    assert lines(style) == [first, "\n".join(rest)]
    shape = accomp.shapes("C7", best=1)[0]
    root = etree.fromstring(drawing(shape).encode())
    assert (root.tag, root.get("aria-label")) == ("{http://www.w3.org/2000/svg}svg", str(shape))


@pytest.mark.slow
def test_who_stretches_wide_is_told_to_take_care(piece: accomp.Piece) -> None:
    (first, *_) = piece.lesson.positions
    for wide, told in (((False, True), True), ((False, False), False), ((), False)):
        one = replace(first, plan=replace(first.plan, wide=wide))
        shown = lines(replace(piece.lesson, positions=(one,)))
        assert (CAUTION in shown) is told


def test_sound_is_written_to_any_path(tmp_path: Path) -> None:
    path = accomp.Audio("T", b"data", "flac").to_file(tmp_path / "new" / "a.any")
    assert path == tmp_path / "new" / "a.any"
    assert path.read_bytes() == b"data"


def test_a_stream_of_chords_becomes_a_tune(monkeypatch: pytest.MonkeyPatch) -> None:
    """By stand-ins: what music21 writes is its own affair."""

    class Stream:
        pass

    class OddError(Exception):
        pass

    written: list[Any] = []
    harmony = (
        "<harmony><root><root-step>{}</root-step></root><kind>major</kind></harmony>"
        "<note><rest/><duration>4</duration></note>"
    )
    sheet = (
        "<score-partwise><movement-title>{}</movement-title><identification>"
        "<creator type='composer'>{}</creator></identification><part-list><score-part id='P'>"
        "<part-name>P</part-name></score-part></part-list><part id='P'><measure number='1'>"
        "<attributes><divisions>1</divisions><key><fifths>0</fifths></key><time><beats>4</beats>"
        "<beat-type>4</beat-type></time></attributes>{}</measure></part></score-partwise>"
    )

    def exporter(stream: Any) -> Any:
        def parse() -> bytes:
            if isinstance(written[0], Exception):
                raise written[0]
            return bytes(written[0], "utf-8")

        return SimpleNamespace(parse=parse)

    library = SimpleNamespace(
        stream=SimpleNamespace(Stream=Stream),
        exceptions21=SimpleNamespace(Music21Exception=OddError),
    )
    export = SimpleNamespace(GeneralObjectExporter=exporter)
    monkeypatch.setattr(bridges, "_library", lambda name: library if name == "music21" else export)
    written[:] = [sheet.format("Music21 Fragment", "Music21", harmony.format("C"))]
    tune = bridges.tune_of_music21(Stream())
    assert (tune.title, tune.composer, tune.melody) == ("Untitled", "", None)
    melody = "The melody is not taken over: a tune names a file for it."
    assert melody not in tune.notices
    note = harmony.format("F").replace("<rest/>", "<pitch><step>F</step><octave>4</octave></pitch>")
    written[:] = [sheet.format("Gate", "Nobody", note)]
    tune = bridges.tune_of_music21(Stream())
    assert (tune.title, tune.composer, tune.melody) == ("Gate", "Nobody", None)
    assert melody in tune.notices
    (problem,) = refusal(lambda: bridges.tune_of_music21("a text"))
    assert problem.message == "a music21 stream is needed here, and this is of type str."
    assert problem.found == "str"
    written[:] = [OddError("odd")]
    (problem,) = refusal(lambda: bridges.tune_of_music21(Stream()))
    assert problem == Problem(
        "music21 cannot write this stream as a lead sheet: odd.",
        hint="Put it into measures with makeMeasures().",
    )
    written[:] = ["<score-partwise/>"]
    for one in refusal(lambda: bridges.tune_of_music21(Stream())):
        assert (one.line, one.column) == (0, 0)
