"""The modelled voice: building it, and playing it against the General MIDI banjo.

The reference for playing is the General MIDI font in the same synthesiser, on the same strokes; for
building, the minute that a voice may take on two processors, and 30 MB.
"""

from __future__ import annotations

import time

from accomp.files.data import find
from accomp.voice import voice_font
from accomp.voice.build import build
from accomp.voice.reader import read_voice
from benchmarks import voice_ear as ear
from benchmarks.measure import Measure, in_turns, slower
from benchmarks.voice_figures import choked_bar

BEATS = 96


def run() -> list[Measure]:
    """Build once; play 32 s of choked four-in-a-bar with both fonts."""
    parameters = find("soundfonts", "tenor-banjo")
    assert parameters is not None
    start = time.perf_counter()
    size = len(build(read_voice(parameters)))
    taken = time.perf_counter() - start
    voice, plain = ear.Player(voice_font("tenor-banjo")), ear.Player(ear.general_midi())
    length_s = BEATS * 60 / 180
    ours, theirs = in_turns(
        [
            lambda: voice.play(choked_bar(beats=BEATS), length_s),
            lambda: plain.play(choked_bar(beats=BEATS, plain=True), length_s),
        ],
        9,
    )
    limit = "what a voice may take"
    return [
        Measure("build the tenor banjo", taken, "s", limit, 60.0, taken / 60.0, at_most=1.0),
        Measure("its size", size / 1e6, "MB", limit, 30.0, size / 30e6, at_most=1.0),
        slower(
            "play 96 choked strums with the voice", ours, "General MIDI banjo", theirs, at_most=1.0,
            note=f"{length_s / ours.least:.0f} x real time",
        ),
    ]  # fmt: skip
