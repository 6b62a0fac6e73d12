"""Building a job's files: several at once, taking up where a stopped run left off.

Conventions: work lies in a hidden folder inside the output folder. A finished item has its files
there as `<inputs>-<number>` and, written last, a record `<inputs>.done`; every write goes to a
name of its own first and is then moved, so that whatever has its final name is whole. An item is
not made again when its record is there, or when the earlier manifest lists its files with the same
inputs and their bytes are still those. Nothing outside the hidden folder changes before all items
are done; then files are moved into place, the manifest last. A file in the way that is not as an
earlier run made it is somebody's work: it is told of before anything is made.
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

if TYPE_CHECKING:  # its imports take a while, and only several processes need them
    from accomp.job.workers import Workers

WORK = ".accomp-work"
JobProgress = Callable[[str, float], None]


@dataclass(frozen=True)
class BuildRecord:
    """The record of a finished item: SHA-256 of each of its files, and what came of it."""

    sha256: dict[str, str]
    outcome: Outcome


class Build:
    """A folder in which a job's items are made.

    With `keep` a stopped run leaves its finished items for the next one to take up; with `again`
    nothing is taken up, neither from a stopped run nor from a finished one. With `replace` files
    are replaced that no earlier run is known to have made so.
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
        """The folder and its hidden one, for this process alone; tidied up at the end.

        Raises `OutputError` when another process is at work there.
        """
        with locked_folder(self.folder):  # who does not get the lock must not tidy up either
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
                if self.again:  # a later run must not take up what this one was to make anew
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
        """For each name the SHA-256 of what earlier runs made, finished ones or not: one that was
        killed while it moved its files has put some of them into place."""
        known: dict[str, set[str]] = {}
        records = map(_read_record, self.work.glob("*.done"))
        rows = [record.sha256 for record in records if record is not None]
        for row in (*rows, known_files(read_manifest(self.folder))):
            for name, sha in row.items():
                known.setdefault(name, set()).add(sha)
        return known

    def keep_others(self, names: Iterable[str], new: Mapping[str, str] | None = None) -> None:
        """Raise `OutputError` when one of the names is a file that is not to be lost.

        `new` has the SHA-256 of the new files, as far as they are known.
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
        """Make every item that is not there yet; returns their records in order.

        `share` is the part of the whole work that this is, for the progress; `workers` are those
        that were begun ahead, and are gone afterwards.
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
        """By each item's inputs the record of what is there already, whole; None for the rest."""
        earlier = self._earlier()
        return {item.inputs: None if self.again else self._found(item, earlier) for item in items}

    def put(self, item: Item, files: Mapping[str, bytes], outcome: Outcome) -> BuildRecord:
        """Keep an item that was made elsewhere: the bytes of its files by their names."""

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
        """Each item with its record, as it is made; `tell` is told how much of it is done."""
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
        """Files of an earlier run by name, as its manifest lists them."""
        manifest = read_manifest(self.folder)
        return {} if manifest is None else {file.path: file for file in manifest.files}

    def _found(self, item: Item, earlier: dict[str, MadeFile]) -> BuildRecord | None:
        """The record of an item that is already there, whole."""
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
        """Where the finished files of an item wait."""
        return _paths(self.work, item)

    def move(self, items: Sequence[Item], manifest: Manifest) -> Manifest:
        """Move all files into place, the manifest last; returns it with what earlier runs made and
        what still lies there. Raises `OutputError`."""
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
    """What is to be said of items by their labels and records, after other `notices`."""
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
    """Let an item's files be written to names of our own; give them theirs, and a record, last."""
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
    """Clear away whatever in the hidden folder is no plain file: nothing could be written there."""
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
