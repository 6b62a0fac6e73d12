"""Two tracks of a MIDI file that share a channel: no pitch sounds twice at once on it."""

import io

import mido
import pytest

from accomp.score.performance import Note, Performance, TempoMark, Track
from accomp.write.midi import midi_bytes


def played(*times: tuple[float, float]) -> list[tuple[int, int, int]]:
    """A note for each time (start, end in seconds), in a track of its own, as the file has it:
    track, first and last tick. A second is 960 ticks."""
    tracks = [Track("One", "band", 0, (0,), (Note(*time, 60, 80, 0),)) for time in times]
    piece = Performance("", tuple(tracks), (TempoMark(0.0, 0.5),), (), (), (), (), end_s=2.0)
    found = []
    for index, track in enumerate(mido.MidiFile(file=io.BytesIO(midi_bytes(piece))).tracks[1:]):
        now, moments = 0, []
        for message in track:
            now += message.time
            if message.type in {"note_on", "note_off"}:
                moments.append(now)
        found += [(index, *moments[i : i + 2]) for i in range(0, len(moments), 2)]
    return found


@pytest.mark.parametrize("longer", [0, 1])
def test_of_two_that_begin_together_the_longer_remains(longer):
    times = [(0.0, 0.5), (0.0, 0.5)]
    times[longer] = (0.0, 1.5)
    assert played(*times) == [(longer, 0, 1440)]


def test_a_note_makes_room_for_its_pitch_in_another_track():
    """Players take the lower track first: a note of the higher one must have ended before."""
    assert played((0.0, 1.0), (0.5, 1.0)) == [(0, 0, 480), (1, 480, 960)]
    assert played((0.5, 1.0), (0.0, 1.0)) == [(0, 480, 960), (1, 0, 479)]


def test_notes_of_one_track_meet_at_one_tick():
    times = [(0.0, 1.0), (0.5, 1.0)]
    notes = tuple(Note(*time, 60, 80, 0) for time in times)
    piece = Performance(
        "", (Track("One", "band", 0, (0,), notes),), (TempoMark(0.0, 0.5),), (), (), (), (), 2.0
    )
    track = mido.MidiFile(file=io.BytesIO(midi_bytes(piece))).tracks[1]
    assert [m.time for m in track if m.type in {"note_on", "note_off"}] == [0, 480, 0, 480]


def test_a_note_with_one_tick_to_itself_is_not_lost():
    """One tick before its pitch comes in a lower track: it ends there, and neither is dropped."""
    one_tick_s = 1 / 960
    times = ((1.0 + one_tick_s, 1.5), (1.0, 1.5))
    tracks = [Track("One", "band", 0, (0,), (Note(*time, 60, 80, 0),)) for time in times]
    piece = Performance("", tuple(tracks), (TempoMark(0.0, 0.5),), (), (), (), (), end_s=2.0)
    file = mido.MidiFile(file=io.BytesIO(midi_bytes(piece)))
    heard = []
    for index, track in enumerate(file.tracks[1:]):
        now = 0
        for message in track:
            now += message.time
            if message.type in {"note_on", "note_off"}:
                heard.append((now, index, message.type))
    heard.sort(key=lambda event: event[:2])  # as players read: by tick, the lower track first
    kinds = [(tick, kind) for tick, _, kind in heard]
    assert kinds == [(960, "note_on"), (961, "note_off"), (961, "note_on"), (1440, "note_off")]
