"""A style: the patterns of the right hand and the band in one meter.

Conventions: patterns are counted from the bar line; `tempo` is the range that the style is for, in
beats a minute. `swing` is the ratio of the first to the second of two eighths when played
(1 is straight); the written rhythm never changes with it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import TypeVar

from accomp.outward import Shown
from accomp.rhythm.feel import SOLOISTS_MOST, ratio_by_tempo
from accomp.rhythm.general_midi import DRUM_SETS
from accomp.rhythm.passage import Ending, Passage, PassageKind, Playing
from accomp.rhythm.pattern import BandPattern, Pattern
from accomp.rhythm.stroke import StrokeSound
from accomp.time import Meter

P = TypeVar("P", Pattern, BandPattern)


@dataclass(frozen=True)
class Style(Shown):
    """One style. `strum` is the right hand's pattern; `bass`, `drums` and `comping` may be None.

    With `swing_by_tempo` the ratio is taken from the tempo and `swing` is not used; `swing_pair`
    is the length of the two notes that swing (a quarter: eighths swing). `spread` and `taper`
    scale how wide and how uneven a strum is. `jitter_ms` is the standard deviation by which a note
    strays (0: a machine), `jitter_force` (velocity) the most. `passages` come in file order, a
    later one winning; `lead_in` is what the drums play in the last bar of the count-in.
    """

    name: str
    title: str
    meter: Meter
    tempo: tuple[float, float]
    strum: Pattern
    bass: BandPattern | None
    drums: BandPattern | None
    swing: float = 1.0
    mood: str = ""
    right_hand: str = ""
    file: str = ""
    swing_by_tempo: bool = False
    swing_pair: Fraction = Fraction(1, 4)
    spread: float = 1.0
    taper: float = 1.0
    comping: BandPattern | None = None
    jitter_ms: float = 0.0
    jitter_force: float = 0.0
    passages: tuple[Passage, ...] = ()
    lead_in: BandPattern | None = None
    ending: Ending = field(default_factory=Ending)

    @property
    def strums(self) -> Iterator[Pattern]:
        """Every pattern that the right hand has in this style."""
        yield self.strum
        more = [passage.strum for passage in self.passages]
        yield from (strum for strum in (*more, self.ending.strum) if strum is not None)

    @property
    def chokes(self) -> bool:
        """Whether any stroke is choked, so that closed shapes are asked of the planner."""
        return any(s.sound == StrokeSound.CHOKED for strum in self.strums for s in strum.strokes)

    @property
    def players(self) -> tuple[str, ...]:
        """Who plays beside the strummed instrument, as General MIDI words and "drums"."""
        found = [pattern.player for pattern in (self.bass, self.comping) if pattern is not None]
        return (*found, "drums") if self.drums is not None else tuple(found)

    @property
    def bass_player(self) -> str:
        """The General MIDI word of the bass's sound."""
        return (self.bass.player if self.bass is not None else "") or "acoustic-bass"

    @property
    def comping_player(self) -> str:
        """The General MIDI word of the second chord player's sound."""
        return (self.comping.player if self.comping is not None else "") or "piano"

    @property
    def drum_set(self) -> int:
        """The drum set, a program on the drums' channel."""
        return DRUM_SETS[(self.drums.player if self.drums is not None else "") or "sticks"]

    def __repr__(self) -> str:
        low, high = self.tempo
        return f"<Style {self.name!r}: {self.meter}, {low:g} to {high:g} beats a minute>"

    def unlike(self, tempo_bpm: float) -> str:
        """A sentence about a tempo (beats a minute of the style's meter) outside the style's range;
        empty for one inside it."""
        low, high = self.tempo
        if low <= tempo_bpm <= high:
            return ""
        return (
            f"{self.title} is a style for {low:g} to {high:g} beats a minute; {tempo_bpm:g} is "
            f"{'slower' if tempo_bpm < low else 'faster'}."
        )

    def swing_at(self, tempo_bpm: float) -> float:
        """The drums' swing ratio at a tempo in beats a minute of the style's meter."""
        if not self.swing_by_tempo:
            return self.swing
        return ratio_by_tempo(tempo_bpm * float(self.meter.beat / self.swing_pair))

    def strings_swing_at(self, tempo_bpm: float) -> float:
        """Everybody else's swing ratio: straighter at slow tempi where it goes by the tempo."""
        drums = self.swing_at(tempo_bpm)
        return min(drums, SOLOISTS_MOST) if self.swing_by_tempo else drums

    def played_through(self) -> Style:
        """The style without its stop-time, for what stands before and after the tune's own form."""
        kept = (passage for passage in self.passages if passage.name != PassageKind.BREAK)
        return replace(self, passages=tuple(kept))

    def playing(
        self,
        section_bar: int,
        chorus: int = 1,
        choruses: int = 1,
        *,
        section_bars: int,
        final: bool = False,
    ) -> Playing:
        """Everybody's patterns in bar `section_bar` (from 0) of a section of `section_bars`, in
        chorus `chorus` (from 1) of `choruses`; `final`: it is the very last bar of the performance.
        """
        turn = section_bar * self.meter.bar
        strum: tuple[Pattern, Fraction] | None = (self.strum, turn)
        bass, drums, comping = (
            None if pattern is None else (pattern, turn)
            for pattern in (self.bass, self.drums, self.comping)
        )
        louder, stop_time = 0, False
        for passage in self.passages:
            if not passage.holds(section_bar, chorus, choruses, section_bars):
                continue
            louder += passage.louder
            stop_time = stop_time or passage.name == PassageKind.BREAK
            before = passage.bars_before(section_bar, section_bars)
            since, over = before * self.meter.bar, passage.over
            strum = _laid(strum, passage.strum, since, over=over)
            bass = _laid(bass, passage.bass, since, over=over)
            drums = _laid(drums, passage.drums, since, over=over)
            comping = _laid(comping, passage.comping, since, over=over)
        if final:
            strum = _laid(strum, self.ending.strum, Fraction(0))
            bass = _laid(bass, self.ending.bass, Fraction(0))
            drums = _laid(drums, self.ending.drums, Fraction(0))
            comping = _laid(comping, self.ending.comping, Fraction(0))
        assert strum is not None, "the right hand always has a pattern"
        return Playing(strum, bass, drums, comping, louder, stop_time)


def _laid(
    before: tuple[P, Fraction] | None, pattern: P | None, since: Fraction, *, over: bool = False
) -> tuple[P, Fraction] | None:
    """The pattern of a player in a passage, over the one before or in its place, and its start."""
    if pattern is None:
        return before
    if over and before is not None:
        pattern = before[0].shifted(since - before[1]).layered(pattern)
    return pattern, since
