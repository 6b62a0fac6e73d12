"""The band's tracks: bass, comping player, drums.

Conventions: seconds are floats from the start of the file. Each player of pitched notes has one
channel, the drums channel 10 (9 on the wire). The strummed instrument stands left of the middle and
the comping player right of it, so that either can be turned down (usual for play-along).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from fractions import Fraction
from typing import Literal

from accomp.rhythm import drum_hits, jitter, program_number, velocity
from accomp.rhythm.drift import straying
from accomp.score.arrangement import ArrangedBar, Arrangement, BandStroke
from accomp.score.clock import Clock, CountIn
from accomp.score.performance import DRUM_CHANNEL, Note, Role, Track
from accomp.score.shape import shape_db, velocity_at
from accomp.time import Span

_MELODY_PLAYER, _MELODY_VELOCITY = "clarinet", 84
# Channels for pitched players, in the order in which they are taken; strings never use the first
# two.
_CHANNELS = (10, 11, 15, 14, 13, 12)


# The level (controller 7) of a comping player, so that they stand 4 to 8 dB under the rest between
# 200 Hz and 6 kHz: reeds, which sound on, are as loud as struck or plucked strings at a lower
# level. Measured on the General MIDI font that comes along.
_COMPING_LEVEL = 96
_COMPING_LEVELS = {
    "accordion": 72,
    "tango-accordion": 72,
    "harmonica": 72,
    "nylon-guitar": 78,
    "jazz-guitar": 104,
}

# How far a drummer's hands and feet come apart, as a share of the style's `jitter_ms` (a proposal).
_LIMBS_APART = 0.6

_BandPart = Literal["bass", "comping", "drums"]


def band_tracks(arrangement: Arrangement, clock: Clock, lead: CountIn) -> Iterator[Track]:
    """A track for each player that has something to play."""
    channels = iter(_CHANNELS)
    for player, notes in _by_player(arrangement, clock, "bass").items():
        name = "Bass" if player == "acoustic-bass" else _sound_name(player)
        program = program_number(player) - 1
        channel = next(channels)
        yield Track(name, Role.BAND, program, (channel,), _on(channel, notes), level=100, pan=64)
    for player, notes in _by_player(arrangement, clock, "comping").items():
        name, program = _sound_name(player), program_number(player) - 1
        channel, level = next(channels), _COMPING_LEVELS.get(player, _COMPING_LEVEL)
        yield Track(name, Role.BAND, program, (channel,), _on(channel, notes), level=level, pan=80)
    for number, hits in sorted(_by_set(arrangement, clock, lead).items()):
        struck = _on(DRUM_CHANNEL, hits)
        yield Track("Drums", Role.BAND, number, (DRUM_CHANNEL,), struck, level=100, pan=66)
    melody_track = [
        Note(clock(note.span.start), clock(note.span.end), note.pitch, _MELODY_VELOCITY, channel=0)
        for note in arrangement.melody
        if clock(note.span.start) >= 0  # a pickup has no place where nobody counts in
    ]
    if melody_track:
        channel, program = next(channels), program_number(_MELODY_PLAYER) - 1
        yield Track(
            "Melody", Role.MELODY, program, (channel,), _on(channel, melody_track), level=88
        )


def _sound_name(player: str) -> str:
    """A track's name after its sound: "Nylon guitar"."""
    return player.replace("-", " ").capitalize()


def _by_player(arrangement: Arrangement, clock: Clock, part: _BandPart) -> dict[str, list[Note]]:
    """The notes of one part by the sound that plays them, which may change with the style."""
    found: dict[str, list[Note]] = {}
    for bar, louder_db in _shaped(arrangement):
        player = bar.style.bass_player if part == "bass" else bar.style.comping_player
        notes = _notes(arrangement, clock, bar, part, louder_db)
        if notes:
            found.setdefault(player, []).extend(notes)
    return found


def _by_set(arrangement: Arrangement, clock: Clock, lead: CountIn) -> dict[int, list[Note]]:
    """The drummer's notes by the drum set, which may change with the style."""
    first = arrangement.bars[0].style.drum_set
    found = {first: _lead_in_notes(arrangement, clock, lead)}
    for bar, louder_db in _shaped(arrangement):
        notes = found.setdefault(bar.style.drum_set, [])
        notes += _notes(arrangement, clock, bar, "drums", louder_db)
    return {number: notes for number, notes in found.items() if notes}


def _shaped(arrangement: Arrangement) -> Iterator[tuple[ArrangedBar, float]]:
    """Every bar, and how much louder it is played than its pattern says."""
    return zip(arrangement.bars, shape_db(arrangement.bars), strict=True)


def _notes(
    arrangement: Arrangement, clock: Clock, bar: ArrangedBar, part: _BandPart, louder_db: float
) -> list[Note]:
    """One part's notes in a bar, each moved in time and force as far as the style allows."""
    strokes: tuple[BandStroke, ...] = getattr(bar, part)
    style, seed = bar.style, arrangement.seed
    at = clock.drums if part == "drums" else clock
    notes = []
    for stroke in strokes:
        moment = stroke.span.start - bar.span.start
        # Notes that one player strikes together stray together; drums are struck one by one.
        which = stroke.pitch if part == "drums" else 0
        names = (seed, part, bar.address, moment, which)
        late = 0.0
        if style.jitter_ms:
            late = straying(seed, part, bar.address, moment, bar.bar.meter.bar)
            if part == "drums":
                late += _LIMBS_APART * jitter(*names, "time")
        force = velocity_at(velocity(stroke.force), louder_db)
        force += style.jitter_force * jitter(*names, "force")
        notes.append(_note(at, stroke, style.jitter_ms / 1000 * late, round(force)))
    return notes


def _note(clock: Callable[[Fraction], float], stroke: BandStroke, late_s: float, loud: int) -> Note:
    start_s, end_s = clock(stroke.span.start), clock(stroke.span.end)
    start_s = max(0.0, start_s + min(late_s, (end_s - start_s) / 4))
    return Note(start_s, end_s, stroke.pitch, min(max(loud, 1), 127), channel=0)


def _lead_in_notes(arrangement: Arrangement, clock: Clock, lead: CountIn) -> list[Note]:
    """What the drums play in the last bar of the count-in."""
    first = arrangement.bars[0]
    pattern = first.style.lead_in
    if pattern is None or not lead.clicks:
        return []
    bar = first.bar.meter.bar
    hits = drum_hits(Span(Fraction(0), bar), pattern)
    strokes = [BandStroke(hit.span.shifted(-bar), hit.key, hit.force) for hit in hits]
    return [_note(clock.drums, stroke, 0.0, velocity(stroke.force)) for stroke in strokes]


def _on(channel: int, notes: list[Note]) -> tuple[Note, ...]:
    """The notes on a channel by time; where two of one pitch overlap, the earlier one is cut."""
    ordered = sorted(notes, key=lambda note: (note.start_s, note.pitch))
    done: list[Note] = []
    sounding: dict[int, int] = {}
    for note in ordered:
        before = sounding.get(note.pitch)
        if before is not None and done[before].end_s > note.start_s:
            done[before] = replace(done[before], end_s=note.start_s)
        sounding[note.pitch] = len(done)
        done.append(replace(note, channel=channel))
    return tuple(note for note in done if note.end_s > note.start_s)
