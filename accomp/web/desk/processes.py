"""The desk's worker processes: they load the music code, so that the event loop need not.

Conventions: processes are spawned, never forked. A task is the name of a function in a module
beside this one, so that the desk itself need not load it. The function takes and returns plain
values, and calls `tell` to say how far it is. A mistake in a request comes back as problems, never
as a traceback. A worker that exceeds its time, or is told to stop, is ended and replaced.
"""

from __future__ import annotations

import asyncio
import contextlib
import importlib
import signal
import sys
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from multiprocessing import get_context
from multiprocessing.connection import Connection
from typing import Any

from accomp.errors import AccompError, InputError, OutputError, Problem, own_fault
from accomp.job.workers import end_with_parent, no_ctrl_c, one_thread_each

Tell = Callable[[str, float], None]
TaskName = str  # "tasks.judge": a module of this folder and a function in it
_POLL_S = 0.5
_END_S = 5.0  # the time that a task has for its `finally` clauses before it is killed


class StoppedError(OutputError):
    """The work was told to stop, and has changed nothing."""

    def __init__(self) -> None:
        super().__init__("The work was stopped. Nothing was changed.")


class Worker:
    """One process with a pipe to it."""

    def __init__(self) -> None:
        context = get_context("spawn")
        self._line, theirs = context.Pipe()
        self._process = context.Process(target=_work, args=(theirs,), daemon=True)
        with no_ctrl_c(), one_thread_each():
            self._process.start()
        theirs.close()
        self._stop = threading.Event()

    def call(self, task: TaskName, asked: Any, tell: Tell, deadline_s: float) -> Any:
        """Wait for the answer of a task and return it; `deadline_s` counts seconds in which the
        task says nothing. Raises `InputError`, `StoppedError`, `OutputError`."""
        try:
            self._line.send((task, asked))
            waited_s = 0.0
            while True:
                if self._line.poll(_POLL_S):
                    kind, value = self._line.recv()
                    if kind == "told":
                        tell(*value)
                        continue
                    if kind == "wrong":
                        raise InputError(value)
                    return value
                waited_s += _POLL_S
                if self._stop.is_set():
                    self.end()
                    raise StoppedError
                if waited_s > deadline_s:
                    self.end()
                    raise OutputError(
                        f"This takes longer than {deadline_s:.0f} s and was given up. Fewer bars "
                        f"or fewer different chords are done sooner."
                    )
        except (EOFError, OSError) as error:
            self.end()
            if self._stop.is_set():
                raise StoppedError from error
            message = "A worker process ended without a word (out of memory?). Try again."
            raise OutputError(message) from error

    @property
    def usable(self) -> bool:
        """Whether the worker can take another task."""
        return self._process.is_alive() and not self._stop.is_set()

    def stop(self) -> None:
        """Tell the process to stop; its `call` then raises `StoppedError`."""
        self._stop.set()
        self._process.terminate()

    def end(self) -> None:
        """End the process; it runs its `finally` clauses if it can."""
        self._process.terminate()
        self._process.join(_END_S)
        if self._process.is_alive():
            self._process.kill()
            self._process.join(_END_S)
        self._line.close()


class DeskWorkers:
    """Some workers that share the tasks: each task goes to one that is free."""

    def __init__(self, size: int) -> None:
        self.size = size
        self._free: asyncio.Queue[Worker | None] = asyncio.Queue()
        self._threads = ThreadPoolExecutor(size, thread_name_prefix="desk")
        self._all: set[Worker] = set()
        for _ in range(size):
            self._free.put_nowait(None)  # the worker is begun when it is first needed

    async def ask(
        self, task: TaskName, asked: Any, *, deadline_s: float = 30.0, tell: Tell | None = None
    ) -> Any:
        """The answer of a task, begun as soon as a worker is free. Raises as `Worker.call`."""
        worker = await self._free.get()
        loop = asyncio.get_running_loop()
        try:
            if worker is None:
                worker = await loop.run_in_executor(self._threads, Worker)
                self._all.add(worker)
            told = tell or (lambda what, share: None)
            return await loop.run_in_executor(
                self._threads, worker.call, task, asked, told, deadline_s
            )
        finally:
            if worker is not None and not worker.usable:
                self._all.discard(worker)
                worker = None
            self._free.put_nowait(worker)

    async def warm(self, task: TaskName, asked: Any) -> None:
        """Start every worker, so that the first task is answered soon."""
        with contextlib.suppress(AccompError):
            await asyncio.gather(*(self.ask(task, asked) for _ in range(self.size)))

    def end(self) -> None:
        """End all processes."""
        for worker in self._all:
            worker.stop()
        for worker in self._all:
            worker.end()
        self._threads.shutdown(wait=False, cancel_futures=True)


def _work(line: Connection) -> None:
    """In the process: do one task after another until the desk is closed."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, lambda number, frame: sys.exit(1))
    threading.Thread(target=end_with_parent, daemon=True).start()

    def tell(what: str, share: float) -> None:
        line.send(("told", (what, share)))

    with contextlib.suppress(EOFError, BrokenPipeError):
        while True:
            task, asked = line.recv()
            line.send(_answer(task, asked, tell))


def _answer(task: TaskName, asked: Any, tell: Tell) -> tuple[str, Any]:
    try:
        module, _, name = task.partition(".")
        work = getattr(importlib.import_module(f"{__package__}.{module}"), name)
        return "done", work(asked, tell)
    except AccompError as error:
        return "wrong", error.problems_in("")
    except BrokenPipeError:
        raise
    except Exception as error:
        return "wrong", (Problem(str(own_fault(error))),)
