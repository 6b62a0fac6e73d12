"""Values draw themselves, in a few kilobytes, and whatever comes from files stays text."""

from __future__ import annotations

from base64 import b64decode
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import pytest
from lxml import etree, html

import accomp
from accomp.neck.handout import CAUTION

EVIL = '<script>alert("x")</script> & </div><img src=x onerror=alert(1)>\x07'
SVG = "{http://www.w3.org/2000/svg}"


def _tune(title: str = EVIL) -> accomp.Tune:
    sections = {"<b>A</b>": "| C | A7 / D7 / |", "B": "| G7 | C |"}
    return accomp.tune(sections, key="C", title=title.replace("\x07", ""), composer="<i>me</i>")


def _shown(value: object) -> str:
    found = getattr(value, "_repr_html_", None) or value._repr_svg_  # type: ignore[attr-defined]
    return str(found())


def test_shapes_and_plans_are_drawings(tune: accomp.Tune) -> None:
    plan = accomp.positions(tune)["third-top"]
    shape = plan.path[0]
    drawing = ElementTree.fromstring(shape._repr_svg_())
    assert drawing.tag == f"{SVG}svg"
    assert drawing.get("aria-label") == str(shape)
    # A dot or a bar for each finger that stands, a number for each under the box.
    numbers = [one.text for one in drawing.iter(f"{SVG}text")]
    assert [number for number in numbers if number in set("1234")][-4:] == [
        str(finger) for finger in shape.fingers if finger
    ]
    boxes = ElementTree.fromstring(plan._repr_svg_())
    groups = [one for one in boxes.iter(f"{SVG}g") if one.get("class") == "chord-box"]
    assert len(groups) == len(plan.boxes) == 4
    titles = [one.text for one in boxes.iter(f"{SVG}text") if one.get("class") == "title"]
    assert titles == ["C", "A7", "D7", "G7"]
    best = accomp.shapes("Bb7", best=12)
    drawn = best._repr_svg_()
    assert drawn.count('class="chord-box"') == 12
    assert "B♭7: 12 of" in drawn


def test_a_tune_is_shown_bar_by_bar() -> None:
    page = html.fromstring(_shown(_tune("Porch Light")))
    rows = [[cell.text_content() for cell in row.iter("td")] for row in page.iter("tr")]
    assert rows == [["C", "A7  D7"], ["G7", "C"]]
    said = page.text_content()
    for text in ("Porch Light", "C major, 4/4, 120 beats a minute", "<i>me</i>", "<b>A</b>"):
        assert text in said
    assert "Form:" not in said  # once each in order says nothing


def test_a_tune_whose_form_says_something_shows_it() -> None:
    again = accomp.tune({"A": "| C |", "B": "| F |"}, key="C", form=["A", "B", "A"])
    assert "Form: A B A" in _shown(again)


def test_real_signs_and_carried_chords() -> None:
    tune = accomp.tune("| Bb7 / Eb / | / F#m7b5 | N.C. |", key="Bb")
    cells = [cell.text_content() for cell in html.fromstring(_shown(tune)).iter("td")]
    assert cells == ["B♭7  E♭", "/  F♯m7♭5", "N.C."]


@pytest.mark.parametrize("what", ["tune", "positions", "keys", "piece", "lesson", "score", "audio"])
def test_what_comes_from_files_stays_text(what: str) -> None:
    tune = _tune()
    piece = accomp.arrange(tune, choruses=1)
    values = {
        "tune": lambda: tune,
        "positions": lambda: accomp.positions(tune),
        "keys": lambda: accomp.keys(tune, key="C"),
        "piece": lambda: piece,
        "lesson": lambda: piece.lesson,
        "score": lambda: piece.score("notation"),
        "audio": lambda: accomp.Audio(EVIL, b"fLaC", "flac", notices=(EVIL,)),
    }
    shown = _shown(values[what]())
    page = html.fromstring(shown)
    assert page.tag == "div"
    assert not list(page.iter("script"))
    assert all(image.get("onerror") is None for image in page.iter("img"))
    assert page.getnext() is None
    assert "\x07" not in shown
    if what != "lesson":
        assert '<script>alert("x")</script> & </div>' in page.text_content()


def test_a_style_shows_its_count(tmp_path: Path) -> None:
    style = accomp.find_style("two-beat")
    lines = html.fromstring(_shown(style)).find("pre").text_content().splitlines()
    count = next(line for line in lines if line.split()[:1] == ["count"])
    assert count.split() == ["count", "1", "2", "3", "4"]
    own = tmp_path / "evil.toml"
    own.write_text(Path(style.file).read_text().replace("Two-beat", "<b>Two</b>"))
    assert "<b>Two" not in _shown(accomp.find_style(str(own)))


def test_a_score_is_engraved_line_by_line(piece: accomp.Piece) -> None:
    page = html.fromstring(_shown(piece.score()))
    pictures = [image.get("src") for image in page.iter("img")]
    assert pictures
    assert all(one.startswith("data:image/svg+xml;base64,") for one in pictures)
    etree.fromstring(b64decode(pictures[0].partition(",")[2]))


@pytest.mark.slow
def test_a_lesson_says_what_to_drill(piece: accomp.Piece) -> None:
    said = html.fromstring(_shown(piece.lesson)).text_content()
    hardest = piece.lesson.positions[0].hardest[0]
    assert f"{hardest.from_chord} to {hardest.to_chord}: " in said
    for position in piece.lesson.positions:
        assert position.plan.name in said
    assert CAUTION not in said, "nothing is wide here"
    first = piece.lesson.positions[0]
    wide = replace(first, plan=replace(first.plan, wide=(True,) * len(first.plan.wide)))
    assert (
        CAUTION in html.fromstring(_shown(replace(piece.lesson, positions=(wide,)))).text_content()
    )


def test_a_piece_shows_the_tune_and_where_it_is_played(piece: accomp.Piece) -> None:
    page = html.fromstring(_shown(piece))
    assert "third-top: frets" in page.text_content()
    assert len([one for one in page.iter() if one.get("class") == "chord-box"]) == 4


def test_what_is_to_be_known_is_said_once() -> None:
    sections = {"A": "| C | G7 |", "B": "| F |"}
    tune = accomp.tune(sections, key="C", form=["A"])  # B is not played
    piece = accomp.arrange(tune, position="root-top", style="two-beat")
    assert any("choke" in notice for notice in piece.plans[0].notices)
    said = html.fromstring(_shown(piece)).text_content()
    for notice in {*piece.notices, *tune.notices, *piece.plans[0].notices}:
        assert said.count(notice) == 1, notice


def test_sound_is_heard_in_a_page_unless_it_is_too_large() -> None:
    small = accomp.Audio("x", b"fLaC", "flac")
    page = html.fromstring(_shown(small))
    (heard,) = page.iter("audio")
    assert heard.get("src") == "data:audio/flac;base64,ZkxhQw=="
    assert "Start quietly" in page.text_content()
    large = accomp.Audio("x", bytes(12_000_001), "flac")
    page = html.fromstring(_shown(large))
    assert not list(page.iter("audio"))
    assert "12 MB are too many" in page.text_content()


def test_reprs_are_short_and_say_what_it_is(piece: accomp.Piece, tune: accomp.Tune) -> None:
    long_title = accomp.tune("| C | G7 |", key="C", title="x" * 900)
    values = [
        tune, long_title, accomp.arrange(long_title), piece, piece.perform(), piece.score(),
        piece.lesson, piece.arrangement, piece.player, piece.player.instrument,
        piece.player.hand, accomp.positions(tune), accomp.positions(tune).best,
        accomp.shapes("C7"), accomp.parse_chord("C7"), accomp.shapes("C7")[0], tune.key,
        accomp.find_style("two-beat"), tune.sections["A"], accomp.Audio("x", b"", "flac"),
        accomp.positions(long_title), accomp.arrange(long_title).lesson,
    ]  # fmt: skip
    for value in values:
        assert len(repr(value)) < 160, repr(value)[:200]
        assert "\n" not in repr(value)
    assert repr(tune) == "<Tune 'Porch Light': C, 4/4, 140 beats a minute, 4 bars>"
    assert repr(accomp.shapes("C7")[0]) == f"<Shape {accomp.shapes('C7')[0]}>"
