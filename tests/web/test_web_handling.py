"""The page in impatient hands: clicked twice, changed while it begins, opened again."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from web_pages import example, made_page
from web_recording import alone, recorded, start_recording, until

from accomp.tune import parse_tune

pytestmark = pytest.mark.long

_COUNTED = """() => {
  window.sent = [];
  const { sound } = practice;
  const notes = sound.notes.bind(sound);
  sound.notes = (some) => { window.sent.push(...some); notes(some); };
}"""


def _again(page: Any) -> None:
    page.reload()
    page.wait_for_selector("html[data-ready=sound]", state="attached")


def _chord(page: Any, bar: int, version: int = 0) -> str:
    """The first chord of a bar."""
    name: str = page.evaluate(
        """([bar, version]) => { const { keys, versions } = practice.timeline;
          const key = keys[versions[version].key];
          return key.chords[key.bars[bar][0][0]].text; }""",
        [bar, version],
    )
    return name


def test_two_clicks_before_the_sound_is_awake_play_nothing(choked: Path, opened: Any) -> None:
    """The second click stops what the first began; a third plays the tune once, not twice."""
    page = opened(choked)
    page.evaluate(_COUNTED)
    page.evaluate("() => { practice.toggle(); practice.toggle(); }")
    page.wait_for_timeout(300)
    assert page.inner_text("#play") == "Play"
    assert page.evaluate("window.sent") == []
    page.evaluate("() => { for (let i = 0; i < 5; i++) practice.toggle(); }")
    until(page, "practice.playing")
    page.wait_for_timeout(1500)
    notes = page.evaluate("window.sent.map((one) => [one.on, one.channel, one.key])")
    assert notes
    assert len(notes) == len({tuple(one) for one in notes})
    page.evaluate("practice.stop()")
    sent = page.evaluate("window.sent.length")
    page.wait_for_timeout(400)
    assert page.evaluate("window.sent.length") == sent


def test_what_is_chosen_while_the_sound_wakes_is_played(choked: Path, opened: Any) -> None:
    page = opened(choked)
    page.evaluate("() => { practice.toggle(); practice.change({ tempo: 100, loop: [2, 3] }); }")
    until(page, "practice.playing")
    piece = page.evaluate("practice.player.plan.pieces[0]")
    assert (piece["next"], round(120 / piece["stretch"])) == (2, 100)


def test_a_key_held_down_does_its_work_once(choked: Path, opened: Any) -> None:
    page = opened(choked)
    page.keyboard.down("Space")
    until(page, "practice.playing")
    for _ in range(3):  # Playwright sends repeats
        page.keyboard.down("Space")
    page.wait_for_timeout(100)
    assert page.evaluate("practice.playing")
    page.keyboard.up("Space")
    page.keyboard.press("Space")
    assert not page.evaluate("practice.playing")


def test_brackets_that_need_a_second_key_set_the_loop(choked: Path, opened: Any) -> None:
    """As keyboards write them on which a bracket is AltGr and a figure, or Option and a figure."""
    page = opened(choked)
    for how in ({"ctrlKey": True, "altKey": True}, {"altKey": True}):
        page.evaluate("practice.change({ loop: null })")
        page.evaluate(
            """(how) => document.body.dispatchEvent(
              new KeyboardEvent('keydown', { key: ']', bubbles: true, ...how }))""",
            how,
        )
        assert page.evaluate("practice.settings.loop") == [0, 0]
    page.evaluate("practice.change({ loop: null })")
    page.evaluate(
        """document.body.dispatchEvent(
          new KeyboardEvent('keydown', { key: ']', bubbles: true, ctrlKey: true }))"""
    )
    assert page.evaluate("practice.settings.loop") is None


def test_slower_is_slower_though_the_loop_has_raised_the_speed(choked: Path, opened: Any) -> None:
    page = opened(choked)
    page.evaluate("practice.change({ tempo: 150, loop: [1, 1], faster: 2, upTo: 180, countIn: 0 })")
    page.evaluate("practice.play()")
    until(page, "practice.tempo > 151")
    # Down to what was set before the rounds raised it.
    page.evaluate("practice.change({ faster: 0 })")
    page.click("#slower")
    until(page, "practice.tempo < 151")
    page.wait_for_timeout(300)
    assert page.inner_text("#beats") == "150"
    page.wait_for_timeout(1800)
    assert page.evaluate("Math.round(practice.tempo)") == 150


def test_no_step_is_lost_when_faster_is_pressed_quickly(choked: Path, opened: Any) -> None:
    page = opened(choked)
    page.evaluate("practice.play()")
    until(page, "practice.playing")
    page.evaluate(
        "() => { for (let i = 0; i < 6; i++) document.getElementById('faster').click(); }"
    )
    assert page.evaluate("Math.round(practice.tempo)") == 132
    page.wait_for_timeout(300)
    assert page.inner_text("#beats") == "132"


def test_the_slider_reaches_every_speed_of_a_slow_tune(opened: Any, tmp_path: Path) -> None:
    path = tmp_path / "slow.html"
    text = 'title = "Slow"\nkey = "C"\nmeter = "4/4"\ntempo = 44\n[sections]\nA = "| C | G7 |"\n'
    path.write_bytes(made_page(parse_tune(text, "slow.toml"), choruses=1))
    page = opened(path)
    page.click("#more")
    page.focus("#speed")
    page.keyboard.press("Home")
    seen = [page.evaluate("practice.settings.tempo")]
    for _ in range(52):
        page.keyboard.press("ArrowRight")
        seen.append(page.evaluate("practice.settings.tempo"))
    assert seen == list(range(14, 67))  # 30 to 150 % of 44, in whole beats
    assert page.get_attribute("#speed", "aria-valuetext") == "66 beats a minute, 150 %"


def test_a_loop_of_the_last_bar_counts_to_its_first_chord(parade: Path, opened: Any) -> None:
    page = opened(parade)
    beats = """([first, last]) => practice.timeline.bars[last].beats.map(
      (beat) => practice.ahead.at(0, beat + 0.01, [first, last]).beats)"""
    last = page.evaluate("practice.timeline.bars.length") - 1
    assert page.evaluate(beats, [last - 2, last]) == [4, 3, 2, 1]
    assert page.evaluate(beats, [2, 3]) == [4, 3, 2, 1]


def test_a_click_while_it_plays_goes_to_that_bar(parade: Path, opened: Any) -> None:
    page = opened(parade)
    page.evaluate("practice.change({ countIn: 1, tempo: 240 })")
    page.evaluate("practice.play()")
    until(page, "practice.player.place()?.piece.bar === 0")
    seen = "practice.player.place()?.piece.bar"
    page.click("#chart .bar >> nth=12")
    until(page, f"{seen} === 12", within_s=1.0)  # a count-in would take as long
    assert "choose the last one to loop" in page.inner_text("#round")
    until(page, "practice.chart.marked === 14 && !practice.open")
    assert page.inner_text("#round") == "from bar 13"
    page.click("#chart .bar >> nth=4")  # later it is another place to go to, and no loop
    until(page, f"{seen} === 4")
    assert page.evaluate("[practice.settings.loop, practice.chosen]") == [None, 4]
    page.click("#chart .bar >> nth=7")  # at once it is the end of a loop
    assert page.evaluate("practice.settings.loop") == [4, 7]
    page.click("#chart .bar >> nth=7")  # in the loop it goes there and round
    until(page, f"{seen} === 7")
    until(page, f"{seen} === 4")
    assert page.evaluate("practice.settings.loop") == [4, 7]


@pytest.mark.parametrize("bar", [0, 20])
def test_from_outside_a_loop_its_first_chord_is_called(parade: Path, opened: Any, bar: int) -> None:
    page = opened(parade)
    page.evaluate("(bar) => { practice.choose(bar); practice.change({ countIn: 0 }); }", bar)
    page.evaluate("practice.play()")
    until(page, f"practice.chart.marked === {bar}")
    page.evaluate("practice.change({ loop: [10, 11] })")
    page.wait_for_timeout(100)
    assert page.inner_text("#next .name") == _chord(page, 10)
    until(page, f"practice.chart.marked !== {bar}")
    assert page.evaluate("practice.chart.marked") == 10
    assert page.inner_text("#now .name") == _chord(page, 10)


@pytest.mark.parametrize("change", ["{ loop: [0, 1] }", "{ tempo: 100 }"])
def test_a_wish_after_the_last_bar_leads_on_from_now(
    choked: Path, opened: Any, change: str
) -> None:
    page = opened(choked)
    page.evaluate("practice.change({ tempo: 180, countIn: 0 })")
    page.evaluate("practice.choose(3)")
    page.evaluate("practice.play()")
    until(page, "practice.player.plan?.end < practice.sound.now - 0.2")
    now_s, pieces = page.evaluate(
        f"""() => {{ const now = practice.sound.now; practice.change({change});
          return [now, practice.player.plan.pieces]; }}"""
    )
    assert len(pieces) > 2  # a piece of the loop, or the rest that has the new speed
    assert pieces[-1]["at"] > now_s
    assert all(piece["from"] <= piece["to"] for piece in pieces)


def test_strokes_of_a_page_that_slept_are_left_out(choked: Path, opened: Any) -> None:
    page = opened(choked)
    page.evaluate("practice.play()")  # wakes the sound
    until(page, "practice.playing")
    page.evaluate("practice.stop()")
    page.wait_for_timeout(1500)
    for late_s, sounds in ((5.0, False), (0.1, True)):
        start_recording(page)
        page.evaluate(
            """(late) => { const track = practice.timeline.versions[0].track;
              const [, , , , key, velocity, channel, bank] = track.notes[0];
              const on = practice.sound.now - late;
              practice.sound.notes([{ id: 9e6, on, off: on + 9, key, velocity, channel, bank,
                program: track.program }]); }""",
            late_s,
        )
        page.wait_for_timeout(500)
        heard = recorded(page)
        end_s = heard.start_s + len(heard.sound) / heard.rate
        assert (heard.level_db(end_s - 0.3, end_s) > -45) is sounds


def test_a_bar_of_the_loop_is_not_also_where_it_begins(parade: Path, opened: Any) -> None:
    page = opened(parade)
    page.evaluate("practice.choose(9)")
    page.click("#more")
    page.fill("#loop-from", "3")
    page.press("#loop-from", "Tab")
    assert page.evaluate("practice.settings.loop")[0] == 2
    assert page.locator(".bar.from").count() == 0


def test_a_position_chosen_in_the_count_in_stands_ready(positions: Path, opened: Any) -> None:
    page = opened(positions)
    page.evaluate("practice.play()")
    until(page, "practice.player.place()?.piece.bar === -1")
    version = page.evaluate("practice.timeline.versions.findIndex((v) => v.key === 1)")
    page.evaluate("(version) => practice.change({ version })", version)
    page.wait_for_timeout(100)
    assert page.evaluate("practice.player.place().piece.bar") == -1
    assert page.inner_text("#now .name") == _chord(page, 0, version)
    until(page, "practice.chart.marked === 0 && practice.player.place().piece.bar === 0")
    assert page.inner_text("#now .name") == _chord(page, 0, version)


def test_tuning_notes_sound_though_the_player_is_silent(parade: Path, opened: Any) -> None:
    page = opened(parade)
    alone(page)
    start_recording(page)
    page.click("#more")
    page.locator("#tuning button").nth(2).click()
    for _ in range(40):  # a busy machine takes its time
        page.wait_for_timeout(250)
        heard = recorded(page)
        if heard.level_db(heard.start_s, heard.start_s + len(heard.sound) / heard.rate) > -40:
            break
    else:
        pytest.fail("no tuning note was heard")
    page.evaluate("practice.play()")
    until(page, "practice.playing")
    page.wait_for_timeout(200)
    assert page.evaluate("practice.sound.faders.me.gain.value") < 1e-3
    assert page.evaluate("practice.settings.mix.me") == 0


def test_without_sound_no_tuning_note_is_offered(parade: Path, opened: Any) -> None:
    page = opened(parade, wait="silent", before="delete globalThis.AudioContext;")
    page.click("#more")
    assert not page.locator("#tuning").is_visible()


def test_a_page_made_again_finds_its_position_by_name(opened: Any, tmp_path: Path) -> None:
    """A teacher adds a position and a key; the pupil's page opens in the one they left."""
    tune, path = example("harbour-street-parade"), tmp_path / "page.html"
    path.write_bytes(made_page(tune, choruses=1, positions=("third-top", "root-top")))
    page = opened(path)
    page.evaluate("practice.change({ version: 1 })")
    _again(page)
    assert page.evaluate("practice.settings.version") == 1
    path.write_bytes(
        made_page(tune, choruses=1, keys=("Bb", "F"), positions=("root-top", "third-top"))
    )
    _again(page)
    assert page.evaluate("practice.timeline.versions.length") == 4
    assert page.inner_text("#sub").startswith("F major")
    assert page.inner_text("#sub").endswith("root-top")


def test_a_page_at_another_tempo_begins_at_its_own(opened: Any, tmp_path: Path) -> None:
    tune, path = example("harbour-street-parade"), tmp_path / "page.html"
    path.write_bytes(made_page(tune, choruses=1))
    page = opened(path)
    page.evaluate("practice.change({ boxes: false })")
    path.write_bytes(made_page(tune, choruses=1, tempos=(130,)))
    _again(page)
    assert page.inner_text("#beats") == "130"


@pytest.mark.parametrize("called", [3, "F major", None, "<b>, root-top"])
def test_a_position_that_is_not_there_is_the_first(
    positions: Path, opened: Any, called: object
) -> None:
    stored = json.dumps(json.dumps({"called": called}))
    page = opened(positions, before=f"Storage.prototype.getItem = () => {stored};")
    assert page.evaluate("practice.settings.version") == 0


_LONG = """title = "Long Names"
key = "C#"
meter = "4/4"
tempo = 120
[sections]
A = "| C#maj7#5#11 | F#maj7(#11) | C# | G#7sus4 |"
"""


@pytest.mark.parametrize(
    "width",
    [320, 2560, *(pytest.param(width, marks=pytest.mark.long) for width in (390, 820, 1280))],
)
def test_long_names_are_as_large_as_there_is_room(opened: Any, tmp_path: Path, width: int) -> None:
    path = tmp_path / "long.html"
    path.write_bytes(made_page(parse_tune(_LONG, "long.toml"), choruses=1))
    page = opened(path, viewport={"width": width, "height": 900})
    page.wait_for_timeout(200)
    sizes = page.evaluate(
        """() => ['now', 'next'].map((id) => {
          const name = document.querySelector(`#${id} .name`);
          const range = document.createRange();
          range.selectNodeContents(name);
          const shrunk = getComputedStyle(name).getPropertyValue('--shrink') !== '';
          return [range.getBoundingClientRect().width / name.clientWidth, shrunk];
        })"""
    )
    for share, shrunk in sizes:
        assert share <= 1
        assert share > 0.93 or not shrunk
    assert any(shrunk for _, shrunk in sizes) or width > 400
    page.evaluate("practice.choose(2)")  # a short name is as large as ever
    page.set_viewport_size({"width": width - 20, "height": 880})
    page.wait_for_timeout(100)
    assert page.evaluate("getComputedStyle(document.querySelector('#now .name'))"
                         ".getPropertyValue('--shrink')") == ""  # fmt: skip
