"""The MIDI file, read back by three programs that know nothing of accomp.

Sources: mido, pretty_midi and music21 as readers; the tick times are worked out again here from
the definition (480 ticks a quarter). Level and pan numbers 7 and 10, bank 0: MIDI 1.0 controller
list (from memory), agreeing with what pretty_midi and FluidSynth take them for.
"""

import io
import struct
from collections import defaultdict
from fractions import Fraction
from pathlib import Path

import mido
import pytest
from drawn import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from accomp.score.performance import (
    KeyMark,
    MeterMark,
    Note,
    Performance,
    TempoMark,
    TextMark,
    Track,
)
from accomp.write.midi import midi_bytes

BANJO = (0, 1, 2, 3)


def performance(*tracks: Track, **changes) -> Performance:
    fields = {
        "title": "Lamplighter's Row",
        "tracks": tracks,
        "tempos": (TempoMark(0.0, 0.5),),
        "meters": (MeterMark(0.0, 4, 4),),
        "keys": (KeyMark(0.0, "F"),),
        "markers": (),
        "chords": (),
        "end_s": 2.0,
    }
    return Performance(**(fields | changes))


def read(piece: Performance) -> mido.MidiFile:
    return mido.MidiFile(file=io.BytesIO(midi_bytes(piece)), charset="utf-8")


def timed(track) -> list[tuple[int, mido.Message]]:
    now, found = 0, []
    for message in track:
        now += message.time
        found.append((now, message))
    return found


@pytest.fixture(scope="module")
def waltz() -> Performance:
    """Sixteen bars that change tempo, meter and key half-way, for banjo, bass and drums."""
    quarter_s, later_s = 60 / 168, 60 / 96
    turn_s = 8 * 4 * quarter_s
    banjo, bass, drums = [], [], []
    for beat in range(32):
        start = beat * quarter_s
        for string, pitch in enumerate((53, 57, 65, 72)):
            banjo.append(Note(start, start + 0.9 * quarter_s, pitch, 80, string, beat % 2))
        if beat % 2 == 0:
            bass.append(Note(start, start + 1.5 * quarter_s, 41, 90, 4))
        drums.append(Note(start, start + 0.1, 42, 60, 9))
    for eighth in range(8 * 6):
        start = turn_s + eighth * later_s / 2
        banjo.append(Note(start, start + 0.9 * later_s / 2, 62, 80, 1))
    return performance(
        Track("Tenor banjo", "player", 105, BANJO, tuple(banjo), level=110, pan=30),
        Track("Bass", "band", 32, (4,), tuple(bass), level=90),
        Track("Drums", "band", 0, (9,), tuple(drums), level=70, pan=80),
        title="Dance of the Pump Rooms",
        tempos=(TempoMark(0.0, quarter_s), TempoMark(turn_s, later_s)),
        meters=(MeterMark(0.0, 4, 4), MeterMark(turn_s, 6, 8)),
        keys=(KeyMark(0.0, "Bb"), KeyMark(turn_s, "F#m")),
        markers=(TextMark(0.0, "A"), TextMark(turn_s, "B")),
        chords=(TextMark(0.0, "F"), TextMark(turn_s, "F#m7b5")),
        end_s=turn_s + 8 * 3 * later_s,
    )


@pytest.fixture(scope="module")
def waltz_file(waltz, tmp_path_factory) -> Path:
    path = tmp_path_factory.mktemp("midi") / "dance.mid"
    path.write_bytes(midi_bytes(waltz))
    return path


def test_the_header_is_format_1_with_480_ticks_and_every_track_is_there(waltz_file):
    data = waltz_file.read_bytes()
    assert data[:4] == b"MThd"
    assert struct.unpack(">IHHH", data[4:14]) == (6, 1, 4, 480)
    place, tracks = 14, 0
    while place < len(data):
        kind, length = struct.unpack(">4sI", data[place : place + 8])
        assert kind == b"MTrk"
        assert data[place + 8 : place + 8 + length].endswith(b"\xff\x2f\x00")  # end of track
        place, tracks = place + 8 + length, tracks + 1
    assert (place, tracks) == (len(data), 4)


def test_the_conductor_holds_title_tempo_meter_key_markers_and_chords(waltz_file):
    events = timed(mido.MidiFile(waltz_file).tracks[0])
    turn = 8 * 4 * 480
    said = [(tick, m.type, m.dict()) for tick, m in events]
    assert (events[0][1].type, events[0][1].name) == ("track_name", "Dance of the Pump Rooms")
    tempos = [(tick, m["tempo"]) for tick, kind, m in said if kind == "set_tempo"]
    assert tempos == [(0, round(60e6 / 168)), (turn, 625_000)]
    meters = [
        (tick, m["numerator"], m["denominator"], m["clocks_per_click"])
        for tick, kind, m in said
        if kind == "time_signature"
    ]
    assert meters == [(0, 4, 4, 24), (turn, 6, 8, 36)]  # a click each beat: quarter, dotted quarter
    keys = [(tick, m["key"]) for tick, kind, m in said if kind == "key_signature"]
    assert keys == [(0, "Bb"), (turn, "F#m")]
    texts = [(tick, kind, m["text"]) for tick, kind, m in said if kind in {"marker", "text"}]
    assert texts == [
        (0, "marker", "A"),
        (0, "text", "F"),
        (turn, "marker", "B"),
        (turn, "text", "F#m7b5"),
    ]


def test_one_named_track_a_player_with_its_channels_level_and_pan(waltz_file):
    tracks = mido.MidiFile(waltz_file).tracks
    assert [track.name for track in tracks[1:]] == ["Tenor banjo", "Bass", "Drums"]
    for track, channels, program, level, pan in (
        (tracks[1], {0, 1, 2, 3}, 105, 110, 30),
        (tracks[2], {4}, 32, 90, 64),
        (tracks[3], {9}, 0, 70, 80),
    ):
        assert {m.channel for m in track if not m.is_meta} == channels
        controls = {
            (m.channel, m.control, m.value)
            for m in track
            if m.type == "control_change" and m.control != 0
        }
        assert controls == {(c, 7, level) for c in channels} | {(c, 10, pan) for c in channels}
        assert {m.program for m in track if m.type == "program_change"} == {program}


def test_mido_reads_every_note_at_its_tick(waltz, waltz_file):
    expected = []
    for index, track in enumerate(waltz.tracks):
        for note in track.notes:
            turn_s, quarter_s, later_s = waltz.tempos[1].start_s, 60 / 168, 60 / 96
            beats = (
                note.start_s / quarter_s
                if note.start_s < turn_s - 1e-9
                else 32 + (note.start_s - turn_s) / later_s
            )
            expected.append((index, round(beats * 480), note.channel, note.pitch, note.velocity))
    found = [
        (index, tick, m.channel, m.note, m.velocity)
        for index, track in enumerate(mido.MidiFile(waltz_file).tracks[1:])
        for tick, m in timed(track)
        if m.type == "note_on"
    ]
    assert sorted(found) == sorted(expected)
    beats = {tick for index, tick, *_ in found if index == 0 and tick < 32 * 480}
    assert beats == {480 * beat for beat in range(32)}  # bar lines and beats fall on their ticks


def test_pretty_midi_hears_the_same_seconds_tempo_meter_and_key(waltz, waltz_file):
    import pretty_midi

    heard = pretty_midi.PrettyMIDI(str(waltz_file))
    by_name = defaultdict(list)
    for instrument in heard.instruments:
        by_name[instrument.name] += instrument.notes
        assert instrument.is_drum == (instrument.name == "Drums")
    for track in waltz.tracks:
        mine = sorted((n.start_s, n.end_s, n.pitch, n.velocity) for n in track.notes)
        theirs = sorted((n.start, n.end, n.pitch, n.velocity) for n in by_name[track.name])
        assert [n[2:] for n in theirs] == [n[2:] for n in mine]
        for a, b in zip(mine, theirs, strict=True):
            assert b[:2] == pytest.approx(a[:2], abs=0.001)  # half a tick is 0.65 ms at most here
    times, tempos = heard.get_tempo_changes()
    assert list(times) == pytest.approx([0.0, waltz.tempos[1].start_s], abs=1e-4)
    assert list(tempos) == pytest.approx([168, 96], rel=1e-5)
    meters = [(m.numerator, m.denominator) for m in heard.time_signature_changes]
    assert meters == [(4, 4), (6, 8)]
    names = [pretty_midi.key_number_to_key_name(k.key_number) for k in heard.key_signature_changes]
    assert names == ["Bb Major", "F# minor"]


def test_music21_reads_the_same_pitches_tempo_meter_and_key(waltz, waltz_file):
    import music21

    score = music21.converter.parse(waltz_file, quantizePost=False, forceSource=True)
    banjo = next(part for part in score.parts if part.partName == "Tenor banjo")
    flat = banjo.flatten()
    pitches = defaultdict(set)
    for element in flat.notes:
        pitches[round(float(element.offset), 2)] |= {p.midi for p in element.pitches}
    mine = defaultdict(set)
    for note in waltz.tracks[0].notes:
        turn_s = waltz.tempos[1].start_s
        early = note.start_s < turn_s - 1e-9
        beat = note.start_s * 168 / 60 if early else 32 + (note.start_s - turn_s) * 96 / 60
        mine[round(beat, 2)].add(note.pitch)
    assert pitches == mine
    everything = score.flatten()
    meters = [m.ratioString for m in banjo.recurse().getElementsByClass("TimeSignature")]
    assert meters == ["4/4", "6/8"]
    keys = {(k.tonic.name, k.mode) for k in everything.getElementsByClass(music21.key.Key)}
    assert keys == {("B-", "major"), ("F#", "minor")}
    tempos = {m.number for m in everything.getElementsByClass(music21.tempo.MetronomeMark)}
    assert {round(number) for number in tempos} == {168, 96}


def test_a_bank_is_chosen_before_the_note_and_after_the_end_of_the_one_before():
    notes = (Note(0, 0.5, 60, 90, 2), Note(0.5, 1, 60, 90, 2, 1), Note(1, 1.5, 60, 90, 2, 1))
    file = read(performance(Track("Tenor banjo", "player", 105, (2,), notes)))
    said = [
        (tick, m.type, *((m.control, m.value) if m.type == "control_change" else ()))
        for tick, m in timed(file.tracks[1])
        if not m.is_meta
    ]
    assert said == [
        (0, "control_change", 0, 0),
        (0, "program_change"),
        (0, "control_change", 7, 100),
        (0, "control_change", 10, 64),
        (0, "note_on"),
        (480, "note_off"),
        (480, "control_change", 0, 1),
        (480, "program_change"),
        (480, "note_on"),
        (960, "note_off"),
        (960, "note_on"),  # same sound as before: nothing to choose
        (1440, "note_off"),
    ]


def test_drums_are_sent_no_bank():
    drums = Track("Drums", "band", 0, (9,), (Note(0, 0.1, 38, 80, 9),))
    controls = [m for m in read(performance(drums)).tracks[1] if m.type == "control_change"]
    assert [m.control for m in controls] == [7, 10]


def test_a_note_ends_the_last_one_of_its_pitch_and_no_earlier_one():
    """A tick sooner where that one is a later track's: the second is not, though the first is."""
    first, second, third = (
        Note(start, end, 60, 90, 4) for start, end in ((0.0, 0.25), (0.5, 2.0), (1.0, 2.0))
    )
    tracks = [Track("One", "band", 32, (4,), (second, third)),
              Track("Two", "band", 32, (4,), (first,))]  # fmt: skip
    ends = [
        [tick for tick, m in timed(track) if m.type == "note_off"]
        for track in read(performance(*tracks)).tracks[1:]
    ]
    assert ends == [[960, 1920], [240]]


@pytest.mark.parametrize(
    ("meter", "clocks"),
    [
        ((4, 4), 24), ((2, 2), 48), ((3, 2), 48), ((2, 4), 24), ((5, 4), 24), ((6, 4), 72),
        ((3, 8), 36), ((6, 8), 36), ((12, 8), 36), ((7, 8), 12), ((5, 16), 6), ((1, 1), 96),
    ],
)  # fmt: skip
def test_a_click_is_a_beat_and_24_clocks_a_quarter(meter, clocks):
    """A meter that no tune has clicks with its unit."""
    track = Track("Bass", "band", 32, (4,), ())
    file = read(performance(track, meters=(MeterMark(0.0, *meter),)))
    (found,) = [m for m in file.tracks[0] if m.type == "time_signature"]
    assert (found.numerator, found.denominator) == meter
    assert (found.clocks_per_click, found.notated_32nd_notes_per_beat) == (clocks, 8)


def test_a_drum_kit_of_another_bank_is_chosen_and_left_again():
    hits = (Note(0, 0.1, 38, 80, 9), Note(0.5, 0.6, 38, 80, 9, 3), Note(1, 1.1, 38, 80, 9))
    file = read(performance(Track("Drums", "band", 5, (9,), hits)))
    said = [
        (tick, m.control, m.value)
        for tick, m in timed(file.tracks[1])
        if m.type == "control_change"
    ]
    assert said == [(0, 7, 100), (0, 10, 64), (480, 0, 3), (960, 0, 0)]
    assert [m.program for m in file.tracks[1] if m.type == "program_change"] == [5, 5, 5]
    ends = [(m.velocity, m.time) for m in file.tracks[1] if m.type == "note_off"]
    assert ends == [(64, 96)] * 3


def test_a_channel_is_set_once_by_the_first_track_that_has_it():
    note = Note(0.5, 1.0, 40, 90, 4)
    tracks = [Track(name, "band", program, (4, 5), (note,), level=9, pan=8)
              for name, program in (("One", 32), ("Two", 33))]  # fmt: skip
    one, two = read(performance(*tracks)).tracks[1:]
    said = [
        [(tick, m.type, m.channel) for tick, m in timed(track) if not m.is_meta]
        for track in (one, two)
    ]
    setting = ["control_change", "program_change", "control_change", "control_change"]
    assert said[0][:8] == [(0, kind, channel) for channel in (4, 5) for kind in setting]
    # Of two that begin at one tick only the longer remains, here the second track's.
    assert said[0][8:] == []
    assert said[1] == [
        (480, "control_change", 4), (480, "program_change", 4), (480, "note_on", 4),
        (960, "note_off", 4),
    ]  # fmt: skip


def test_all_tracks_end_together_at_the_last_bar_line_or_the_last_ring():
    short = Track("Bass", "band", 32, (4,), (Note(0, 0.5, 40, 90, 4),))
    for end_s, last in ((2.0, 2.0), (0.25, 0.5)):
        ends = {timed(track)[-1][0] for track in read(performance(short, end_s=end_s)).tracks}
        assert ends == {round(last * 960)}


@pytest.mark.long
def test_ticks_do_not_drift_over_a_thousand_bars():
    quarter_s = 60 / 167
    beats = [Fraction(beat, 3) for beat in range(12_000)]
    notes = tuple(
        Note(float(b) * quarter_s, (float(b) + 0.2) * quarter_s, 50, 80, 0) for b in beats
    )
    track = Track("Bass", "band", 32, (0,), notes)
    file = read(performance(track, tempos=(TempoMark(0, quarter_s),), end_s=4000 * quarter_s))
    starts = [tick for tick, m in timed(file.tracks[1]) if m.type == "note_on"]
    assert starts == [480 * beat for beat in beats]
    heard_s = mido.tick2second(starts[-1], 480, round(quarter_s * 1e6))
    assert heard_s == pytest.approx(float(beats[-1]) * quarter_s, abs=0.5e-6 * 4000)


@pytest.mark.parametrize(
    ("title", "stored"),
    [
        ("Café de la Gare", "Café de la Gare"),
        ("Ždár ♭ 港", "Ždár ♭ 港"),
        ("שלום", "שלום"),
        ("two\nlines\tand \x00 more", "two lines and   more"),
        ("half \ud83d of a pair", "half   of a pair"),
        ("x" * 300, "x" * 300),
        ("", ""),
        ("\x07", ""),
    ],
)
def test_any_title_can_be_stored(title, stored):
    file = read(performance(Track(title, "band", 0, (0,), ()), title=title))
    assert [track.name for track in file.tracks] == [stored, stored]


def test_without_tempo_marks_120_holds_and_a_late_first_mark_counts_from_the_start():
    track = Track("Bass", "band", 32, (0,), (Note(1.0, 1.5, 40, 80, 0),))
    for tempos, tick in (((), 960), ((TempoMark(0.7, 0.25),), 1920)):
        file = read(performance(track, tempos=tempos))
        assert [t for t, m in timed(file.tracks[1]) if m.type == "note_on"] == [tick]
        assert [t for t, m in timed(file.tracks[0]) if m.type == "set_tempo"] == [0]


def test_all_thirty_keys_can_be_written():
    majors = "Cb Gb Db Ab Eb Bb F C G D A E B F# C#".split()
    minors = "Abm Ebm Bbm Fm Cm Gm Dm Am Em Bm F#m C#m G#m D#m A#m".split()
    for fifths, (major, minor) in enumerate(zip(majors, minors, strict=True), -7):
        for name, mode in ((major, 0), (minor, 1)):
            data = midi_bytes(performance(keys=(KeyMark(0.0, name),)))
            assert b"\xff\x59\x02" + struct.pack(">bB", fifths, mode) in data  # RP-001: sf, mi


@st.composite
def performances(draw) -> Performance:
    changes = sorted(draw(st.sets(st.floats(0.1, 20), max_size=4)))
    quarters = draw(st.lists(st.floats(0.15, 2), min_size=5, max_size=5))
    tempos = tuple(
        TempoMark(start, quarter) for start, quarter in zip([0.0, *changes], quarters, strict=False)
    )
    tracks = []
    for index in range(draw(st.integers(1, 3))):
        channels = tuple(sorted(draw(st.sets(st.integers(0, 4), min_size=1, max_size=4))))
        notes = draw(
            st.lists(
                st.builds(
                    lambda start, length, *rest: Note(start, start + length, *rest),
                    st.one_of(st.floats(0, 25), st.integers(0, 20).map(lambda n: n / 4)),
                    st.one_of(st.floats(0, 3), st.just(0.25)),
                    st.integers(60, 63),
                    st.integers(1, 127),
                    st.sampled_from(channels),
                    st.integers(0, 2),
                ),
                max_size=25,
            )
        )
        tracks.append(Track(f"Player {index}", "band", 100 + index, channels, tuple(notes)))
    return performance(*tracks, tempos=tempos, end_s=draw(st.floats(0, 30)))


@given(performances())
@settings(max_examples=examples(150))
def test_no_note_hangs_or_overlaps_and_each_sounds_as_asked(piece):
    file = read(piece)
    merged = []
    for index, track in enumerate(file.tracks):
        merged += [(tick, index, m) for tick, m in timed(track)]
    merged.sort(key=lambda event: event[:2])  # a player takes the lower track first at one tick
    sounding, state, started = {}, defaultdict(dict), []
    for tick, index, m in merged:
        if m.type == "control_change" and m.control == 0:
            state[m.channel]["bank"] = m.value
        elif m.type == "program_change":  # a bank waits for the program that follows it
            state[m.channel] |= {"program": m.program, "now": state[m.channel].get("bank", 0)}
        elif m.type == "note_on":
            assert m.velocity > 0
            assert (m.channel, m.note) not in sounding, "two notes of one pitch on one channel"
            sounding[m.channel, m.note] = tick
            sound = state[m.channel]
            started.append((tick, m.channel, m.note, index - 1, sound["now"], sound["program"]))
        elif m.type == "note_off":
            assert tick > sounding.pop((m.channel, m.note)), "a note ends where it begins"
    assert not sounding, "a note hangs"
    assert len({sum(m.time for m in track) for track in file.tracks}) == 1

    asked, played = set(), {}
    for index, track in enumerate(piece.tracks):
        for note in track.notes:
            tick = _tick(note.start_s, piece.tempos)
            asked.add((tick, note.channel, note.pitch))
            played.setdefault((tick, note.channel, note.pitch), set()).add((index, note.bank))
    assert {(tick, channel, pitch) for tick, channel, pitch, *_ in started} == asked
    assert len(started) == len(asked)
    for tick, channel, pitch, index, bank, program in started:
        assert (index, bank) in played[tick, channel, pitch]
        assert program == piece.tracks[index].program


def _tick(time_s: float, tempos: tuple[TempoMark, ...]) -> int:
    """Worked out by adding up whole stretches of one tempo, from the definition."""
    beats = 0.0
    for mark, following in zip(tempos, [*tempos[1:], None], strict=True):
        end_s = time_s if following is None else min(time_s, following.start_s)
        if end_s > mark.start_s:
            beats += (end_s - mark.start_s) / mark.quarter_s
    return round(480 * beats)


@given(performances())
@settings(max_examples=examples(30))
def test_equal_performances_give_equal_bytes(piece):
    assert midi_bytes(piece) == midi_bytes(piece)
