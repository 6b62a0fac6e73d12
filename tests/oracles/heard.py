"""What a MIDI file lets a listener hear of each chord, and what its symbol asks for.

Nothing here comes from the package. Chord tones are those of any harmony textbook (from memory):
a triad is wanted whole; a seventh chord needs third and seventh, a ninth its ninth too; diminished
and augmented chords need their altered fifth.

Conventions: pitch classes 0 (C) to 11; times in seconds from the start of the file.
"""

import re
from collections import defaultdict
from dataclasses import dataclass, field

import mido

_LETTERS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
# what stands after the root: (tones in semitones from the root, essential ones)
_QUALITIES = {
    "": ((0, 4, 7), (0, 4, 7)),
    "m": ((0, 3, 7), (0, 3, 7)),
    "+": ((0, 4, 8), (0, 4, 8)),
    "dim": ((0, 3, 6), (0, 3, 6)),
    "6": ((0, 4, 7, 9), (4, 9)),
    "m6": ((0, 3, 7, 9), (3, 9)),
    "7": ((0, 4, 7, 10), (4, 10)),
    "maj7": ((0, 4, 7, 11), (4, 11)),
    "m7": ((0, 3, 7, 10), (3, 10)),
    "m7b5": ((0, 3, 6, 10), (3, 6, 10)),
    "dim7": ((0, 3, 6, 9), (0, 3, 6, 9)),
    "7sus4": ((0, 5, 7, 10), (5, 10)),
    "9": ((0, 2, 4, 7, 10), (2, 4, 10)),
    "7b9": ((0, 1, 4, 7, 10), (1, 4, 10)),
}


def asked_for(symbol: str) -> tuple[frozenset[int], frozenset[int]]:
    """(all tones, essential tones) of a chord symbol, as pitch classes; the bass is nobody's."""
    match = re.fullmatch(r"([A-G])([b#]?)(.*?)(?:/[A-G][b#]?)?", symbol)
    root = _LETTERS[match[1]] + {"b": -1, "#": 1, "": 0}[match[2]]
    tones, essential = _QUALITIES[match[3]]
    return (
        frozenset((root + tone) % 12 for tone in tones),
        frozenset((root + tone) % 12 for tone in essential),
    )


@dataclass
class Heard:
    """A chord symbol's time, and the pitches each player struck in it, by player."""

    symbol: str
    start_s: float
    end_s: float
    pitches: dict[str, list[int]] = field(default_factory=lambda: defaultdict(list))


def heard(file: mido.MidiFile, late_s: float = 0.03) -> list[Heard]:
    """Every chord of the file in order.

    A note that comes up to `late_s` before its chord is meant with it: players are not machines.
    """
    tempo = [(0, 500_000)]
    for tick, message in _timed(file.tracks[0]):
        if message.type == "set_tempo":
            tempo = [one for one in tempo if one[0] != tick] + [(tick, message.tempo)]

    def seconds(tick: int) -> float:
        total = 0.0
        for (start, quarter_us), (end, _) in zip(tempo, [*tempo[1:], (tick, 0)], strict=True):
            if tick > start:
                total += (min(end, tick) - start) * quarter_us / 1e6 / file.ticks_per_beat
        return total

    chords: list[Heard] = []
    for tick, message in _timed(file.tracks[0]):
        if message.type == "text":
            if chords:
                chords[-1].end_s = seconds(tick)
            chords.append(Heard(message.text, seconds(tick), float("inf")))
    for track in file.tracks[1:]:
        for tick, message in _timed(track):
            if message.type == "note_on" and message.velocity:
                start_s = seconds(tick)
                for chord in chords:
                    if chord.start_s - late_s <= start_s < chord.end_s - late_s:
                        chord.pitches[track.name].append(message.note)
    return chords


def _timed(track):
    now = 0
    for message in track:
        now += message.time
        yield now, message
