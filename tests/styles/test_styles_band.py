"""What a band leader asks of every style: the low strings go with the bass, no chord of the chart
is left out, fills come at the ends of phrases, folk dances stay in the key, the end is home.

The expectations are written out here from the chord's own spelling, by pitch class.
"""

from __future__ import annotations

import io
from dataclasses import replace

import mido
import pytest
from test_styles_played import check_notes, check_written

from accomp.harmony import Key
from accomp.neck import Neck, Plan, Player, Wish, find_hand, find_instrument
from accomp.rhythm import Approach, Style, find_style, style_names
from accomp.rhythm.passage import PassageKind
from accomp.score.arrange import arrange
from accomp.score.arrangement import ArrangedBar, Arrangement, Strum
from accomp.score.course import CLOSE, TAG, VAMP
from accomp.score.perform import perform
from accomp.score.planning import tune_chords
from accomp.time import Meter
from accomp.tune import Tune, parse_tune
from accomp.tune.model import BEGINNINGS, FINISHES
from accomp.write.midi import midi_bytes

NAMES = style_names()
each_style = pytest.mark.parametrize("name", NAMES)


def lead_sheet(bars: str, meter: str, more: str = "", key: str = "C") -> Tune:
    text = f'title = "T"\nkey = "{key}"\nmeter = "{meter}"\ntempo = 120\n{more}\n[sections]\n'
    return parse_tune(f"{text}A = '''\n{bars}\n'''\n", "trial.toml")


PLANS: dict[tuple[object, ...], Plan] = {}


def played(
    tune: Tune,
    style: Style,
    choruses: int = 1,
    instrument: str = "tenor-banjo",
) -> Arrangement:
    chords = tune_chords(tune)
    known = (chords.chords, chords.home, instrument)
    if known not in PLANS:
        player = Player.on(find_instrument(instrument), find_hand("medium"))
        plans = Neck(player, chords.chords, chords.home).positions(Wish(vocabulary="all"))
        PLANS[known] = min(plans, key=lambda plan: plan.cost)
    plan = [PLANS[known]] * choruses
    made_for = find_instrument(instrument)
    return arrange(tune, chords, plan, {(None, style.meter): style}, made_for)


def changing(meter: Meter) -> str:
    """Sixteen bars with as many changes as a bar may have up to four, and slash chords."""
    most = max(share for share in meter.shares if share <= 4)
    full = " ".join("G7 C Dm7 Am7".split()[:most])
    two = "C G7" if 2 in meter.shares else "C G7 Am7" if 3 in meter.shares else "C / / G7 /"
    return (
        f"| C | F6 | {two} | {full} |\n| C/G | Dm7/G | G7/B | C/E |\n"
        f"| Am | Am/G | Fmaj7 | {full} |\n| Dm7 | G7 | {two} | C |"
    )


# ---- low strings


def low_strums(arrangement: Arrangement, choruses: int) -> list[tuple[ArrangedBar, Strum]]:
    """The strokes that the style asks for on low1 or low2; sections of sixteen, tags of four."""
    found = []
    for bar in arrangement.bars:
        length = {TAG: 4, CLOSE: 1}.get(bar.bar.section, 16)
        playing = bar.style.playing(
            bar.bar.section_bar,
            bar.bar.chorus,
            choruses,
            section_bars=length,
            final=bar is arrangement.bars[-1],
        )
        pattern, turn = playing.strum
        asked = {
            stroke.start - turn + bar.bar.start
            for stroke in pattern.during(bar.span.shifted(turn - bar.bar.start))
            if stroke.strings in ("low1", "low2")
        }
        found += [(bar, strum) for strum in bar.strums if strum.span.start in asked]
    return found


def pcs(strum: Strum, strings: tuple[int, ...]) -> list[int]:
    pitches = [strum.shape.pitches[string] for string in strings]
    return [pitch % 12 for pitch in pitches if pitch is not None]


def root_and_fifth(strum: Strum) -> tuple[int, int]:
    fifth = next((t.pc for t in strum.chord.tones if t.degree in ("5", "b5", "#5")), -1)
    return strum.chord.root.pc, fifth


@pytest.mark.many(1, 12)
@each_style
def test_low_strokes_go_with_the_bass(name: str) -> None:
    style = find_style(name)
    arrangement = played(lead_sheet(changing(style.meter), str(style.meter)), style, 2)
    strums = low_strums(arrangement, 2)
    for _, strum in strums:
        low = pcs(strum, (0, 1))
        struck = [string for string in strum.strings if string in (0, 1)]
        lowest = pcs(strum, (min(strum.strings),))[0]
        bass = strum.chord.bass
        if bass is not None:
            shape = pcs(strum, tuple(range(len(strum.shape.pitches))))
            assert (lowest == bass.pc) == (bass.pc in shape), str(strum.chord)
            assert lowest == bass.pc or not struck
        elif set(low) & set(root_and_fifth(strum)):
            assert lowest in root_and_fifth(strum), str(strum.chord)
        else:
            assert strum.chord.by_pc[lowest].degree not in ("7", "b9", "9", "2"), str(strum.chord)


@pytest.mark.many(12)
@each_style
def test_low_strokes_take_root_and_fifth_in_turn(name: str) -> None:
    style = find_style(name)
    tune = lead_sheet("| C | C | C | C | C | C | C | C |", str(style.meter))
    arrangement = played(tune, style)
    strums = [s for bar, s in low_strums(arrangement, 1) if bar.bar.section_bar < 6]
    if not strums or not set(root_and_fifth(strums[0])) <= set(pcs(strums[0], (0, 1))):
        return
    heard = [pcs(strum, (min(strum.strings),))[0] for strum in strums]
    assert set(heard) == set(root_and_fifth(strums[0]))
    assert heard[0] == strums[0].chord.root.pc


def test_a_bossa_has_no_seventh_under_its_chord() -> None:
    style = find_style("bossa")
    bars = "| Fmaj7 | Fmaj7 | G7 | Gm7 | Am7 | Bbmaj7 | C7 | Fmaj7 |"
    arrangement = played(lead_sheet(bars, "4/4", key="F"), style)
    strums = low_strums(arrangement, 1)
    assert len(strums) > 20
    for _, strum in strums:
        lowest = strum.chord.by_pc[pcs(strum, (min(strum.strings),))[0]]
        assert lowest.degree in ("1", "5", "3", "b3")


@pytest.mark.long
def test_a_guitar_without_a_bass_player_stands_on_root_third_or_fifth() -> None:
    alone = replace(find_style("plain-four-four"), bass=None)
    bars = "| C6 | Am7 | Dm9 | G13 | Em7/B | Fmaj7 | Bbmaj7 | C/E |"
    tune = lead_sheet(bars, "4/4")
    for bar in played(tune, alone, instrument="guitar").bars:
        for strum in bar.strums:
            lowest = min(p for p in (strum.shape.pitches[s] for s in strum.strings) if p)
            tone = strum.chord.by_pc.get(lowest % 12)
            bass = strum.chord.bass
            assert (bass and lowest % 12 == bass.pc) or (
                tone and tone.degree in ("1", "3", "b3", "4", "2", "5", "b5", "#5")
            ), f"{strum.chord}: {strum.shape}"


# ---- every chord of the chart


@pytest.mark.many(1, 12)
@each_style
def test_no_chord_is_silent_where_the_player_plays(name: str) -> None:
    style = find_style(name)
    arrangement = played(lead_sheet(changing(style.meter), str(style.meter)), style, 3)
    before = None
    for bar in arrangement.bars:
        for change in bar.sounding():
            heard = [s for s in bar.strums if s.span.start in change.span and s.strings]
            low = [note for note in bar.bass if note.span.start in change.span]
            if change.chord != before:
                assert heard, f"{change.chord} in bar {bar.bar.number}"
                assert any(strum.sound != "dead" for strum in heard)
                assert low, f"no bass under {change.chord} in bar {bar.bar.number}"
            before = change.chord


def test_stop_time_strikes_both_chords_of_a_cadence() -> None:
    style = find_style("two-beat")  # stop-time in the first four bars of the last chorus
    arrangement = played(lead_sheet("| F | G7 C | F | F |", "4/4", key="F"), style)
    bar = arrangement.bars[1]
    assert [(str(s.chord), float(s.span.start - bar.span.start)) for s in bar.strums] == [
        ("G7", 0.0),
        ("C", 0.5),
    ]
    assert {s.sound for s in bar.strums} == {"choked"}
    assert [float(note.span.start - bar.span.start) for note in bar.bass] == [0.0, 0.5]
    assert {float(hit.span.start - bar.span.start) for hit in bar.drums} == {0.0, 0.5}


# ---- the end


@pytest.mark.many(1, 12)
@each_style
@pytest.mark.parametrize("end", ["C | G7", "Dm7 | G7", "Am7 | Db7"])
def test_the_end_is_home_and_not_on_a_dominant(name: str, end: str) -> None:
    style = find_style(name)
    tune = lead_sheet(f"| C | Am7 | Dm7 | G7 | C | F | {end} |", str(style.meter))
    arrangement = played(tune, style, 2)
    last = arrangement.bars[-1]
    assert str(last.changes[-1].chord) == "C"
    assert last.added
    assert any(strum.strings and str(strum.chord) == "C" for strum in last.strums)
    own = [bar for bar in arrangement.bars if not bar.added]
    assert len(own) == 16  # the tune itself stays as it is written
    assert str(own[-1].changes[-1].chord) == end.split()[-1]


def test_a_tag_is_square_where_it_has_the_home_chord() -> None:
    bars = "| Bb7 | Eb7 | Bb7 | Bb7 | Cm7 | F13 | Bb7 G7 | Cm7 F13 |"
    arrangement = played(lead_sheet(bars, "4/4", key="Bb"), find_style("shuffle"))
    tag = [bar for bar in arrangement.bars if bar.bar.section == TAG]
    chords = [[str(change.chord) for change in bar.changes] for bar in tag]
    assert chords == [["Cm7"], ["F13"], ["Bb7"], ["Bb7"]]


def test_a_last_chord_that_does_not_lead_on_is_left_alone() -> None:
    style = find_style("plain-four-four")
    for last in ("Am", "F", "C6", "C7"):
        arrangement = played(lead_sheet(f"| C | F | G7 | {last} |", "4/4"), style)
        assert str(arrangement.bars[-1].changes[-1].chord) == last
        assert len(arrangement.bars) == 4


def test_home_is_in_the_key_in_which_the_tune_ends() -> None:
    tune = parse_tune(
        'title = "T"\nkey = "F"\nmeter = "4/4"\ntempo = 120\n[sections]\n'
        'A = "| F | D7 | C7 | F |"\n'
        'B = { bars = "| Dm | A7 | Dm | A7 |", key = "Dm" }\n'
    )
    arrangement = played(tune, find_style("plain-four-four"))
    assert str(arrangement.bars[-1].changes[0].chord) == "Dm"
    assert len(arrangement.bars) == 9


# ---- fills


@pytest.mark.many(12)
@each_style
@pytest.mark.parametrize(("bars", "phrase"), [(8, 8), (12, 4), (16, 8), (32, 8), (6, 6), (20, 4)])
def test_fills_come_at_the_ends_of_phrases(name: str, bars: int, phrase: int) -> None:
    for passage in find_style(name).passages:
        if passage.name != PassageKind.ANSWER:
            continue
        found = [bar for bar in range(bars) if passage.holds(bar, 1, 1, bars)]
        left = {phrase - 1 - bar % phrase for bar in found}
        assert left <= {0, 1}, "in the last two bars of a phrase"
        assert len({bar // phrase for bar in found}) == bars // phrase, "of every phrase"
        if passage.phrase in passage.bars:
            assert bars - 1 in found


# ---- the bass of dances

FOLK = "jig passepied schottische three-two-hornpipe slip-jig reel hornpipe polka mazurka waltz"


@pytest.mark.many(3, 12)
@pytest.mark.parametrize("name", FOLK.split())
@pytest.mark.parametrize("key", ["G", "D", "Em", "Bb"])
def test_a_folk_dance_has_a_diatonic_bass(name: str, key: str) -> None:
    style = find_style(name)
    scale = Key.parse(key).scale
    minor = Key.parse(key).minor
    triads = [f"{note}{kind}" for note, kind in zip(scale, _kinds(minor=minor), strict=True)]
    one, two, _, four, five, six, _ = triads
    bars = f"| {one} | {four} | {one} | {five} | {six} | {two} | {five} | {one} |"
    arrangement = played(lead_sheet(bars, str(style.meter), key=key), style, 2)
    allowed = {note.pc for note in scale}
    assert {note.pitch % 12 for bar in arrangement.bars for note in bar.bass} <= allowed


def _kinds(*, minor: bool) -> list[str]:
    return ["m", "dim", "", "m", "m", "", ""] if minor else ["", "m", "m", "", "", "m", "dim"]


def test_jazz_styles_keep_their_half_steps() -> None:
    assert {find_style(n).bass.approach for n in ("flat-four", "quickstep", "slow-drag")} == {  # type: ignore[union-attr]
        Approach.CHROMATIC
    }


# ---- beginnings and endings that the tune chooses


def with_ways(style: Style, begin: str = "", end: str = "", choruses: int = 1) -> Arrangement:
    more = f'begin = "{begin}"\n' if begin else ""
    more += f'end = "{end}"\n' if end else ""
    bars = "| C | F | C | G7 | Am | Dm | G7 | C |"
    return played(lead_sheet(bars, str(style.meter), more), style, choruses)


@pytest.mark.many(3, 12)
@each_style
@pytest.mark.parametrize(("begin", "end"), list(zip(BEGINNINGS, FINISHES, strict=True)))
def test_each_way_in_and_out_is_legal_in_every_style(name: str, begin: str, end: str) -> None:
    arrangement = with_ways(find_style(name), begin, end)
    check_written(arrangement)
    check_notes(perform(arrangement, count_in=1))


@pytest.mark.many(3, 12)
@each_style
def test_ways_to_begin(name: str) -> None:
    style = find_style(name)
    vamp = with_ways(style, "vamp").bars
    assert [bar.bar.section for bar in vamp[:5]] == [VAMP] * 4 + ["A"]
    assert {str(bar.changes[0].chord) for bar in vamp[:4]} == {"C"}
    assert [bar.bar.number for bar in vamp] == list(range(1, len(vamp) + 1))
    hits = {}
    for begin in ("roll-off", "pick-up"):
        arrangement = with_ways(style, begin)
        performance = perform(arrangement, count_in=1)
        whole_s = 60.0 / arrangement.tempo / float(arrangement.beat)
        start_s = float(style.meter.bar) * whole_s
        drums = next(track for track in performance.tracks if track.name == "Drums")
        hits[begin] = [note for note in drums.notes if note.start_s < start_s - 0.03]
        assert hits[begin][-1].velocity > hits[begin][0].velocity or len(hits[begin]) == 1
        if begin == "pick-up":
            first = start_s - float(style.meter.beat) * whole_s
            assert all(note.start_s >= first - 0.03 for note in hits[begin])
    assert len(hits["roll-off"]) >= len(hits["pick-up"]) >= 1


@pytest.mark.many(3, 12)
@each_style
def test_ways_to_end(name: str) -> None:
    style = find_style(name)
    plain = len(with_ways(style, end="short-stop").bars)
    assert plain == 8
    stop = with_ways(style, end="short-stop")
    assert stop.ritard == 0
    (hit,) = stop.bars[-1].strums
    assert (hit.sound, hit.force, len(hit.strings)) == ("heel", "accent", 4)
    bass = stop.bars[-1].bass
    assert len(bass) == 1
    assert bass[0].span.duration * 4 == style.meter.bar
    slow = with_ways(style, end="ritard")
    assert (len(slow.bars), slow.ritard >= 2, slow.slow_to < 1) == (8, True, True)
    tagged = with_ways(style, end="tag")
    assert len(tagged.bars) == 8 + 4 * max(style.ending.tag, 1)
    assert tagged.ritard == 0
    assert str(tagged.bars[-1].changes[-1].chord) == "C"


@pytest.mark.slow
def test_brushes_are_a_drum_set_of_their_own() -> None:
    # General MIDI 2: the brush set is program 40 (counted from 0) of the drums' channel.
    style = find_style("slow-drag")
    tune = lead_sheet(changing(style.meter), str(style.meter))
    performance = perform(played(tune, style), count_in=1)
    (drums,) = (track for track in performance.tracks if track.name == "Drums")
    assert (drums.program, drums.channels) == (40, (9,))
    file = mido.MidiFile(file=io.BytesIO(midi_bytes(performance)))
    now = 0
    heard = set()
    for message in mido.merge_tracks(file.tracks):
        if message.type == "program_change" and message.channel == 9:
            now = message.program
        if message.type == "note_on" and message.channel == 9 and message.velocity:
            heard.add((message.note in (76, 77), now))
    assert heard == {(True, 0), (False, 40)}  # the count-in's wood block stays on the first set
    assert len({track.name for track in performance.tracks}) == len(performance.tracks)


def test_drums_are_needed_for_a_beginning_of_the_drums() -> None:
    silent = replace(find_style("plain-four-four"), drums=None)
    assert perform(with_ways(silent, "roll-off")).tracks
