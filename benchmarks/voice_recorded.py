"""A note's figures as recorded banjos were measured for theirs.

High-pass at the larger of 90 Hz and 0.6 times the fundamental (Butterworth, 4th order); onset where
the envelope (2 ms Hann) first reaches a tenth of its highest value; centroid of the power spectrum
in a window after it; levels and slopes of decay from the 30 ms envelope in dB; attack from the 2 ms
envelope; highest peak over the K-weighted level of 0.4 s. Between the partials: a Hann window of
0.1 s from the moment named on, 200 Hz to 6 kHz, what lies further than 0.3 of the fundamental from
a partial, over all. How long that window was and how far from the partials is not known of the
recorded figures: of those tried this one gives what is known of two fonts best, within 3 dB.

Conventions: medians over the notes of a register: low C3 to B3, mid C4 to B4, high C5 to B5;
between the partials over low and mid (above them partials lie too far apart for it); decibels,
hertz, milliseconds, dB a second.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from benchmarks import voice_ear as ear
from benchmarks.voice_figures import OPEN, bank

REGISTERS = {"low": (48, 60), "mid": (60, 72), "high": (72, 84)}
WINDOWS_MS = ((0, 30), (30, 100), (100, 300), (300, 600), (600, 1200))
LEVELS_MS = (50, 100, 200, 300, 500, 800)
BETWEEN_MS = (0, 20, 40, 80, 120)
BANDS_HZ = ((600, 1000), (1000, 1600), (1600, 2500))
WITHIN = (("attack_ms", 3.5, 11.0), ("peak_ms", 6.0, 14.0), ("crest_db", -99.0, 17.5))
FORTE, PIANO = 91, 64  # velocities; 6 dB apart as FluidSynth plays them


@dataclass(frozen=True)
class Figures:
    """One note."""

    key: int
    centroids_hz: tuple[float, ...]  # in WINDOWS_MS
    levels_db: tuple[float, ...]  # at LEVELS_MS, under the highest
    between_db: tuple[float, ...]  # at BETWEEN_MS
    bands_db_s: tuple[float, ...]  # early decay in BANDS_HZ
    attack_ms: float
    peak_ms: float
    crest_db: float  # peak over loudness
    early_db_s: float
    late_db_s: float
    loudness_db: float
    before_db: float  # noise above 1 kHz in the 20 ms before the onset, re the peak


def heard(sound: ear.Sound, key: int) -> Figures:
    """Measure one note of at least 1.3 s."""
    from scipy.signal import butter, sosfilt

    rate, hz = ear.RATE_HZ, ear.key_hz(key)
    quiet = np.concatenate((np.zeros(rate // 20), sound))
    high_pass = butter(4, max(90.0, 0.6 * hz), "high", fs=rate, output="sos")
    clean = sosfilt(high_pass, quiet)
    quick = ear.envelope(clean, 0.002)
    onset = int(np.argmax(quick >= 0.1 * quick.max()))
    slow_db = 20.0 * np.log10(ear.envelope(clean, 0.03))

    def at(milliseconds: float) -> int:
        return onset + round(milliseconds / 1000.0 * rate)

    rise = quick[: at(60)]
    top = int(np.argmax(rise >= 0.9 * rise.max()))
    foot = int(np.argmax(rise >= 0.1 * rise.max()))
    peak = float(np.abs(clean).max())
    treble = sosfilt(butter(4, 1000.0, "high", fs=rate, output="sos"), quiet)
    before = treble[at(-20) : at(-2)]
    loud = ear.loudness_db(sound)
    return Figures(
        key=key,
        centroids_hz=tuple(_centroid_hz(clean[at(a) : at(b)]) for a, b in WINDOWS_MS),
        levels_db=tuple(max(float(slow_db[at(t)] - slow_db.max()), -90.0) for t in LEVELS_MS),
        between_db=tuple(_between_db(clean[at(t) : at(t + 100)], hz) for t in BETWEEN_MS),
        bands_db_s=tuple(_band_db_s(quiet, onset, band) for band in BANDS_HZ),
        attack_ms=(top - foot) * 1000.0 / rate,
        peak_ms=int(np.abs(clean[onset : at(100)]).argmax()) * 1000.0 / rate,
        crest_db=20.0 * float(np.log10(peak)) - loud,
        early_db_s=_fall_db_s(slow_db, at(20), at(120)),
        late_db_s=_fall_db_s(slow_db, at(300), at(1000)),
        loudness_db=loud,
        before_db=20.0 * float(np.log10(np.sqrt((before**2).mean()) / peak + 1e-6)),
    )


def _centroid_hz(part: ear.Sound) -> float:
    power = np.abs(np.fft.rfft(part, 2**17)) ** 2
    weighted = (power * np.fft.rfftfreq(2**17, 1.0 / ear.RATE_HZ)).sum()
    return float(weighted / power.sum()) if power.sum() > 0.0 else float("nan")  # it has ended


def _between_db(part: ear.Sound, hz: float) -> float:
    power = np.abs(np.fft.rfft(part * np.hanning(part.size), 2**15)) ** 2
    at = np.fft.rfftfreq(2**15, 1.0 / ear.RATE_HZ)
    band = (at > 200.0) & (at < 6000.0)
    far = band & (np.abs(at / hz - np.round(at / hz)) > 0.3)
    return 10.0 * float(np.log10(power[far].sum() / power[band].sum()))


def _band_db_s(quiet: ear.Sound, onset: int, band: tuple[int, int]) -> float:
    from scipy.signal import butter, sosfilt

    part = sosfilt(butter(4, band, "band", fs=ear.RATE_HZ, output="sos"), quiet)
    level = 20.0 * np.log10(ear.envelope(part, 0.03))
    first, last = (onset + round(at * ear.RATE_HZ) for at in (0.02, 0.12))
    return _fall_db_s(level, first, last)


def _fall_db_s(level_db: ear.Sound, first: int, last: int) -> float:
    places = np.arange(first, min(last, level_db.size))
    return -float(np.polyfit(places / ear.RATE_HZ, level_db[first : places[-1] + 1], 1)[0])


def summary(forte: list[Figures], piano: list[Figures]) -> dict[str, tuple[float, ...]]:
    """The rows of the table of recorded figures, by their names there."""
    rows: dict[str, tuple[float, ...]] = {}
    for words, played in (("forte", forte), ("piano", piano)):
        for name in REGISTERS:
            rows[f"centroid {name}, {words}"] = _median(_in(played, name), "centroids_hz")
    for name in REGISTERS:
        rows[f"level {name}"] = _median(_in(forte, name), "levels_db")
    low = _in(forte, "low")

    def each(figure: str, *registers: str) -> tuple[float, ...]:
        return tuple(_median(_in(forte, name), figure)[0] for name in registers)

    deep = [note for note in forte if note.key < REGISTERS["mid"][1]]
    soft = {(n, note.key): note for n, note in enumerate(piano)}
    pairs = [(note, soft[n, note.key]) for n, note in enumerate(forte)]
    rows["attack"] = each("attack_ms", *REGISTERS)
    rows["highest peak after"] = _median(forte, "peak_ms")
    rows["peak over loudness"] = _median(forte, "crest_db")
    rows["early decay"] = each("early_db_s", *REGISTERS)
    rows["late decay"] = each("late_db_s", "low", "mid")
    rows["early decay of partials"] = _median(low, "bands_db_s")
    rows["between partials"] = _median(deep, "between_db")
    rows["scatter of level"] = (scatter_db(forte),)
    rows["brightness forte/piano"] = (
        float(np.median([a.centroids_hz[0] / b.centroids_hz[0] for a, b in pairs])),
        float(np.median([a.loudness_db - b.loudness_db for a, b in pairs])),
    )
    rows["notes within"] = tuple(
        100.0 * float(np.mean([low <= getattr(note, name) <= high for note in forte]))
        for name, low, high in WITHIN
    )
    rows["noise before the note"] = _median(forte, "before_db")
    return rows


def _in(notes: list[Figures], register: str) -> list[Figures]:
    first, end = REGISTERS[register]
    return [note for note in notes if first <= note.key < end]


def _median(notes: list[Figures], figure: str) -> tuple[float, ...]:
    values = np.nanmedian([np.atleast_1d(getattr(note, figure)) for note in notes], axis=0)
    return tuple(float(value) for value in values)


def scatter_db(notes: list[Figures]) -> float:
    """Standard deviation of loudness about a parabola over the keys."""
    keys = np.array([note.key for note in notes], float)
    levels = np.array([note.loudness_db for note in notes])
    trend = np.polynomial.Polynomial.fit(keys, levels, 2)
    return float((levels - trend(keys)).std())


def notes(
    player: ear.Player, velocity: int, *, plain: bool = False, frets: int = 19
) -> Iterator[Figures]:
    """Every fret of every string; of a plain font, every key once."""
    places: Iterable[tuple[int, int]] = (
        [(0, key) for key in range(48, 89)]
        if plain
        else [(bank(0, s), key + fret) for s, key in OPEN.items() for fret in range(frets + 1)]
    )
    for place, key in places:
        yield heard(player.note(key, velocity, place, held_s=2.0, rest_s=0.1), key)
