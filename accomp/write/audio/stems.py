"""The stems of the mix: every track rendered by itself, several at a time.

Conventions: one synth a track; the library works without the interpreter's lock, so threads help. A
stem is dry and starts at the performance's time 0. The bits do not depend on how many threads work.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Callable, Sequence
from concurrent.futures import FIRST_EXCEPTION, Future, ThreadPoolExecutor, wait
from dataclasses import replace

import numpy as np

from accomp.score.performance import Performance, Track
from accomp.write.audio.balance import voice_gain_db
from accomp.write.audio.fonts import Fonts
from accomp.write.audio.hand import by_hand, shortened, strings_apart
from accomp.write.audio.mixer import narrowed, width
from accomp.write.audio.render import SAMPLE_RATE, render_blocks
from accomp.write.audio.spool import Spool
from accomp.write.midi import midi_bytes

_LOOK_S = 0.1  # how often the waiting thread wakes, for progress and for Ctrl-C


def render_stems_to(
    spools: Sequence[Spool],
    performance: Performance,
    fonts: Fonts,
    *,
    threads: int | None = None,
    progress: Callable[[float], None] | None = None,
) -> None:
    """Render each track of `performance` into its spool. `progress` gets the part done, 0 to 1.

    An interrupt stops all threads within a block. Raises `SoundError`, and `OSError` when the disk
    for working files is full.
    """
    stop = threading.Event()
    made = [0] * len(spools)
    total = max(1, len(spools) * round(performance.end_s * SAMPLE_RATE))

    def work(index: int) -> None:
        track = performance.tracks[index]
        if not track.notes:
            return
        wide = width(track)
        gain = np.float32(10 ** (stem_gain_db(track, fonts) / 20))
        for block in render_blocks(track_midi(performance, track, fonts), fonts.of(track)):
            if stop.is_set():
                return
            spools[index].append(narrowed(block * gain, wide))
            made[index] += len(block)

    workers = threads or min(len(spools), os.cpu_count() or 1)
    pool = ThreadPoolExecutor(max(1, workers), thread_name_prefix="stem")
    waiting: set[Future[None]] = {pool.submit(work, index) for index in range(len(spools))}
    try:
        while waiting:
            done, waiting = wait(waiting, timeout=_LOOK_S, return_when=FIRST_EXCEPTION)
            for future in done:
                future.result()
            if progress is not None:
                progress(min(1.0, sum(made) / total))
    finally:
        stop.set()
        pool.shutdown(wait=True, cancel_futures=True)


def stem_gain_db(track: Track, fonts: Fonts) -> float:
    """The gain in dB that brings a stem to its place in the band; 0 where the band's font plays."""
    if fonts.voice is None or not fonts.voices(track):
        return 0.0
    return voice_gain_db(fonts.voice, fonts.band, track.program)


def track_midi(performance: Performance, track: Track, fonts: Fonts) -> bytes:
    """The MIDI file for a track's synth: the track alone, up to its last note, played by hand."""
    end_s = max(note.end_s for note in track.notes)
    channels = fonts.plain_channels(track)
    if fonts.voices(track):
        track = by_hand(track, fonts.of(track)[-1])
    alone = replace(
        performance,
        tracks=strings_apart(track),
        tempos=tuple(mark for mark in performance.tempos if mark.start_s <= end_s),
        meters=(),
        keys=(),
        markers=(),
        chords=(),
        end_s=end_s,
    )
    midi = midi_bytes(alone)
    return shortened(midi, channels) if channels else midi
