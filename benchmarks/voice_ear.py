"""Play SoundFonts and measure what comes out: the ear of the voice's tests and report.

It knows nothing of how a voice is made: fonts are played by FluidSynth through its C interface
(https://www.fluidsynth.org/api/), and figures are taken from the sound alone.

Conventions: seconds, decibels, MIDI keys; sounds are mono float arrays at RATE_HZ, dry.
"""

from __future__ import annotations

import ctypes
import ctypes.util
import importlib.util
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

RATE_HZ = 48000
BLOCK = 64  # FluidSynth begins notes at multiples of this
Sound = npt.NDArray[np.float64]


def wheel_library() -> str | None:
    """FluidSynth as pygame-ce's wheel carries it on Linux."""
    spec = importlib.util.find_spec("pygame")
    if spec is None or spec.origin is None:
        return None
    folder = Path(spec.origin).parent.parent / "pygame_ce.libs"
    return next((str(path) for path in sorted(folder.glob("libfluidsynth*"))), None)


def system_library() -> str | None:
    """FluidSynth as the system has it."""
    return ctypes.util.find_library("fluidsynth")


def general_midi() -> Path:
    """The General MIDI font that pretty_midi brings."""
    spec = importlib.util.find_spec("pretty_midi")
    assert spec is not None
    assert spec.origin is not None
    return Path(spec.origin).parent / "TimGM6mb.sf2"


@dataclass(frozen=True)
class Stroke:
    """A key pressed at `start_s` and let go at `end_s`."""

    start_s: float
    end_s: float
    key: int
    velocity: int
    bank: int = 0
    channel: int = 0


class Player:
    """A font in a FluidSynth, without reverb and chorus."""

    def __init__(self, font: Path, library: str | None = None, program: int = 105) -> None:
        path = library or wheel_library() or system_library()
        if path is None:
            raise RuntimeError("there is no FluidSynth on this machine")
        self.api: Any = ctypes.CDLL(path)
        self.program = program
        for name in ("new_fluid_settings", "new_fluid_synth"):
            getattr(self.api, name).restype = ctypes.c_void_p
        self.settings = ctypes.c_void_p(self.api.new_fluid_settings())
        number = ctypes.c_double
        self.api.fluid_settings_setnum(self.settings, b"synth.sample-rate", number(RATE_HZ))
        self.api.fluid_settings_setnum(self.settings, b"synth.gain", number(0.5))
        for name in (b"synth.reverb.active", b"synth.chorus.active"):
            self.api.fluid_settings_setint(self.settings, name, 0)
        self.synth = ctypes.c_void_p(self.api.new_fluid_synth(self.settings))
        self.font = self.api.fluid_synth_sfload(self.synth, str(font).encode(), 1)
        if self.font < 0:
            raise RuntimeError(f"FluidSynth cannot load {font}")

    def close(self) -> None:
        """Let the synthesiser go."""
        self.api.delete_fluid_synth(self.synth)
        self.api.delete_fluid_settings(self.settings)

    def choose(self, channel: int, bank: int) -> None:
        """The preset of a bank; like General MIDI players, bank 0 when there is none."""
        arguments = (self.synth, channel, self.font)
        if self.api.fluid_synth_program_select(*arguments, bank, self.program) != 0:
            self.api.fluid_synth_program_select(*arguments, 0, self.program)

    def play(self, strokes: Iterable[Stroke], length_s: float) -> Sound:
        """What is heard of the strokes, from time zero."""
        events = []
        for stroke in strokes:
            events.append((round(stroke.start_s * RATE_HZ / BLOCK), 1, stroke))
            events.append((round(stroke.end_s * RATE_HZ / BLOCK), 0, stroke))
        events.sort(key=lambda event: event[:2])
        self.api.fluid_synth_all_sounds_off(self.synth, -1)
        self._blocks(8)
        pieces, now = [], 0
        for block, on, stroke in events:
            pieces.append(self._blocks(block - now))
            now = block
            if on:
                self.choose(stroke.channel, stroke.bank)
                self.api.fluid_synth_noteon(self.synth, stroke.channel, stroke.key, stroke.velocity)
            else:
                self.api.fluid_synth_noteoff(self.synth, stroke.channel, stroke.key)
        pieces.append(self._blocks(max(int(length_s * RATE_HZ / BLOCK) - now, 0)))
        return np.concatenate(pieces)[: round(length_s * RATE_HZ)]

    def note(
        self, key: int, velocity: int, bank: int = 0, *, held_s: float = 3.0, rest_s: float = 0.5
    ) -> Sound:
        """One note, held and let go."""
        return self.play([Stroke(0.0, held_s, key, velocity, bank)], held_s + rest_s)

    def _blocks(self, count: int) -> Sound:
        size = count * BLOCK
        left = np.zeros(size, np.float32)
        right = np.zeros(size, np.float32)
        if size:
            pointers = [side.ctypes.data_as(ctypes.c_void_p) for side in (left, right)]
            self.api.fluid_synth_write_float(self.synth, size, pointers[0], 0, 1, pointers[1], 0, 1)
        return (left.astype(np.float64) + right) / 2.0


def envelope(sound: Sound, smooth_s: float = 0.02) -> Sound:
    """Root mean square over a Hann window."""
    from scipy.signal import fftconvolve

    window = np.hanning(round(smooth_s * RATE_HZ) | 1)
    power = fftconvolve(sound**2, window / window.sum(), mode="same")
    return np.asarray(np.sqrt(np.maximum(power, 1e-20)))


def fall_s(sound: Sound, fall_db: float, smooth_s: float = 0.03) -> float:
    """Time from the loudest moment until the envelope has fallen by so much for good."""
    level = envelope(sound, smooth_s)
    peak = int(level.argmax())
    above = np.flatnonzero(level[peak:] > level[peak] * 10 ** (-fall_db / 20))
    return float(above[-1] + 1) / RATE_HZ


def energy_decay_db(sound: Sound) -> Sound:
    """Energy still to come, in dB of all (Schroeder, JASA 37, 1965, 409)."""
    left = np.cumsum(sound[::-1] ** 2)[::-1]
    return np.asarray(10.0 * np.log10(left / left[0] + 1e-15))


def decay_s(sound: Sound, fall_db: float) -> float:
    """Time until the energy still to come has fallen by so much (for an even decay, the level)."""
    return float(np.argmax(energy_decay_db(sound) < -fall_db)) / RATE_HZ


def repetition_hz(sound: Sound, near_hz: float) -> float:
    """Pitch by the autocorrelation of half a second at twenty periods."""
    part = sound[round(0.08 * RATE_HZ) :][: RATE_HZ // 2]
    likeness = np.fft.irfft(np.abs(np.fft.rfft(part, 2**16)) ** 2)
    periods = 20
    low, high = (round((periods + off) * RATE_HZ / near_hz) for off in (-1 / 3, 1 / 3))
    peak = low + int(likeness[low : high + 1].argmax())
    left, middle, right = (float(value) for value in likeness[peak - 1 : peak + 2])
    return periods * RATE_HZ / (peak + 0.5 * (left - right) / (left - 2.0 * middle + right))


def reverberation_s(sound: Sound, high_db: float, low_db: float) -> float:
    """Time for 60 dB at the mean slope between two levels of the energy decay (as ISO 3382-1)."""
    decay = energy_decay_db(sound)
    first, last = (int(np.argmax(decay < level)) for level in (high_db, low_db))
    slope = np.polyfit(np.arange(first, last) / RATE_HZ, decay[first:last], 1)[0]
    return float(-60.0 / slope)


def attack_s(sound: Sound) -> float:
    """From a tenth to nine tenths of the highest point of the envelope (5 ms) in 60 ms."""
    quiet = np.zeros(round(0.005 * RATE_HZ))  # before it, so that the rise is seen from its foot
    level = envelope(np.concatenate((quiet, sound[: round(0.08 * RATE_HZ)])), 0.005)
    level = level[: round(0.065 * RATE_HZ)]
    start = int(np.argmax(level >= 0.1 * level.max()))
    end = int(np.argmax(level >= 0.9 * level.max()))
    return (end - start) / RATE_HZ


def centroid_hz(sound: Sound, start_s: float = 0.0, length_s: float = 0.25) -> float:
    """Mean frequency of the power spectrum of a stretch."""
    first = round(start_s * RATE_HZ)
    part = sound[first : first + round(length_s * RATE_HZ)]
    power = np.abs(np.fft.rfft(part, 2**17)) ** 2
    return float((power * np.fft.rfftfreq(2**17, 1 / RATE_HZ)).sum() / power.sum())


def loudness_db(sound: Sound, length_s: float = 0.4) -> float:
    """K-weighted level of the first 0.4 s (ITU-R BS.1770, one block, by pyloudnorm)."""
    import pyloudnorm

    size = round(length_s * RATE_HZ)
    part = np.zeros(size)
    part[: sound.size] = sound[:size]
    return float(pyloudnorm.Meter(RATE_HZ, block_size=length_s).integrated_loudness(part))


def partials_hz(
    sound: Sound, near_hz: float, count: int = 8, start_s: float = 0.08
) -> list[tuple[float, float]]:
    """Frequency and power of the first partials, from half a second of spectrum."""
    first = round(start_s * RATE_HZ)
    part = sound[first : first + RATE_HZ // 2]
    size = 2**19
    power = np.abs(np.fft.rfft(part * np.hanning(part.size), size)) ** 2
    found = []
    for number in range(1, count + 1):
        low, high = (round(number * near_hz * bend * size / RATE_HZ) for bend in (0.97, 1.03))
        if high + 1 >= power.size:
            break
        peak = low + int(power[low:high].argmax())
        found.append((peak * RATE_HZ / size, float(power[peak])))
    return found


def pitch_hz(sound: Sound, near_hz: float) -> float:
    """Mean of the first eight partials, each over its number, weighted by power."""
    partials = partials_hz(sound, near_hz)
    total = sum(power for _, power in partials)
    return sum(hz / number * power for number, (hz, power) in enumerate(partials, 1)) / total


def key_hz(key: float) -> float:
    """Equal temperament, A4 = 440 Hz."""
    return float(440.0 * 2.0 ** ((key - 69) / 12.0))


def cents(hz: float, reference_hz: float) -> float:
    """Interval in cents."""
    return float(1200.0 * np.log2(hz / reference_hz))


def correlation(one: Sound, other: Sound) -> float:
    """Normalised correlation, at the best of a few samples' shift."""
    size = min(one.size, other.size)
    one, other = one[:size], other[:size]
    likeness = np.fft.irfft(np.fft.rfft(one, 2 * size) * np.conj(np.fft.rfft(other, 2 * size)))
    near = np.concatenate((likeness[:50], likeness[-50:]))
    return float(near.max() / np.sqrt((one**2).sum() * (other**2).sum()))


def third_octaves_db(sound: Sound) -> tuple[Sound, Sound]:
    """Power in thirds of an octave: centre frequencies (base two, 1 kHz) and dB of the whole."""
    power = np.abs(np.fft.rfft(sound)) ** 2
    hz = np.fft.rfftfreq(sound.size, 1 / RATE_HZ)
    centres = 1000.0 * 2.0 ** (np.arange(-10, 14) / 3.0)
    edge = 2.0 ** (1.0 / 6.0)
    bands = [power[(hz >= centre / edge) & (hz < centre * edge)].sum() for centre in centres]
    return centres, 10.0 * np.log10(np.array(bands) / power.sum() + 1e-12)
