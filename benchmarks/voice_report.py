"""The voice in pictures and figures, beside the General MIDI banjo and recorded ones, from what
FluidSynth plays.

    python -m benchmarks.voice_report [OUT]      pictures and report.md, else in ./voice-report

Conventions: both fonts are played in one run by one synthesiser, dry; figures as defined in
`benchmarks.voice_ear` and `benchmarks.voice_figures`.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from accomp.voice import voice_font
from benchmarks import voice_ear as ear
from benchmarks import voice_recorded_table, voice_weak
from benchmarks.voice_figures import (
    OPEN,
    VELOCITIES,
    NoteFigures,
    all_figures,
    bank,
    before_next_db,
    choke_s,
    choked_bar,
    clarity,
    click_db,
    dead_s,
    wanted_fall_s,
)

COLOURS = {4: "#6b4c9a", 3: "#2f7d6b", 2: "#c8782a", 1: "#b03a48", 0: "#555555"}


@dataclass(frozen=True)
class Heard:
    """One font and all that was measured of it."""

    name: str
    path: Path
    player: ear.Player
    plain: bool
    notes: tuple[NoteFigures, ...]

    def place(self, variant: int, string: int) -> int:
        """The bank to ask for; a plain font has but one string."""
        return variant if self.plain else bank(variant, string)


def listen(name: str, path: Path, *, plain: bool) -> Heard:
    """Measure every fret of every string, at all forces and once more the other take."""
    player = ear.Player(path)
    notes = all_figures(player, range(18), plain=plain)
    return Heard(name, path, player, plain, tuple(notes))


def main(out: Path) -> None:
    """Measure, draw, write."""
    import matplotlib as mpl

    mpl.use("Agg")
    out.mkdir(parents=True, exist_ok=True)
    ours = listen("Tenor banjo voice", voice_font("tenor-banjo"), plain=False)
    theirs = listen("General MIDI banjo", ear.general_midi(), plain=True)
    pictures: tuple[tuple[str, Callable[[Heard, Heard], Any]], ...] = (
        ("notes", draw_notes),
        ("decay", draw_decay),
        ("spectra", draw_spectra),
        ("spectrogram", draw_spectrogram),
        ("strokes", draw_strokes),
    )
    for name, draw in pictures:
        figure = draw(ours, theirs)
        figure.savefig(out / f"{name}.png", dpi=80)
    report = (
        table(ours, theirs)
        + "\n"
        + voice_recorded_table.side_by_side(ours.path)
        + "\n"
        + voice_recorded_table.mandolins(voice_font("mandolin"))
        + "\n"
        + voice_weak.table()
        + "".join(f"\n![{name}]({name}.png)\n" for name, _ in pictures)
    )
    (out / "report.md").write_text(report, encoding="utf-8")
    print(report)


def _axes(rows: int, columns: int, size: tuple[float, float]) -> tuple[Any, Any]:
    from matplotlib.figure import Figure

    figure = Figure(figsize=size, layout="constrained")
    return figure, figure.subplots(rows, columns, squeeze=False)


def draw_notes(ours: Heard, theirs: Heard) -> Any:
    """Figure by figure over the keyboard."""
    figure, axes = _axes(3, 2, (13, 12))
    rows: tuple[tuple[str, Callable[[NoteFigures], float]], ...] = (
        ("Tuning, cents", lambda n: n.cents),
        ("Loudness, dB (K-weighted, 0.4 s)", lambda n: n.loudness_db),
        ("Time until the energy to come is down 30 dB, s", lambda n: n.fall_s),
        ("Attack 10-90 %, ms", lambda n: n.attack_s * 1000),
        ("Late over early decay time", lambda n: n.late_s / n.early_s),
        ("Centroid, Hz: softest (dotted) and hardest", lambda n: n.centroid_hz),
    )
    for axis, (title, value) in zip(axes.flat, rows, strict=True):
        for heard in (theirs, ours):
            for string in sorted({note.string for note in heard.notes}):
                for velocity in (40, 120) if "Centroid" in title else (90,):
                    picked = sorted(
                        (n.key, value(n))
                        for n in heard.notes
                        if (n.string, n.velocity) == (string, velocity)
                    )
                    label = f"string {string}" if string else heard.name
                    axis.plot(
                        *zip(*picked, strict=True), ".:" if velocity == 40 else ".-",
                        color=COLOURS[string], label=label, lw=1,
                    )  # fmt: skip
        axis.set_title(title)
        axis.set_xlabel("MIDI key")
        axis.grid(alpha=0.3)
        if "down 30" in title:
            keys = np.arange(48, 88)
            axis.plot(keys, [wanted_fall_s(key) for key in keys], "k--", lw=0.8, label="asked for")
            axis.set_yscale("log")
        if "Tuning" in title:
            axis.axhspan(-3, 3, color="#2f7d6b", alpha=0.1)
    handles = axes[0, 0].get_legend_handles_labels()
    figure.legend(*handles, loc="outside lower center", ncol=5)
    return figure


def draw_decay(ours: Heard, theirs: Heard) -> Any:
    """Energy decay of open strings: the two stages."""
    figure, axes = _axes(1, 2, (13, 5))
    for axis, heard in zip(axes.flat, (ours, theirs), strict=True):
        for string, key in OPEN.items():
            sound = heard.player.note(key, 91, heard.place(0, string), held_s=2.9)
            decay = ear.energy_decay_db(sound)[::200]
            times = np.arange(decay.size) * 200 / ear.RATE_HZ
            axis.plot(times, decay, color=COLOURS[string], label=f"string {string}, open")
        axis.set(title=heard.name, xlabel="s", ylabel="energy still to come, dB", ylim=(-60, 1))
        axis.grid(alpha=0.3)
        axis.legend()
    return figure


def draw_spectra(ours: Heard, theirs: Heard) -> Any:
    """Spectra soft and hard, and the mean of all notes with its formants."""
    figure, axes = _axes(2, 2, (13, 9))
    for column, heard in enumerate((ours, theirs)):
        axis = axes[0, column]
        for velocity, colour in zip(
            VELOCITIES, ("#9bbcd6", "#5f93bd", "#2c659a", "#c8782a"), strict=True
        ):
            sound = heard.player.note(60, velocity, heard.place(0, 3), held_s=0.5)[:24000]
            level = 20 * np.log10(np.abs(np.fft.rfft(sound, 2**16)) + 1e-9)
            hz = np.fft.rfftfreq(2**16, 1 / ear.RATE_HZ)
            axis.semilogx(
                hz[100:],
                level[100:] - level.max(),
                lw=0.6,
                color=colour,
                label=f"velocity {velocity}",
            )
        axis.set(title=f"C4, {heard.name}", xlim=(150, 16000), ylim=(-80, 2), ylabel="dB")
        axis.legend()
        bands = []
        for string, key in OPEN.items():
            for fret in range(12):
                sound = heard.player.note(key + fret, 91, heard.place(0, string), held_s=0.4)
                centres, level = ear.third_octaves_db(sound)
                bands.append(10 ** (level / 10))
        axis = axes[1, column]
        axis.semilogx(centres, 10 * np.log10(np.mean(bands, axis=0)), "o-", color="#2f7d6b")
        axis.axvspan(500, 800, color="#c8782a", alpha=0.2)
        axis.set(
            title="All notes, thirds of an octave; 500-800 Hz shaded", ylim=(-60, 0), xlabel="Hz"
        )
        for axis in axes[:, column]:
            axis.grid(which="both", alpha=0.25)
    return figure


def draw_spectrogram(ours: Heard, theirs: Heard) -> Any:
    """The open fourth and the first string at the fifth fret, over time."""
    figure, axes = _axes(2, 2, (13, 9))
    for column, heard in enumerate((ours, theirs)):
        for row, (string, key) in enumerate(((4, 48), (1, 74))):
            sound = heard.player.note(key, 115, heard.place(0, string), held_s=1.5)
            axis = axes[row, column]
            axis.specgram(
                sound[: ear.RATE_HZ], NFFT=2048, Fs=ear.RATE_HZ, noverlap=1792, cmap="magma",
                vmin=-150, vmax=-50,
            )  # fmt: skip
            axis.set(title=f"key {key}, {heard.name}", ylim=(0, 10000), xlabel="s", ylabel="Hz")
    return figure


def draw_strokes(ours: Heard, theirs: Heard) -> Any:
    """Ring, choke and dead as waves, and the choked bar at 180."""
    figure, axes = _axes(4, 2, (13, 13))
    for column, heard in enumerate((ours, theirs)):
        for row, name in enumerate(("ring", "choke", "dead")):
            stroke = ear.Stroke(0.0, 0.12, 60, 95, heard.place(row, 3))
            sound = heard.player.play([stroke], 0.6)
            axis = axes[row, column]
            axis.plot(np.arange(sound.size) / ear.RATE_HZ, sound / np.abs(sound).max(), lw=0.4)
            axis.set(title=f"{name}, let go at 0.12 s: {heard.name}", ylim=(-1.05, 1.05))
        bar = heard.player.play(choked_bar(plain=heard.plain), 4 / 3)
        level = 20 * np.log10(ear.envelope(bar, 0.005) + 1e-9)
        axis = axes[3, column]
        axis.plot(np.arange(level.size) / ear.RATE_HZ, level - level.max(), lw=0.8)
        axis.set(title="choked bar at 180", ylim=(-80, 2), xlabel="s", ylabel="dB")
        axis.grid(alpha=0.3)
    return figure


def table(ours: Heard, theirs: Heard) -> str:
    """All figures side by side."""
    rows = [("", ours.name, theirs.name)]
    columns = [_column(heard) for heard in (ours, theirs)]
    rows += [(name, columns[0][name], columns[1][name]) for name in columns[0]]
    lines = [" | ".join(("", *row, "")).strip() for row in rows]
    return "\n".join([lines[0], "|---|---|---|", *lines[1:]]) + "\n"


def _column(heard: Heard) -> dict[str, str]:
    notes = heard.notes
    played = [n for n in notes if n.velocity in (64, 90, 91, 120)]
    by_note = {(n.string, n.key, n.velocity): n for n in notes}
    rises = [
        by_note[n.string, n.key, 120].centroid_hz / n.centroid_hz for n in notes if n.velocity == 40
    ]
    pairs = [
        (n.loudness_db, by_note[n.string, n.key + 1, n.velocity].loudness_db)
        for n in played
        if (n.string, n.key + 1, n.velocity) in by_note
    ]
    samples = [(string, key + fret) for string, key in OPEN.items() for fret in (0, 5, 10, 15)]
    plainly = [(0 if heard.plain else string, key) for string, key in samples]
    chokes = [choke_s(heard.player, *s, v) for s in plainly for v in VELOCITIES]
    takes = [[heard.player.note(key, v, heard.place(0, s)) for v in (90, 91)] for s, key in samples]
    deads = [
        heard.player.note(key, v, heard.place(2, s)) for s, key in samples[::4] for v in (90, 91)
    ]
    start = time.perf_counter()
    bar = heard.player.play(choked_bar(beats=96, plain=heard.plain), 32.0)
    speed = 32.0 / (time.perf_counter() - start)
    falls = {n.key: n.fall_s for n in notes if n.velocity == 91}
    return {
        "size, MB": f"{heard.path.stat().st_size / 1e6:.1f}",
        "tuning, cents": _range([n.cents for n in notes], 1),
        "neighbouring semitones, dB at most": f"{max(abs(a - b) for a, b in pairs):.2f}",
        "attack, ms": _range([n.attack_s * 1e3 for n in played], 1),
        "energy down 30 dB at C3, A4, A5, s": " ".join(f"{falls[key]:.2f}" for key in (48, 69, 81)),
        "late over early decay, median": f"{np.median([n.late_s / n.early_s for n in played]):.2f}",
        "centroid hardest over softest": _range(rises, 2),
        "centroid after 0.3 s, Hz": f"{np.median([n.tail_centroid_hz for n in played]):.0f}",
        "-60 dB after a choke, ms": _range([t * 1e3 for t in chokes], 0),
        "treble rise at a choke, dB": _range([click_db(heard.player, *s, 90) for s in plainly], 1),
        "choked bar at 180 before the next stroke, dB": f"{before_next_db(bar[: 8 * 16000]):.0f}",
        "dead stroke -60 dB, ms": _range([dead_s(heard.player, *s, 90) * 1e3 for s in plainly], 0),
        "dead stroke repeats itself (1 = a tone)": _range([clarity(sound) for sound in deads], 2),
        "two equal strokes: correlation": _range([ear.correlation(*pair) for pair in takes], 3),
        "two equal strokes: dB apart": _range(
            [abs(ear.loudness_db(one) - ear.loudness_db(other)) for one, other in takes], 2
        ),
        "rendering, times real time": f"{speed:.0f}",
    }


def _range(values: list[float], digits: int) -> str:
    return f"{min(values):.{digits}f} to {max(values):.{digits}f}"


if __name__ == "__main__":
    main(Path(sys.argv[1] if len(sys.argv) > 1 else "voice-report"))
