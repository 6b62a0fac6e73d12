"""Several processes making items at once.

Conventions: processes are spawned, never forked (a fork after the synthesiser's threads hangs). A
worker stops at its next sign of progress when it is told to, or when its parent is gone.
"""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from multiprocessing import get_context
from multiprocessing.synchronize import Event
from pathlib import Path

from accomp.errors import OutputError
from accomp.job.items import Item
from accomp.job.workshop import Done, make_item

_stop: Event | None = None
_parent = 0


class _ToldToStopError(Exception):
    """The job was stopped while this worker was at work."""


def run_many(items: Sequence[Item], work: Path, jobs: int) -> Iterator[tuple[Item, Done]]:
    """Make items in `jobs` processes; yields each with its record as it is finished."""
    context = get_context("spawn")
    stop = context.Event()
    pool = ProcessPoolExecutor(
        max_workers=min(jobs, len(items)),
        mp_context=context,
        initializer=_begin,
        initargs=(stop, os.getpid()),
    )
    try:
        # The longest first, so that no worker is left alone with a long one at the end.
        futures = {
            pool.submit(_make, item, work): item
            for item in sorted(items, key=lambda item: -item.weight)
        }
        for future in as_completed(futures):
            yield futures[future], future.result()
    except BrokenProcessPool:
        raise OutputError(
            f"{work.parent}: a worker process ended without a word (out of memory?). Nothing was "
            f"changed; run the command again, it goes on from here, or with --jobs 1."
        ) from None
    finally:
        stop.set()
        pool.shutdown(wait=True, cancel_futures=True)


def _begin(stop: Event, parent: int) -> None:
    """In a new worker: Ctrl-C is the parent's business."""
    global _stop, _parent
    _stop, _parent = stop, parent
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def _make(item: Item, work: Path) -> Done:
    return make_item(item, work, _check)


def _check(share: float) -> None:
    """Called as the work goes on: stop when told to, or when nobody waits for the result."""
    if (_stop is not None and _stop.is_set()) or os.getppid() != _parent:
        raise _ToldToStopError
