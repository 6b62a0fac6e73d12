"""Several processes that do a job's tasks at once.

Conventions: processes are spawned, never forked (a fork after the synthesiser's threads hangs). A
worker that is told to stop does so at its next call of the progress function; it ends at once when
its parent is gone. Processes may be started before their tasks are known, to load libraries.
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
    """The job was stopped while this worker had a task."""


def no_preparation() -> None:
    """Do nothing."""


class Workers:
    """A pool of `jobs` processes for one job; leaving the context ends them.

    Each calls `prepare` when it starts. Errors there are ignored: the first task that needs it
    meets them again.
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
        """Wait until the processes stop; at another interruption (Ctrl-C twice), kill them.

        They write to temporary names until a file is whole, so that killing them does no harm.
        """
        # The pool forgets its processes when it is shut down.
        processes = list((self._pool._processes or {}).values())
        try:
            if self._at_work:
                self._stop.set()
            else:  # no task was started: do not wait until the libraries are loaded
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
            for _ in range(self.jobs):  # a pool starts a process for a task if none is free
                self._pool.submit(no_preparation)

    def done(
        self, work: Work[Task, Result], tasks: Sequence[Task]
    ) -> Iterator[tuple[Task, Result]]:
        """Do tasks, started in this order; yields each with its result, in the order finished.

        `work` takes a task and a progress function. Raises `OutputError` when a process dies, and
        the errors of `work`.
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


# Environment variables in which the libraries behind numpy find their number of threads.
_THREADS = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")


@contextlib.contextmanager
def one_thread_each() -> Iterator[None]:
    """Processes started in this context use one thread for numpy, since the other cores have
    workers of their own. Variables that are set already stay."""
    unset = [name for name in _THREADS if name not in os.environ]
    os.environ.update(dict.fromkeys(unset, "1"))
    try:
        yield
    finally:
        for name in unset:
            del os.environ[name]


@contextlib.contextmanager
def no_ctrl_c() -> Iterator[None]:
    """Block SIGINT (Ctrl-C) while processes are started. They inherit the blocked signal before
    they can ignore it themselves; this process gets a waiting signal afterwards."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _begin(stop: Event, prepare: Callable[[], None]) -> None:
    """Set up a new worker: it leaves Ctrl-C to the parent, and ends with the parent."""
    global _stop
    _stop = stop
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=end_with_parent, daemon=True).start()
    with contextlib.suppress(Exception):
        prepare()


def end_with_parent() -> None:
    """Wait for the parent's end (it may be killed) and end this process, too."""
    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def _do(work: Work[Task, Result], task: Task) -> Result:
    return work(task, _check)


def _check(share: float) -> None:
    """The progress function of a task: raises when this worker is told to stop."""
    if _stop is not None and _stop.is_set():
        raise _ToldToStopError
