"""What the mix measures: place, loudness, comping, count-in, and the rise and fall of loudness.

Run as `python -m benchmarks.mix_report [STYLE ...]`; prints a table. Every style is played for two
choruses of sixteen bars in G, at the middle of its range of tempo, by the tenor banjo's own voice
and the General MIDI font. Loudness by pyloudnorm, not by the program's own meter.

Columns: LUFS and dBTP of the finished full mix; left over right, dB, its energy; the same of the
player alone; count-in over the tune, LU (integrated loudness of both); comping over the rest
between 200 Hz and 6 kHz, dB; range of short-term loudness (3 s windows, tenth to ninety-fifth
percentile as in EBU Tech 3342, without count-in and last ring), LU; energy under 30 Hz against the
whole, dB; silence before the first click, s.
"""

from __future__ import annotations

import sys
import tempfile
import warnings
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

RATE = 44_100
SOME = (
    "plain-four-four", "four-light-heavy", "stomp", "polka", "waltz", "jig", "bossa", "ragtime",
    "shuffle", "slow-drag", "tremolo-ballad", "slow-twelve-eight", "bolero", "jazz-waltz",
)  # fmt: skip
Sound = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Figures:
    """One style's mix in figures; None where a part is not there."""

    style: str
    lufs: float
    dbtp: float
    balance_db: float
    player_db: float
    count_in_lu: float
    comping_db: float | None
    range_lu: float
    under_30_hz_db: float
    silence_s: float


def performance_of(style: str, choruses: int = 2):
    """Two choruses of sixteen bars in G at the middle of the style's range of tempo."""
    from accomp.harmony import Key
    from accomp.neck import Neck, Player, Wish, find_hand, find_instrument
    from accomp.rhythm import find_style
    from accomp.score.arrange import Rendition, arrange
    from accomp.score.perform import perform
    from accomp.score.planning import tune_chords
    from accomp.tune import parse_tune, transpose_tune

    found = find_style(style)
    bars = " | ".join("C Am7 F G7 C A7 Dm7 G7 F Fm6 C A7 D7 G7 C C".split())
    text = f"""
title = "Trial"
key = "C"
meter = "{found.meter}"
tempo = 120
[sections]
A = '''
| {bars} |
'''
"""
    tune = transpose_tune(parse_tune(text, "trial.toml"), Key.parse("G"))
    chords = tune_chords(tune)
    banjo = find_instrument("tenor-banjo")
    neck = Neck(Player.on(banjo, find_hand("medium")), chords.chords, chords.home)
    plan = min(neck.positions(Wish()), key=lambda one: one.cost)
    tempo = round(sum(found.tempo) / 2)
    made = arrange(
        tune, chords, [plan] * choruses, {(None, found.meter): found}, banjo,
        Rendition(tempo, seed=1),
    )  # fmt: skip
    return perform(made, count_in=1)


def figures(style: str) -> Figures:
    """Render a style and measure it."""
    import soundfile
    from scipy import signal

    from accomp.score.performance import Role
    from accomp.voice import voice_font
    from accomp.write.audio import Rendering, write_audio
    from benchmarks.stems import render_stems

    performance = performance_of(style)
    rendering = Rendering(voice=voice_font("tenor-banjo"))
    names = {track.name for track in performance.tracks}
    groups = {name: (lambda track, name=name: track.name == name) for name in names}
    player = next(track.name for track in performance.tracks if track.role == Role.PLAYER)
    rest = {"Bass", "Tuba", "Drums", "Brushes", "Count-in", player}
    comping = next((name for name in names if name not in rest), None)
    stems = render_stems(performance, groups, rendering)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "x.wav")
        write_audio(performance, path, rendering, format="wav")
        full = soundfile.read(path)[0]
    first_s = next(m.start_s for m in performance.markers if m.text.startswith("Chorus"))
    start = round(first_s * RATE)
    start += round(_silence_s() * RATE)
    end = start + round((performance.end_s - first_s) * RATE)
    tune = full[start:end]
    loud = np.abs(full).max(axis=1)
    spectrum = np.abs(np.fft.rfft(full.mean(axis=1))) ** 2
    low = np.fft.rfftfreq(len(full), 1 / RATE) < 30
    mid = signal.butter(4, [200, 6000], "band", fs=RATE, output="sos")

    def middle(names_: set[str]) -> float:
        total = sum(stems[name] for name in names_)
        return _db(signal.sosfilt(mid, total.astype(float), axis=0))

    return Figures(
        style,
        _lufs(full),
        20 * np.log10(np.abs(signal.resample_poly(full, 4, 1, axis=0)).max()),
        _db(full[:, 0]) - _db(full[:, 1]),
        _db(stems[player][:, 0]) - _db(stems[player][:, 1]),
        _lufs(full[:start]) - _lufs(tune),
        None if comping is None else middle({comping}) - middle(names - {comping}),
        _range(tune),
        10 * np.log10(spectrum[low].sum() / spectrum.sum() + 1e-20),
        float(np.argmax(loud > loud.max() * 0.003)) / RATE,
    )


def _silence_s() -> float:
    """What the renderer puts before the first click."""
    try:
        from accomp.write.formats import SILENCE_S
    except ImportError:
        return 0.0
    return SILENCE_S


def _db(sound: Sound) -> float:
    return 10 * float(np.log10(np.square(sound, dtype=float).mean() + 1e-20))


def _weighted(sound: Sound) -> Sound:
    import pyloudnorm

    filtered = np.asarray(sound, float)
    for one in pyloudnorm.Meter(RATE)._filters.values():
        filtered = np.stack([one.apply_filter(side) for side in filtered.T], axis=1)
    return filtered


def _windows(sound: Sound, window_s: float) -> Sound:
    """Loudness of windows of a length, every tenth of it."""
    squares = np.square(_weighted(sound)).sum(axis=1)
    window, hop = round(window_s * RATE), round(window_s * RATE / 10)
    sums = np.concatenate([[0.0], np.cumsum(squares)])
    starts = np.arange(0, max(1, len(squares) - window), hop)
    power = (sums[np.minimum(starts + window, len(squares))] - sums[starts]) / window
    return -0.691 + 10 * np.log10(power + 1e-12)


def _range(sound: Sound) -> float:
    loud = _windows(sound, 3.0)
    low, high = np.percentile(loud, [10, 95])
    return float(high - low)


def _lufs(sound: Sound) -> float:
    import pyloudnorm

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return float(pyloudnorm.Meter(RATE).integrated_loudness(np.asarray(sound, float)))


def main(styles: list[str]) -> None:
    """Print the table."""
    print(
        "| style | LUFS | dBTP | L - R | player L - R | count-in over tune, LU "
        "| comping over rest | short-term range, LU | under 30 Hz | silence, s |"
    )
    print("|---|---:|---:|---:|---:|---:|---:|---:|---:|---:|")
    for style in styles or SOME:
        one = figures(style)
        comping = "" if one.comping_db is None else f"{one.comping_db:.1f}"
        print(
            f"| {style} | {one.lufs:.1f} | {one.dbtp:.1f} | {one.balance_db:+.1f} | "
            f"{one.player_db:+.1f} | {one.count_in_lu:+.1f} | {comping} | {one.range_lu:.1f} | "
            f"{one.under_30_hz_db:.0f} | {one.silence_s:.2f} |",
            flush=True,
        )


if __name__ == "__main__":
    main(sys.argv[1:])
