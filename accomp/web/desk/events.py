"""What happens at the desk, told to every page that is open: server-sent events.

Conventions: an event has a name and a JSON value. Who listens too slowly loses the oldest of what
waits for them, and nobody else is held up; what they need to know they can ask for at any time.
"""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncIterator
from typing import Any, Literal

from accomp.web.desk.reply import json_text

# The first thing said to who begins to listen; what a job, the shelf and a task at work come to.
EventName = Literal["desk", "job", "shelf", "doing"]
MOST_WAITING = 200
BREATH_S = 15.0  # so often something is said, so that both sides know that the other is there


class Hub:
    """Tells all who listen."""

    def __init__(self) -> None:
        self._listening: set[asyncio.Queue[str | None]] = set()

    def tell(self, name: EventName, value: Any) -> None:
        """Tell everybody."""
        text = _event(name, value)
        for queue in self._listening:
            _put(queue, text)

    def end(self) -> None:
        """Nothing more will be told."""
        for queue in self._listening:
            _put(queue, None)

    async def listen(self, name: EventName, value: Any) -> AsyncIterator[str]:
        """What is told from now on, after a first event; ends with the hub."""
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
