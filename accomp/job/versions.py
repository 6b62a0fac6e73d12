"""The versions of a tune that a job makes: one for each key, position and tempo.

Conventions: keys come first, then positions, then tempi, in the order asked for.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from accomp.harmony import Chord
from accomp.job.asked import Asked
from accomp.job.items import Label
from accomp.job.positions import TuneNeck, plans_for, tune_neck
from accomp.neck import Plan
from accomp.rhythm.stroke import ForceStep
from accomp.score.arrange import Rendition, arrange
from accomp.score.arrangement import Arrangement, Strum
from accomp.score.planning import TuneChords
from accomp.tune import Tune, key_slug, slug, transpose_tune
from accomp.tune.melody import transpose_melody


@dataclass(frozen=True)
class Version:
    """A tune in one key, position and tempo; `plans` holds one plan a chorus.

    `arranged` arranges other plans, one a chorus, in the same way.
    """

    tune: Tune
    chords: TuneChords
    position: str
    plans: tuple[Plan, ...]
    arrangement: Arrangement
    arranged: Callable[[Sequence[Plan]], Arrangement]

    @cached_property
    def written(self) -> Arrangement:
        """What is put on paper: one chorus with its ending when the right hand does the same every
        time through, else the whole arrangement. Arranged when a page is wanted, not before.
        """
        alike = len(self.plans) > 1 and _choruses_alike(self.arrangement)
        return self.arranged(self.plans[:1]) if alike else self.arrangement

    @property
    def tempo(self) -> float:
        """Beats a minute."""
        return self.arrangement.tempo

    @property
    def stem(self) -> str:
        """File name without role and ending."""
        return f"{stem(self.tune, self.tempo)}_{self.position}"

    def label(self, role: str = "full", position: str | None = None) -> Label:
        """What the manifest says of this version's files; the kind is filled in later."""
        styles = dict.fromkeys(bar.style.name for bar in self.arrangement.bars)
        return Label(
            kind="",
            role=role,
            key=str(self.tune.key),
            tempo=self.tempo,
            position=self.position if position is None else position,
            style=", ".join(styles),
        )


def stem(tune: Tune, tempo: float) -> str:
    """Slug, key and tempo of a file name."""
    return f"{slug(tune.title)}_{key_slug(tune.key)}_{f'{tempo:g}'.replace('.', '-')}"


def in_keys(tune: Tune, asked: Asked) -> Iterator[tuple[Tune, TuneNeck]]:
    """The tune in every key asked for, with what the neck offers there."""
    for key in asked.keys:
        moved = transpose_tune(tune, key)
        yield moved, tune_neck(moved, asked)


def versions(tune: Tune, neck: TuneNeck, asked: Asked, seed: int) -> Iterator[Version]:
    """Every version of a tune in one key."""
    for position, plans in plans_for(tune, neck, asked.choruses):
        for tempo in asked.tempos:
            yield version(tune, neck, position, plans, asked, tempo, seed)


def version(
    tune: Tune,
    neck: TuneNeck,
    position: str,
    plans: Sequence[Plan],
    asked: Asked,
    tempo: float,
    seed: int,
    *,
    ending: bool = True,
) -> Version:
    """One version: the plans, arranged; see `arrange` for `ending`."""

    melody = transpose_melody(asked.melody, asked.melody_key, tune.key)

    def arranged(some: Sequence[Plan]) -> Arrangement:
        return arrange(
            tune,
            neck.chords,
            some,
            asked.styles,
            asked.instrument,
            Rendition(tempo, seed, ending, melody),
        )

    return Version(
        tune=tune,
        chords=neck.chords,
        position=position,
        plans=tuple(plans),
        arrangement=arranged(plans),
        arranged=arranged,
    )


def _choruses_alike(arrangement: Arrangement) -> bool:
    """Whether the right hand makes the same strokes over the same chords every time through,
    however hard; the very last bar may be struck otherwise.
    """
    choruses: dict[int, list[tuple[list[Chord | None], list[Strum]]]] = {}
    for bar in arrangement.bars:
        if not bar.added:
            chords = [change.chord for change in bar.changes]
            strums = [
                replace(strum, span=strum.span.shifted(-bar.span.start), force=ForceStep.PLAIN)
                for strum in bar.strums
            ]
            choruses.setdefault(bar.bar.chorus, []).append((chords, strums))
    first, *others = choruses.values()
    if others and not arrangement.bars[-1].added:
        *before, (chords, _) = others[-1]
        others[-1] = [*before, (chords, first[-1][1])]
    return all(other == first for other in others)
