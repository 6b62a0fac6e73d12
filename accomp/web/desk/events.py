"""Events of the desk for every page that is open: server-sent events.

Conventions: an event has a name and a JSON value. A page that reads too slowly loses its oldest
waiting events and holds nobody else up; it can ask for the whole state at any time.
"""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncIterator
from typing import Any, Literal

from accomp.web.desk.reply import json_text

# "desk" is the first event of a page; the others tell of a job, the shelf and a task at work.
EventName = Literal["desk", "job", "shelf", "doing"]
MOST_WAITING = 200
BREATH_S = 15.0  # after so much silence a comment is sent, so that both sides notice a lost line


class Hub:
    """Sends events to all pages that listen."""

    def __init__(self) -> None:
        self._listening: set[asyncio.Queue[str | None]] = set()

    def tell(self, name: EventName, value: Any) -> None:
        """Send an event to every listener."""
        text = _event(name, value)
        for queue in self._listening:
            _put(queue, text)

    def end(self) -> None:
        """End the stream of every listener."""
        for queue in self._listening:
            _put(queue, None)

    async def listen(self, name: EventName, value: Any) -> AsyncIterator[str]:
        """The stream of a listener: a first event, then all events from now on, until the end."""
        queue: asyncio.Queue[str | None] = asyncio.Queue(MOST_WAITING)
        self._listening.add(queue)
        try:
            yield _event(name, value)
            while True:
                try:
                    text = await asyncio.wait_for(queue.get(), BREATH_S)
                except TimeoutError:
                    text = ": still here\n\n"
                if text is None:
                    return
                yield text
        finally:
            self._listening.discard(queue)


def _event(name: EventName, value: Any) -> str:
    return f"event: {name}\ndata: {json_text(value)}\n\n"


def _put(queue: asyncio.Queue[str | None], text: str | None) -> None:
    if queue.full():
        with contextlib.suppress(asyncio.QueueEmpty):
            queue.get_nowait()
    queue.put_nowait(text)
