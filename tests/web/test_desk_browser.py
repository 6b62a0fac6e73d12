"""The desk in a real browser: the whole way from an empty folder, by mouse and by keyboard."""

from __future__ import annotations

import shutil
import signal
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from desk_server import EXAMPLES, SMALL, RunningDesk
from test_web_look import AXE
from web_recording import until

from accomp.job.check import problems_in
from accomp.tune import read_tune

Desk = Callable[..., Any]
PARADE = EXAMPLES / "harbour-street-parade.toml"


@pytest.fixture
def own(tmp_path: Path) -> Iterator[RunningDesk]:
    """A desk of one's own, with an empty shelf."""
    folder = tmp_path / "shelf"
    folder.mkdir()
    desk = RunningDesk(folder, tmp_path / "home").open()
    yield desk
    desk.close()


@pytest.fixture
def at(browser: Any) -> Iterator[Desk]:
    """A function that comes to a desk; what the page complains of fails the test at its end."""
    contexts: list[Any] = []
    complaints: list[str] = []

    def come(desk: RunningDesk, tune: str = "", **how: Any) -> Any:
        context = browser.new_context(**{"viewport": {"width": 1280, "height": 800}, **how})
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(60_000)
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on("console", lambda said: complaints.append(said.text) if _bad(said) else None)
        page.goto(desk.address)
        page.wait_for_selector("html[data-ready=yes]", state="attached")
        assert "token" not in page.url
        if tune:
            page.click(f"[data-name={tune}]")
            page.wait_for_selector(f"html[data-tune={tune}]", state="attached")
            page.wait_for_selector(".position", state="attached")
        return page

    yield come
    for context in contexts:
        context.close()
    assert complaints == []


def _bad(said: Any) -> bool:
    """Refusals (409, 422) and a desk that is away are part of the play."""
    expected = ("status of 409", "ERR_CONNECTION", "ERR_INCOMPLETE", "ERR_EMPTY", "of 422")
    return said.type == "error" and not any(word in said.text for word in expected)


def _type(page: Any, old: str, new: str) -> None:
    """Type in place of some words, as a hand does."""
    text = page.input_value("#words")
    at = text.index(old)
    page.evaluate(
        "([a, b]) => { const f = document.getElementById('words'); f.focus();"
        " f.setSelectionRange(a, b); }",
        [at, at + len(old)],
    )
    page.keyboard.type(new)


def _saved(page: Any) -> None:
    until(page, "document.getElementById('saved').textContent === 'saved'")


@pytest.mark.slow
def test_from_an_empty_folder_to_what_is_handed_out(own: RunningDesk, at: Desk) -> None:
    page = at(own)
    assert "no tune in this folder yet" in page.inner_text("#no-tunes")
    page.fill("#new-title", "Quay <Lights>")
    page.click("#new-tune button")
    page.wait_for_selector(".position")
    assert page.evaluate("document.activeElement.id") == "words"  # there it goes on
    path = own.folder / "quay-lights.toml"
    assert read_tune(path).title == "Quay <Lights>"
    _type(page, "| C | C | F | C |", "| C | Am | Dm7 | G7 |")
    until(page, "document.querySelectorAll('.position .boxes [data-chord=Dm7]').length > 0")
    _saved(page)
    assert [str(bar.chords[0].chord) for bar in read_tune(path).sections["A"].bars][:4] == [
        "C", "Am", "Dm7", "G7",
    ]  # fmt: skip
    page.click("#play")
    until(page, "desk.hearing.playing && document.querySelector('.bar.now')")
    until(page, "document.querySelectorAll('#chart .bar')[1].classList.contains('now')")
    page.click("#play")
    page.click(".position [data-chord=G7] >> nth=0")
    page.wait_for_selector(".pin")
    frets = page.get_attribute(".pin >> nth=5", "data-frets")
    page.click(".pin >> nth=5")
    until(page, "document.querySelector('[data-chord=G7] .label').textContent.includes('pinned')")
    _saved(page)
    assert f'G7 = "{frets}"' in path.read_text(encoding="utf-8")
    (pin,) = read_tune(path).pins
    assert pin.text == frets
    # On another instrument the tune can be looked at all the same, and nothing is pinned there.
    page.select_option("#on-instrument", "mandolin")
    until(page, "document.getElementById('neck-sub').textContent.includes('mandolin')")
    assert f"G7 {frets} is a shape for the tune's own instrument" in page.inner_text(
        "#neck-notices"
    )
    assert page.locator(".others").count() == 0  # they were the other instrument's
    page.click(".position [data-chord=G7] >> nth=0")
    page.wait_for_selector(".pin:disabled")
    assert "on the tune's own instrument" in page.inner_text(".others")
    page.select_option("#on-instrument", "")
    until(page, "document.getElementById('neck-sub').textContent.includes('tenor banjo')")
    page.focus("#chart .bar >> nth=1")
    for key in ("Enter", "ArrowRight", "Enter"):
        page.keyboard.press(key)
    assert page.evaluate("desk.hearing.loop") == [1, 2]
    page.keyboard.press("0")
    assert page.evaluate("desk.hearing.loop") is None
    page.check("[value=midi]")
    page.click(".make")
    page.wait_for_selector("#jobs .working progress")
    page.wait_for_selector("#jobs .done", timeout=300_000)
    page.wait_for_selector("#files a")
    folder = own.folder / "quay-lights"
    made = sorted(one.name for one in folder.iterdir())
    listed = sorted(page.eval_on_selector_all("#files a", "all => all.map(a => a.textContent)"))
    assert listed == [name for name in made if name != "manifest.json"]
    assert {Path(name).suffix for name in listed} == {".pdf", ".html", ".mid"}
    with page.expect_popup() as popup:
        page.click("#files a >> text=practice.html")
    practice = popup.value
    practice.wait_for_selector("html[data-ready=sound]", state="attached")
    assert practice.inner_text("h1") == "Quay <Lights>"
    practice.click("#play")
    until(practice, "practice.playing")
    # The page runs apart from the desk: it cannot ask it for anything.
    asked = "fetch('/api/tunes').then(() => 'came', () => 'refused')"
    assert practice.evaluate(asked) == "refused"
    practice.close()
    with page.expect_download() as download:
        page.click("#files a >> text=.mid")
    assert Path(download.value.path()).read_bytes()[:4] == b"MThd"


@pytest.mark.long
def test_a_pack_is_made_and_can_be_stopped(own: RunningDesk, at: Desk) -> None:
    (own.folder / "small.toml").write_text(SMALL, encoding="utf-8")
    page = at(own, "small")
    page.check("[name=pack]")
    page.check("[value=audio]")
    page.click(".make")
    page.wait_for_selector("#jobs .working progress")
    until(page, "document.querySelector('#jobs progress').value > 0")
    page.click("#jobs button")
    page.wait_for_selector("#jobs .stopped")
    assert not (own.folder / "small" / "manifest.json").exists()
    page.click(".make")
    page.context.close()  # the work goes on
    page = at(own, "small")
    page.wait_for_selector("#jobs .done", timeout=600_000)
    page.wait_for_selector("#files a")
    assert len(list((own.folder / "small").glob("*.flac"))) > 5


@pytest.mark.long
def test_the_keyboard_alone_is_enough(own: RunningDesk, at: Desk) -> None:
    page = at(own)

    def go(selector: str) -> None:
        """Press Tab until something has the focus."""
        for _ in range(400):
            page.keyboard.press("Tab")
            if page.evaluate(f"document.activeElement.matches({selector!r})"):
                return
        raise AssertionError(f"{selector} cannot be reached")

    go("#new-title")
    page.keyboard.type("By Hand")
    page.keyboard.press("Enter")
    page.wait_for_selector(".position")
    go("#words")
    page.keyboard.press("Control+End")
    for _ in range(2):
        page.keyboard.press("ArrowUp")
    page.keyboard.press("End")
    page.keyboard.type(" Am | F | G7 | C |")
    until(page, "document.querySelectorAll('#chart .bar').length === 12")
    page.keyboard.press("Control+Enter")
    until(page, "desk.hearing.playing", within_s=120)
    page.keyboard.press("Control+Enter")
    until(page, "!desk.hearing.busy")
    go(".position [data-chord=Am]")
    page.keyboard.press("Enter")
    page.wait_for_selector(".pin")
    go(".pin:nth-child(3)")
    page.keyboard.press("Enter")
    until(page, "document.querySelector('[data-chord=Am] .label').textContent.includes('pinned')")
    go("[value=page]")
    page.keyboard.press("Space")
    go(".make")
    page.keyboard.press("Enter")
    page.wait_for_selector("#jobs .done", timeout=300_000)
    page.wait_for_selector("#files a")
    _saved(page)
    assert len(read_tune(own.folder / "by-hand.toml").pins) == 1
    assert list((own.folder / "by-hand").glob("*.pdf"))


@pytest.mark.slow
def test_a_mistake_is_marked_where_it_stands(own: RunningDesk, at: Desk) -> None:
    (own.folder / "small.toml").write_text(SMALL, encoding="utf-8")
    page = at(own, "small")
    _type(page, "G7", "H7")
    until(page, "document.querySelector('mark')?.innerText.startsWith('H7')")  # not H alone
    assert "Did you mean" in page.inner_text("mark .note")
    # It stands right behind the same letters of the text: both have one place on the screen.
    assert "line 8" in page.inner_text("#problems")
    page.click("#problems button")
    start = page.evaluate("document.getElementById('words').selectionStart")
    assert page.input_value("#words")[start:].startswith("H7")
    page.click("#undo")
    until(page, "!document.querySelector('mark')")
    assert page.input_value("#words") == SMALL
    page.click("#redo")
    page.wait_for_selector("mark")


@pytest.mark.long
def test_fields_write_the_same_file_and_keep_its_remarks(own: RunningDesk, at: Desk) -> None:
    path = own.folder / "small.toml"
    path.write_text(SMALL, encoding="utf-8")
    page = at(own, "small")
    page.fill("#field-title", 'The "Other" Name')
    page.press("#field-title", "Tab")
    page.fill("#field-tempo", "92.5")
    page.press("#field-tempo", "Tab")
    until(page, "document.getElementById('words').value.includes('92.5')")
    page.select_option("#field-key", "G")
    until(page, "document.getElementById('words').value.includes('\"G\"')")
    page.select_option("#field-style", "flat-four")
    until(page, "document.getElementById('words').value.includes('flat-four')")
    page.fill("#field-form", "A 2 x A")  # how often a section comes belongs to it
    page.press("#field-form", "Tab")
    until(page, "document.querySelectorAll('#chart .bar').length === 12")
    assert 'form = ["A", "2 x A"]' in page.input_value("#words")
    assert page.input_value("#field-form") == "A 2 x A"
    page.fill("#field-form", "A A")
    page.press("#field-form", "Tab")
    until(page, "document.querySelectorAll('#chart .bar').length === 8")
    _saved(page)
    text = path.read_text(encoding="utf-8")
    assert text.startswith("# what its author says of it\n")
    assert r'title = "The \"Other\" Name"   # its name' in text
    tune = read_tune(path)
    assert (tune.title, tune.tempo, str(tune.key)) == ('The "Other" Name', 92.5, "G")
    assert (tune.style, tune.form) == ("flat-four", ("A", "A"))


@pytest.mark.long
def test_two_tabs_on_one_tune_both_are_shown(own: RunningDesk, at: Desk) -> None:
    path = own.folder / "small.toml"
    path.write_text(SMALL, encoding="utf-8")
    one, other = at(own, "small"), at(own, "small")
    other.evaluate("desk.saver.moved = () => Promise.resolve()")  # it has not heard of it yet
    _type(one, "120", "90")
    until(one, "document.getElementById('saved').textContent === 'saved' && !desk.saver.unsaved")
    assert read_tune(path).tempo == 90
    _type(other, "120", "80")
    other.wait_for_selector("#clash:not([hidden])")
    assert "tempo = 80" in other.inner_text("#mine-text")
    assert "tempo = 90" in other.inner_text("#theirs-text")
    assert read_tune(path).tempo == 90
    other.click("#keep-mine")
    _saved(other)
    assert read_tune(path).tempo == 80
    # The first tab wrote nothing meanwhile: it follows, and one step back is its own.
    until(one, "document.getElementById('words').value.includes('tempo = 80')")
    one.click("#undo")
    until(one, "document.getElementById('words').value.includes('tempo = 90')")


@pytest.mark.long
def test_a_file_that_is_changed_on_disk_is_followed_or_both_are_shown(
    own: RunningDesk, at: Desk
) -> None:
    path = own.folder / "small.toml"
    path.write_text(SMALL, encoding="utf-8")
    page = at(own, "small")
    path.write_text(SMALL.replace("120", "66"), encoding="utf-8")
    until(page, "document.getElementById('words').value.includes('tempo = 66')")
    assert "changed on disk" in page.inner_text("#said")
    page.evaluate("desk.saver.flush = () => Promise.resolve()")  # a hand that writes on and on
    _type(page, "66", "77")
    path.write_text(SMALL.replace("120", "55"), encoding="utf-8")
    page.wait_for_selector("#clash:not([hidden])")
    page.click("#take-theirs")
    assert "tempo = 55" in page.input_value("#words")
    page.click("#undo")
    until(page, "document.getElementById('words').value.includes('tempo = 77')")


@pytest.mark.long
def test_a_desk_that_is_started_anew_is_picked_up(own: RunningDesk, at: Desk) -> None:
    path = own.folder / "small.toml"
    path.write_text(SMALL, encoding="utf-8")
    page = at(own, "small")
    own.close(signal.SIGKILL)
    page.wait_for_selector("html[data-desk=away]", state="attached")
    assert "does not answer" in page.inner_text("#said")
    _type(page, "120", "75")
    own.open()
    page.wait_for_selector("html[data-desk=here]", state="attached")
    until(page, "document.getElementById('said').textContent.includes('started anew')")
    _saved(page)
    assert read_tune(path).tempo == 75


@pytest.mark.long
def test_a_lead_sheet_is_dropped_on_the_shelf(own: RunningDesk, at: Desk) -> None:
    page = at(own)
    sheet = 'X:1\nT:Dropped\nM:4/4\nL:1/4\nK:F\n"F"FGAc|"Gm7"GABd|"xyz"c2"C7"c2|"F"f4|\n'
    page.set_input_files(
        "#leadsheet",
        {"name": "../some sheet.abc", "mimeType": "text/plain", "buffer": sheet.encode()},
    )
    page.wait_for_selector(".position")
    assert sorted(path.name for path in own.folder.glob("*.*") if path.name[0] != ".") == [
        "dropped-melody.musicxml", "dropped.toml",
    ]  # fmt: skip
    said = page.inner_text("#taken")
    assert "xyz" in said
    assert "bar 3" in said
    bomb = own.folder.parent / "bomb.mxl"
    with zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("score.xml", b" " * 60_000_000)
    page.set_input_files("#leadsheet", str(bomb))
    until(page, "document.getElementById('taken').textContent.includes('bomb.mxl')")
    assert "unpacks to more than" in page.inner_text("#taken")
    assert len(list(own.folder.glob("*.toml"))) == 1
    # Beside the shelf, too: the browser would go away from the desk to show the file.
    dropped = """() => { const carried = new DataTransfer();
      carried.items.add(new File(['nothing'], 'beside.abc'));
      const events = ['dragover', 'drop'].map((name) => new DragEvent(name,
        { bubbles: true, cancelable: true, dataTransfer: carried }));
      for (const event of events) document.getElementById('words').dispatchEvent(event);
      return events.every((event) => event.defaultPrevented); }"""
    assert page.evaluate(dropped)
    until(page, "document.getElementById('taken').textContent.includes('beside.abc')")


@pytest.mark.long
def test_a_style_is_heard_in_a_loop_while_it_is_written(own: RunningDesk, at: Desk) -> None:
    page = at(own)
    page.fill("#style-title", "Kitchen Four")
    page.select_option("#style-like", "bossa")
    page.click("#new-style button")
    page.wait_for_selector("html[data-tune=kitchen-four]", state="attached")
    assert not page.is_visible("#neck")
    assert page.inner_text("#tune-sheet") == "Style"
    assert "rows on the count" in page.inner_text("#words-label")
    until(page, "document.getElementById('good').textContent.includes('can be played')")
    page.click("#play")
    until(page, "desk.hearing.playing && document.querySelector('.slot.on')")
    until(page, "desk.hearing.loop !== null")
    assert page.is_visible("#beside .slot.on")  # beside the words
    before = page.evaluate("desk.hearing.timeline.counts[0].slots.map(s => s.stroke).join()")
    text = page.input_value("#words")
    strum = next(line for line in text.splitlines() if line.startswith("stroke"))
    _type(page, strum, strum.replace("down", "up"))
    until(page, f"desk.hearing.timeline.counts[0].slots.map(s => s.stroke).join() !== {before!r}")
    assert page.evaluate("desk.hearing.playing")
    page.click("#play")
    _saved(page)
    saved = (own.folder / "kitchen-four.toml").read_text(encoding="utf-8")
    assert strum.replace("down", "up") in saved
    assert 'title = "Kitchen Four"' in saved
    # A tune of the shelf can be played in it, and names it so that the command line finds it.
    page.fill("#new-title", "Soup")
    page.click("#new-tune button")
    page.wait_for_selector("html[data-tune=soup]", state="attached")
    assert page.inner_text("#tune-sheet") == "Tune"
    assert page.is_visible("#band .count")
    page.select_option("#try-style", label="Kitchen Four")
    until(page, "desk.hearing.timeline?.style === 'Kitchen Four'")
    page.click("#keep-style")
    until(page, "document.getElementById('words').value.includes('kitchen-four.toml')")
    _saved(page)
    assert read_tune(own.folder / "soup.toml").style == "kitchen-four.toml"
    assert not problems_in(own.folder / "soup.toml")


@pytest.mark.long
def test_another_style_is_heard_while_it_plays(own: RunningDesk, at: Desk) -> None:
    shutil.copy(PARADE, own.folder)
    page = at(own, PARADE.stem)
    page.click("#play")
    until(page, "desk.hearing.playing && document.querySelector('.bar.now')")
    page.select_option("#try-style", "two-beat")
    until(page, "desk.hearing.timeline.style === 'Two-beat' && desk.hearing.playing")
    assert page.evaluate("desk.hearing.playing")
    page.click("#play")
    page.click("#keep-style")
    until(page, "document.getElementById('words').value.includes('two-beat')")
    _saved(page)
    assert read_tune(own.folder / PARADE.name).style == "two-beat"


HOSTILE = """title = "</script><img src=x onerror=window.hurt=1> %s"
key = "C#"
meter = "4/4"
tempo = 200
[sections]
"<b>A" = \"\"\"
%s
\"\"\"
"""


SMALL_TARGETS = """() =>
  [...document.querySelectorAll("button, select, a, input:not([type=checkbox]), summary")]
    .filter((one) => one.offsetParent && !one.matches(".skip"))
    .map((one) => [one.outerHTML.slice(0, 80), one.getBoundingClientRect()])
    .filter(([, box]) => box.height < 43.5 || box.width < 43.5)
    .map(([name, box]) => `${name} ${box.width} x ${box.height}`)
"""


@pytest.mark.long
def test_long_and_hostile_tunes_fit_on_every_screen(own: RunningDesk, at: Desk) -> None:
    bars = "\n".join("| C#maj7(#11)/G# D#m7b5 / G#7(#9)/B# |" + " F#6/9 | C# |" for _ in range(100))
    text = HOSTILE % ("A Long Name " * 12, bars)
    (own.folder / "long.toml").write_text(text, encoding="utf-8")
    screens = ((390, 844, "light"), (820, 1180, "dark"), (1280, 800, "light"), (2560, 1440, "dark"))
    for width, height, scheme in screens:
        page = at(own, "long", viewport={"width": width, "height": height}, color_scheme=scheme)
        until(page, "document.querySelectorAll('#chart .bar').length === 300")
        assert page.evaluate("window.hurt") is None
        for sheet in ("shelf", "tune", "neck", "band", "take"):
            page.click(f".ways [href='#{sheet}']")
            assert page.is_visible(f"#{sheet}")
            assert page.evaluate("document.documentElement.scrollWidth") <= width
            assert page.evaluate(SMALL_TARGETS) == []
            # On a phone the sheets are pages, elsewhere they lie one under the other.
            assert page.locator(".sheet:visible").count() == (1 if width < 640 else 5)
        page.context.close()


@pytest.mark.long
@pytest.mark.parametrize(("scheme", "width"), [("light", 1280), ("dark", 390)])
def test_axe_finds_nothing_on_the_desk(scheme: str, width: int, own: RunningDesk, at: Desk) -> None:
    if not AXE.exists():
        pytest.skip("Node's packages are not installed")
    shutil.copy(PARADE, own.folder)
    size = {"width": width, "height": 800}
    page = at(own, PARADE.stem, viewport=size, color_scheme=scheme, bypass_csp=True)
    _type(page, "Bdim7", "Hdim7")
    page.wait_for_selector("mark")
    page.click(".ways [href='#neck']")
    page.click(".position [data-chord=C7] >> nth=0")
    page.evaluate(AXE.read_text(encoding="utf-8") + "\nundefined")
    found = page.evaluate(
        "() => axe.run().then((r) => r.violations.map((v) => [v.id, v.impact,"
        " v.nodes.map((n) => n.html.slice(0, 200))]))"
    )
    assert found == []


@pytest.mark.long
def test_the_practice_pages_keys_work_where_nothing_is_typed(own: RunningDesk, at: Desk) -> None:
    (own.folder / "small.toml").write_text(SMALL, encoding="utf-8")
    page = at(own, "small")
    page.evaluate("document.activeElement.blur()")
    page.keyboard.press("Space")
    until(page, "desk.hearing.playing && document.querySelector('.bar.now')")
    tempo = page.evaluate("desk.hearing.tempo")
    page.keyboard.press("Shift+ArrowLeft")
    assert page.evaluate("desk.hearing.tempo") == pytest.approx(tempo - 10)
    page.keyboard.press("[")
    page.keyboard.press("]")
    first, last = page.evaluate("desk.hearing.loop")
    assert 0 <= first <= last <= 3
    assert "over and over" in page.inner_text("#round")
    page.keyboard.press("0")
    assert page.evaluate("desk.hearing.loop") is None
    page.keyboard.press("Space")
    until(page, "!desk.hearing.busy")
    page.keyboard.press("?")
    assert page.is_visible("#keys dl")
    # In the words the same keys are letters.
    page.focus("#words")
    page.keyboard.type(" [0? ")
    assert " [0? " in page.input_value("#words")
    assert not page.evaluate("desk.hearing.busy")
