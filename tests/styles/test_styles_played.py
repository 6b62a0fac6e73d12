"""Every style in its meter, at both ends of its tempo, in every key, note by note."""

from __future__ import annotations

from collections import defaultdict
from itertools import pairwise

import pytest
from band_tunes import KEYS, played_in

from accomp.rhythm import find_style, style_names
from accomp.score.arrangement import Arrangement
from accomp.score.notate import notate
from accomp.score.perform import perform
from accomp.score.performance import Note, Performance

NAMES = style_names()
# One of two keys every day; all twelve in the long run.
CASES = [
    pytest.param(name, key, end, marks=[] if number == 8 * (index % 2) else [pytest.mark.long])
    for index, name in enumerate(NAMES)
    for number, key in enumerate(KEYS)
    for end in (0, 1)
]


@pytest.mark.many(8)
@pytest.mark.parametrize(("name", "key", "end"), CASES)
def test_played(name: str, key: str, end: int) -> None:
    style = find_style(name)
    arrangement = played_in(style, key, style.tempo[end])
    check_written(arrangement)
    performance = perform(arrangement, count_in=1)
    check_notes(performance)
    check_places(arrangement, performance)


def check_written(arrangement: Arrangement) -> None:
    """Strokes in their bars and on their shapes, the bass in range and on its roots."""
    held = None
    for bar in arrangement.bars:
        for strum in bar.strums:
            assert bar.span.start <= strum.span.start < strum.span.end <= bar.span.end
            assert all(strum.shape.pitches[index] is not None for index in strum.strings)
            assert bool(strum.strings) == (strum.technique != "rest")
        assert all(a.span.end <= b.span.start for a, b in pairwise(bar.strums))
        for part in (bar.bass, bar.drums, bar.comping):
            assert all(stroke.span.start in bar.span for stroke in part)
            assert all(bar.span.start < stroke.span.end <= bar.span.end for stroke in part)
        assert all(28 <= stroke.pitch <= 55 for stroke in bar.bass)  # E1 to G3
        assert all(35 <= stroke.pitch <= 81 for stroke in bar.drums)  # General MIDI's map
        for change in bar.changes:
            if change.chord is None:
                parts = (bar.strums, bar.bass, bar.drums, bar.comping)
                assert not any(s.span.start in change.span for part in parts for s in part)
            elif change.chord != held:
                first = [stroke for stroke in bar.bass if stroke.span.start in change.span][:1]
                free = bar.style.ending.bass is not None and bar.style.ending.bass.free
                if not (free and bar is arrangement.bars[-1]):
                    root = (change.chord.bass or change.chord.root).pc
                    assert all(stroke.pitch % 12 == root for stroke in first)
            held = change.chord


def check_notes(performance: Performance) -> None:
    """No two of one pitch at once on a channel, no note without an end, drums on channel 10."""
    by_channel: dict[tuple[int, int], list[Note]] = defaultdict(list)
    owners: dict[int, set[str]] = defaultdict(set)
    for track in performance.tracks:
        assert track.notes, track.name
        for channel in track.channels:
            owners[channel].add(track.name)
        for note in track.notes:
            assert 0 <= note.start_s < note.end_s <= performance.end_s + 1e-6
            assert 1 <= note.velocity <= 127
            assert note.channel in track.channels
            pitch = 0 if track.role == "player" else note.pitch  # a string sounds one note
            by_channel[note.channel, pitch].append(note)
    for notes in by_channel.values():
        notes.sort(key=lambda note: note.start_s)
        assert all(a.end_s <= b.start_s + 1e-9 for a, b in pairwise(notes))
    assert all(len(names) == 1 for channel, names in owners.items() if channel != 9)
    assert {track.name for track in performance.tracks if 9 in track.channels} == {
        "Drums",
        "Count-in",
    }


def check_places(arrangement: Arrangement, performance: Performance) -> None:
    """Every stroke is heard at its written place, swing and looseness allowed for."""
    player = next(track for track in performance.tracks if track.role == "player")
    style = arrangement.bars[0].style
    beat_s = 60.0 / arrangement.tempo
    lead_s = performance.end_s - _length_s(arrangement, beat_s)
    if style.ending.ritard:
        return
    assert lead_s == pytest.approx(beat_s * arrangement.bars[0].bar.meter.beats)
    starts = [note.start_s for note in player.notes]
    most_s = 2.5 * style.jitter_ms / 1000 + 0.003
    ratio, pair = style.strings_swing_at(arrangement.tempo), style.swing_pair
    for bar in arrangement.bars:
        for strum in bar.strums:
            if strum.technique == "rest":
                continue
            inside = (strum.span.start - bar.span.start) / pair
            # The first half of each pair is stretched to ratio : 1, the second takes what is left.
            share = float(inside % 1)
            long = ratio / (ratio + 1)
            share = 2 * share * long if share <= 0.5 else long + (2 * share - 1) * (1 - long)
            swung = float(bar.span.start) + (inside // 1 + share) * float(pair)
            at_s = lead_s + swung / float(arrangement.beat) * beat_s
            assert min(abs(found - at_s) for found in starts) <= most_s


def _length_s(arrangement: Arrangement, beat_s: float) -> float:
    return float(arrangement.bars[-1].span.end / arrangement.beat) * beat_s


@pytest.mark.many(3, 8)
@pytest.mark.parametrize("name", NAMES)
def test_it_reads_right(name: str) -> None:
    # The events of every measure fill it exactly, and no value is shorter than a 32nd.
    style = find_style(name)
    score = notate(played_in(style, "Bb", style.tempo[1], choruses=1))
    for part in score.parts:
        for measure in part.measures:
            if measure.rests or any(event.whole_measure for event in measure.events):
                continue
            assert sum(event.value.duration for event in measure.events) == measure.length
            assert all(event.value.length * 32 >= 1 for event in measure.events)
            assert all(a.end == b.start for a, b in pairwise(measure.events))
