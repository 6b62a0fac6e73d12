"""The versions of a tune that a job makes: one for each key, position and tempo.

Conventions: keys come first, then positions, then tempi, in the order asked for. A version is
arranged once, when its arrangement is first used.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from accomp.harmony import Key
from accomp.job.manifest import FileRole, Label
from accomp.job.positions import TuneNeck, in_its_place, plans_for, tune_neck
from accomp.job.request import Request
from accomp.neck import Plan
from accomp.score.arrange import Rendition, arrange
from accomp.score.arrangement import Arrangement
from accomp.score.as_first import every_time_as_the_first
from accomp.score.perform import perform
from accomp.score.performance import Performance, mirrored
from accomp.tune import Tune, key_slug, slug, transpose_tune
from accomp.tune.melody import transpose_melody


@dataclass(frozen=True)
class Version:
    """A tune in one key, position and tempo (beats a minute); `plans` holds one plan a chorus.

    `neck` has the tune in its key; `ending` says whether the style's ending is played.
    """

    request: Request
    neck: TuneNeck
    position: str
    plans: tuple[Plan, ...]
    tempo: float
    ending: bool = True

    @cached_property
    def arrangement(self) -> Arrangement:
        """What everybody plays."""
        return self._arranged(self.plans)

    @cached_property
    def on_paper(self) -> Arrangement:
        """The arrangement as it is printed: each chorus like the first, if the right hand plays the
        same in all."""
        return every_time_as_the_first(self.arrangement)

    def _arranged(self, plans: Sequence[Plan]) -> Arrangement:
        request, tune = self.request, self.tune
        melody = transpose_melody(request.melody, request.tune.key, tune.key)
        return arrange(
            tune,
            self.neck.chords,
            plans,
            request.styles,
            request.player.instrument,
            Rendition(self.tempo, request.options.seed, self.ending, melody),
        )

    @cached_property
    def performance(self) -> Performance:
        """The arrangement in seconds, after the count-in asked for."""
        return self._performed(self.arrangement, self.request.options.count_in)

    def one_chorus(self, plan: Plan, share: float = 1.0) -> Performance:
        """The form once at a share of the tempo, with a count-in, without intro, coda or ending."""
        neck = replace(self.neck, tune=one_time(self.tune))
        slow = replace(self, neck=neck, plans=(plan,), tempo=self.tempo * share, ending=False)
        return self._performed(slow.arrangement, max(1, self.request.options.count_in))

    def _performed(self, arrangement: Arrangement, count_in: int) -> Performance:
        performance = perform(arrangement, count_in=count_in)
        on_the_right = self.request.options.side == "right"
        return mirrored(performance) if on_the_right else performance

    @property
    def tune(self) -> Tune:
        """The tune in the key of this version."""
        return self.neck.tune

    @property
    def stem(self) -> str:
        """File name without role and ending."""
        return f"{self.stem_of_all_positions}_{self.position}"

    @property
    def stem_of_all_positions(self) -> str:
        """Slug, key and tempo of a file name."""
        tempo = f"{self.tempo:g}".replace(".", "-")
        return f"{slug(self.tune.title)}_{key_slug(self.tune.key)}_{tempo}"

    def label(self, role: FileRole = "full", position: str | None = None) -> Label:
        """The label of this version's files in the manifest; the kind is filled in later."""
        styles = dict.fromkeys(bar.style.name for bar in self.arrangement.bars)
        return Label(
            kind=None,
            role=role,
            key=str(self.tune.key),
            tempo=self.tempo,
            position=self.position if position is None else position,
            style=", ".join(styles),
        )


def versions(request: Request) -> list[Version]:
    """Every version asked for. Raises `InputError` with each chord that cannot be played."""
    return [version for key in request.keys for version in in_key(request, key)]


def in_key(request: Request, key: Key) -> list[Version]:
    """Every version in one key. Raises as `versions`."""
    neck = tune_neck(transpose_tune(request.tune, key), request)
    with in_its_place(neck):
        return [
            Version(request, neck, position, plans, tempo)
            for position, plans in plans_for(neck, request.choruses)
            for tempo in request.tempos
        ]


def one_time(tune: Tune) -> Tune:
    """The tune without intro, verse and coda."""
    return replace(tune, intro=None, verse=(), coda=())
