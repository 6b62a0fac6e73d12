"""Building a job's files, in several processes, continuing where a stopped run ended.

Conventions: work is done in a hidden folder inside the output folder. A finished item has its files
there as `<inputs>-<number>`, and a record `<inputs>.done` that is written last. Every file is
written under a temporary name and then renamed, so that a file with its final name is whole. An
item is not made again when its record is there, or when the earlier manifest has its files with the
same inputs and their bytes are unchanged. Nothing outside the hidden folder changes before all
items are done; then files are moved into place, the manifest last. An existing file that differs
from what an earlier run made belongs to somebody: it is reported before anything is made.
"""

from __future__ import annotations

import contextlib
import os
import shutil
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec

from accomp.errors import OutputError
from accomp.files.folders import OutputFolder, output_errors
from accomp.files.keeping import keep_others
from accomp.files.lock import locked_folder
from accomp.files.moving import move_all
from accomp.files.plain import is_still, open_plain, sha256
from accomp.files.text import one_line
from accomp.job.items import Item, Outcome
from accomp.job.manifest import (
    NAME,
    MadeFile,
    MadeTrack,
    Manifest,
    known_files,
    read_manifest,
)

if TYPE_CHECKING:  # its imports are slow, and only several processes need them
    from accomp.job.workers import Workers

WORK = ".accomp-work"
JobProgress = Callable[[str, float], None]


@dataclass(frozen=True)
class BuildRecord:
    """The record of a finished item: the SHA-256 of each of its files by name, and the outcome."""

    sha256: dict[str, str]
    outcome: Outcome


class Build:
    """A folder in which a job's items are made.

    With `keep` a stopped run leaves its finished items to the next run. With `again` every item is
    made anew, whether an earlier run was stopped or finished. With `replace` files are replaced
    even if no earlier run made them.
    """

    def __init__(
        self,
        folder: Path,
        *,
        jobs: int = 1,
        keep: bool = False,
        again: bool = False,
        replace: bool = False,
        progress: JobProgress | None = None,
    ) -> None:
        self.folder = folder
        self.work = folder / WORK
        self.jobs, self.keep, self.again, self.replace = jobs, keep, again, replace
        self._known: dict[str, set[str]] = {}
        self.progress = progress or (lambda what, share: None)

    @contextlib.contextmanager
    def opened(self) -> Iterator[Build]:
        """Make and lock the folder and its hidden folder; tidied up at the end.

        Raises `OutputError` when another process works there.
        """
        with locked_folder(self.folder):  # without the lock nothing may be tidied up, either
            output = OutputFolder(self.folder)
            output.make()
            try:
                with output_errors(self.folder):
                    self.work.mkdir(exist_ok=True)
                    _only_files(self.work)
            except OutputError:
                output.unmake()
                raise
            finished = False
            try:
                self._known = self._made_before()
                if self.again:  # if this run is stopped, the next one must not reuse these, either
                    for record in self.work.glob("*.done"):
                        record.unlink(missing_ok=True)
                yield self
                finished = True
            finally:
                if finished or not self.keep:
                    shutil.rmtree(self.work, ignore_errors=True)
                if finished:
                    output.keep()
                output.unmake()

    def _made_before(self) -> dict[str, set[str]]:
        """The SHA-256 values of files that earlier runs made, by name.

        Unfinished runs count: one that was killed while moving files has put some into place.
        """
        known: dict[str, set[str]] = {}
        records = map(_read_record, self.work.glob("*.done"))
        rows = [record.sha256 for record in records if record is not None]
        for row in (*rows, known_files(read_manifest(self.folder))):
            for name, sha in row.items():
                known.setdefault(name, set()).add(sha)
        return known

    def keep_others(self, names: Iterable[str], new: Mapping[str, str] | None = None) -> None:
        """Raise `OutputError` when a file of one of these names may not be replaced.

        `new` has the SHA-256 of the new files by name, as far as known.
        """
        with output_errors(self.folder):
            for name in names:
                known = self._known.get(name, set()) | {(new or {}).get(name, "")}
                keep_others(self.folder / name, known=known, replace=self.replace)
            ours = read_manifest(self.folder) is not None
            keep_others(self.folder / NAME, replace=self.replace or ours)

    def make(
        self,
        items: Sequence[Item],
        share: tuple[float, float] = (0.0, 1.0),
        workers: Workers | None = None,
    ) -> list[BuildRecord]:
        """Make every item that is not there yet; returns the records of all items in order.

        `share` has begin and end of this work in the progress from 0 to 1. `workers` were started
        ahead; they are ended here. Raises `AccompError`s.
        """
        records = self.found(items)
        wanted = {item.inputs: item for item in items if records[item.inputs] is None}
        total = sum(item.weight for item in wanted.values()) or 1.0
        begin, end = share
        done = 0.0

        def tell(item: Item, more: float = 0.0) -> None:
            reached = (done + more) / total
            self.progress(next(iter(item.labels)), begin + (end - begin) * reached)

        for item, made in self._run(list(wanted.values()), tell, workers):
            records[item.inputs] = made
            done += item.weight
            tell(item)
        return [record for item in items if (record := records[item.inputs]) is not None]

    def found(self, items: Sequence[Item]) -> dict[str, BuildRecord | None]:
        """By each item's `inputs`: its record if its files are there, whole, else None."""
        earlier = self._earlier()
        return {item.inputs: None if self.again else self._found(item, earlier) for item in items}

    def put(self, item: Item, files: Mapping[str, bytes], outcome: Outcome) -> BuildRecord:
        """Keep an item that was made elsewhere; `files` has the bytes of its files by name."""

        def write(paths: Mapping[str, Path]) -> Outcome:
            with output_errors(self.folder):
                for name, path in paths.items():
                    path.write_bytes(files[name])
            return outcome

        return _kept(self.work, item, write)

    def _run(
        self,
        items: list[Item],
        tell: Callable[[Item, float], None],
        workers: Workers | None,
    ) -> Iterator[tuple[Item, BuildRecord]]:
        """Each item with its record, in the order finished; `tell` is called with progress."""
        if self.jobs > 1 and len(items) > 1:
            from accomp.job.workers import Workers

            # The longest first, so that no worker is left alone with a long one at the end.
            items = sorted(items, key=lambda item: -item.weight)
            with workers or Workers(min(self.jobs, len(items))) as ours:
                yield from ours.done(partial(make_item, self.work), items)
            return
        for item in items:

            def tell_of(share: float, item: Item = item) -> None:
                tell(item, share * item.weight)

            yield item, make_item(self.work, item, tell_of)

    def _earlier(self) -> dict[str, MadeFile]:
        """The files in the manifest of an earlier run, by name."""
        manifest = read_manifest(self.folder)
        return {} if manifest is None else {file.path: file for file in manifest.files}

    def _found(self, item: Item, earlier: dict[str, MadeFile]) -> BuildRecord | None:
        """The record of an item whose files are there, whole; else None."""
        record = _read_record(self.work / f"{item.inputs}.done")
        if record is not None and record.sha256.keys() == item.labels.keys():
            aside = self.paths(item)
            paths = {
                name: next((p for p in (aside[name], self.folder / name) if is_still(p, sha)), None)
                for name, sha in record.sha256.items()
            }
            whole = {name: path for name, path in paths.items() if path is not None}
            if len(whole) == len(paths) and item.usable(whole):
                return record
        rows = [earlier.get(name) for name in item.labels]
        if all(
            row is not None
            and row.inputs == item.inputs
            and is_still(self.folder / row.path, row.sha256)
            for row in rows
        ):
            known = [row for row in rows if row is not None]
            outcome = Outcome(known[0].notices, known[0].soundfont, known[0].synth)
            return BuildRecord({row.path: row.sha256 for row in known}, outcome)
        return None

    def paths(self, item: Item) -> dict[str, Path]:
        """The finished files of an item in the hidden folder, by name."""
        return _paths(self.work, item)

    def move(self, items: Sequence[Item], manifest: Manifest) -> Manifest:
        """Move all files into place, the manifest last.

        Returns the manifest with the files of earlier runs that are still there. Raises
        `OutputError`.
        """
        names = [name for item in items for name in item.labels]
        self.keep_others(names, known_files(manifest))
        before = known_files(read_manifest(self.folder))
        earlier = {
            name: sha
            for name, sha in sorted(before.items())
            if name not in names and Path(name).name == name and (self.folder / name).is_file()
        }
        manifest = replace(manifest, earlier=earlier)
        with output_errors(self.folder):
            aside = self.work / NAME
            aside.write_bytes(manifest.json())
            new = [
                (path, self.folder / name)
                for item in items
                for name, path in self.paths(item).items()
                if path.exists()
            ]
            move_all([*new, (aside, self.folder / NAME)], self.work / "earlier")
        return manifest


def manifest_of(
    title: str,
    items: Sequence[Item],
    records: Sequence[BuildRecord],
    *,
    tracks: tuple[MadeTrack, ...] = (),
    notices: Sequence[str] = (),
) -> Manifest:
    """The manifest of items, from their labels and records; `notices` come before their own."""
    outcomes = [record.outcome for record in records]
    said = [notice for one in outcomes for notice in one.notices]
    files = tuple(
        MadeFile(
            path=name,
            kind=label.kind or "",
            role=label.role,
            part=label.part,
            key=label.key,
            tempo=label.tempo,
            position=label.position,
            style=label.style,
            sha256=record.sha256[name],
            inputs=item.inputs,
            notices=record.outcome.notices,
            soundfont=record.outcome.soundfont,
            synth=record.outcome.synth,
        )
        for item, record in zip(items, records, strict=True)
        for name, label in item.labels.items()
    )
    return Manifest(
        tune=title,
        files=files,
        tracks=tracks,
        soundfont=next((one.soundfont for one in outcomes if one.soundfont), None),
        synth=next((one.synth for one in outcomes if one.synth), None),
        notices=tuple(dict.fromkeys([*map(one_line, notices), *said])),
    )


def make_item(work: Path, item: Item, progress: Callable[[float], None]) -> BuildRecord:
    """Make one item in the hidden folder and write its record. Raises `AccompError`s."""
    return _kept(work, item, lambda paths: item.write(paths, progress))


def _kept(work: Path, item: Item, write: Callable[[Mapping[str, Path]], Outcome]) -> BuildRecord:
    """Call `write` with temporary paths; then rename the files and write the item's record."""
    final = _paths(work, item)
    own = {name: path.with_name(f"{path.name}.{os.getpid()}") for name, path in final.items()}
    try:
        outcome = write(own)
        with output_errors(work.parent):
            record = BuildRecord({name: sha256(path) for name, path in own.items()}, outcome)
            for name, path in own.items():
                os.replace(path, final[name])
            aside = work / f"{item.inputs}.done.{os.getpid()}"
            aside.write_bytes(msgspec.json.encode(record))
            os.replace(aside, work / f"{item.inputs}.done")
    finally:
        for path in own.values():
            path.unlink(missing_ok=True)
    return record


def _paths(work: Path, item: Item) -> dict[str, Path]:
    return {name: work / f"{item.inputs}-{number}" for number, name in enumerate(item.labels)}


def _only_files(work: Path) -> None:
    """Remove everything from the hidden folder that is no plain file and would be in the way."""
    for entry in list(os.scandir(work)):
        if entry.is_dir(follow_symlinks=False):
            shutil.rmtree(entry.path, ignore_errors=True)
        elif not entry.is_file(follow_symlinks=False):
            os.unlink(entry.path)


def _read_record(path: Path) -> BuildRecord | None:
    try:
        with open_plain(path) as stream:
            return msgspec.json.decode(stream.read(), type=BuildRecord)
    except (OSError, msgspec.DecodeError, UnicodeDecodeError):
        return None
