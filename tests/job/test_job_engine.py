"""What is said to and of an engine of other machines, asked of stand-ins in this process."""

from __future__ import annotations

import contextlib
import logging
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from jobs import small

from accomp.errors import ClusterError, OutputError
from accomp.job import cluster as module
from accomp.job import elsewhere, library, workers
from accomp.job.build import BuildRecord
from accomp.job.cluster import Cluster, _nobody, _place, _same_program
from accomp.job.elsewhere import MadeElsewhere, SentFile, WorkerFacts, keep
from accomp.job.items import BytesItem, Item, Outcome
from accomp.job.library import make_library
from accomp.job.manifest import Label, Manifest
from accomp.job.options import Options

ADDRESS = "tcp://here:8786"


def test_a_port_lies_between_1_and_65535() -> None:
    assert _place("host:1") == ("host", 1)
    assert _place("host:65535") == ("host", 65535)
    for address in ("host:0", "host:65536", "host:100000"):
        with pytest.raises(Exception, match="is no address of a scheduler") as caught:
            _place(address)
        (problem,) = caught.value.problems  # type: ignore[attr-defined]
        assert problem.expected == "HOST:PORT, or tcp://HOST:PORT with a port from 1 to 65535"
        assert (
            problem.hint == "Name the one that `dask scheduler` prints, as tcp://192.168.1.20:8786."
        )


@pytest.mark.parametrize(
    ("error", "said"),
    [
        (ConnectionRefusedError(111, "Connection refused"), "connection refused"),
        (OSError("Timed out during handshake"), "no answer"),
        (TimeoutError("timed out"), "no answer"),
        (OSError(""), "no answer"),
        (ValueError("Odd."), "odd"),
    ],
)
def test_where_nobody_answers(error: Exception, said: str) -> None:
    found = _nobody(ADDRESS, error)
    assert str(found) == (
        f"'{ADDRESS}': no scheduler of dask.distributed answers there ({said}). Start one with "
        "`dask scheduler` and name the address that it prints, as tcp://192.168.1.20:8786; or "
        "leave this out, to work on this machine alone."
    )
    assert found.helps == ("cluster",)


OURS = {"accomp": "1.0", "Python": "3.11", "numpy": "2.0", "program": "p", "sound": "s"}


@pytest.mark.parametrize(
    ("theirs", "said"),
    [
        (OURS, ""),
        (OURS | {"program": "q"}, "another accomp 1.0 than here: its code differs"),
        (OURS | {"sound": "q"}, "another accomp 1.0 than here: its code differs"),
        (OURS | {"numpy": "1.9"}, "numpy 1.9 (here 2.0)"),
        (
            OURS | {"accomp": "0.9", "more": "1"},
            "accomp 0.9 (here 1.0) and more 1 (here missing)",
        ),
        (
            {name: version for name, version in OURS.items() if name != "Python"},
            "Python missing (here 3.11)",
        ),
    ],
)
def test_a_worker_has_the_very_program(theirs: dict[str, str], said: str) -> None:
    answer = WorkerFacts(theirs, frozenset())
    if not said:
        _same_program("w", answer, OURS)
        return
    with pytest.raises(ClusterError) as caught:
        _same_program("w", answer, OURS)
    assert str(caught.value) == (
        f"worker w has {said}. Its files would not be those of this machine: install the same "
        "versions there, or take this worker away."
    )


def test_a_worker_without_the_program_is_told_what_to_install() -> None:
    _same_program("w", OSError("gone"), OURS)
    with pytest.raises(ClusterError) as caught:
        _same_program("w", ModuleNotFoundError("No module named 'accomp'"), OURS)
    assert str(caught.value) == (
        "worker w: it has no accomp, or another one than 1.0 (No module named 'accomp'). Install "
        "the same version there: python -m pip install 'accomp[cluster]==1.0'."
    )


def test_who_is_there_is_asked_until_somebody_works(monkeypatch: pytest.MonkeyPatch) -> None:
    answers: list[Any] = []
    slept: list[float] = []
    now = [0.0]

    async def identity(address: str) -> Any:
        answer = answers.pop(0)
        if isinstance(answer, Exception):
            raise answer
        return answer

    def sleep(wait_s: float) -> None:
        slept.append(wait_s)
        now[0] += wait_s

    monkeypatch.setattr(module, "_identity", identity)
    monkeypatch.setattr(module, "time", SimpleNamespace(monotonic=lambda: now[0], sleep=sleep))
    answers[:] = [{"type": "Scheduler", "workers": {}}, {"type": "Scheduler", "workers": {"w": 1}}]
    module._look(ADDRESS)
    assert slept == [0.5]
    for answer in ("no", {"type": "Worker"}, {}):
        answers[:] = [answer]
        with pytest.raises(ClusterError) as caught:
            module._look(ADDRESS)
        assert str(caught.value) == (
            f"'{ADDRESS}': this is no scheduler of dask.distributed. Name the address that `dask "
            "scheduler` prints, as tcp://192.168.1.20:8786."
        )
        assert caught.value.helps == ("cluster",)
    for error in (OSError("x"), ValueError("x"), TypeError("x"), RuntimeError("x")):
        answers[:] = [error]
        with pytest.raises(ClusterError, match=r"answers there \(x\)"):
            module._look(ADDRESS)
    now[0], slept[:], answers[:] = 0.0, [], [{"type": "Scheduler"}] * 30
    with pytest.raises(ClusterError) as caught:
        module._look(ADDRESS)
    assert str(caught.value).startswith(
        f"'{ADDRESS}': nobody works there. Start workers, a process"
    )
    assert str(caught.value).endswith(f"are to work: dask worker {ADDRESS}.")
    assert len(slept) == 21  # ten seconds, and the half in which they are over
    assert (module.ANSWER_S, module.WORKERS_S, module.LOST_S) == (4.0, 10.0, 60.0)


def test_whether_anybody_listens_is_asked_once(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[Any] = []

    def connect(place: tuple[str, int], timeout: float) -> Any:
        asked.append((place, timeout))
        if place[1] == 1:
            raise ConnectionRefusedError(111, "Connection refused")
        return SimpleNamespace(close=lambda: asked.append("closed"))

    monkeypatch.setattr(module.socket, "create_connection", connect)
    module._knock(ADDRESS, "here", 8786)
    assert asked == [(("here", 8786), 4.0), "closed"]
    with pytest.raises(ClusterError, match="connection refused"):
        module._knock(ADDRESS, "here", 1)


def test_what_the_engine_logs_is_kept_silent_for_a_while() -> None:
    log = logging.getLogger("distributed.client")
    log.setLevel(logging.INFO)
    with module._silent_logs():
        assert {logging.getLogger(name).level for name in module._LOGS} == {51}
    assert log.level == logging.INFO
    log.setLevel(logging.NOTSET)


class Client:
    """An engine's client with so many workers, which knows what it was asked."""

    def __init__(self, count: int, files: dict[str, frozenset[str]] | None = None) -> None:
        self.workers = [f"w{number}" for number in range(count)]
        self.files = files or {}
        self.asked: list[tuple[Any, ...]] = []
        self.pool = ThreadPoolExecutor(1)

    def get_executor(self, pure: bool) -> ThreadPoolExecutor:
        """The executor."""
        return self.pool

    def run(self, what: Any, *words: Any, on_error: str, workers: Any = None) -> dict[str, Any]:
        """Ask every worker."""
        assert on_error == "return"
        self.asked.append((what.__name__, workers, *words))
        makers = module.worker_facts().makers
        return {
            worker: WorkerFacts(makers, self.files.get(worker, frozenset()))
            for worker in workers or self.workers
        }

    def nthreads(self) -> dict[str, int]:
        """Who is there."""
        return dict.fromkeys(self.workers, 1)


@pytest.fixture(autouse=True)
def _program(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "worker_facts", worker_facts)


def worker_facts() -> WorkerFacts:
    return WorkerFacts(OURS, frozenset())


@pytest.mark.parametrize(("count", "room"), [(0, 4), (1, 4), (2, 6), (5, 15)])
def test_three_items_a_worker_and_four_at_least(
    count: int, room: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    cluster = Cluster(ADDRESS, Client(count))
    assert cluster.room == 4
    cluster.prepare()
    assert cluster.room == room
    later = Cluster(ADDRESS, Client(count))
    monkeypatch.setattr(module, "_GLANCE_S", 0.001)
    waiting: Future[MadeElsewhere | None] = Future()
    told: list[str] = []

    def alone(said: str) -> None:
        told.append(said)
        waiting.set_result(None)

    def threads() -> dict[str, int]:
        if not waiting.done() and count:
            waiting.set_result(None)
        return dict.fromkeys(map(str, range(count)), 1)

    later._client.nthreads = threads
    assert later.some([waiting], alone) == [waiting]
    assert later.room == room
    assert told == ([] if count else ["No worker is left: one may come within 60 s"])


def test_files_are_sent_to_who_has_them_not(tmp_path: Path) -> None:
    font = tmp_path / "font.sf2"
    font.write_bytes(b"font")
    client = Client(3, {"w0": frozenset({"sum"}), "w2": frozenset({"other"})})
    cluster = Cluster(ADDRESS, client)
    cluster.prepare({"sum": font})
    assert client.asked == [
        ("worker_facts", None), ("keep", ["w1", "w2"], SentFile("font.sf2", "sum", b"font")),
    ]  # fmt: skip
    client.asked.clear()
    client.files = dict.fromkeys(client.workers, frozenset({"sum"}))
    cluster.prepare()
    assert client.asked == [("worker_facts", None)]


def test_what_came_of_an_item(tmp_path: Path) -> None:
    client = Client(1)
    cluster = Cluster(ADDRESS, client)

    def of(result: Any) -> Future[MadeElsewhere | None]:
        future: Future[MadeElsewhere | None] = Future()
        if isinstance(result, Exception):
            future.set_exception(result)
        else:
            future.set_result(result)
        return future

    made = MadeElsewhere({}, Outcome())
    assert cluster.result(of(made)) is made
    assert client.asked == []
    assert cluster.result(of(None)) is None  # the worker is new: it is made ready
    assert client.asked == [("worker_facts", None)]
    with pytest.raises(ZeroDivisionError):
        cluster.result(of(ZeroDivisionError()))
    assert len(client.asked) == 2
    killed = type("KilledWorker", (Exception,), {})()
    with pytest.raises(OutputError) as caught:
        cluster.result(of(killed))
    assert str(caught.value) == (
        "several workers ended without a word, one after another, while they made this (out of "
        "memory?). Give each more memory, or make this tune on this machine."
    )
    with pytest.raises(OutputError, match=r"^own$"):
        cluster.result(of(OutputError("own")))
    assert len(client.asked) == 2


def test_files_that_are_kept_are_those_that_were_sent(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import hashlib

    monkeypatch.setattr(elsewhere, "_kept", {})
    monkeypatch.setattr(elsewhere, "_scratch", lambda: str(tmp_path))
    sha = hashlib.sha256(b"font").hexdigest()
    keep(SentFile("../up/font.sf2", sha, b"font"))
    keep(SentFile("other", "wrong", b"x"))
    assert list(elsewhere._kept) == [sha]
    path = elsewhere._kept[sha]
    assert (path.name, path.read_bytes()) == ("font.sf2", b"font")
    assert path.parent.parent == tmp_path


# ------------------------------------------------------------------ a library of tunes


class Piece(BytesItem):
    """An item that is work, of a weight that its bytes say."""

    @property
    def weight(self) -> float:
        """As it is written in it."""
        return float(self.data)

    @property
    def at_hand(self) -> bool:
        """It has to be made elsewhere, but for a very light one."""
        return self.data == b"0"


def piece(name: str, weight: int) -> Item:
    return Piece({name: Label("midi", "full")}, str(weight).encode())


class Engine:
    """A cluster that makes things as soon as somebody waits; room for so many items."""

    def __init__(self, room: int, faults: dict[str, Exception] | None = None) -> None:
        self.room, self.faults = room, faults or {}
        self.handed: list[str] = []
        self.made: dict[Any, Item] = {}

    def submit(self, item: Item) -> Any:
        """Keep an item."""
        (name,) = item.labels
        self.handed.append(name)
        future: Future[Any] = Future()
        self.made[future] = item
        return future

    def some(self, pending: Any, alone: Any) -> list[Any]:
        """The first that waits."""
        return list(pending)[:1]

    def result(self, future: Any) -> Any:
        """Its bytes."""
        item = self.made[future]
        (name,) = item.labels
        if name in self.faults:
            fault = self.faults[name]
            if str(fault) == "again":
                del self.faults[name]
                return None
            raise fault
        return MadeElsewhere({name: item.data}, Outcome(("made",), "font", "synth"))  # type: ignore[attr-defined]


@pytest.fixture
def planned(monkeypatch: pytest.MonkeyPatch) -> dict[str, list[Item]]:
    """The items of each tune by its title, in place of a plan."""
    from accomp.job.build import Build
    from accomp.job.make import TuneJob

    items: dict[str, list[Item]] = {}

    def job(tune: Any, options: Options, folder: Path, progress: Any) -> TuneJob:
        if tune.title not in items:
            raise OutputError(f"no plan for {tune.title}")
        progress("planning", 0.5)
        return TuneJob(tune.title, tuple(items[tune.title]), (), (), Build(folder))

    monkeypatch.setattr(library, "tune_job", job)
    return items


def wanted(*titles: str, folder: Path) -> list[tuple[Any, Path]]:
    from jobs import TEXT

    return [(small(TEXT.replace("Small Tune", one)), folder / one) for one in titles]


def test_a_library_is_made_the_longest_first_and_told_as_it_goes(
    planned: dict[str, list[Item]], tmp_path: Path
) -> None:
    planned["One"] = [piece("a", 1), piece("b", 3), piece("c", 2), piece("d", 0)]
    planned["Two"] = [piece("e", 5)]
    planned["None"] = []
    engine = Engine(4)
    told: list[tuple[str, float]] = []
    tasks = wanted("One", "Two", "None", "Wrong", folder=tmp_path)
    results = list(
        make_library(tasks, Options(), engine, lambda *said: told.append(said))  # type: ignore[arg-type]
    )
    assert engine.handed == ["b", "c", "a", "e"]
    kinds = {task[0].title: result for task, result in results}
    assert sorted(kinds) == ["None", "One", "Two", "Wrong"]
    assert isinstance(kinds["Wrong"], OutputError)
    one = kinds["One"]
    assert isinstance(one, Manifest)
    assert [file.path for file in one.files] == ["a", "b", "c", "d"]
    assert [(file.soundfont, file.notices) for file in one.files] == [
        ("font", ("made",)), ("font", ("made",)), ("font", ("made",)), (None, ()),
    ]  # fmt: skip
    assert (tmp_path / "One" / "b").read_bytes() == b"3"
    shares = [share for _, share in told]
    assert shares[-1] == 1.0
    assert ("One: b", pytest.approx((1 - 2 / 4) / 4)) in told
    assert {what for what, share in told if share == 0.0} == {"planning"}


def test_an_item_is_handed_over_again_to_who_has_come_since(
    planned: dict[str, list[Item]], tmp_path: Path
) -> None:
    planned["One"] = [piece("a", 1), piece("b", 2)]
    engine = Engine(1, {"b": ValueError("again")})
    ((_, result),) = make_library(wanted("One", folder=tmp_path), Options(), engine)  # type: ignore[arg-type]
    assert isinstance(result, Manifest)
    assert engine.handed == ["b", "a", "b"]


def test_a_fault_is_one_tunes_but_that_of_the_engine_all_tunes(
    planned: dict[str, list[Item]], tmp_path: Path
) -> None:
    planned["One"], planned["Two"] = [piece("a", 1), piece("b", 2)], [piece("c", 3)]
    engine = Engine(9, {"b": OutputError("full")})
    results = list(make_library(wanted("One", "Two", folder=tmp_path), Options(), engine))  # type: ignore[arg-type]
    assert [str(result)[:4] for _, result in results] == ["full", "<Man"]
    assert not (tmp_path / "One").exists()
    lost = Engine(9, {"c": ClusterError("lost")})
    with pytest.raises(ClusterError):
        list(make_library(wanted("One", "Two", folder=tmp_path / "new"), Options(), lost))  # type: ignore[arg-type]
    assert not (tmp_path / "new" / "Two").exists()


def test_no_more_is_planned_than_there_is_room_for(
    planned: dict[str, list[Item]], tmp_path: Path
) -> None:
    for title in ("One", "Two"):
        planned[title] = [piece(f"{title}{number}", number + 1) for number in range(2)]
    engine = Engine(1)
    results = make_library(wanted("One", "Two", folder=tmp_path), Options(), engine)  # type: ignore[arg-type]
    first, _ = next(results)
    assert first[0].title == "One"
    assert engine.handed == ["One1", "One0"]  # it is done before the second is planned
    results.close()


# ------------------------------------------------------------------ workers of this machine


def test_workers_start_with_one_thread_unless_somebody_has_said_otherwise(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    import os

    names = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")
    for name in names:
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("OMP_NUM_THREADS", "7")
    with contextlib.suppress(ZeroDivisionError), workers.one_thread_each():
        assert [os.environ[name] for name in names] == ["1", "7", "1", "1"]
        raise ZeroDivisionError
    assert [os.environ.get(name) for name in names] == [None, "7", None, None]


def test_a_worker_stops_at_its_next_sign_when_it_is_told_to(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    told = SimpleNamespace(is_set=lambda: False)
    shares: list[float] = []

    def work(task: int, check: Any) -> int:
        check(0.5)
        shares.append(0.5)
        return task + 1

    monkeypatch.setattr(workers, "_stop", None)
    assert workers._do(work, 1) == 2
    monkeypatch.setattr(workers, "_stop", told)
    assert workers._do(work, 1) == 2
    told.is_set = lambda: True
    with pytest.raises(workers._ToldToStopError):
        workers._do(work, 1)
    assert shares == [0.5, 0.5]


def test_a_record_of_what_was_made_elsewhere_is_kept(tmp_path: Path) -> None:
    from accomp.job.build import Build

    build = Build(tmp_path)
    with build.opened():
        item = piece("a", 1)
        record = build.put(item, {"a": b"bytes"}, Outcome(("n",)))
        assert isinstance(record, BuildRecord)
        assert build.found([item])[item.inputs] == record
        assert [path.read_bytes() for path in build.paths(item).values()] == [b"bytes"]


class Pool:
    """In place of a pool of processes: it does what it is handed at once."""

    made: list[Pool]

    def __init__(self, **how: Any) -> None:
        self.how = how
        self.killed: list[int] = []
        self.handed: list[Any] = []
        self.shut: dict[str, bool] = {}
        self.fault: BaseException | None = None
        self._processes = {
            number: SimpleNamespace(kill=lambda number=number: self.killed.append(number))
            for number in (1, 2)
        }
        Pool.made.append(self)

    def submit(self, work: Any, *words: Any) -> Future[Any]:
        """Do it."""
        self.handed.append((work, *words))
        future: Future[Any] = Future()
        try:
            future.set_result(work(*words))
        except Exception as error:
            future.set_exception(error)
        return future

    def shutdown(self, **how: bool) -> None:
        """Shut."""
        self.shut = how
        if self.fault is not None:
            raise self.fault


@pytest.fixture
def pool(monkeypatch: pytest.MonkeyPatch) -> list[Pool]:
    class Event:
        def __init__(self) -> None:
            self.told = False

        def set(self) -> None:
            self.told = True

        def is_set(self) -> bool:
            return self.told

    def context(kind: str) -> Any:
        assert kind == "spawn"
        return SimpleNamespace(Event=Event)

    Pool.made = []
    monkeypatch.setattr(workers, "get_context", context)
    monkeypatch.setattr(workers, "ProcessPoolExecutor", Pool)
    monkeypatch.setattr(workers, "_stop", None)
    return Pool.made


def test_workers_that_have_begun_nothing_are_ended_at_once(pool: list[Pool]) -> None:
    with workers.Workers(3) as some:
        some.begin()
    (made,) = pool
    assert made.how["max_workers"] == 3
    assert made.how["initializer"] is workers._begin
    stop, prepare = made.how["initargs"]
    assert prepare is workers.no_preparation
    assert made.handed == [(workers.no_preparation,)] * 3
    assert made.killed == [1, 2]
    assert made.shut == {"wait": True, "cancel_futures": True}
    assert not stop.told


def test_workers_at_work_come_to_a_stop_and_are_ended_when_told_twice(pool: list[Pool]) -> None:
    def work(task: int, check: Any) -> int:
        check(0.5)
        return 10 * task

    with workers.Workers(2) as some:
        assert sorted(some.done(work, [1, 2])) == [(1, 10), (2, 20)]
    assert pool[0].killed == []
    assert pool[0].how["initargs"][0].told
    twice = workers.Workers(2)
    list(twice.done(work, []))
    pool[1].fault = KeyboardInterrupt()
    with pytest.raises(KeyboardInterrupt):
        twice.__exit__()
    assert pool[1].killed == [1, 2]


def test_a_worker_that_ends_without_a_word_is_told_of(pool: list[Pool]) -> None:
    def dies(task: int, check: Any) -> int:
        raise workers.BrokenProcessPool

    def fails(task: int, check: Any) -> int:
        return 1 // task

    with pytest.raises(OutputError) as caught:
        list(workers.Workers(2).done(dies, [1]))
    assert caught.value.helps == ("jobs",)
    assert str(caught.value) == (
        "a worker process ended without a word (out of memory?). Nothing was changed; do "
        "this again, it goes on from here, or with a single process."
    )
    with pytest.raises(ZeroDivisionError):
        list(workers.Workers(2).done(fails, [0]))


def test_a_worker_leaves_ctrl_c_to_its_parent_and_ends_with_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    import signal

    done: list[Any] = []
    parent = SimpleNamespace(join=lambda: done.append("joined"))
    monkeypatch.setattr(workers.os, "_exit", done.append)
    monkeypatch.setattr(workers, "parent_process", lambda: None)
    workers.end_with_parent()
    assert done == []
    monkeypatch.setattr(workers, "parent_process", lambda: parent)
    workers.end_with_parent()
    assert done == ["joined", 1]
    done.clear()
    monkeypatch.setattr(workers, "_stop", None)
    monkeypatch.setattr(workers.signal, "signal", lambda *words: done.append(words))

    class Thread:
        def __init__(self, target: Any, daemon: bool) -> None:
            done.append((target, daemon))

        def start(self) -> None:
            done.append("started")

    monkeypatch.setattr(workers.threading, "Thread", Thread)

    def prepare() -> None:
        done.append("prepared")
        raise OSError("told by the first task that needs it")

    stop: Any = SimpleNamespace(is_set=lambda: False)
    workers._begin(stop, prepare)
    assert workers._stop is stop
    assert done == [
        (signal.SIGINT, signal.SIG_IGN), (workers.end_with_parent, True), "started", "prepared",
    ]  # fmt: skip


def test_a_worker_says_what_decides_bytes_there(monkeypatch: pytest.MonkeyPatch) -> None:
    import sys

    import accomp
    from accomp.job.items import program, sound_makers

    monkeypatch.setattr(elsewhere, "_kept", {"sum": Path("font")})
    there = elsewhere.worker_facts()
    assert there.files == {"sum"}
    assert there.makers["accomp"] == accomp.__version__
    assert there.makers["Python"] == f"{sys.version_info.major}.{sys.version_info.minor}"
    assert (there.makers["program"], there.makers["sound"]) == (program(), sound_makers())
    packages = ("lxml", "numpy", "pyfluidsynth", "soundfile", "typst", "verovio")
    assert [name for name in there.makers if name in packages] == list(packages)
    assert not any(there.makers[name].startswith(name) for name in packages)
