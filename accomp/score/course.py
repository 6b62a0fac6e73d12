"""The course of a performance: a vamp, the tune's bars, the tag, an end on the home chord, and the
melody laid over them.

Conventions: bars as in `accomp.tune.unfold`. A vamp is four bars of the home chord. A tag plays the
last four bars of the form again, before a coda; where the form is left in its middle for the coda,
the tag follows the coda and plays the last four bars of all. A tag is a section of its own, so that
patterns begin anew with it. A melody is laid over the tune once through, without an intro that only
borrows bars. The pickup of the melody sounds at the end of the bar before, but not before a tag.

After the last time through, a turnaround leads nowhere. A tag with a home chord in its last two
bars therefore holds that chord to its end. After another tag, and after a tune without a tag that
ends on a chord that leads on, one more bar brings the home chord. Common practice, no source.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from accomp.harmony import Chord, Key
from accomp.score.arrangement import MelodyStroke
from accomp.score.planning import TuneChords
from accomp.time import Span
from accomp.tune import ChordSpan, PlayedBar, Spot, Stage
from accomp.tune.melody import MelodyNote

TAG_BARS = VAMP_BARS = 4
TAG, VAMP, CLOSE = "Tag", "Vamp", "End"
_TURNAROUND_BARS = 2
_FIFTH = 7  # semitones
NOWHERE = Spot()  # the spot of a bar that is in no section of the tune


@dataclass(frozen=True, slots=True)
class CourseBar:
    """A bar with the index of each of its chords among the chords that were planned (None: N.C.).

    An `added` bar is not the tune's own.
    """

    bar: PlayedBar
    spans: tuple[int | None, ...]
    added: bool = False


def course(
    unfolded: Sequence[PlayedBar],
    chords: TuneChords,
    *,
    vamp: bool = False,
    tags: int = 0,
    resolve: bool = True,
) -> tuple[CourseBar, ...]:
    """All bars in the order played; the last four come again `tags` times. With `resolve` the
    music ends on the home chord where the tune ends on a chord that leads there, and after a tag
    in any case."""
    planned = {
        bar.spot: row
        for bar, row in zip(reversed(chords.bars), reversed(chords.spans), strict=True)
    }
    own = [CourseBar(bar, planned[bar.spot]) for bar in unfolded]
    left = any(bar.leaves for bar in unfolded)
    coda = [] if left else [item for item in own if item.bar.spot.stage == Stage.CODA]
    own = own[: len(own) - len(coda)]
    bars = _vamp(unfolded[0], chords) if vamp else []
    bars += own
    for _ in range(tags):
        for nth, item in enumerate(own[-TAG_BARS:]):
            bar = replace(item.bar, section=TAG, section_bar=nth, opens=nth == 0, leaves=False)
            bars.append(replace(item, bar=bar, added=True))
    bars += coda
    if resolve:
        bars = _brought_home(bars, chords, tagged=tags > 0 and not coda)
    return _counted(bars)


def _vamp(first: PlayedBar, chords: TuneChords) -> list[CourseBar]:
    whole = (ChordSpan(chords.home, Span(Fraction(0), first.meter.bar)),)
    index = chords.chords.index(chords.home)
    return [
        CourseBar(
            replace(
                first,
                section=VAMP,
                section_bar=nth,
                opens=nth == 0,
                chords=whole,
                spot=NOWHERE,
            ),
            (index,),
            added=True,
        )
        for nth in range(VAMP_BARS)
    ]


def leads_on(chord: Chord, home: Chord) -> bool:
    """Whether a chord leads the ear to the home chord: any chord with major third and minor
    seventh, any on the fifth, and a diminished one a semitone below; but none on home's root."""
    above = (chord.root.pc - home.root.pc) % 12
    if above == 0:
        return False
    degrees = {tone.degree for tone in chord.tones}
    return {"3", "b7"} <= degrees or above == 7 or (above == 11 and "b5" in degrees)


def _brought_home(bars: list[CourseBar], chords: TuneChords, *, tagged: bool) -> list[CourseBar]:
    last = bars[-1].bar.chords[-1].chord
    index = _home_at_the_end(bars[-1].bar.key, chords)
    if last is not None and (last.root.pc - chords.home.root.pc) % 12 == _FIFTH:
        index = chords.chords.index(chords.home)  # it leads there, whatever key it stands in
    if last is None or index is None:
        return bars
    home = chords.chords[index]
    if last.root.pc == home.root.pc:
        return bars
    if not tagged and not leads_on(last, home):
        return bars
    turnaround = range(len(bars) - 1, max(-1, len(bars) - 1 - _TURNAROUND_BARS), -1)
    for number in turnaround if tagged else ():
        for first in range(len(bars[number].bar.chords) - 1, -1, -1):
            chord = bars[number].bar.chords[first].chord
            if chord is not None and chord.root.pc == home.root.pc:
                return [
                    *bars[:number],
                    _held(bars[number], first, home, index),
                    *(_held(item, 0, home, index) for item in bars[number + 1 :]),
                ]
    end = bars[-1].bar
    close = replace(end, section=CLOSE, section_bar=0, opens=True, spot=NOWHERE)
    return [*bars, replace(_held(CourseBar(close, (None,)), 0, home, index), added=True)]


def _home_at_the_end(key: Key, chords: TuneChords) -> int | None:
    """The index of the last home chord among the planned chords. A tune may end in another key than
    it began in: then the home chord is the one on that key's root, in its mode if there is one."""
    on_root = [at for at, chord in enumerate(chords.chords) if chord.root.pc == key.tonic.pc]
    home = [at for at in on_root if chords.chords[at] == chords.home]
    of_mode = [at for at in on_root if key.minor == _is_minor(chords.chords[at])]
    return max(home or of_mode or on_root, default=None)


def _is_minor(chord: Chord) -> bool:
    return any(tone.degree == "b3" for tone in chord.tones)


def _held(item: CourseBar, first: int, chord: Chord, index: int) -> CourseBar:
    """The bar with `chord` in place of its `first`-th chord (from 0) and all that follow; as the
    first one it begins with the bar."""
    start = item.bar.chords[first].span.start if first else Fraction(0)
    kept = item.bar.chords[:first]
    span = ChordSpan(chord, Span(start, item.bar.meter.bar))
    bar = replace(item.bar, chords=(*kept, span))
    return replace(item, bar=bar, spans=(*item.spans[:first], index))


def _counted(bars: Sequence[CourseBar]) -> tuple[CourseBar, ...]:
    """The bars numbered and placed one after another."""
    found = []
    start = Fraction(0)
    for number, item in enumerate(bars, 1):
        found.append(replace(item, bar=replace(item.bar, number=number, start=start)))
        start += item.bar.meter.bar
    return tuple(found)


def section_lengths(bars: Sequence[PlayedBar]) -> tuple[int, ...]:
    """For each bar, how many bars its section has. A section that is left for the coda counts as
    long as when it was last whole, so that everybody plays the same up to the coda as then."""
    openings = [at for at, bar in enumerate(bars) if bar.section_bar == 0] + [len(bars)]
    lengths: list[int] = []
    whole: dict[str, int] = {}
    for start, end in pairwise(openings):
        name, length = bars[start].section, end - start
        if not bars[end - 1].leaves:
            whole[name] = length
        lengths += [whole.get(name, length)] * length
    return tuple(lengths)


def addresses(bars: Sequence[PlayedBar]) -> tuple[str, ...]:
    """A name for every bar: chorus, section and how often it has come, bar of the section."""
    times: Counter[tuple[int, str]] = Counter()
    found = []
    for bar in bars:
        if bar.section_bar == 0:
            times[bar.chorus, bar.section] += 1
        number = times[bar.chorus, bar.section]
        found.append(f"{bar.chorus}/{bar.section}/{number}/{bar.section_bar}")
    return tuple(found)


def melody_strokes(
    bars: Sequence[CourseBar], notes: Iterable[MelodyNote], once: Sequence[PlayedBar]
) -> tuple[MelodyStroke, ...]:
    """The melody laid over those of the `bars` that are also in `once`, one time through.

    The `notes` count from the first bar of `once`. A note is cut where the next one begins, and at
    the last bar line.
    """
    line = sorted(notes, key=lambda note: note.span)
    pickup = [note for note in line if note.span.start < 0]
    sources = {bar.spot: bar for bar in reversed(once)}
    on_paper = {bar.spot.on_paper: bar for bar in reversed(once)}
    strokes: list[MelodyStroke] = []
    for item in bars:
        bar = item.bar
        first = sources.get(bar.spot) or on_paper.get(bar.spot.on_paper)
        if first is None or bar.spot == NOWHERE or _borrowed(bar):
            continue
        if first == once[0] and bar.spot == first.spot and not item.added:
            strokes += [_at(note, bar, first) for note in pickup]
        window = Span(first.start, first.start + first.meter.bar)
        strokes += [_at(note, bar, first) for note in line if note.span.start in window]
    if not strokes:
        return ()
    end = bars[-1].bar.start + bars[-1].bar.meter.bar
    strokes = sorted(strokes, key=lambda stroke: stroke.span.start)
    limits = [*(stroke.span.start for stroke in strokes[1:]), end]
    return tuple(
        MelodyStroke(Span(stroke.span.start, min(stroke.span.end, limit)), stroke.pitch)
        for stroke, limit in zip(strokes, limits, strict=True)
        if stroke.span.start < limit
    )


def _borrowed(bar: PlayedBar) -> bool:
    """Whether a bar belongs to an intro that borrows the end of the form."""
    return bar.spot.stage == Stage.INTRO and bar.section != bar.spot.section


def _at(note: MelodyNote, bar: PlayedBar, first: PlayedBar) -> MelodyStroke:
    return MelodyStroke(note.span.shifted(bar.start - first.start), note.pitch)
