"""Other machines at work on a job's items, through an engine that runs already.

Conventions: the engine is dask.distributed (the extra `cluster`), asked through the interface of
executors; it runs again what a lost worker had, and only here its name is known. It is looked for
at the address that the user names and nowhere else. Whoever is at that address, or on the way to
it, is trusted: what is sent and what comes back is pickled.
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

ANSWER_S = 4.0  # until a scheduler has to answer: with the engine's start 5 s to a sentence
WORKERS_S = 10.0  # until one worker has to be there when the work begins
LOST_S = 60.0  # for how long there may be no worker left at all
_GLANCE_S = 2.0  # between looks at who is still there
_AT_LEAST, _EACH = 4, 3  # items handed over: for each of the engine's threads, and at least
# What `dask scheduler` prints, with the kind of connection or without: a name, an IPv4 address or
# an IPv6 address in brackets, and a port.
_ADDRESS = re.compile(
    r"((?P<how>tcp|tls|ws|wss)://)?(?P<host>[^\s\[\]:/@]+|\[[\da-fA-F:.]+\]):(?P<port>\d{1,5})"
)
_MOST_PORT = 65535
_LOGS = ("distributed", "distributed.client", "tornado", "tornado.application")

Made = Future[MadeElsewhere | None]


@contextlib.contextmanager
def connected(address: str) -> Iterator[Cluster]:
    """The engine at an address, with a worker at least, all of them with this very program.

    Raises `InputError` for what is no address, `NotInstalledError`, and `ClusterError` within
    some seconds.
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
    """What the engine logs of lost connections is said by our own errors, or of no consequence."""
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
    """Whether anybody listens there: the engine asks again and again where everybody else knows
    at once that nobody does. Raises `ClusterError`."""
    try:
        socket.create_connection((host, port), timeout=ANSWER_S).close()
    except OSError as error:
        raise _nobody(address, error) from None


def _look(address: str) -> None:
    """Whether a scheduler with a worker is there: asked before a client is made, which cannot be
    given up without noise. Raises `ClusterError`."""
    until = time.monotonic() + WORKERS_S
    while True:
        try:
            with ThreadPoolExecutor(1) as thread:  # this one may have a loop of its own
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
    """An engine with its workers, to which items are handed."""

    def __init__(self, address: str, client: Any) -> None:
        self.address = address
        self._client = client
        self._executor: Executor = client.get_executor(pure=False)
        self._files: dict[str, Path] = {}
        self._seen = time.monotonic()
        self._room = _AT_LEAST

    def prepare(self, more: Mapping[str, Path] | None = None) -> None:
        """See that every worker has this program, and the files that items read.

        Raises `ClusterError` that names a worker with another program.
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
                self._asked(keep, (sent,), workers=without)
        self._room = max(_AT_LEAST, _EACH * len(found))

    def _asked(self, what: Any, *words: object, **more: Any) -> dict[str, Any]:
        """What workers answer; an error of one of them is its answer. Raises `ClusterError`."""
        with self._talking():
            answers: dict[str, Any] = self._client.run(what, *words, on_error="return", **more)
        return answers

    @property
    def room(self) -> int:
        """How many items at once keep all workers busy."""
        return self._room

    def submit(self, item: Item) -> Made:
        """Hand over an item. Raises `ClusterError`."""
        if not item.reads.keys() <= self._files.keys():
            self.prepare(item.reads)
        with self._talking():
            return self._executor.submit(make_elsewhere, parcel(item))

    def some(self, pending: Collection[Made], alone: Callable[[str], None]) -> list[Made]:
        """Wait until some are done; these, in their order. Raises `ClusterError` when there is
        nobody left to do them; `alone` is told before that this is so."""
        while True:
            done, _ = wait(pending, timeout=_GLANCE_S, return_when=FIRST_COMPLETED)
            if done:
                self._seen = time.monotonic()
                return [future for future in pending if future in done]
            with self._talking():
                workers = self._client.nthreads()
            if workers:
                self._seen = time.monotonic()
                self._room = max(_AT_LEAST, _EACH * len(workers))
            elif time.monotonic() - self._seen > LOST_S:
                raise ClusterError(
                    f"{self.address!r}: the last worker has gone and none has come for "
                    f"{LOST_S:g} s. Start workers and do this again."
                )
            else:
                alone(f"No worker is left: one may come within {LOST_S:g} s")

    def result(self, future: Made) -> MadeElsewhere | None:
        """What came of an item; None when it has to be handed over again, to a worker that has
        come since. Raises what making it raised, and `ClusterError`."""
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
            self.prepare()  # a worker without this program fails with whatever comes first
            raise
        if found is None:
            self.prepare()
        return found

    @contextlib.contextmanager
    def _talking(self) -> Iterator[None]:
        """While the scheduler is asked. Raises `ClusterError` when it is gone."""
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
    """Raise `ClusterError` where a worker would make other files than this machine."""
    if isinstance(answer, OSError):
        return  # gone while it was asked, which is the engine's matter
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
