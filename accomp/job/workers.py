"""Several processes at work on a job's tasks at once.

Conventions: processes are spawned, never forked (a fork after the synthesiser's threads hangs). A
worker stops at its next sign of progress when it is told to, and at once when its parent is gone.
Processes may be begun before their tasks are known: they load what they need meanwhile.
"""

from __future__ import annotations

import contextlib
import os
import signal
import threading
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from multiprocessing import get_context, parent_process
from multiprocessing.synchronize import Event
from typing import Self, TypeVar

from accomp.errors import OutputError

Task = TypeVar("Task")
Result = TypeVar("Result")
Work = Callable[[Task, Callable[[float], None]], Result]

_stop: Event | None = None


class _ToldToStopError(Exception):
    """The job was stopped while this worker was at work."""


def no_preparation() -> None:
    """Nothing."""


class Workers:
    """So many processes for the tasks of one job, once; all gone when they are left.

    Each calls `prepare` as it begins. What is wrong there is told by the first task that needs it.
    """

    def __init__(self, jobs: int, prepare: Callable[[], None] = no_preparation) -> None:
        context = get_context("spawn")
        self.jobs = jobs
        self._stop = context.Event()
        self._pool = ProcessPoolExecutor(
            max_workers=jobs,
            mp_context=context,
            initializer=_begin,
            initargs=(self._stop, prepare),
        )
        self._at_work = False

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        """Let the processes come to a stop; told once more to end (Ctrl-C twice), end them at once.

        They write to names of their own until a file is whole, so that nothing is lost with them.
        """
        # The pool forgets its processes as soon as it is told to shut down.
        processes = list((self._pool._processes or {}).values())
        try:
            if self._at_work:
                self._stop.set()
            else:  # nobody has begun anything, and nobody need wait until all is loaded
                for process in processes:
                    process.kill()
            self._pool.shutdown(wait=True, cancel_futures=True)
        except BaseException:
            for process in processes:
                process.kill()
            raise

    def begin(self) -> None:
        """Start the processes now, without a task."""
        with no_ctrl_c(), one_thread_each():
            for _ in range(self.jobs):  # a pool begins one with each task that nobody is free for
                self._pool.submit(no_preparation)

    def done(
        self, work: Work[Task, Result], tasks: Sequence[Task]
    ) -> Iterator[tuple[Task, Result]]:
        """Do tasks, begun in their order; each with its result as it is finished.

        `work` takes a task and a function to call as it goes on. Raises `OutputError` when a
        process ends without a word, and whatever `work` raises.
        """
        self._at_work = True
        try:
            with no_ctrl_c(), one_thread_each():
                futures = {self._pool.submit(_do, work, task): task for task in tasks}
            for future in as_completed(futures):
                yield futures[future], future.result()
        except BrokenProcessPool:
            raise OutputError(
                "a worker process ended without a word (out of memory?). Nothing was changed; do "
                "this again, it goes on from here, or with a single process.",
                helps=("jobs",),
            ) from None


# What the libraries behind numpy ask for how many threads to start.
_THREADS = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")


@contextlib.contextmanager
def one_thread_each() -> Iterator[None]:
    """Workers begun in here start no threads for numpy's sake: the other cores have workers of
    their own. What somebody has set already stays."""
    unset = [name for name in _THREADS if name not in os.environ]
    os.environ.update(dict.fromkeys(unset, "1"))
    try:
        yield
    finally:
        for name in unset:
            del os.environ[name]


@contextlib.contextmanager
def no_ctrl_c() -> Iterator[None]:
    """Keep Ctrl-C waiting while processes are started: they have it from here that it is none of
    their business, before they can say so themselves; ours comes through afterwards."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _begin(stop: Event, prepare: Callable[[], None]) -> None:
    """In a new worker: Ctrl-C is the parent's business, and without a parent there is none."""
    global _stop
    _stop = stop
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=end_with_parent, daemon=True).start()
    with contextlib.suppress(Exception):
        prepare()


def end_with_parent() -> None:
    """Wait for the end of the parent, which may be killed without a word, and end with it."""
    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def _do(work: Work[Task, Result], task: Task) -> Result:
    return work(task, _check)


def _check(share: float) -> None:
    """Called as the work goes on: stop when told to."""
    if _stop is not None and _stop.is_set():
        raise _ToldToStopError
