"""The wire: HTTP with deadlines, so that a slow or silent connection holds nobody else up.

Conventions: a connection has `HEAD_S` seconds to send the head of a request, which has at most
`MOST_HEAD` bytes. The protocol itself is uvicorn's.
"""

from __future__ import annotations

import asyncio
from typing import Any

from uvicorn.protocols.http.h11_impl import H11Protocol

HEAD_S = 10.0
MOST_HEAD = 32_768  # bytes of request line and headers
MOST_CONNECTIONS = 400


class PatientWire(H11Protocol):
    """One connection; it is closed when a request's head is not there in time."""

    def __init__(self, *args: Any, **how: Any) -> None:
        super().__init__(*args, **how)
        self._waiting: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Begin to wait for the first request."""
        super().connection_made(transport)
        self._wait()

    def data_received(self, data: bytes) -> None:
        """Take data; the wait is over when a request's head is complete."""
        before = self.cycle
        super().data_received(data)
        if self.cycle is not before:
            self._heard()

    def on_response_complete(self) -> None:
        """Wait for the next request on this connection."""
        super().on_response_complete()
        if not self.transport.is_closing():
            self._wait()

    def connection_lost(self, exc: Exception | None) -> None:
        """Stop waiting."""
        self._heard()
        super().connection_lost(exc)

    def _wait(self) -> None:
        self._heard()
        self._waiting = self.loop.call_later(HEAD_S, self._give_up)

    def _heard(self) -> None:
        if self._waiting is not None:
            self._waiting.cancel()
            self._waiting = None

    def _give_up(self) -> None:
        if not self.transport.is_closing():
            self.transport.close()
