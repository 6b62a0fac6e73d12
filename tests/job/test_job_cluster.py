"""Items made elsewhere: by an executor in this process, and by an engine of two processes."""

from __future__ import annotations

import contextlib
import json
import os
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from jobs import TEXT, bytes_of, small

from accomp.errors import ClusterError, InputError, NotInstalledError, OutputError
from accomp.job import cluster as cluster_module
from accomp.job import elsewhere
from accomp.job.build import WORK
from accomp.job.cluster import Cluster, connected
from accomp.job.elsewhere import MadeElsewhere, WorkerFacts, make_elsewhere, parcel, worker_facts
from accomp.job.items import Outcome
from accomp.job.library import make_library
from accomp.job.make import make_tune, tune_job
from accomp.job.options import Options
from benchmarks.engine import engine

LONG_S = 600.0
PAGES = Options(only=("midi", "pdf"), choruses=1)


class OneWorker:
    """An engine's client, as far as a cluster asks it, with one worker: this process."""

    def __init__(self) -> None:
        self.workers = {"tcp://here:1": 1}
        self.pool = ThreadPoolExecutor(1)

    def get_executor(self, pure: bool) -> ThreadPoolExecutor:
        assert not pure  # the same item handed over again is to be made again
        return self.pool

    def run(self, what: Any, *words: Any, on_error: str, workers: Any = None) -> dict[str, Any]:
        return {worker: what(*words) for worker in workers or self.workers}

    def nthreads(self) -> dict[str, int]:
        return self.workers


@pytest.fixture
def cluster(monkeypatch: pytest.MonkeyPatch) -> Iterator[Cluster]:
    monkeypatch.setattr(elsewhere, "_kept", {})
    client = OneWorker()
    yield Cluster("tcp://here:0", client)
    client.pool.shutdown(cancel_futures=True)


def titled(title: str) -> Any:
    return small(TEXT.replace("Small Tune", title))


@pytest.mark.slow
def test_the_same_bytes_as_here_and_one_tunes_fault_is_that_tunes(
    cluster: Cluster, tmp_path: Path
) -> None:
    tunes = {"a": titled("One"), "b": titled("Two"), "c": titled("Three")}
    (tmp_path / "b").write_text("a file where a folder is needed")
    asked = [(tune, tmp_path / name) for name, tune in tunes.items()]
    results = {wanted[0].title: found for wanted, found in make_library(asked, PAGES, cluster)}
    assert isinstance(results["Two"], OutputError)
    for name in "ac":
        make_tune(tunes[name], PAGES, tmp_path / "here" / name)
        assert bytes_of(tmp_path / name) == bytes_of(tmp_path / "here" / name)
    # What is there is found again: nothing is handed over.
    cluster._executor = None  # type: ignore[assignment]
    ((_, again),) = make_library(asked[:1], PAGES, cluster)
    assert again == results["One"]


class AllAtOnce:
    """A cluster whose workers finish everything at the same moment; what they hand over of one tune
    is not to be had."""

    room = 99

    def __init__(self, bad: str) -> None:
        self.bad = bad
        self.items: dict[Future[None], Any] = {}

    def submit(self, item: Any) -> Future[None]:
        future: Future[None] = Future()
        self.items[future] = item
        return future

    def some(self, pending: Any, waiting: Any) -> list[Future[None]]:
        return list(pending)

    def result(self, future: Future[None]) -> MadeElsewhere:
        names = self.items[future].labels
        if any(self.bad in name for name in names):
            raise OutputError("lost on the way")
        return MadeElsewhere(dict.fromkeys(names, b"%PDF-made"), Outcome())


@pytest.mark.slow
def test_what_comes_of_a_tune_that_was_given_up_is_passed_over(tmp_path: Path) -> None:
    asked = [(titled(name), tmp_path / name) for name in ("One", "Two")]
    options = replace(PAGES, only=("pdf",), keys=("C", "D"))
    ended = make_library(asked, options, AllAtOnce("one"))  # type: ignore[arg-type]
    results = {wanted[0].title: found for wanted, found in ended}
    assert str(results["One"]) == "lost on the way"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["Two"]
    assert len(list((tmp_path / "Two").glob("*.pdf"))) == 2


@pytest.mark.slow
def test_a_library_that_is_stopped_keeps_what_is_finished_of_a_pack_only(
    cluster: Cluster, tmp_path: Path
) -> None:
    for pack in (True, False):
        options = replace(PAGES, pack=pack)
        asked = [(titled(name), tmp_path / str(pack) / name) for name in ("One", "Two", "Three")]
        stopped = make_library(asked, options, cluster)
        assert next(stopped)[0][1].name == "One"
        stopped.close()
        left = sorted(path.name for path in (tmp_path / str(pack)).iterdir())
        assert (tmp_path / str(pack) / "One" / "manifest.json").is_file()
        assert left == (["One", "Three", "Two"] if pack else ["One"])
        assert all((tmp_path / "True" / name / WORK).is_dir() for name in ("Two", "Three"))


@pytest.mark.slow
def test_a_worker_makes_nothing_before_it_has_what_the_item_reads(
    cluster: Cluster, tmp_path: Path
) -> None:
    font = tmp_path / "font.bin"
    font.write_bytes(b"font")
    item = tune_job(titled("One"), PAGES, tmp_path).items[-1]
    sha = "b9f3d6b2c8e5a1" + "0" * 50
    sent = replace(parcel(item), reads=(sha,))
    assert make_elsewhere(sent) is None
    assert make_elsewhere(replace(sent, reads=(), program="another")) is None
    elsewhere.keep(elsewhere.SentFile("font.bin", sha, b"font"))  # not what its SHA-256 says
    assert make_elsewhere(sent) is None
    digest = elsewhere.hashlib.sha256(b"font").hexdigest()
    cluster.prepare({digest: font})
    (kept,) = elsewhere._kept.values()
    assert (kept.name, kept.read_bytes()) == ("font.bin", b"font")
    made = make_elsewhere(replace(sent, reads=(digest,)))
    assert made is not None
    assert made.files.keys() == item.labels.keys()


def test_another_program_is_refused_by_its_name(
    cluster: Cluster, monkeypatch: pytest.MonkeyPatch
) -> None:
    ours = worker_facts()
    cluster.prepare()
    for changed, said in (
        ({"accomp": "0.1.9"}, "tcp://here:1 has accomp 0.1.9 "),
        ({"typst": "0.13.1", "numpy": "1.0"}, "has numpy 1.0 (here "),
        ({"program": "f" * 64}, "its code differs"),
    ):
        other = WorkerFacts({**ours.makers, **changed}, ours.files)
        monkeypatch.setattr(cluster_module, "worker_facts", lambda other=other: other)
        client: Any = cluster._client
        monkeypatch.setattr(client, "run", lambda *_, other=other, **__: {"tcp://here:1": other})
        monkeypatch.setattr(cluster_module, "worker_facts", lambda: ours)
        with pytest.raises(ClusterError, match="tcp://here:1") as raised:
            cluster.prepare()
        assert said in str(raised.value)
    missing = ModuleNotFoundError("No module named 'accomp'")
    monkeypatch.setattr(client, "run", lambda *_, **__: {"tcp://here:1": missing})
    with pytest.raises(ClusterError, match=r"it has no accomp.*pip install"):
        cluster.prepare()
    monkeypatch.setattr(client, "run", lambda *_, **__: {"tcp://here:1": OSError("gone")})
    cluster.prepare()  # a worker that went away is no reason to stop


def test_an_engine_without_workers_or_connection_ends_the_work(
    cluster: Cluster, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(cluster_module, "_GLANCE_S", 0.01)
    monkeypatch.setattr(cluster_module, "LOST_S", 0.05)
    client: Any = cluster._client
    waiting: Future[MadeElsewhere | None] = Future()
    client.workers = {}
    told: list[str] = []
    with pytest.raises(ClusterError, match="last worker has gone"):
        cluster.some([waiting], told.append)
    assert told[0].startswith("No worker is left"), "said while there is still time"

    def closed() -> dict[str, int]:
        raise OSError("closed")

    monkeypatch.setattr(client, "nthreads", closed)
    with pytest.raises(ClusterError, match="connection to the scheduler is lost"):
        cluster.some([waiting], told.append)
    waiting.cancel()
    with pytest.raises(ClusterError, match="connection to the scheduler is lost"):
        cluster.result(waiting)
    killed: Future[MadeElsewhere | None] = Future()
    killed.set_exception(type("KilledWorker", (Exception,), {})())
    with pytest.raises(OutputError, match="one after another"):
        cluster.result(killed)
    wrong: Future[MadeElsewhere | None] = Future()
    wrong.set_exception(InputError(()))
    with pytest.raises(InputError):
        cluster.result(wrong)


def test_without_the_engine_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    with (
        pytest.raises(NotInstalledError, match=r"pip install 'accomp\[cluster\]'"),
        connected("tcp://127.0.0.1:1"),
    ):
        pass


@pytest.mark.parametrize(
    "address",
    [
        "",
        "host",
        "host:",
        ":8786",
        "tcp://host",
        "http://host:8786",
        "ftp://host:1",
        "host:0",
        "host:65536",
        "tcp://host:8786/x",
        "a b:8786",
        "tcp://me@host:8786",
        "::1:8786",
        "host:8x",
    ],
)
def test_what_is_no_address_is_wrong_usage(address: str) -> None:
    with pytest.raises(InputError, match="Name the one that `dask scheduler` prints") as raised:
        cluster_module._place(address)
    (problem,) = raised.value.problems
    assert (problem.setting, problem.found) == ("cluster", address)


def test_addresses_are_understood_as_they_are_printed() -> None:
    place = cluster_module._place
    assert place("tcp://192.168.1.20:8786") == ("192.168.1.20", 8786)
    assert place("tls://[fe80::1]:8786") == ("fe80::1", 8786)
    assert place("engine.local:65535") == ("engine.local", 65535)


@pytest.mark.slow
def test_whoever_keeps_silent_is_not_waited_for_long(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cluster_module, "ANSWER_S", 0.2)
    with socket.create_server(("127.0.0.1", 0)) as silent:
        address = f"127.0.0.1:{silent.getsockname()[1]}"
        with (
            pytest.raises(ClusterError, match=r"\(no answer\).*leave this out"),
            connected(address),
        ):
            pass


def accomp(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "accomp", *words],
        cwd=folder,
        env=os.environ | {"XDG_DATA_HOME": str(folder / "mine")},
        capture_output=True,
        text=True,
        timeout=LONG_S,
    )


@pytest.mark.slow
@pytest.mark.parametrize("address", ["nobody", "tcp://127.0.0.1:9"])
def test_an_address_where_nobody_is(address: str, tmp_path: Path) -> None:
    (tmp_path / "small.toml").write_text(TEXT)
    done = accomp(tmp_path, "make", "small.toml", "--cluster", address, "--json")
    said = {
        "nobody": "'nobody' is no address of a scheduler of dask.distributed.",
        "tcp://127.0.0.1:9": "'tcp://127.0.0.1:9': no scheduler of dask.distributed answers there "
        "(connection refused). Start one with `dask scheduler`",
    }[address]
    assert done.returncode == (2 if address == "nobody" else 1)
    assert said in done.stderr
    assert "--cluster" in done.stderr
    assert len(done.stderr.splitlines()) == 1
    (problem,) = json.loads(done.stdout)
    assert problem["message"].startswith(said.partition("(")[0])
    assert problem["setting"] == "cluster"
    assert [path.name for path in tmp_path.iterdir()] == ["small.toml"]


def _at_work(folder: Path) -> bool:
    """Whether a worker has begun with an item: it has a folder for it."""
    return any(folder.glob("dask-scratch-space/worker-*/tmp*"))


@pytest.mark.long
def test_two_processes_one_of_them_killed_make_what_one_machine_makes(tmp_path: Path) -> None:
    """With a style, an instrument and a cost file that only the asking machine has."""
    tunes = tmp_path / "tunes"
    (tmp_path / "mine" / "accomp" / "styles").mkdir(parents=True)
    (tmp_path / "mine" / "accomp" / "instruments").mkdir()
    done = accomp(tmp_path, "styles", "two-beat", "--write", "mine/accomp/styles/kitchen.toml")
    assert done.returncode == 0, done.stderr
    own = "mine/accomp/instruments/my-banjo.toml"
    assert accomp(tmp_path, "instruments", "tenor-banjo", "--write", own).returncode == 0
    tunes.mkdir()
    for number in range(3):
        text = TEXT.replace("Small Tune", f"Small Tune {number}").replace("160", f"{150 + number}")
        text = text.replace("four-light-heavy", "kitchen")
        text = text.replace("[sections]", 'instrument = "my-banjo"\n[sections]')
        (tunes / f"{number}.toml").write_text(text)
    (tunes / "style.toml").write_bytes((tmp_path / "mine/accomp/styles/kitchen.toml").read_bytes())
    (tunes / "torn.toml").write_text('title = "Torn\n')
    words = ["make", "tunes", "--choruses", "1", "--only", "audio", "--only", "pdf", "-q"]
    words += ["--only", "page", "--only", "midi"]
    (tmp_path / "engine").mkdir()
    with engine(tmp_path / "engine") as there:
        process = subprocess.Popen(
            [sys.executable, "-m", "accomp", *words, "-o", "far", "--cluster", there.address],
            cwd=tmp_path,
            env=os.environ | {"XDG_DATA_HOME": str(tmp_path / "mine")},
            stderr=subprocess.PIPE,
            text=True,
        )
        until = time.monotonic() + LONG_S
        while not _at_work(there.folders[1]):
            assert process.poll() is None, process.communicate()[1]
            assert time.monotonic() < until
            time.sleep(0.01)
        there.workers[1].kill()
        err = process.communicate(timeout=LONG_S)[1]
    assert process.returncode == 1, err  # of the torn tune
    assert "torn.toml:1" in err
    assert "3 of 4 tunes made." in err
    assert "Traceback" not in err
    accomp(tmp_path, *words, "-o", "near")
    far = bytes_of(tmp_path / "far")
    assert far == bytes_of(tmp_path / "near")
    assert len(far) == 3 * 5


@pytest.mark.long
def test_a_worker_of_another_version_is_refused_and_ctrl_c_takes_everything_back(
    tmp_path: Path,
) -> None:
    (tmp_path / "small.toml").write_text(TEXT)
    (tmp_path / "old.py").write_text('import accomp\naccomp.__version__ = "0.0.9"\n')
    words = ["make", "small.toml", "-o", "far", "--only", "audio"]
    with engine(tmp_path) as there:
        process = subprocess.Popen(
            [sys.executable, "-m", "accomp", *words, "--cluster", there.address],
            cwd=tmp_path,
            stderr=subprocess.PIPE,
            text=True,
        )
        until = time.monotonic() + LONG_S
        while not any(map(_at_work, there.folders)):
            assert process.poll() is None, process.communicate()[1]
            assert time.monotonic() < until
            time.sleep(0.01)
        process.send_signal(2)
        err = process.communicate(timeout=LONG_S)[1]
        assert process.returncode == 130, err
        assert "Stopped" in err
        assert "Traceback" not in err
        assert not (tmp_path / "far").exists()
        old = [sys.executable, "-m", "distributed.cli.dask_worker", there.address, "--no-nanny"]
        with (tmp_path / "old.log").open("wb") as log, contextlib.ExitStack() as stack:
            worker = subprocess.Popen(
                [*old, "--no-dashboard", "--preload", "old.py"],
                cwd=tmp_path,
                stdout=log,
                stderr=log,
            )
            stack.callback(worker.wait)
            stack.callback(worker.kill)
            while b"Registered to" not in (tmp_path / "old.log").read_bytes():
                assert worker.poll() is None
                assert time.monotonic() < until
                time.sleep(0.1)
            done = accomp(tmp_path, *words, "--cluster", there.address)
    assert done.returncode == 1
    assert "has accomp 0.0.9 (here " in done.stderr
    assert not (tmp_path / "far").exists()
