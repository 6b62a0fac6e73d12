"""What the styles' players do with their freedom: timing, strums, force, the shape of a chorus."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from played import BASS, FLAT, arranged, performed, style, tune

from accomp.rhythm import find_style, style_names
from accomp.rhythm.style import Style
from accomp.score.arrangement import Arrangement
from accomp.score.performance import Note
from accomp.score.shape import shape_db

SIXTEEN = "| C | / | / | / | / | / | / | / | / | / | / | / | / | / | / | / |"
PLAIN = [name for name in style_names() if name.startswith("plain")]
FULL = [name for name in style_names() if not name.startswith("plain")]


def piece(of: Style, choruses: int = 2) -> Arrangement:
    return arranged(tune(SIXTEEN, str(of.meter)), of, "0 0 2 3", choruses=choruses)


def tracks(made: Arrangement) -> dict[str, tuple[Note, ...]]:
    return {track.name: track.notes for track in performed(made, count_in=1).tracks}


def strayed_ms(name: str, seeds: int = 8) -> np.ndarray:
    """How late each note of the bass begins against the machine's, in ms."""
    of = find_style(name)
    late = []
    for seed in range(seeds):
        free, even = (
            np.array([note.start_s for note in tracks(replace(piece(one), seed=seed))["Bass"]])
            for one in (of, replace(of, jitter_ms=0.0))
        )
        late.append(1000 * (free - even))
    return np.concatenate(late)


def test_styles_let_their_players_stray_as_people_do() -> None:
    # Hennig et al. 2011: some 10 ms. The plain styles, for practice, stray little.
    assert all(6 <= find_style(name).jitter_ms <= 10 for name in FULL)
    assert all(0 < find_style(name).jitter_ms <= 3 for name in PLAIN)


@pytest.mark.slow
@pytest.mark.many(1)
@pytest.mark.parametrize("name", ["choked-four", "reel", "polka", "plain-four-four"])
def test_the_standard_deviation_is_the_style_s(name: str) -> None:
    late = strayed_ms(name)
    asked = find_style(name).jitter_ms
    assert 0.65 * asked <= late.std() <= 1.35 * asked
    assert np.abs(late).max() <= 2.5 * asked + 0.01


def test_without_looseness_a_machine_plays() -> None:
    made = piece(style(FLAT, bass=BASS))
    player = by_start(tracks(made)["Tenor banjo"])
    gaps = [np.diff(stroke) for stroke in player]
    assert all(np.allclose(gap, gaps[0]) for gap in gaps)
    assert np.allclose([stroke[0] % 0.5 for stroke in player], 0)  # a quarter lasts half a second
    assert len({note.velocity for note in tracks(made)["Bass"]}) == 1


def by_start(notes: tuple[Note, ...]) -> list[list[float]]:
    """The notes' starts, four strings a stroke."""
    starts = sorted(note.start_s for note in notes)
    return [starts[n : n + 4] for n in range(0, len(starts), 4)]


def test_strums_are_never_twice_alike_and_up_to_a_decibel_and_a_half_apart() -> None:
    of = style(FLAT, jitter_ms=7.0, jitter_force=7.0)
    made = piece(of)
    strokes = by_start(tracks(made)["Tenor banjo"])
    spreads = np.array([stroke[-1] - stroke[0] for stroke in strokes])
    assert 0.75 * 0.022 <= spreads.min() < 0.9 * 0.022
    assert 1.1 * 0.022 < spreads.max() <= 1.26 * 0.022
    gaps = np.array([np.diff(stroke) for stroke in strokes]) / spreads[:, None]
    assert gaps.std() > 0.03
    first = [n for n in tracks(made)["Tenor banjo"] if n.channel == 0]
    shape = np.repeat(shape_db(made.bars), 4)
    louder_db = [40 * np.log10(n.velocity / 80) - db for n, db in zip(first, shape, strict=True)]
    assert 0.3 < np.std(louder_db) < 1.0
    assert max(map(abs, louder_db)) < 2.0  # 1.5, and what rounding and soft bars add


def test_a_chorus_has_a_shape() -> None:
    made = piece(style(FLAT, jitter_ms=7.0, jitter_force=7.0), choruses=2)
    db = np.array(shape_db(made.bars))
    first, second = db[:16], db[16:]
    assert 1 < first[8:].mean() - first[:8].mean() < 2.5  # the second eight
    assert second[:12].mean() > first[:12].mean() + 0.5  # a later chorus
    assert second[-2] > second[-6]  # towards the end
    assert np.abs(db).max() < 5
    machine = piece(style(FLAT))
    assert set(shape_db(machine.bars)) == {0.0}
    plain = np.array(shape_db(piece(find_style("plain-four-four")).bars))
    assert np.ptp(plain) < 0.5 * np.ptp(db)
