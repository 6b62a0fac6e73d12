"""What was weak in a first model of the banjo, before and after: the same figures, part by part.

Each part is switched off, or set back to what the first model had, and measured against the voice
as it is: at the microphone of the model, before notes are evened out and laid into a font. The
first model had down-strokes only, one dead stroke a string, and no tension. That its low notes went
dark and that force changed its brightness little were no faults: recorded banjos do the same
(`benchmarks.voice_recorded_table`).

Conventions: figures are medians over open strings and fifth frets; bands in hertz.
"""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np

from accomp.files.data import find
from accomp.voice.model import Model, StruckNote, evened, model, pluck
from accomp.voice.parameters import Voice
from accomp.voice.pluck import Pluck
from accomp.voice.reader import read_voice
from accomp.voice.sampling import takes
from accomp.voice.tone import BridgedString, tone
from benchmarks import voice_ear as ear

Sound = ear.Sound
STOPS = tuple((index, fret) for index in range(4) for fret in (0, 5))


def table() -> str:
    """The rows as a table in Markdown."""
    voice = tenor()
    lines = ["| weak point | figure | before | after |", "|---|---|---:|---:|"]
    lines += [f"| {' | '.join(row)} |" for row in rows(voice)]
    return "\n".join(lines) + "\n"


def tenor() -> Voice:
    """The tenor banjo's parameters."""
    path = find("soundfonts", "tenor-banjo")
    assert path is not None
    return read_voice(path)


def rows(voice: Voice) -> list[tuple[str, str, str, str]]:
    """Weak point, figure, before, after."""
    made = model(voice)
    strings = {stop: evened(made, *stop) for stop in STOPS}

    def now(string: BridgedString, stop: tuple[int, int], force: int) -> Pluck:
        return _stroke(voice, string, stop, force)

    ring = [_ring_db(string, now(string, stop, 3)) for stop, string in strings.items()]
    opened = strings[0, 0]
    ups = []
    for stop, string in strings.items():
        down = now(string, stop, 2)
        up = replace(pluck(voice, string, StruckNote(*stop, 2, up=True)), noise_n=0.0)
        ups.append(ear.correlation(tone(string, down)[:11025], tone(string, up)[:11025]))
    return [
        ("no metallic ring of tension", "what tension adds, 1-12 kHz, to the rest, hardest stroke",
         "nothing", f"{np.median(ring):.0f} dB, open fourth {ring[0]:.0f} dB"),
        ("", "fall of pitch from 30 to 500 ms, open fourth, hardest", "0.0 cents",
         f"{_glide_cents(opened, now(opened, (0, 0), 3)):.1f} cents"),
        ("up-strokes missing", "correlation of down and up", "1", f"{np.median(ups):.2f}"),
        ("dead strokes repeat", "greatest correlation of two in a row", "1",
         f"{_dead_likeness(made):.2f}"),
    ]  # fmt: skip


def _stroke(voice: Voice, string: BridgedString, stop: tuple[int, int], force: int) -> Pluck:
    return replace(pluck(voice, string, StruckNote(*stop, force)), noise_n=0.0)


def _spectrum(sound: Sound, start_s: float, length_s: float) -> tuple[Sound, Sound]:
    """Power, and the frequencies, of a stretch at the model's rate."""
    part = sound[round(start_s * 44100) : round((start_s + length_s) * 44100)]
    power = np.abs(np.fft.rfft(part * np.hanning(part.size), 2**17)) ** 2
    return power, np.fft.rfftfreq(2**17, 1 / 44100)


def _ring_db(string: BridgedString, stroke: Pluck) -> float:
    """What the pull of tension adds to a stroke (its falling pitch left alone in both)."""
    without = replace(string, from_tension=np.zeros_like(string.from_tension))
    whole, rest = tone(string, stroke), tone(without, stroke)
    added, hz = _spectrum(whole - rest, 0.0, 0.3)
    plain, _ = _spectrum(rest, 0.0, 0.3)
    heard = (hz > 1000.0) & (hz < 12000.0)
    return float(10.0 * np.log10(added[heard].sum() / plain[heard].sum()))


def _glide_cents(string: BridgedString, stroke: Pluck) -> float:
    """From the fourth partial, which an eighth of a second shows well enough."""
    found = []
    for start in (0.03, 0.5):
        power, hz = _spectrum(tone(string, stroke), start, 0.125)
        near = np.flatnonzero(np.abs(hz / (4 * string.held.hz) - 1.0) < 0.03)
        found.append(float(hz[near[power[near].argmax()]]))
    return ear.cents(*found)


def _dead_likeness(made: Model) -> float:
    """Of the dead strokes of each string at one force, as they follow one another."""
    voice = made.voice
    small = replace(voice, layout=replace(voice.layout, roots=(0,)))
    dead = [take for take in takes(replace(made, voice=small)) if take.dead is not None]
    found = []
    for string, force in itertools.product(range(4), range(4)):
        row = [take.data for take in dead if (take.string, take.force) == (string, force)]
        found += [ear.correlation(one, other) for one, other in itertools.pairwise(row)]
    return max(found)


if __name__ == "__main__":
    print(table())
