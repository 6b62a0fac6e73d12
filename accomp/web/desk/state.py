"""The desk itself: its shelf, its workers and its jobs, from opening to closing."""

from __future__ import annotations

import asyncio
import contextlib
import secrets
from collections.abc import AsyncIterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from accomp.errors import AccompError
from accomp.web.desk.events import Hub
from accomp.web.desk.guard import DeskAccess
from accomp.web.desk.making import DeskJob, Jobs
from accomp.web.desk.processes import DeskWorkers, TaskName
from accomp.web.desk.saving import Saving
from accomp.web.desk.shelf import Shelf

_LOOK_S = 1.0  # the folder is looked at for changed files so often
_TEXT_WORKERS = 2
SOUNDED = "sounding.sounded"


@dataclass
class OpenDesk:
    """The state of an open desk, which every request is handed."""

    folder: Path
    access: DeskAccess
    read_only: bool = False
    run: str = field(default_factory=lambda: secrets.token_hex(8))

    def __post_init__(self) -> None:
        self.shelf = Shelf(self.folder)
        self.saving = Saving(self.shelf)
        self.hub = Hub()
        self.text_workers, self.sound_workers = DeskWorkers(_TEXT_WORKERS), DeskWorkers(1)
        self.jobs = Jobs(self._job_changed)
        self.fonts: dict[str, str] = {}  # paths of fonts that may be fetched, by SHA-256
        self._background: set[asyncio.Task[None]] = set()

    @contextlib.asynccontextmanager
    async def opened(self) -> AsyncIterator[None]:
        """A context in which the workers run; at its end every process has ended."""
        for work in (self._watch(), self.text_workers.warm("tasks.nothing", None)):
            self._background.add(asyncio.create_task(work))
        try:
            yield
        finally:
            for task in self._background:
                task.cancel()
            self.hub.end()
            self.jobs.end()
            for workers in (self.text_workers, self.sound_workers):
                await asyncio.to_thread(workers.end)

    async def about(self, task: TaskName, text: str, name: str, more: Mapping[str, Any]) -> Any:
        """A worker's answer to a task about a text, judged as the tune of that name. Raises
        `InputError`, `OutputError`."""
        deadline_s = 180.0 if task == SOUNDED else 30.0
        loop = asyncio.get_running_loop()

        told: list[str] = []

        def tell(what: str, share: float) -> None:
            told[:] = [what]
            loop.call_soon_threadsafe(self.hub.tell, "doing", {"what": what, "share": share})

        workers = self.sound_workers if task == SOUNDED else self.text_workers
        try:
            return await workers.ask(
                task, self.asked(text, name) | dict(more), deadline_s=deadline_s, tell=tell
            )
        finally:
            if told:  # a task that fails cannot say that it is over
                loop.call_soon(self.hub.tell, "doing", {"what": told[0], "share": 1.0})

    def asked(self, text: str, name: str) -> dict[str, Any]:
        """A text with the file that it belongs to and the styles beside it, as tasks expect it."""
        file = str(self.folder / f"{name}.toml")
        return {"text": text, "file": file, "beside": [row["name"] for row in self.shelf.styles()]}

    def _job_changed(self, job: DeskJob) -> None:
        self.hub.tell("job", job.row())

    async def _watch(self) -> None:
        """Send an event for files that have changed, no matter who changed them."""
        before = await asyncio.to_thread(self._state)
        while True:
            await asyncio.sleep(_LOOK_S)
            now = await asyncio.to_thread(self._state)
            if now != before:
                names = {name for name in {*now, *before} if now.get(name) != before.get(name)}
                self.hub.tell("shelf", {"changed": sorted(names)})
                before = now

    def _state(self) -> dict[str, tuple[int, int]]:
        try:
            return self.shelf.state()
        except AccompError:
            return {}
