"""Make one tune, in every key, position and tempo asked for, in one folder with a manifest.

Conventions: files are made aside and moved into place together, the manifest last. `progress` is
called with the name of what is being made and the finished share of the whole, 0 to 1.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from accomp.errors import OutputError
from accomp.files.paths import StrPath, as_path
from accomp.job.build import Build, BuildRecord, JobProgress, manifest_of
from accomp.job.items import BytesItem, Item, midi_item
from accomp.job.manifest import NAME, Label, MadeTrack, Manifest
from accomp.job.options import Options, as_options
from accomp.job.outside import OUTSIDE, Ingredients, outside_item
from accomp.job.pack import PracticeTrack, audition, cue_sheet, practice_tracks, tuning_track
from accomp.job.paper import score_items, sheet_item
from accomp.job.request import Request, resolve
from accomp.job.sound import Sound, load_sound, sound_item, sound_of
from accomp.job.versions import Version, in_key
from accomp.score.performance import Performance, Role
from accomp.tune import Tune
from accomp.tune.model import as_tune
from accomp.write.formats import MIX_GROUPS, SILENCE_S, MixGroup

if TYPE_CHECKING:
    from accomp.job.workers import Workers


def make_tune(
    tune: Tune, options: Options, folder: StrPath, progress: JobProgress | None = None
) -> Manifest:
    """Make all files of one tune in a folder; returns their manifest.

    Raises `AccompError`s. Then `folder` is unchanged, except that a stopped pack keeps its finished
    work in a hidden folder there and continues from it the next time.
    """
    target = as_path(folder, "the output folder")
    request = resolve(as_tune(tune), as_options(options))
    with contextlib.ExitStack() as stack:
        workers = begun_ahead(request, target, stack)
        job = _tune_job(request, target, progress)
        with job.opened():
            return job.finished(job.build.make(job.items, workers=workers))


def tune_job(
    tune: Tune, options: Options, folder: StrPath, progress: JobProgress | None = None
) -> TuneJob:
    """Plan all files of one tune; nothing is made. Raises `AccompError`s."""
    target = as_path(folder, "the output folder")
    return _tune_job(resolve(as_tune(tune), as_options(options)), target, progress)


def begun_ahead(request: Request, folder: Path, stack: contextlib.ExitStack) -> Workers | None:
    """Processes that load the sound libraries while the work is planned; they end with the stack.

    None when there may be too few items for all of them, or none, since they were made before.
    """
    options = request.options
    least = len(request.keys) * len(request.tempos) * len(options.only)
    made = os.path.exists(folder / NAME) and not options.again
    if options.jobs == 1 or least < options.jobs or made or not request.wants("audio"):
        return None
    from accomp.job.workers import Workers  # late: its imports are slow

    workers = stack.enter_context(Workers(options.jobs, load_sound))
    workers.begin()
    return workers


def _tune_job(request: Request, target: Path, progress: JobProgress | None) -> TuneJob:
    options = request.options
    tell = progress or (lambda what, share: None)
    sounds = request.wants("audio") or any(map(request.wants, OUTSIDE))
    sound = sound_of(request, tell) if sounds else Sound()
    planned = _planned(request, sound)
    _no_two_alike(planned.items)
    build = Build(
        target,
        jobs=options.jobs,
        keep=options.pack,
        again=options.again,
        replace=options.replace,
        progress=tell,
    )
    notices = (*request.notices, *sound.notices, *planned.notices)
    return TuneJob(request.tune.title, tuple(planned.items), planned.tracks, notices, build)


@dataclass(frozen=True)
class TuneJob:
    """The planned items of a tune, and the folder in which they are built."""

    title: str
    items: tuple[Item, ...]
    tracks: tuple[MadeTrack, ...]
    notices: tuple[str, ...]
    build: Build

    @contextlib.contextmanager
    def opened(self) -> Iterator[None]:
        """Open the folder for this process alone. Raises `OutputError`, also when an existing file
        may not be replaced."""
        with self.build.opened():
            self.build.keep_others(name for item in self.items for name in item.labels)
            yield

    def finished(self, records: Sequence[BuildRecord]) -> Manifest:
        """Move all files into place; `records` are those of the items, in order."""
        manifest = manifest_of(
            self.title, self.items, records, tracks=self.tracks, notices=self.notices
        )
        return self.build.move(self.items, manifest)


@dataclass
class _Planned:
    """The items to write, the tracks of the first version, and notices."""

    items: list[Item] = field(default_factory=list)
    tracks: tuple[MadeTrack, ...] = ()
    notices: list[str] = field(default_factory=list)


def _planned(request: Request, sound: Sound) -> _Planned:
    """All items of a request.

    Ladder and drills (which have slower steps of their own) and the audition are made once, at the
    fastest tempo asked for.
    """
    planned = _Planned()
    alike: list[Version] = []
    for key in request.keys:
        found = in_key(request, key)
        fast = [version for version in found if version.tempo == max(request.tempos)]
        alike += fast
        for version in found:
            planned.notices += version.arrangement.notices
            planned.tracks = planned.tracks or _tracks(version.performance)
            planned.items += version_items(version, sound)
            if version.tempo == fast[0].tempo:
                for track in practice_tracks(version):
                    planned.items += _track_items(track, request, sound)
        if request.options.pack:
            tuning = [tuning_track(found[0])] if key == request.keys[0] else []
            for track in (*audition(fast), *tuning):
                planned.items += _track_items(track, request, sound)
    ingredients = Ingredients(tuple(alike), sound)
    planned.items += [outside_item(kind, ingredients) for kind in OUTSIDE if request.wants(kind)]
    return planned


def _tracks(performance: Performance) -> tuple[MadeTrack, ...]:
    return tuple(
        MadeTrack(track.name, track.role, track.program + 1) for track in performance.tracks
    )


def version_items(version: Version, sound: Sound) -> list[Item]:
    """The files of one version: notation, and MIDI and audio for each group of players."""
    request, performance = version.request, version.performance
    files = {
        group: (_stem(version, group), version.label(group))
        for group in (MIX_GROUPS if request.options.pack else MIX_GROUPS[:1])
    }
    items: list[Item] = []
    if request.wants("midi"):
        items += [
            midi_item(f"{stem}.mid", label, only_group(performance, group))
            for group, (stem, label) in files.items()
        ]
    if request.wants("musicxml"):
        items += score_items(version)
    if request.wants("audio"):
        items.append(sound_item(files, performance, sound))
    if request.wants("pdf"):
        items.append(sheet_item(version))
    return items


def _stem(version: Version, group: MixGroup) -> str:
    return version.stem if group == "full" else f"{version.stem}_{group}"


def _track_items(track: PracticeTrack, request: Request, sound: Sound) -> list[Item]:
    """The files of a practice track: MIDI, audio and, if it has cue marks, a cue sheet."""
    items: list[Item] = []
    if request.wants("midi"):
        items.append(midi_item(f"{track.stem}.mid", track.label, track.performance))
    if request.wants("audio"):
        only: dict[MixGroup, tuple[str, Label]] = {"full": (track.stem, track.label)}
        items.append(sound_item(only, track.performance, sound))
        if track.cues:
            audio = f"{track.stem}.{sound.format}"
            text = cue_sheet(track.performance.title, audio, track.cues, SILENCE_S)
            label = replace(track.label, kind="cue")
            items.append(BytesItem({f"{track.stem}.cue": label}, text.encode()))
    return items


def only_group(performance: Performance, group: MixGroup) -> Performance:
    """The performance with the tracks of one group only; the count-in is in every group."""
    if group == "full":
        return performance
    others = {Role.BAND, Role.MELODY}
    wanted = {Role.CLICK} | ({Role.PLAYER} if group == "player" else others)
    kept = tuple(track for track in performance.tracks if track.role in wanted)
    return replace(performance, tracks=kept)


def _no_two_alike(items: Sequence[Item]) -> None:
    names: set[str] = set()
    for item in items:
        for name in item.labels:
            if name in names:
                raise OutputError(f"{name}: two results of this run would have the same name.")
            names.add(name)
