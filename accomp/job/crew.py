"""Several processes making items at once.

Conventions: processes are spawned, never forked (a fork after the synthesiser's threads hangs). A
worker stops at its next sign of progress when it is told to, and at once when its parent is gone.
"""

from __future__ import annotations

import contextlib
import os
import signal
import threading
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from multiprocessing import get_context, parent_process
from multiprocessing.synchronize import Event
from pathlib import Path

from accomp.errors import OutputError
from accomp.job.items import Item
from accomp.job.workshop import Done, make_item

_stop: Event | None = None


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
        initargs=(stop,),
    )
    try:
        # The longest first, so that no worker is left alone with a long one at the end.
        with _one_thread_each():
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


# What the libraries behind numpy ask for how many threads to start.
_THREADS = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")


@contextlib.contextmanager
def _one_thread_each() -> Iterator[None]:
    """Workers begun in here start no threads for numpy's sake: the other cores have workers of
    their own. What somebody has set already stays."""
    unset = [name for name in _THREADS if name not in os.environ]
    os.environ.update(dict.fromkeys(unset, "1"))
    try:
        yield
    finally:
        for name in unset:
            del os.environ[name]


def _begin(stop: Event) -> None:
    """In a new worker: Ctrl-C is the parent's business, and without a parent there is none."""
    global _stop
    _stop = stop
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    """Wait for the end of the parent, which may be killed without a word, and end with it."""
    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def _make(item: Item, work: Path) -> Done:
    return make_item(item, work, _check)


def _check(share: float) -> None:
    """Called as the work goes on: stop when told to."""
    if _stop is not None and _stop.is_set():
        raise _ToldToStopError
