"""Building a job's files: several at once, taking up where a stopped run left off.

Conventions: work lies in a hidden folder inside the output folder. A finished item has its files
there as `<inputs>-<number>` and, written last, a record `<inputs>.done`; every write goes to a
name of its own first and is then moved, so that whatever has its final name is whole. An item is
not made again when its record is there, or when the earlier manifest lists its files with the same
inputs and their bytes are still those. Nothing outside the hidden folder changes before all items
are done; then files are moved into place, the manifest last.
"""

from __future__ import annotations

import contextlib
import os
import shutil
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import msgspec

from accomp.errors import OutputError
from accomp.files.folders import OutputFolder, output_errors
from accomp.files.lock import locked
from accomp.files.moving import move_all
from accomp.job.items import Item, Outcome
from accomp.job.manifest import (
    NAME,
    MadeFile,
    MadeTrack,
    Manifest,
    is_still,
    read_manifest,
    sha256,
)

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
    nothing is taken up, neither from a stopped run nor from a finished one.
    """

    def __init__(
        self,
        folder: Path,
        *,
        jobs: int = 1,
        keep: bool = False,
        again: bool = False,
        progress: JobProgress | None = None,
    ) -> None:
        self.folder = folder
        self.work = folder / WORK
        self.jobs, self.keep, self.again = jobs, keep, again
        self.progress = progress or (lambda what, share: None)

    @contextlib.contextmanager
    def opened(self) -> Iterator[Build]:
        """The folder and its hidden one, for this process alone; tidied up at the end."""
        place = OutputFolder(self.folder)
        place.make()
        try:
            with output_errors(self.folder):
                self.work.mkdir(exist_ok=True)
        except OutputError:
            place.unmake()
            raise
        with locked(self.work / "lock"):  # who does not get the lock must not tidy up either
            finished = False
            if self.again:  # a later run must not take up what this one was to make anew
                for record in self.work.glob("*.done"):
                    record.unlink(missing_ok=True)
            try:
                yield self
                finished = True
            finally:
                if finished or not self.keep:
                    shutil.rmtree(self.work, ignore_errors=True)
                if finished:
                    place.keep()
                place.unmake()

    def make(
        self, items: Sequence[Item], share: tuple[float, float] = (0.0, 1.0)
    ) -> list[BuildRecord]:
        """Make every item that is not there yet; returns their records in order.

        `share` is the part of the whole work that this is, for the progress.
        """
        earlier = self._earlier()
        records: dict[str, BuildRecord | None] = {
            item.inputs: None if self.again else self._found(item, earlier) for item in items
        }
        wanted = {item.inputs: item for item in items if records[item.inputs] is None}
        total = sum(item.weight for item in wanted.values()) or 1.0
        begin, end = share
        done = 0.0

        def tell(item: Item, more: float = 0.0) -> None:
            part = (done + more) / total
            self.progress(next(iter(item.labels)), begin + (end - begin) * part)

        for item, made in self._run(list(wanted.values()), tell):
            records[item.inputs] = made
            done += item.weight
            tell(item)
        return [record for item in items if (record := records[item.inputs]) is not None]

    def _run(
        self, items: list[Item], tell: Callable[[Item, float], None]
    ) -> Iterator[tuple[Item, BuildRecord]]:
        """Each item with its record, as it is made; `tell` is told how much of it is done."""
        if self.jobs > 1 and len(items) > 1:
            from accomp.job.workers import done_by_many

            # The longest first, so that no worker is left alone with a long one at the end.
            items = sorted(items, key=lambda item: -item.weight)
            yield from done_by_many(partial(make_item, self.work), items, self.jobs)
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
            if all(
                is_still(aside[name], sha) or is_still(self.folder / name, sha)
                for name, sha in record.sha256.items()
            ):
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

    def move(self, items: Sequence[Item], manifest: Manifest) -> None:
        """Move all files into place, the manifest last. Raises `OutputError`."""
        with output_errors(self.folder):
            for item in items:
                for name in item.labels:
                    if (self.folder / name).is_dir():
                        raise OutputError(f"{self.folder / name}: a folder stands in the way")
            aside = self.work / NAME
            aside.write_bytes(manifest.json())
            new = [
                (path, self.folder / name)
                for item in items
                for name, path in self.paths(item).items()
                if path.exists()
            ]
            move_all([*new, (aside, self.folder / NAME)], self.work / "earlier")


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
        notices=tuple(dict.fromkeys([*notices, *(n for one in outcomes for n in one.notices)])),
    )


def make_item(work: Path, item: Item, progress: Callable[[float], None]) -> BuildRecord:
    """Make one item in the hidden folder and write its record. Raises `AccompError`s."""
    final = _paths(work, item)
    own = {name: path.with_name(f"{path.name}.{os.getpid()}") for name, path in final.items()}
    try:
        outcome = item.write(own, progress)
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


def _read_record(path: Path) -> BuildRecord | None:
    try:
        return msgspec.json.decode(path.read_bytes(), type=BuildRecord)
    except (OSError, msgspec.DecodeError, UnicodeDecodeError):
        return None
