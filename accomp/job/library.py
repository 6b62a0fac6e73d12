"""Make a whole library of tunes at once, on other machines.

Conventions: each tune is planned here and made as a whole or not at all, as in `make_tune`. Its
items are made on the workers, together with those of other tunes, so that no worker waits for the
last item of a tune. Results are written at once and not kept in memory. An error of one tune does
not stop the others.
"""

from __future__ import annotations

import contextlib
from collections.abc import Generator, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from accomp.errors import ClusterError
from accomp.job.build import BuildRecord, JobProgress, make_item
from accomp.job.cluster import Cluster, Made
from accomp.job.items import Item
from accomp.job.make import TuneJob, tune_job
from accomp.job.manifest import Manifest
from accomp.job.options import Options
from accomp.tune import Tune

# A tune, and the folder for its files.
Wanted = tuple[Tune, Path]
Result = tuple[Wanted, Manifest | Exception]


def make_library(
    wanted: Sequence[Wanted],
    options: Options,
    cluster: Cluster,
    progress: JobProgress | None = None,
) -> Generator[Result, None, None]:
    """Make all files of tunes on a cluster; yields each tune with its manifest or its error, in the
    order finished.

    Raises `ClusterError` when the cluster fails. Then, and when the iterator is closed, unfinished
    tunes are left as `make_tune` leaves a stopped one.
    """
    work = _Library(options, cluster, len(wanted), progress or (lambda what, share: None))
    try:
        for one in wanted:
            yield from work.begin(one)
            while len(work.pending) >= cluster.room:
                yield from work.take()
        while work.pending:
            yield from work.take()
    finally:
        work.stop()


@dataclass(eq=False)
class _InWork:
    """A tune whose items are being made."""

    wanted: Wanted
    job: TuneJob
    records: dict[str, BuildRecord | None]
    open: contextlib.ExitStack
    missing: int = 0

    def leave(self, error: BaseException) -> None:
        """Give the tune up because of an error; a stopped pack keeps its finished work."""
        self.open.__exit__(type(error), error, error.__traceback__)

    def finish(self) -> Manifest:
        """Move all files into place."""
        records = (self.records[item.inputs] for item in self.job.items)
        with self.open:
            return self.job.finished([record for record in records if record is not None])


class _StoppedError(Exception):
    """The whole library was stopped."""


@dataclass
class _Library:
    options: Options
    cluster: Cluster
    tunes: int
    tell: JobProgress
    done: int = 0
    in_work: list[_InWork] = field(default_factory=list)
    pending: dict[Made, tuple[_InWork, Item]] = field(default_factory=dict)

    def begin(self, wanted: Wanted) -> Iterator[Result]:
        """Plan a tune and hand its missing items over to the cluster."""
        try:
            job = tune_job(wanted[0], self.options, wanted[1], self._waiting)
            with contextlib.ExitStack() as stack:
                stack.enter_context(job.opened())
                records = job.build.found(job.items)
                for item in job.items:
                    if item.at_hand and records[item.inputs] is None:
                        records[item.inputs] = make_item(job.build.work, item, lambda share: None)
                one = _InWork(wanted, job, records, stack.pop_all())
        except Exception as error:
            yield self._ended(wanted, error)
            return
        self.in_work.append(one)
        missing = {item.inputs: item for item in job.items if one.records[item.inputs] is None}
        one.missing = len(missing)
        # The longest first, so that no worker is left alone with a long one at the end.
        for item in sorted(missing.values(), key=lambda item: -item.weight):
            self.pending[self.cluster.submit(item)] = (one, item)
        if not missing:
            yield self._finished(one)

    def take(self) -> Iterator[Result]:
        """Wait for some items, and finish each tune whose last item is among them."""
        for future in self.cluster.some(self.pending, self._waiting):
            if future not in self.pending:  # its tune was given up because of another item
                continue
            one, item = self.pending.pop(future)
            try:
                made = self.cluster.result(future)
                if made is None:
                    self.pending[self.cluster.submit(item)] = (one, item)
                    continue
                one.records[item.inputs] = one.job.build.put(item, made.files, made.outcome)
            except ClusterError:
                raise
            except Exception as error:
                self._forget(one)
                one.leave(error)
                yield self._ended(one.wanted, error)
                continue
            one.missing -= 1
            self.tell(f"{one.job.title}: {next(iter(item.labels))}", self._share())
            if not one.missing:
                yield self._finished(one)

    def _finished(self, one: _InWork) -> Result:
        self.in_work.remove(one)
        try:
            return self._ended(one.wanted, one.finish())
        except Exception as error:
            return self._ended(one.wanted, error)

    def _ended(self, wanted: Wanted, result: Manifest | Exception) -> Result:
        self.done += 1
        self.tell(wanted[0].title, self._share())
        return wanted, result

    def _share(self) -> float:
        begun = sum(1 - one.missing / len(one.job.items) for one in self.in_work if one.job.items)
        return (self.done + begun) / self.tunes

    def _waiting(self, what: str, share: float = 0.0) -> None:
        """Report a message while a voice is built on this machine, or while no worker is left."""
        self.tell(what, self._share())

    def _forget(self, one: _InWork) -> None:
        """Cancel the pending items of a tune."""
        self.in_work.remove(one)
        for future in [future for future, (whose, _) in self.pending.items() if whose is one]:
            del self.pending[future]
            future.cancel()

    def stop(self) -> None:
        """Cancel everything that is not finished."""
        for one in list(self.in_work):
            self._forget(one)
            one.leave(_StoppedError())
