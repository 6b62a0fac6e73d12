"""Making a job's items: several at once, taking up where a stopped run left off.

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
from pathlib import Path

import msgspec

from accomp.errors import OutputError
from accomp.files.folders import OutputFolder, output_errors
from accomp.files.lock import locked
from accomp.files.moving import move_all
from accomp.job.items import Item, Said
from accomp.job.manifest import NAME, MadeFile, Manifest, is_still, sha256

WORK = ".accomp-work"
Progress = Callable[[str, float], None]


@dataclass(frozen=True)
class Done:
    """The record of a finished item: SHA-256 of each of its files, and what it said."""

    sha256: dict[str, str]
    said: Said


class Workshop:
    """A folder in which a job's items are made."""

    def __init__(self, folder: Path, *, keep: bool, again: bool = False) -> None:
        """With `keep` a stopped run leaves its finished items for the next one to take up; with
        `again` nothing is taken up, neither from a stopped run nor from a finished one.
        """
        self.folder = folder
        self.work = folder / WORK
        self.keep = keep
        self.again = again
        self.place = OutputFolder(folder)

    @contextlib.contextmanager
    def opened(self) -> Iterator[Workshop]:
        """The folder and its hidden one, for this process alone; tidied up at the end."""
        self.place.make()
        try:
            with output_errors(self.folder):
                self.work.mkdir(exist_ok=True)
        except OutputError:
            self.place.unmake()
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
                    self.place.keep()
                self.place.unmake()

    def make(self, items: Sequence[Item], jobs: int, progress: Progress) -> list[Done]:
        """Make every item that is not there yet; returns their records in order."""
        earlier = self._earlier()
        records: dict[str, Done | None] = {
            item.inputs: None if self.again else self._found(item, earlier) for item in items
        }
        wanted = {item.inputs: item for item in items if records[item.inputs] is None}
        total = sum(item.weight for item in wanted.values()) or 1.0
        done_weight = 0.0
        for item, made in self._run(list(wanted.values()), jobs, progress, total):
            records[item.inputs] = made
            done_weight += item.weight
            progress(next(iter(item.labels)), done_weight / total)
        return [record for item in items if (record := records[item.inputs]) is not None]

    def _run(
        self, items: list[Item], jobs: int, progress: Progress, total: float
    ) -> Iterator[tuple[Item, Done]]:
        if jobs > 1 and len(items) > 1:
            from accomp.job.crew import run_many

            yield from run_many(items, self.work, jobs)
            return
        before = 0.0
        for item in items:
            name, base = next(iter(item.labels)), before

            def tell(share: float, item: Item = item, name: str = name, base: float = base) -> None:
                progress(name, (base + share * item.weight) / total)

            yield item, make_item(item, self.work, tell)
            before += item.weight

    def _earlier(self) -> dict[str, MadeFile]:
        """Files of an earlier run by name, as its manifest lists them."""
        try:
            manifest = msgspec.json.decode((self.folder / NAME).read_bytes(), type=Manifest)
        except (OSError, msgspec.DecodeError, UnicodeDecodeError):
            return {}
        return {file.path: file for file in manifest.files}

    def _found(self, item: Item, earlier: dict[str, MadeFile]) -> Done | None:
        """The record of an item that is already there, whole."""
        record = _read_record(self.work / f"{item.inputs}.done")
        if record is not None and record.sha256.keys() == item.labels.keys():
            aside = work_paths(item, self.work)
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
            said = Said(known[0].notices, known[0].soundfont, known[0].synth)
            return Done({row.path: row.sha256 for row in known}, said)
        return None

    def move(self, items: Sequence[Item], manifest: bytes) -> None:
        """Move all files into place, the manifest last. Raises `OutputError`."""
        with output_errors(self.folder):
            for item in items:
                for name in item.labels:
                    if (self.folder / name).is_dir():
                        raise OutputError(f"{self.folder / name}: a folder stands in the way")
            aside = self.work / NAME
            aside.write_bytes(manifest)
            new = [
                (path, self.folder / name)
                for item in items
                for name, path in work_paths(item, self.work).items()
                if path.exists()
            ]
            move_all([*new, (aside, self.folder / NAME)], self.work / "earlier")


def work_paths(item: Item, work: Path) -> dict[str, Path]:
    """Where the finished files of an item wait."""
    return {name: work / f"{item.inputs}-{number}" for number, name in enumerate(item.labels)}


def make_item(item: Item, work: Path, progress: Callable[[float], None]) -> Done:
    """Make one item in the hidden folder and write its record. Raises `AccompError`s."""
    final = work_paths(item, work)
    own = {name: path.with_name(f"{path.name}.{os.getpid()}") for name, path in final.items()}
    try:
        said = item.write(own, progress)
        with output_errors(work.parent):
            record = Done({name: sha256(path) for name, path in own.items()}, said)
            for name, path in own.items():
                os.replace(path, final[name])
            aside = work / f"{item.inputs}.done.{os.getpid()}"
            aside.write_bytes(msgspec.json.encode(record))
            os.replace(aside, work / f"{item.inputs}.done")
    finally:
        for path in own.values():
            path.unlink(missing_ok=True)
    return record


def _read_record(path: Path) -> Done | None:
    try:
        return msgspec.json.decode(path.read_bytes(), type=Done)
    except (OSError, msgspec.DecodeError, UnicodeDecodeError):
        return None
