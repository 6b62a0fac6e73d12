"""The melody as a guide track: read in played order, moved with the key, laid over every chorus."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
from played import FLAT, arranged, performed, style, tune

from accomp.errors import InputError
from accomp.harmony import Key
from accomp.intake import read_melody
from accomp.rhythm.passage import Ending
from accomp.score.arrange import Rendition, arrange
from accomp.score.performance import Note
from accomp.score.planning import tune_chords
from accomp.time import Meter, Span
from accomp.tune.melody import MelodyNote, transpose_melody

CLOSED = "4 5 5 7"

# A pickup, a repeat with two endings, a tie over a bar line. Of our own invention.
ABC = """X:1
T:Trial
M:4/4
L:1/4
K:C
G |: c2 e2- | e2 d2 |1 B4 :|2 c4 |]
"""


@pytest.fixture
def melody_file(tmp_path: Path) -> Path:
    path = tmp_path / "trial.abc"
    path.write_text(ABC, encoding="utf-8")
    return path


def shown(notes: tuple[MelodyNote, ...]) -> list[tuple[float, float, int]]:
    return [(float(4 * n.span.start), float(4 * n.span.duration), n.pitch) for n in notes]


def test_a_melody_without_chords_is_read_in_played_order(melody_file: Path) -> None:
    # Quarters from the first full bar; MIDI numbers: G4 = 67, c = 72, e = 76, d = 74, B = 71.
    assert shown(read_melody(melody_file)) == [
        (-1, 1, 67),
        (0, 2, 72), (2, 4, 76), (6, 2, 74), (8, 4, 71),
        (12, 2, 72), (14, 4, 76), (18, 2, 74), (20, 4, 72),
    ]  # fmt: skip


def test_chord_symbols_do_not_matter(melody_file: Path, tmp_path: Path) -> None:
    other = tmp_path / "chords.abc"
    other.write_text(ABC.replace("c2 e2-", '"C"c2 e2-'), encoding="utf-8")
    assert read_melody(other) == read_melody(melody_file)


def test_what_is_no_melody(tmp_path: Path) -> None:
    empty = tmp_path / "rests.abc"
    empty.write_text('X:1\nT:Rests\nM:4/4\nL:1/4\nK:C\n"C"z4 | z4 |]\n', encoding="utf-8")
    with pytest.raises(InputError, match="no notes"):
        read_melody(empty)
    with pytest.raises(InputError):
        read_melody(tmp_path / "missing.musicxml")


def test_it_moves_with_the_key_by_the_shorter_way() -> None:
    notes = (MelodyNote(Span(Fraction(0), Fraction(1)), 60),)
    moved = {
        key: transpose_melody(notes, Key.parse("C"), Key.parse(key))[0].pitch
        for key in ("C", "D", "F", "F#", "G", "Bb", "B")
    }
    assert moved == {"C": 60, "D": 62, "F": 65, "F#": 66, "G": 55, "Bb": 58, "B": 59}


def melody_notes(
    text: str, choruses: int, ending: Ending, melody: tuple[MelodyNote, ...], count_in: int
) -> list[Note]:
    made = tune(text)
    plans = arranged(made, style(FLAT), CLOSED).plans * choruses
    styles = {(None, Meter.parse("4/4")): style(FLAT, ending=ending)}
    arrangement = arrange(
        made, tune_chords(made), plans, styles, arranged(made, style(FLAT), CLOSED).instrument,
        Rendition(melody=melody),
    )  # fmt: skip
    tracks = performed(arrangement, count_in=count_in).tracks
    found = [track for track in tracks if track.role == "melody"]
    return list(found[0].notes) if found else []


SIX = "| C |" + " C |" * 5


def test_it_is_laid_over_every_chorus_and_its_pickup_before_each(melody_file: Path) -> None:
    notes = melody_notes(SIX, 2, Ending(), read_melody(melody_file), count_in=1)
    # At 120 a quarter lasts half a second; the count-in is a bar of two seconds.
    starts = [note.start_s for note in notes]
    assert starts[:3] == pytest.approx([1.5, 2.0, 3.0])
    assert len(notes) == 18
    second = 2.0 + 6 * 2.0
    assert starts[9:12] == pytest.approx([second - 0.5, second, second + 1.0])
    # The last note of the first chorus gives way to the pickup of the second.
    assert notes[8].end_s == pytest.approx(second - 0.5)


def test_without_a_count_in_the_first_pickup_is_left_out(melody_file: Path) -> None:
    notes = melody_notes(SIX, 1, Ending(), read_melody(melody_file), count_in=0)
    assert [note.pitch for note in notes][:2] == [72, 76]
    assert len(notes) == 8


def test_a_tag_has_the_melody_of_its_bars(melody_file: Path) -> None:
    notes = melody_notes(SIX, 1, Ending(tag=1), read_melody(melody_file), count_in=0)
    assert [note.pitch for note in notes] == [72, 76, 74, 71, 72, 76, 74, 72, 71, 72, 76, 74, 72]


def test_no_melody_no_track() -> None:
    assert melody_notes(SIX, 1, Ending(), (), count_in=1) == []
