"""What a stroke sounds like: loudness of its force, silence after a choke, order of its strings."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import islice
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
from band_tunes import played_in
from played import arranged, performed, style, tune

from accomp.rhythm import Pattern, Stroke, find_style, style_names
from accomp.rhythm.stroke import spread_ms
from accomp.score.perform import perform
from accomp.time import Span
from accomp.write.audio import Rendering
from accomp.write.audio.fonts import Fonts
from accomp.write.audio.opening import read_opening
from accomp.write.audio.render import BLOCK, render_blocks
from accomp.write.audio.selfcheck import ALLOWED, SECONDS, compare, opening_frames
from accomp.write.audio.stems import track_midi
from accomp.write.soundfont import default_soundfont
from benchmarks.stems import render_stems

RATE = 44_100
CLOSED = "4 5 5 7"
Sound = npt.NDArray[np.float64]


def voice_file(name: str) -> Path | None:
    """The font of a voice of our own, or None for the General MIDI font."""
    if name == "General MIDI":
        return None
    from accomp.voice import voice_font

    return voice_font(name)


def strokes(*each: dict[str, object]) -> Pattern:
    """Even strokes that fill a bar of four."""
    step = Fraction(1, len(each))
    spans = [Span(step * n, step * (n + 1)) for n in range(len(each))]
    return Pattern(
        Fraction(1),
        tuple(Stroke(span, **what) for span, what in zip(spans, each, strict=True)),
    )


def sound_of(pattern: Pattern, tempo: float, voice: str) -> Sound:
    """A bar of C at a tempo, dry, both sides together."""
    arrangement = replace(arranged(tune("| C |"), style(pattern), CLOSED), tempo=tempo)
    groups = {"player": lambda track: track.role == "player"}
    stems = render_stems(
        performed(arrangement), groups, Rendering(room=False, voice=voice_file(voice), threads=1)
    )
    return stems["player"].mean(axis=1).astype(float)


def rms(sound: Sound, start_s: float, end_s: float) -> float:
    part = sound[int(start_s * RATE) : int(end_s * RATE)]
    return float(np.sqrt(np.mean(part**2)))


VOICES = ["General MIDI", pytest.param("tenor-banjo", marks=pytest.mark.long)]


@pytest.mark.parametrize("voice", VOICES)
@pytest.mark.parametrize("hard", ["heavy", "accent"])
def test_a_hard_stroke_is_four_to_eight_decibels_over_a_light_one(hard: str, voice: str) -> None:
    bar = strokes({"force": "light", "sound": "choked"}, {"force": hard, "sound": "choked"})
    sound = sound_of(bar, 60, voice)
    ratio = rms(sound, 2.0, 2.15) / rms(sound, 0.0, 0.15)
    assert 4 <= 20 * np.log10(ratio) <= 8


@pytest.mark.parametrize("voice", VOICES)
@pytest.mark.parametrize("tempo", [110, 180, 250])
def test_a_choked_bar_is_silent_between_strokes(tempo: int, voice: str) -> None:
    sound = sound_of(strokes(*[{"force": "heavy", "sound": "choked"}] * 4), tempo, voice)
    beat_s = 60 / tempo
    loudest = max(rms(sound, at_s, at_s + 0.02) for at_s in np.arange(0, beat_s, 0.005))
    before_the_next = rms(sound, beat_s - 0.025, beat_s - 0.005)
    assert before_the_next < loudest * 10 ** (-40 / 20)


@pytest.mark.parametrize("voice", VOICES)
def test_a_dead_stroke_is_over_at_once(voice: str) -> None:
    sound = sound_of(strokes({"sound": "dead"}, {"sound": "dead"}), 60, voice)
    assert rms(sound, 0.0, 0.1) > 0
    assert rms(sound, 0.3, 1.9) < rms(sound, 0.0, 0.1) * 10 ** (-40 / 20)


@pytest.mark.parametrize("voice", VOICES)
def test_the_strings_of_a_slow_strum_are_heard_in_order(voice: str) -> None:
    # Each string alone gives the moment of its attack; the four lie in order within the spread.
    spread = 8.0
    attacks = []
    for number in (4, 3, 2, 1):
        whole = strokes({"force": "light"})
        arrangement = arranged(tune("| C |"), style(whole, spread=spread), CLOSED)
        performance = performed(arrangement)
        track = performance.tracks[0]
        only = tuple(note for note in track.notes if note.channel == 4 - number)
        alone = replace(performance, tracks=(replace(track, notes=only),))
        stem = render_stems(
            alone,
            {"all": lambda track: True},
            Rendering(room=False, voice=voice_file(voice), threads=1),
        )["all"].mean(axis=1)
        attacks.append(float(np.argmax(np.abs(stem) > 0.1 * np.abs(stem).max())) / RATE)
    assert attacks == sorted(attacks)
    given_s = spread_ms("light", 120, 4, spread) / 1000
    # 20 ms for the slow attack of low notes in the General MIDI font, 1.5 for the synth's blocks.
    assert attacks[-1] - attacks[0] == pytest.approx(given_s, abs=0.0215)


@pytest.mark.slow
@pytest.mark.parametrize("voice", VOICES)
def test_the_player_stands_to_one_side_and_the_band_in_the_middle(voice: str) -> None:
    # Usual for a band (common practice, no source): the player 4 to 6 dB to one side, in the room;
    # a little more where their sound is as short as the General MIDI banjo's.
    made = played_in(find_style("four-light-heavy"), "Bb", 160)
    groups = {
        "player": lambda track: track.role == "player",
        "band": lambda track: track.role == "band",
    }
    stems = render_stems(
        perform(made, count_in=1), groups, Rendering(voice=voice_file(voice), threads=1)
    )
    sides = {}
    for name in groups:
        left, right = np.sqrt(np.mean(np.square(stems[name].astype(float)), axis=0))
        sides[name] = 20 * np.log10(left / right)
    assert 4 <= sides["player"] <= 6.6
    assert abs(sides["band"]) < 1.5


@pytest.mark.many(2)
@pytest.mark.parametrize(
    "name",
    [
        pytest.param(name, marks=[] if number % 9 == 0 else [pytest.mark.long])
        for number, name in enumerate(style_names())
    ],
)
def test_the_renderer_s_check_on_itself_finds_nothing_in_a_style(name: str) -> None:
    of = find_style(name)
    piece = perform(played_in(of, "Bb", of.tempo[-1]), count_in=1)
    fonts = Fonts(default_soundfont())
    for track in piece.tracks:
        midi = track_midi(piece, track, fonts)
        opening = read_opening(midi, SECONDS, RATE)
        assert opening is not None
        start, end = opening_frames(opening, RATE)
        head = islice(render_blocks(midi, fonts.of(track)), end // BLOCK + 1)
        sound = np.concatenate(list(head))[start:end]
        apart, _ = compare(sound, opening, fonts.of(track), RATE)
        assert apart <= ALLOWED / 10
