"""Making files at the desk: one job after another, each in a process of its own.

Conventions: a job goes on when no page is open. Its files lie where `accomp make` puts them, in a
folder beside the tune's file with the same name. A stopped pack keeps its finished files.
"""

from __future__ import annotations

import asyncio
import itertools
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from accomp.errors import AccompError, InputError, own_fault
from accomp.web.desk.processes import StoppedError, TaskName, Tell, Worker

State = Literal["waiting", "working", "done", "stopped", "wrong"]
MOST_JOBS = 100  # that may wait, and that are listed; of finished jobs the oldest are forgotten
_DEADLINE_S = 6 * 3600.0


@dataclass
class DeskJob:
    """A job: which files are made of which tune, and how far the work is."""

    number: int
    tune: str
    title: str
    words: str  # what is made, in words for people
    asked: dict[str, Any]
    task: TaskName = "making.make"
    state: State = "waiting"
    share: float = 0.0
    doing: str = ""
    files: list[str] = field(default_factory=list)
    notices: list[str] = field(default_factory=list)
    problems: list[dict[str, Any]] = field(default_factory=list)
    worker: Worker | None = None

    def row(self) -> dict[str, Any]:
        """The job as a row of JSON."""
        names = "number tune title words state share doing files notices problems".split()
        return {name: getattr(self, name) for name in names}


class Jobs:
    """The jobs of one desk; `changed` is called with a job whenever its row has changed."""

    def __init__(self, changed: Callable[[DeskJob], None]) -> None:
        self._changed = changed
        self._jobs: dict[int, DeskJob] = {}
        self._numbers = itertools.count(1)
        self._waiting: asyncio.Queue[DeskJob] = asyncio.Queue()
        self._running: asyncio.Task[None] | None = None

    def rows(self) -> list[dict[str, Any]]:
        """All jobs, the newest first."""
        return [job.row() for job in reversed(self._jobs.values())]

    def get(self, number: int) -> DeskJob | None:
        """A job by its number."""
        return self._jobs.get(number)

    def full(self) -> bool:
        """Whether as many jobs wait as may wait."""
        return self._waiting.qsize() >= MOST_JOBS

    def add(
        self,
        tune: str,
        title: str,
        words: str,
        asked: dict[str, Any],
        task: TaskName = "making.make",
    ) -> DeskJob:
        """Put a job at the end of the queue."""
        job = DeskJob(next(self._numbers), tune, title, words, asked, task)
        self._jobs[job.number] = job
        over = [
            one.number for one in self._jobs.values() if one.state not in ("waiting", "working")
        ]
        for number in over[: max(0, len(self._jobs) - MOST_JOBS)]:
            del self._jobs[number]
        self._waiting.put_nowait(job)
        if self._running is None:
            self._running = asyncio.create_task(self._run())
        self._changed(job)
        return job

    def cancel(self, job: DeskJob) -> None:
        """Stop a job, or take it out of the queue."""
        if job.state == "waiting":
            job.state = "stopped"
            self._changed(job)
        elif job.state == "working" and job.worker is not None:
            job.worker.stop()

    def end(self) -> None:
        """Stop all jobs, because the desk is being closed."""
        if self._running is not None:
            self._running.cancel()
        for job in self._jobs.values():
            self.cancel(job)
            if job.worker is not None:
                job.worker.end()

    async def _run(self) -> None:
        while True:
            job = await self._waiting.get()
            if job.state == "waiting":
                await self._do(job)

    async def _do(self, job: DeskJob) -> None:
        loop = asyncio.get_running_loop()

        def tell(what: str, share: float) -> None:
            loop.call_soon_threadsafe(self._told, job, what, share)

        job.state = "working"
        self._changed(job)
        worker = None
        try:
            worker = job.worker = await asyncio.to_thread(Worker)
            made = await asyncio.to_thread(worker.call, job.task, job.asked, tell, _DEADLINE_S)
            job.files, job.notices = made["files"], made["notices"]
            job.state, job.share = "done", 1.0
        except StoppedError:
            job.state = "stopped"
        except AccompError as error:
            rows = error.problems if isinstance(error, InputError) else error.problems_in("")
            job.problems = [{"message": str(one.message), "hint": one.hint} for one in rows]
            job.state = "wrong"
        except Exception as error:  # the jobs after this one are done all the same
            job.problems = [{"message": str(own_fault(error)), "hint": ""}]
            job.state = "wrong"
        finally:
            job.worker = None
            if worker is not None:
                await asyncio.to_thread(worker.end)
        self._changed(job)

    def _told(self, job: DeskJob, what: str, share: float) -> None:
        if job.state == "working":
            job.doing, job.share = what, share
            self._changed(job)


def make(asked: dict[str, Any], tell: Tell) -> dict[str, Any]:
    """Task, in the process: make the files of a text. Raises `AccompError`."""
    from accomp.files.toml import parse_toml
    from accomp.job.make import make_tune
    from accomp.tune.read import draft_of
    from accomp.web.desk.asked import options_of

    path = Path(asked["file"])
    draft = draft_of(parse_toml(asked["text"], str(path)), path.parent)
    if draft.problems:
        raise InputError(draft.problems)
    options = options_of(asked.get("options", {}), asked.get("beside", ()), path.parent)
    made = make_tune(draft.tune, options, path.with_suffix(""), tell)
    return {"files": [file.path for file in made.files], "notices": list(made.notices)}


def book(asked: dict[str, Any], tell: Tell) -> dict[str, Any]:
    """Task, in the process: make the band's book of the whole shelf. Raises `AccompError`."""
    from accomp.job.book import make_book
    from accomp.job.book_read import read_book

    folder = Path(asked["folder"])
    made = make_book(read_book(folder), folder / asked["into"], progress=tell)
    missing = [f"{Path(one.file).name}: {one.message}" for one in made.problems]
    return {
        "files": [file.path for file in made.manifest.files],
        "notices": [*made.manifest.notices, *missing],
    }
