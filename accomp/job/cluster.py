"""Making a job's items on other machines, through an engine that is already running.

Conventions: the engine is dask.distributed (the extra `cluster`), used through its
`concurrent.futures.Executor`; only this module knows it. It runs the items of a lost worker again.
It is connected to at the address that the user names and nowhere else. That address and the network
on the way to it are trusted: pickled data goes both ways.
"""

from __future__ import annotations

import asyncio
import contextlib
import importlib
import logging
import re
import socket
import time
from collections.abc import Callable, Collection, Iterator, Mapping
from concurrent.futures import (
    FIRST_COMPLETED,
    CancelledError,
    Executor,
    Future,
    ThreadPoolExecutor,
    wait,
)
from pathlib import Path
from typing import Any

from accomp.errors import (
    AccompError,
    ClusterError,
    InputError,
    NotInstalledError,
    OutputError,
    Problem,
)
from accomp.files.plain import open_plain
from accomp.job.elsewhere import (
    MadeElsewhere,
    SentFile,
    WorkerFacts,
    keep,
    make_elsewhere,
    parcel,
    worker_facts,
)
from accomp.job.items import Item

ANSWER_S = 4.0  # wait for a scheduler's answer: with starting the engine, 5 s until the error
WORKERS_S = 10.0  # wait for a first worker when the work begins
LOST_S = 60.0  # wait for a new worker when none is left
_GLANCE_S = 2.0  # between checks of which workers are left
_AT_LEAST, _EACH = 4, 3  # items handed over: at least, and for each of the engine's threads
# An address as `dask scheduler` prints it, the protocol is optional: a name, an IPv4 address or an
# IPv6 address in brackets, and a port.
_ADDRESS = re.compile(
    r"((?P<how>tcp|tls|ws|wss)://)?(?P<host>[^\s\[\]:/@]+|\[[\da-fA-F:.]+\]):(?P<port>\d{1,5})"
)
_MOST_PORT = 65535
_LOGS = ("distributed", "distributed.client", "tornado", "tornado.application")

Made = Future[MadeElsewhere | None]


@contextlib.contextmanager
def connected(address: str) -> Iterator[Cluster]:
    """The engine at an address, checked: it has a worker, and all workers have the same program.

    Raises `InputError` for a text that is no address, `NotInstalledError`, and `ClusterError`
    within some seconds.
    """
    host, port = _place(address)
    engine = _engine()
    _knock(address, host, port)
    with _silent_logs():
        _look(address)
        try:
            client = engine.Client(address, timeout=ANSWER_S, set_as_default=False, name="accomp")
        except (OSError, ValueError, RuntimeError) as error:
            raise _nobody(address, error) from None
        try:
            cluster = Cluster(address, client)
            cluster.prepare()
            yield cluster
        finally:
            with contextlib.suppress(OSError, RuntimeError):
                client.close(timeout=ANSWER_S)


def _engine() -> Any:
    try:
        return importlib.import_module("distributed")
    except ImportError:
        raise NotInstalledError(
            "other machines are reached through dask.distributed, which is not installed. Install "
            "it here and on every machine: python -m pip install 'accomp[cluster]'."
        ) from None


@contextlib.contextmanager
def _silent_logs() -> Iterator[None]:
    """Silence the engine's logs of lost connections; our own errors report those that matter."""
    before = {name: logging.getLogger(name).level for name in _LOGS}
    for name in _LOGS:
        logging.getLogger(name).setLevel(logging.CRITICAL + 1)
    try:
        yield
    finally:
        for name, level in before.items():
            logging.getLogger(name).setLevel(level)


def _place(address: str) -> tuple[str, int]:
    """Host and port of an address. Raises `InputError`."""
    found = _ADDRESS.fullmatch(address)
    if found is None or not 0 < int(found["port"]) <= _MOST_PORT:
        raise InputError(
            Problem(
                f"{address!r} is no address of a scheduler of dask.distributed.",
                found=address,
                expected=f"HOST:PORT, or tcp://HOST:PORT with a port from 1 to {_MOST_PORT}",
                hint="Name the one that `dask scheduler` prints, as tcp://192.168.1.20:8786.",
                setting="cluster",
            )
        )
    return found["host"].strip("[]"), int(found["port"])


def _knock(address: str, host: str, port: int) -> None:
    """Check that the port is open, since the engine itself would try a closed one again and again.

    Raises `ClusterError`.
    """
    try:
        socket.create_connection((host, port), timeout=ANSWER_S).close()
    except OSError as error:
        raise _nobody(address, error) from None


def _look(address: str) -> None:
    """Check that a scheduler with a worker is there, before a client is made: a client that finds
    none cannot be closed without waiting and log messages. Raises `ClusterError`."""
    until = time.monotonic() + WORKERS_S
    while True:
        try:
            with ThreadPoolExecutor(1) as thread:  # this thread may have an event loop already
                found = thread.submit(asyncio.run, _identity(address)).result()
        except (OSError, ValueError, TypeError, RuntimeError) as error:
            raise _nobody(address, error) from None
        if not isinstance(found, dict) or found.get("type") != "Scheduler":
            raise ClusterError(
                f"{address!r}: this is no scheduler of dask.distributed. Name the address that "
                f"`dask scheduler` prints, as tcp://192.168.1.20:8786.",
                helps=("cluster",),
            )
        if found.get("workers"):
            return
        if time.monotonic() > until:
            raise ClusterError(
                f"{address!r}: nobody works there. Start workers, a process for each processor, on "
                f"the machines that are to work: dask worker {address}.",
                helps=("cluster",),
            )
        time.sleep(0.5)


async def _identity(address: str) -> object:
    core = importlib.import_module("distributed.core")
    security = importlib.import_module("distributed.security").Security()
    arguments = security.get_connection_args("client")
    async with core.rpc(address, timeout=ANSWER_S, connection_args=arguments) as there:
        return await asyncio.wait_for(there.identity(), ANSWER_S)


def _nobody(address: str, error: Exception) -> ClusterError:
    said = str(getattr(error, "strerror", None) or error).strip().rstrip(".") or "no answer"
    said = "no answer" if said.startswith("Timed out") or said == "timed out" else said
    return ClusterError(
        f"{address!r}: no scheduler of dask.distributed answers there ({said[0].lower()}{said[1:]}"
        f"). Start one with `dask scheduler` and name the address that it prints, as "
        f"tcp://192.168.1.20:8786; or leave this out, to work on this machine alone.",
        helps=("cluster",),
    )


class Cluster:
    """An engine and its workers, which make items."""

    def __init__(self, address: str, client: Any) -> None:
        self.address = address
        self._client = client
        self._executor: Executor = client.get_executor(pure=False)
        self._files: dict[str, Path] = {}
        self._seen = time.monotonic()
        self.room = _AT_LEAST  # how many items at once keep all workers busy

    def prepare(self, more: Mapping[str, Path] | None = None) -> None:
        """Check that every worker has this program, and send it the files that items read.

        `more` are further such files by SHA-256. Raises `ClusterError`, which names a worker with
        another program.
        """
        self._files |= more or {}
        found = self._asked(worker_facts)
        ours = worker_facts().makers
        for worker, answer in found.items():
            _same_program(worker, answer, ours)
        known = {worker: one.files for worker, one in found.items() if isinstance(one, WorkerFacts)}
        for sha, path in self._files.items():
            without = [worker for worker, files in known.items() if sha not in files]
            if without:
                with open_plain(path) as stream:
                    sent = SentFile(path.name, sha, stream.read())
                self._asked(keep, sent, workers=without)
        self.room = max(_AT_LEAST, _EACH * len(found))

    def _asked(self, what: Any, *words: object, **more: Any) -> dict[str, Any]:
        """The answer of each worker, or its error, by address. Raises `ClusterError`."""
        with self._talking():
            answers: dict[str, Any] = self._client.run(what, *words, on_error="return", **more)
        return answers

    def submit(self, item: Item) -> Made:
        """Hand an item over to the workers. Raises `ClusterError`."""
        if not item.reads.keys() <= self._files.keys():
            self.prepare(item.reads)
        with self._talking():
            return self._executor.submit(make_elsewhere, parcel(item))

    def some(self, pending: Collection[Made], alone: Callable[[str], None]) -> list[Made]:
        """Wait until some items are done; returns these, in the order of `pending`.

        When no worker is left, `alone` is called with a message while waiting for a new one. Raises
        `ClusterError` when none comes.
        """
        while True:
            done, _ = wait(pending, timeout=_GLANCE_S, return_when=FIRST_COMPLETED)
            if done:
                self._seen = time.monotonic()
                return [future for future in pending if future in done]
            with self._talking():
                workers = self._client.nthreads()
            if workers:
                self._seen = time.monotonic()
                self.room = max(_AT_LEAST, _EACH * len(workers))
            elif time.monotonic() - self._seen > LOST_S:
                raise ClusterError(
                    f"{self.address!r}: the last worker has gone and none has come for "
                    f"{LOST_S:g} s. Start workers and do this again."
                )
            else:
                alone(f"No worker is left: one may come within {LOST_S:g} s")

    def result(self, future: Made) -> MadeElsewhere | None:
        """The result of an item, or None when it must be handed over again (its worker was new and
        not prepared). Raises the errors of making the item, and `ClusterError`."""
        try:
            found = future.result()
        except CancelledError:
            raise _lost(self.address) from None
        except AccompError:
            raise
        except Exception as error:
            if type(error).__name__ == "KilledWorker":
                raise OutputError(
                    "several workers ended without a word, one after another, while they made this "
                    "(out of memory?). Give each more memory, or make this tune on this machine."
                ) from None
            self.prepare()  # raises if the cause was a worker with another program
            raise
        if found is None:
            self.prepare()
        return found

    @contextlib.contextmanager
    def _talking(self) -> Iterator[None]:
        """A context for own_verbosity to the scheduler. Raises `ClusterError` when it is gone."""
        try:
            yield
        except (OSError, RuntimeError) as error:
            raise _lost(self.address) from error


def _lost(address: str) -> ClusterError:
    return ClusterError(
        f"{address!r}: the connection to the scheduler is lost. See whether it runs, then do "
        f"this again: what is finished is not made again."
    )


def _same_program(worker: str, answer: object, ours: Mapping[str, str]) -> None:
    """Raise `ClusterError` if a worker's program or libraries differ from those of this machine."""
    if isinstance(answer, OSError):
        return  # the worker was lost meanwhile; the engine deals with that
    if not isinstance(answer, WorkerFacts):
        raise ClusterError(
            f"worker {worker}: it has no accomp, or another one than {ours['accomp']} ({answer}). "
            f"Install the same version there: python -m pip install "
            f"'accomp[cluster]=={ours['accomp']}'."
        )
    if answer.makers == ours:
        return
    theirs = answer.makers
    differ = [
        f"{name} {theirs.get(name, 'missing')} (here {ours.get(name, 'missing')})"
        for name in dict.fromkeys((*ours, *theirs))
        if name not in {"program", "sound"} and theirs.get(name) != ours.get(name)
    ]
    said = " and ".join(differ) or f"another accomp {ours['accomp']} than here: its code differs"
    raise ClusterError(
        f"worker {worker} has {said}. Its files would not be those of this machine: install the "
        f"same versions there, or take this worker away."
    )
