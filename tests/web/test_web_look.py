"""What the page shows, to whom, and on what: sizes, keyboard, screen reader, paper, bad days."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from test_web_page import HOSTILE
from web_pages import CHOKED, example, made_page
from web_recording import until

import accomp.web
from accomp.tune import parse_tune

AXE = Path(accomp.web.__file__).parent / "script" / "node_modules" / "axe-core" / "axe.min.js"
DOTS = """() => [...document.querySelectorAll("#now .dot")]
  .map((dot) => [dot.cx.baseVal.value, dot.cy.baseVal.value])"""
BETWEEN = [pytest.param(width, marks=pytest.mark.long) for width in (390, 640, 1100, 1280)]
WIDTHS = [320, 820, 2560, *BETWEEN]


@pytest.mark.slow
def test_nothing_is_asked_of_the_network(parade: Path, opened: Any) -> None:
    page = opened(parade, wait="")
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.reload()
    page.wait_for_selector("html[data-ready=sound]", state="attached")
    page.click("#play")
    page.wait_for_timeout(2500)
    page.evaluate("practice.stop()")
    # The file itself, and what it carries in itself.
    assert [url for url in asked if not url.startswith("data:")] == [parade.as_uri()]


@pytest.mark.slow
def test_the_policy_refuses_what_is_not_the_pages_own(parade: Path, browser: Any) -> None:
    page = browser.new_page()
    page.goto(parade.as_uri())
    page.evaluate(
        """() => {
          const script = document.createElement('script');
          script.textContent = 'window.hurt = 1';
          document.body.append(script);
          document.body.insertAdjacentHTML('beforeend', '<img src=x onerror="window.hurt = 1">');
        }"""
    )
    page.wait_for_timeout(200)
    assert page.evaluate("window.hurt") is None
    asked = page.evaluate("() => fetch('data:text/plain,x').then(() => 'came', () => 'refused')")
    assert asked == "refused"
    page.close()


@pytest.mark.long
@pytest.mark.parametrize(
    "title", HOSTILE, ids=["script", "open", "image", "quotes", "direction", "long"]
)
def test_hostile_titles_are_shown_as_text(title: str, opened: Any, tmp_path: Path) -> None:
    tune = parse_tune(CHOKED, "choked.toml")
    section = replace(tune.sections["A"], name=title)
    path = tmp_path / "page.html"
    path.write_bytes(
        made_page(replace(tune, title=title, sections={title: section}, form=(title,)))
    )
    page = opened(path, viewport={"width": 320, "height": 640})
    assert page.evaluate("window.hurt") is None
    assert page.text_content("h1") == " ".join(title.split())
    assert page.text_content(".section .label") == title
    assert page.evaluate("document.documentElement.scrollWidth") <= 320


@pytest.mark.long
@pytest.mark.parametrize("width", WIDTHS)
def test_no_width_scrolls_sideways(parade: Path, opened: Any, width: int) -> None:
    page = opened(parade, viewport={"width": width, "height": 800})
    for _ in range(2):
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        cut = page.evaluate(
            """() => [...document.querySelectorAll('.bar, .slot, #foot button, .name')]
              .filter((e) => e.offsetParent && e.scrollWidth > e.clientWidth + 1)
              .map((e) => e.className + e.id + ': ' + e.textContent)"""
        )
        assert cut == []
        small = page.evaluate(
            """() => [...document.querySelectorAll('#foot button, #foot select, .bar, summary')]
              .filter((e) => e.offsetParent && e.getBoundingClientRect().height < 44)
              .map((e) => e.id || e.className)"""
        )
        assert small == []
        page.click("#more")


@pytest.mark.long
def test_long_chords_many_bars_and_seven_sharps(opened: Any, tmp_path: Path) -> None:
    bars = "| C#maj7 F#7#9 | A#m7b5/G# D#7#9 | G#7sus4 G#13 | C#6/9 | " * 75
    text = (
        'title = "Five Hundred Stairs"\nkey = "C#"\nmeter = "4/4"\ntempo = 140\n'
        f'style = "flat-four"\n[sections]\nA = """\n{bars.replace("| |", "|")}\n"""\n'
    )
    path = tmp_path / "stairs.html"
    path.write_bytes(made_page(parse_tune(text.replace(" |  |", " |"), "stairs.toml"), choruses=1))
    for width in (320, 1280):
        page = opened(path, viewport={"width": width, "height": 800})
        assert page.locator(".bar").count() == 300
        cut = page.evaluate(
            """() => [...document.querySelectorAll('.bar, .name')]
              .filter((e) => e.scrollWidth > e.clientWidth + 1).map((e) => e.textContent)"""
        )
        assert cut == []
        page.evaluate("practice.change({ loop: [290, 291], countIn: 0 })")
        page.evaluate("practice.play()")
        until(page, "practice.chart.marked === 291")
        box = page.locator(".bar.now").bounding_box()
        foot = page.locator("#foot").bounding_box()
        assert box["y"] >= 0
        assert box["y"] + box["height"] <= foot["y"]


@pytest.mark.long
def test_five_hundred_bars(opened: Any, tmp_path: Path) -> None:
    bars = "| C | F | G7 | C / G7 / " * 125
    text = (
        'title = "Long Way Round"\nkey = "C"\nmeter = "4/4"\ntempo = 140\nstyle = "flat-four"\n'
        f'[sections]\nA = """\n{bars}|\n"""\n'
    )
    path = tmp_path / "long.html"
    path.write_bytes(made_page(parse_tune(text, "long.toml"), choruses=1))
    assert path.stat().st_size < 2_500_000
    page = opened(path)
    assert page.locator(".bar").count() == 501  # one more brings it home
    page.evaluate("practice.choose(480)")
    page.evaluate("practice.play()")
    until(page, "practice.chart.marked === 481")


@pytest.mark.long
def test_it_is_played_with_the_keyboard_alone(positions: Path, opened: Any) -> None:
    page = opened(positions)
    tempo = page.evaluate("practice.settings.tempo")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowUp")
    assert page.evaluate("practice.settings.tempo") == tempo + 6
    page.keyboard.press("Shift+ArrowLeft")
    page.keyboard.press("ArrowDown")
    assert page.inner_text("#beats") == str(round(tempo - 9))
    page.keyboard.press("2")
    assert page.evaluate("practice.settings.version") == 1
    page.keyboard.press("k")
    assert "B♭ major" in page.inner_text("#sub")
    page.keyboard.press("Space")
    until(page, "practice.playing && practice.chart.marked === 1")
    page.keyboard.press("[")
    page.keyboard.press("]")
    assert page.evaluate("practice.settings.loop") == [1, 1]
    assert page.inner_text("#round") == "bar 2, over and over"
    page.keyboard.press("0")
    assert page.evaluate("practice.settings.loop") is None
    page.keyboard.press("Space")
    assert not page.evaluate("practice.playing")
    for key, name in (("b", "boxes"), ("n", "numbers"), ("l", "leftHanded"), ("s", "say")):
        before = page.evaluate("(name) => practice.settings[name]", name)
        page.keyboard.press(key)
        assert page.evaluate("(name) => practice.settings[name]", name) is not before
    page.keyboard.press("?")
    assert page.locator("#help").is_visible()
    page.keyboard.press("Escape")
    assert not page.locator("#help").is_visible()


@pytest.mark.long
def test_the_tab_key_reaches_everything_and_the_chart_once(parade: Path, opened: Any) -> None:
    page = opened(parade)
    page.keyboard.press("m")
    reached = []
    for _ in range(60):
        page.keyboard.press("Tab")
        reached.append(
            page.evaluate("document.activeElement.id || document.activeElement.className"
                          " || document.activeElement.tagName")
        )  # fmt: skip
        if reached[-1] == "BODY":
            break
    visible = page.evaluate(
        """() => [...document.querySelectorAll('#foot button, #foot input, #foot select')]
          .filter((e) => e.offsetParent && e.id).map((e) => e.id)"""
    )
    assert set(visible) <= set(reached)
    assert sum(name.startswith("bar") for name in reached) == 1
    page.locator(".bar").first.focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Enter")
    assert page.evaluate("practice.chosen") == 5
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    assert page.evaluate("practice.settings.loop") == [5, 6]


@pytest.mark.long
def test_a_screen_reader_hears_bars_chords_and_moves(parade: Path, opened: Any) -> None:
    page = opened(parade)
    tree = page.locator("body").aria_snapshot()
    for words in (
        'button "bar 1, F"', 'button "bar 7, G7 C7"', 'button "Play"',
        'img "F: fourth string fret 5, third string fret 5, second string fret 7, first string',
        "the hand stays between frets 4 to 10",
        'img "The count: 1 down light low two', 'group "Speed"', 'group "Loudness"', "slider",
    ):  # fmt: skip
        assert words in tree, words
    seventh = page.locator(".bar").nth(6)
    assert seventh.get_attribute("aria-description") == "G seven, then C seven"
    page.evaluate(
        """() => { window.told = []; new MutationObserver(() => window.told.push(
          document.getElementById('told').textContent)).observe(
          document.getElementById('told'), { childList: true, characterData: true,
          subtree: true }); }"""
    )
    page.evaluate("practice.choose(16)")
    page.evaluate("practice.change({ tempo: practice.timeline.tempo * 1.5, countIn: 0 })")
    page.evaluate("practice.play()")
    until(page, "practice.chart.marked === 22")
    # A7 and D7 hold for two bars each: it is the chords that are told, not beats nor bars.
    wanted = ["bar 17, A seven", "bar 19, D seven", "bar 21, G seven", "bar 23, C seven"]
    assert page.evaluate("window.told") == wanted


@pytest.mark.many(1)
@pytest.mark.parametrize(
    ("scheme", "width"),
    [
        ("light", 1280),
        ("dark", 390),
        pytest.param("dark", 1280, marks=pytest.mark.long),
        pytest.param("light", 390, marks=pytest.mark.long),
    ],
)
def test_axe_finds_nothing(positions: Path, opened: Any, scheme: str, width: int) -> None:
    if not AXE.is_file():
        pytest.skip("Node's packages are not installed")
    page = opened(positions, color_scheme=scheme, viewport={"width": width, "height": 900})
    page.evaluate(AXE.read_text(encoding="utf-8") + "\nundefined")
    for _ in range(2):
        found = page.evaluate(
            "() => axe.run().then((r) => r.violations.map((v) => [v.id, v.impact, "
            "v.nodes.map((n) => n.html.slice(0, 90))]))"
        )
        assert found == []
        page.click("#more")


@pytest.mark.long
def test_it_remembers_speed_loop_and_mix(parade: Path, opened: Any) -> None:
    page = opened(parade)
    page.evaluate("practice.change({ tempo: 120, loop: [2, 5], mix: { me: 0.8, bass: 0.3 } })")
    page.reload()
    page.wait_for_selector("html[data-ready=sound]", state="attached")
    assert page.inner_text("#beats") == "120"
    assert page.inner_text("#round") == "bars 3 to 6, over and over"
    assert page.input_value("#mix input[data-group=bass]") == "30"
    for width, height in ((390, 844), (844, 390)):  # a phone says so too, and how to be rid of it
        page.set_viewport_size({"width": width, "height": height})
        assert page.is_visible("#round")
    page.set_viewport_size({"width": 390, "height": 844})
    page.click("#whole")
    assert page.evaluate("practice.settings.loop") is None
    assert not page.is_visible("#whole")


@pytest.mark.long
@pytest.mark.parametrize("stored", ["{", "null", '{"tempo": 9e9, "loop": [900, 2], "mix": 3}'])
def test_what_it_remembers_wrongly_does_no_harm(parade: Path, opened: Any, stored: str) -> None:
    before = f"Storage.prototype.getItem = () => {json.dumps(stored)};"
    page = opened(parade, before=before)
    assert page.inner_text("#beats") == "168"
    assert page.evaluate("practice.settings.loop") is None


@pytest.mark.slow
def test_it_plays_where_nothing_is_remembered(parade: Path, opened: Any) -> None:
    refused = "throw new DOMException('no', 'SecurityError')"
    before = f"Object.defineProperty(window, 'localStorage', {{ get() {{ {refused} }} }});"
    page = opened(parade, before=before)
    page.click("#play")
    until(page, "practice.playing")


@pytest.mark.slow
@pytest.mark.parametrize(
    "missing",
    ["delete window.AudioContext", "delete BaseAudioContext.prototype.audioWorklet",
     "AudioWorklet.prototype.addModule = () => Promise.reject(new Error('It is refused here.'))"],
    ids=["sound", "worklet", "module"],
)  # fmt: skip
def test_without_sound_the_page_shows_and_says_so(parade: Path, opened: Any, missing: str) -> None:
    page = opened(parade, before=missing, wait="silent")
    assert "without sound" in page.inner_text("#silent")
    assert page.locator("#play").is_disabled()
    assert page.inner_text("#now .name") == "F"
    page.locator(".bar").nth(3).click()
    assert "bar 4" in page.inner_text("#round")


@pytest.mark.slow
def test_without_script_it_says_so(parade: Path, browser: Any) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(parade.as_uri())
    assert "JavaScript" in page.inner_text("noscript")
    assert page.inner_text("h1") == "Harbour Street Parade"
    context.close()


@pytest.mark.slow
def test_printing_gives_the_plain_chart(parade: Path, opened: Any) -> None:
    page = opened(parade)
    page.emulate_media(media="print")
    for part in ("#foot", "#hand", ".about"):
        assert not page.locator(part).is_visible(), part
    assert page.locator(".bar").count() == 32
    assert page.locator(".bar").first.is_visible()
    assert page.locator("h1").is_visible()


@pytest.mark.slow
def test_the_test_of_memory_shows_names_alone(parade: Path, opened: Any) -> None:
    page = opened(parade)
    assert page.locator("#now .chord-box").is_visible()
    page.evaluate("practice.change({ boxes: false })")
    assert not page.locator("#now .chord-box").is_visible()
    assert not page.locator("#moves").is_visible()
    assert not page.locator("#neck").is_visible()
    assert page.inner_text("#now .name") == "F"
    page.evaluate("practice.change({ numbers: true })")
    assert page.inner_text("#now .name") == "I"
    assert page.locator(".bar").nth(4).inner_text() == "I/5"


@pytest.mark.slow
def test_left_handed_boxes_are_mirrored_and_their_figures_are_not(
    parade: Path, opened: Any
) -> None:
    page = opened(parade)
    right = page.evaluate(DOTS)
    page.evaluate("practice.change({ leftHanded: true })")
    left = page.evaluate(DOTS)
    width = page.evaluate("document.querySelector('#now svg').viewBox.baseVal.width")
    assert left == [[width - x, y] for x, y in right] != right
    assert "fourth string fret 5" in page.get_attribute("#now svg", "aria-label")


@pytest.mark.slow
def test_a_box_is_the_drawing_of_the_printed_page(parade: Path, opened: Any) -> None:
    from lxml import etree
    from web_pages import page_versions

    from accomp.job.options import Options
    from accomp.write.diagram import MARKS_HEIGHT, TITLE_HEIGHT, chord_box_svg

    page = opened(parade)
    drawn = page.evaluate(DOTS)
    version = page_versions(example("harbour-street-parade"), Options(choruses=1))[0]
    svg = etree.fromstring(chord_box_svg(version.arrangement.bars[0].changes[0].shape))
    dots = [
        [float(dot.get("cx")), float(dot.get("cy"))]
        for dot in svg.iter("{http://www.w3.org/2000/svg}circle")
        if dot.get("class") == "dot"
    ]
    lower = dots[0][1] - drawn[0][1]  # on paper the name stands over it
    assert 0 < lower <= TITLE_HEIGHT + MARKS_HEIGHT
    assert drawn == [[x, pytest.approx(y - lower)] for x, y in dots]


@pytest.mark.long
def test_names_are_said_a_beat_ahead(parade: Path, opened: Any) -> None:
    before = """window.said = []; speechSynthesis.speak = (words) => window.said.push(
      [words.text, practice.player.place().time]);"""
    page = opened(parade, before=before)
    page.evaluate("practice.change({ say: true, countIn: 0, tempo: 60 })")
    page.evaluate("practice.play()")
    until(page, "practice.chart.marked === 3", within_s=40)
    said = page.evaluate("window.said")
    beat_s = 60 / 168
    assert [words for words, _ in said][:2] == ["F seven", "B flat"]
    for (_, at_s), bar in zip(said[:2], (1, 2), strict=True):
        ahead_s = bar * 4 * beat_s - at_s
        assert beat_s / 2 < ahead_s <= beat_s + 0.02


@pytest.mark.long
def test_tuning_notes_sound(parade: Path, opened: Any) -> None:
    from web_recording import recorded, start_recording

    page = opened(parade)
    start_recording(page)
    page.click("#more")
    for button in page.locator("#tuning button").all():
        button.click()
        page.wait_for_timeout(300)
    assert page.locator("#tuning button").all_inner_texts() == ["C3", "G3", "D4", "A4"]
    heard = recorded(page)
    end_s = heard.start_s + len(heard.sound) / heard.rate
    assert heard.level_db(end_s - 0.25, end_s) > -40


@pytest.mark.slow
def test_the_screen_stays_on_while_it_plays(parade: Path, opened: Any) -> None:
    before = """window.locks = []; Object.defineProperty(navigator, 'wakeLock', { value: {
      request: async (kind) => { window.locks.push(kind);
        return { release: async () => window.locks.push('released') }; } } });"""
    page = opened(parade, before=before)
    page.click("#play")
    until(page, "practice.playing")
    page.wait_for_timeout(50)
    page.evaluate("practice.stop()")
    until(page, "window.locks.length === 2")
    assert page.evaluate("window.locks") == ["screen", "released"]


@pytest.mark.long
def test_still_pages_for_who_wants_less_motion(parade: Path, opened: Any) -> None:
    page = opened(parade, reduced_motion="reduce")
    assert (
        page.evaluate("getComputedStyle(document.getElementById('next')).transitionDuration")
        == "0s"
    )
    moving = opened(parade, reduced_motion="no-preference")
    style = "getComputedStyle(document.getElementById('next')).transitionDuration"
    assert moving.evaluate(style) != "0s"
