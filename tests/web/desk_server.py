"""A desk in a process of its own, and ways to ask it: as a script, as a browser, by raw bytes."""

from __future__ import annotations

import asyncio
import contextlib
import os
import re
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Coroutine, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar

import httpx

T = TypeVar("T")
EXAMPLES = Path(__file__).parent.parent.parent / "examples"
SMALL = """# what its author says of it
title = "Ten Small Steps"   # its name
key   = "C"
meter = "4/4"
tempo = 120

[sections]
A = "| C | F | G7 | C |"
"""


def in_a_loop(work: Coroutine[Any, Any, T]) -> T:
    """What a coroutine gives, run in a thread of its own: a browser of other tests may have this
    thread's event loop."""
    with ThreadPoolExecutor(1) as elsewhere:
        return elsewhere.submit(asyncio.run, work).result()


@dataclass
class RunningDesk:
    """A desk that is open, with its address."""

    folder: Path
    home: Path
    arguments: tuple[str, ...] = ()
    port: int = 0
    process: subprocess.Popen[str] | None = None
    address: str = ""
    begun_s: float = field(default=0.0)

    def open(self) -> RunningDesk:
        """Begin, and wait until the address is printed."""
        begun = time.monotonic()
        self.process = subprocess.Popen(
            [sys.executable, "-m", "accomp", "desk", str(self.folder), "--port", str(self.port),
             "--no-browser", *self.arguments],
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
            env=os.environ | {"XDG_DATA_HOME": str(self.home)},
        )  # fmt: skip
        assert self.process.stdout is not None
        self.address = self.process.stdout.readline().strip()
        self.begun_s = time.monotonic() - begun
        found = re.fullmatch(r"http://127\.0\.0\.1:(\d+)/\?token=([\w-]+)", self.address)
        assert found, self.address
        self.port = int(found[1])
        return self

    @property
    def token(self) -> str:
        return self.address.partition("token=")[2]

    @property
    def origin(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def script(self) -> httpx.Client:
        """A client that shows the token as a script does."""
        headers = {"authorization": f"Bearer {self.token}"}
        return httpx.Client(base_url=self.origin, headers=headers, timeout=120)

    @contextlib.contextmanager
    def page(self) -> Iterator[httpx.Client]:
        """A client that came by the address, as a browser's page does."""
        headers = {"origin": self.origin}
        with httpx.Client(base_url=self.origin, timeout=120, headers=headers) as client:
            answer = client.get(self.address)
            assert answer.status_code == 303, answer.text
            yield client

    def bytes(self, data: bytes, wait_s: float = 200.0) -> bytes:
        """What comes back for some bytes, until the desk closes the connection."""
        with socket.create_connection(("127.0.0.1", self.port), timeout=wait_s) as line:
            line.sendall(data)
            return read_all(line)

    def close(self, how: int = signal.SIGTERM) -> int:
        """End it and return its exit code."""
        assert self.process is not None
        self.process.send_signal(how)
        self.process.communicate(timeout=60)
        return self.process.returncode


def read_all(line: socket.socket) -> bytes:
    """Everything until the other side has nothing more to say."""
    found = b""
    try:
        while piece := line.recv(65536):
            found += piece
    except (TimeoutError, ConnectionResetError):
        pass
    return found


def judged(client: httpx.Client, text: str, **more: Any) -> dict[str, Any]:
    """What the desk says of a text."""
    answer = client.post("/api/judge", json={"text": text, **more})
    assert answer.status_code == 200, answer.text
    return answer.json()
