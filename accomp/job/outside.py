"""Kinds of file that a room to the right of the job makes.

The job knows only the name of such a kind. Its maker, a function from `Ingredients` to an item,
comes from `accomp/__init__.py`, which knows all rooms. So the job need not import the room, and the
room may import the job.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Literal, cast, get_args

import accomp
from accomp.files.aside import Batch
from accomp.files.plain import sha256
from accomp.job.build import BuildRecord, JobProgress, manifest_of
from accomp.job.items import Item
from accomp.job.manifest import Manifest, known_files, read_manifest
from accomp.job.options import Options
from accomp.job.request import resolve
from accomp.job.sound import Sound, sound_of
from accomp.job.versions import Version, versions
from accomp.tune import Tune

OutsideKind = Literal["page"]
OUTSIDE: tuple[OutsideKind, ...] = get_args(OutsideKind)


@dataclass(frozen=True)
class Ingredients:
    """The input of a maker: the versions of a tune at one tempo, and the sound."""

    versions: tuple[Version, ...]
    sound: Sound


def outside_item(kind: OutsideKind, ingredients: Ingredients) -> Item:
    """The item of a kind."""
    maker = cast(Callable[[Ingredients], Item], accomp._maker(kind))
    return maker(ingredients)


def make_alone(
    kind: OutsideKind,
    tune: Tune,
    options: Options,
    folder: Path,
    progress: JobProgress | None = None,
) -> Manifest:
    """Make the files of one kind only; returns the manifest, which is not written.

    Raises `AccompError`s; then `folder` is unchanged.
    """
    tell = progress or (lambda what, share: None)
    request = resolve(tune, options)
    sound = sound_of(request, tell)
    found = [one for one in versions(request) if one.tempo == max(request.tempos)]
    notices = [notice for version in found for notice in version.arrangement.notices]
    item = outside_item(kind, Ingredients(tuple(found), sound))
    known = {name: {sha} for name, sha in known_files(read_manifest(folder)).items()}
    inputs = [Path(tune.file)] if tune.file else []
    with Batch(folder, replace=options.replace, inputs=inputs, known=known) as batch:
        paths = {name: batch.path(name) for name in item.labels}
        outcome = item.write(paths, lambda share: tell(kind, share))
        record = BuildRecord({name: sha256(path) for name, path in paths.items()}, outcome)
        batch.commit()
    notices = [*request.notices, *sound.notices, *notices]
    return manifest_of(tune.title, [item], [record], notices=notices)
