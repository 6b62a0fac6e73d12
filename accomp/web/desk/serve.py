"""Opening the desk on a socket that only this machine reaches."""

from __future__ import annotations

import contextlib
import logging
import os
import secrets
import socket
from collections.abc import Callable
from pathlib import Path
from typing import Any

import uvicorn

from accomp.errors import OutputError, reason
from accomp.files.homes import data_folder
from accomp.files.plain import open_plain
from accomp.web.desk.app import application
from accomp.web.desk.guard import DeskAccess
from accomp.web.desk.state import OpenDesk
from accomp.web.desk.wire import MOST_CONNECTIONS, MOST_HEAD, PatientWire

USUAL_PORT = 8417
_HOST = "127.0.0.1"
_SECRET = "desk-secret"
_LONGEST_SECRET = 1000


class DeskServer(uvicorn.Server):
    """A server that calls `opened` as soon as it can be reached."""

    def __init__(self, config: uvicorn.Config, opened: Callable[[], None]) -> None:
        super().__init__(config)
        self._opened = opened

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Begin to listen, then call `opened`."""
        await super().startup(sockets)
        if self.started:
            self._opened()


def serve(
    folder: Path, port: int | None, *, read_only: bool, opened: Callable[[str], None]
) -> None:
    """Keep the desk of a folder open until it is interrupted; `opened` is called with its address.

    Without a `port` the usual one is taken, or any if that is not free. Raises `OutputError`.
    """
    if not folder.is_dir():
        raise OutputError(f"{folder}: a desk needs a folder of tunes. Make it, or name another.")
    listening = _socket(port)
    access = DeskAccess(listening.getsockname()[1], secrets.token_urlsafe(24), _secret())
    desk = OpenDesk(folder, access, read_only)
    for name in ("uvicorn", "uvicorn.error", "uvicorn.access"):
        logging.getLogger(name).addHandler(logging.NullHandler())
        logging.getLogger(name).propagate = False
    how: dict[str, Any] = {
        "http": PatientWire, "ws": "none", "lifespan": "on", "log_config": None,
        "access_log": False, "server_header": False, "proxy_headers": False,
        "h11_max_incomplete_event_size": MOST_HEAD, "limit_concurrency": MOST_CONNECTIONS,
        "timeout_keep_alive": 30, "timeout_graceful_shutdown": 2,
    }  # fmt: skip
    config = uvicorn.Config(application(desk), **how)
    server = DeskServer(config, lambda: opened(access.address))
    with contextlib.closing(listening):
        server.run([listening])


def _socket(port: int | None) -> socket.socket:
    tries = (USUAL_PORT, 0) if port is None else (port,)
    for number in tries:
        one = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        if os.name == "posix":  # on other systems this would let two desks share a port
            one.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            one.bind((_HOST, number))
            one.listen(128)
            return one
        except OSError as error:
            one.close()
            if number == tries[-1]:
                raise OutputError(
                    f"port {number} cannot be listened on ({reason(error)}). Choose another.",
                    helps=("port",),
                ) from error
    raise AssertionError


def _secret() -> str:
    """The secret for the cookies of this user's desks; kept in a file where that is possible."""
    path = data_folder() / _SECRET
    with contextlib.suppress(OSError, UnicodeDecodeError):
        with open_plain(path) as file:
            found = file.read(_LONGEST_SECRET).decode("ascii").strip()
        if len(found) >= 32:
            return found
    secret = secrets.token_urlsafe(32)
    with contextlib.suppress(OSError):
        path.parent.mkdir(parents=True, exist_ok=True)
        how = os.O_WRONLY | os.O_CREAT | os.O_TRUNC | getattr(os, "O_NONBLOCK", 0)
        handle = os.open(path, how, 0o600)  # does not wait if the path is a pipe
        with os.fdopen(handle, "w", encoding="ascii") as file:
            file.write(secret)
    return secret
