"""The page plays what the MIDI file plays, when it says so."""

from __future__ import annotations

import itertools
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from web_recording import Recording, alone, recorded, start_recording, until

ONSET_S = 0.02
MARK_S = 0.06


def _tempo(page: Any, share: float) -> None:
    page.evaluate("(s) => practice.change({ tempo: practice.timeline.tempo * s })", share)


def _play(page: Any, seconds: float) -> None:
    page.evaluate("practice.play()")
    page.wait_for_timeout(1000 * seconds)


def _strokes(page: Any, group: str = "me", version: int = 0) -> list[tuple[float, float]]:
    """(moment, how late) of the first note of each stroke of a player."""
    notes = page.evaluate(
        """([group, version]) => {
          const one = practice.timeline.versions[version];
          const tracks = [one.track, ...practice.timeline.keys[one.key].tracks];
          return tracks.filter((t) => t.group === group).flatMap((t) => t.notes);
        }""",
        [group, version],
    )
    first: dict[float, float] = {}
    for start, late, *_ in notes:
        first[start] = min(late, first.get(start, late))
    return sorted(first.items())


def _errors_s(heard: Recording, strokes: list[tuple[float, float]]) -> list[float]:
    """How far each onset lies from where the timeline has it; only what was recorded counts."""
    errors = []
    end_s = heard.start_s + len(heard.sound) / heard.rate
    for start, late in strokes:
        at_s = heard.moment_s(start)
        if at_s is None or at_s + 0.15 > end_s:
            continue
        onset_s = heard.onset_s(at_s + late)
        assert onset_s is not None, f"no stroke is heard at {start} s of the tune"
        errors.append(onset_s - at_s - late)
    return errors


@pytest.mark.slow
def test_it_plays_within_a_second_of_the_click(parade: Path, opened: Any) -> None:
    page = opened(parade)
    start_recording(page)
    clicked_s = page.evaluate(
        "() => { document.getElementById('play').click(); return practice.sound.now; }"
    )
    page.wait_for_timeout(1500)
    heard = recorded(page)
    onset_s = next(
        heard.start_s + i / heard.rate for i, x in enumerate(abs(heard.sound)) if x > 0.01
    )
    assert onset_s - clicked_s < 1.0


@pytest.mark.long
@pytest.mark.parametrize("share", [0.5, 1.0, pytest.param(1.4, marks=pytest.mark.long)])
def test_strokes_are_heard_when_the_midi_file_has_them(
    parade: Path, opened: Any, share: float
) -> None:
    page = opened(parade)
    _tempo(page, share)
    alone(page, "me")
    start_recording(page)
    _play(page, 7)
    heard = recorded(page)
    errors = _errors_s(heard, _strokes(page))
    assert len(errors) >= 6
    assert max(map(abs, errors)) < ONSET_S
    assert all(piece["stretch"] == pytest.approx(1 / share) for piece in heard.pieces)


@pytest.mark.long
@pytest.mark.parametrize("group", ["bass", "drums"])
def test_the_band_is_in_time_too(parade: Path, opened: Any, group: str) -> None:
    page = opened(parade)
    alone(page, group)
    start_recording(page)
    _play(page, 6.5)
    # On the beats: a light stroke between them hardly rises out of a cymbal that rings on.
    beat_s = 60 / page.evaluate("practice.timeline.tempo")
    strokes = [one for one in _strokes(page, group) if one[0] >= 0]
    strokes = [one for one in strokes if abs(one[0] / beat_s - round(one[0] / beat_s)) < 0.01]
    errors = _errors_s(recorded(page), strokes[:8])
    assert len(errors) >= 6
    assert max(map(abs, errors)) < ONSET_S


@pytest.mark.long
def test_muting_the_player_leaves_no_stroke_of_theirs(parade: Path, opened: Any) -> None:
    page = opened(parade)
    alone(page)
    page.wait_for_timeout(400)  # a fader glides
    start_recording(page)
    _play(page, 5)
    heard = recorded(page)
    first_s = heard.moment_s(0.0)
    assert first_s is not None
    end_s = heard.start_s + len(heard.sound) / heard.rate
    assert end_s - first_s > 2
    assert heard.level_db(first_s, end_s) < -80


@pytest.mark.long
def test_a_choked_bar_is_silent_between_its_strokes(choked: Path, opened: Any) -> None:
    page = opened(choked)
    alone(page, "me")
    start_recording(page)
    _play(page, 7)
    heard = recorded(page)
    strokes = [start for start, _ in _strokes(page)]
    gaps = []
    for here, there in itertools.pairwise(strokes):
        at_s, next_s = heard.moment_s(here), heard.moment_s(there)
        if at_s is None or next_s is None or next_s > heard.start_s + len(heard.sound) / heard.rate:
            break
        peak_db = heard.level_db(at_s, next_s - 0.03)
        gaps.append(heard.level_db(next_s - 0.12, next_s - 0.03) - peak_db)
    assert len(gaps) >= 6
    assert max(gaps) < -35


@pytest.mark.long
def test_slow_practice_does_not_stretch_a_stroke(choked: Path, opened: Any) -> None:
    """At half speed the hand lets go as soon after the stroke as at full speed."""
    falls = []
    for share in (1.0, 0.5):
        page = opened(choked)
        _tempo(page, share)
        alone(page, "me")
        start_recording(page)
        _play(page, 7)
        heard = recorded(page)
        at_s = heard.moment_s(0.0)
        assert at_s is not None
        peak_db = heard.level_db(at_s, at_s + 0.1)
        falls.append(
            next(t for t in range(50, 480, 10)
                 if heard.level_db(at_s + t / 1000, at_s + 0.48) < peak_db - 30)
        )  # fmt: skip
    assert abs(falls[0] - falls[1]) <= 20


_WATCH = """
(count) => new Promise((done) => {
  const seen = [];
  const bar = practice.timeline.bars[0];
  const every = ((bar.end - bar.start) * practice.timeline.tempo) / practice.settings.tempo / 7;
  let last = 0;
  const look = () => {
    const now = practice.sound.now;
    if (now - last > every) {
      last = now;
      const { pieces } = practice.player.plan ?? { pieces: [] };
      const at = (t) => pieces.filter((p) => p.at <= t).at(-1);
      const chord = (t) => {
        const piece = at(t);
        if (!piece || piece.bar < 0) return null;
        const version = practice.timeline.versions[piece.version];
        const time = piece.from + (t - piece.at) / piece.stretch;
        const change = version.changes.filter((c) => c[0] <= time + 1e-6).at(-1);
        return practice.timeline.keys[version.key].chords[change[1]].text;
      };
      const span = [now, now - 0.02, now - 0.04, now - WITHIN];
      if (span.every((t) => at(t)?.bar >= 0))
        seen.push({
          marked: practice.chart.marked, name: document.querySelector('#now .name').textContent,
          bars: span.map((t) => at(t).bar), chords: span.map(chord),
        });
    }
    if (seen.length < count) requestAnimationFrame(look); else done(seen);
  };
  requestAnimationFrame(look);
})
""".replace("WITHIN", str(MARK_S))


@pytest.mark.many(1)
@pytest.mark.parametrize(
    ("share", "looped"),
    [
        (1.4, False), (0.5, True),
        *(pytest.param(*one, marks=pytest.mark.long) for one in
          [(0.5, False), (1.0, False), (1.0, True), (1.4, True)]),
    ],
)  # fmt: skip
def test_the_bar_and_chord_that_are_marked_are_those_that_sound(
    parade: Path, opened: Any, share: float, looped: bool
) -> None:
    page = opened(parade)
    _tempo(page, share)
    if looped:
        page.evaluate("practice.change({ loop: [6, 7] })")
    page.evaluate("practice.play()")
    seen = page.evaluate(_WATCH, 20)
    assert len(seen) >= 20
    for one in seen:
        assert one["marked"] in one["bars"]
        assert one["name"] in one["chords"]
    assert len({one["marked"] for one in seen}) > 1


@pytest.mark.long
def test_a_loop_goes_round_without_a_gap_and_a_little_faster(choked: Path, opened: Any) -> None:
    page = opened(choked)
    page.evaluate("practice.change({ tempo: 160, loop: [1, 2], faster: 7, upTo: 170 })")
    alone(page, "me")
    start_recording(page)
    _play(page, 11)
    heard = recorded(page)
    pieces = heard.pieces
    assert [piece["bar"] for piece in pieces[:6]] == [-1, 1, 2, 1, 2, 1]
    assert [round(120 / piece["stretch"]) for piece in pieces[1:8]] == [
        160,
        160,
        167,
        167,
        170,
        170,
        170,
    ]
    for here, there in itertools.pairwise(pieces):
        assert there["at"] == pytest.approx(here["end"], abs=1e-9)
    strokes = [one for one in _strokes(page) if 2 <= one[0] < 6]
    for round_ in range(2):  # every stroke of both rounds is where it should be
        again = Recording(heard.sound, heard.start_s, heard.rate, pieces[1 + 2 * round_ :])
        errors = _errors_s(again, strokes)
        assert len(errors) == 8
        assert max(map(abs, errors)) < ONSET_S


@pytest.mark.long
def test_a_position_and_a_key_switch_at_the_next_bar_without_a_gap(
    positions: Path, opened: Any
) -> None:
    page = opened(positions)
    alone(page, "me")
    start_recording(page)
    page.evaluate("practice.play()")
    # Late in the bar: the next one is already on its way to the synthesiser.
    until(page, "practice.player.plan.pieces.at(-1).bar === 2")
    versions = page.evaluate("practice.timeline.versions.map((v) => v.key)")
    other = versions.index(1)
    page.evaluate("(version) => practice.change({ version })", other)
    page.wait_for_timeout(4500)
    heard = recorded(page)
    switched = next(piece for piece in heard.pieces if piece["version"] == other)
    before = heard.pieces[heard.pieces.index(switched) - 1]
    assert switched["bar"] == before["bar"] + 1 == 2
    assert switched["at"] == pytest.approx(before["end"], abs=1e-9)
    bar_s = page.evaluate("practice.timeline.bars[2].start")
    new = [one for one in _strokes(page, version=other) if bar_s <= one[0] < bar_s + 2.8]
    errors = _errors_s(heard, new)
    assert len(errors) >= 6
    assert max(map(abs, errors)) < ONSET_S
    # Nothing of the old position sounds along: it is as loud as when nothing was switched.
    fresh = opened(positions)
    alone(fresh, "me")
    fresh.evaluate("(version) => practice.change({ version, countIn: 0 })", other)
    fresh.evaluate("practice.choose(2)")
    start_recording(fresh)
    _play(fresh, 3.5)
    alike = recorded(fresh)
    for moment in (bar_s, bar_s + 1.4286):
        levels = [
            np.sqrt(np.mean(one.between(at_s, at_s + 1.3) ** 2))
            for one in (heard, alike)
            if (at_s := one.moment_s(moment + 0.01)) is not None
        ]
        assert levels[0] == pytest.approx(levels[1], rel=0.1)


@pytest.mark.long
def test_a_new_speed_holds_at_once_and_loses_no_stroke(parade: Path, opened: Any) -> None:
    page = opened(parade)
    alone(page, "me")
    start_recording(page)
    page.evaluate("practice.play()")
    until(page, "practice.player.place()?.time > 1")
    page.evaluate("practice.change({ tempo: 110 })")
    page.wait_for_timeout(4000)
    heard = recorded(page)
    slow = next(piece for piece in heard.pieces if piece["stretch"] > 1.1)
    before = heard.pieces[heard.pieces.index(slow) - 1]
    assert slow["from"] == pytest.approx(before["to"], abs=1e-9)
    assert slow["bar"] == before["bar"]
    errors = _errors_s(heard, [one for one in _strokes(page) if one[0] < 4])
    assert len(errors) >= 10
    assert max(map(abs, errors)) < ONSET_S


@pytest.mark.long
def test_it_stops_at_once_and_at_the_end(choked: Path, opened: Any) -> None:
    page = opened(choked)
    start_recording(page)
    _play(page, 3)
    page.evaluate("practice.stop()")
    stopped_s = page.evaluate("practice.sound.now")
    page.wait_for_timeout(1500)
    heard = recorded(page)
    assert heard.level_db(stopped_s + 0.7, stopped_s + 1.3) < -60
    page.evaluate("practice.change({ tempo: practice.timeline.tempo * 1.5, countIn: 0 })")
    page.evaluate("practice.play()")
    until(page, "!practice.playing")
    assert page.inner_text("#play") == "Play"
