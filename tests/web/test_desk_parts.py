"""The parts of the desk by themselves: answers, events, options, workers, saving, its secret."""

from __future__ import annotations

import asyncio
import math
import os
import socket
import threading
from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from desk_server import SMALL, in_a_loop

from accomp.errors import InputError, OutputError, Problem
from accomp.web.desk import events, processes, saving, serve
from accomp.web.desk.asked import options_of
from accomp.web.desk.events import MOST_WAITING, Hub
from accomp.web.desk.processes import StoppedError, Worker
from accomp.web.desk.reply import json_text
from accomp.web.desk.saving import DEEP, HIDDEN, ChangedError, Saving
from accomp.web.desk.shelf import FileText, Shelf, read_file_text


@pytest.mark.parametrize(
    ("value", "text"),
    [
        ({"a": [1, 2.5, None, True, "é♭"]}, '{"a":[1,2.5,null,true,"é♭"]}'),
        ([math.nan, math.inf, -math.inf, 1.5], '["nan","inf","-inf",1.5]'),
        ([math.nan, None, False, 7, (1,)], '["nan",null,false,7,[1]]'),
        ({1: {2: math.nan}}, '{"1":{"2":"nan"}}'),
        ("a\ud800b", '"a?b"'),
        ({"\ud800": 1}, '{"?":1}'),
        ([datetime(2020, 1, 2, tzinfo=UTC)], '["2020-01-02 00:00:00+00:00"]'),
    ],
)
def test_whatever_a_file_says_can_be_sent(value: Any, text: str) -> None:
    assert json_text(value) == text


def test_a_number_that_nobody_reads_is_sent_as_a_short_text() -> None:
    fits, endless = 2**999 - 1, 2**1000
    assert json_text([math.nan, fits]) == f'["nan",{fits}]'
    told = json_text([math.nan, endless])
    assert told.startswith('["nan","')
    assert len(told) < 120


def test_who_listens_too_slowly_loses_the_oldest() -> None:
    async def late() -> list[str]:
        hub = Hub()
        first, other = hub.listen("desk", 1), hub.listen("desk", 2)
        heard = [await anext(first), await anext(other)]
        for number in range(MOST_WAITING + 3):
            hub.tell("n", number)
        heard.append(await anext(first))
        rest = [await anext(first) for _ in range(MOST_WAITING - 1)]
        assert rest[-1] == f"event: n\ndata: {MOST_WAITING + 2}\n\n"
        hub.end()
        assert [text async for text in first] == []
        await other.aclose()
        hub.tell("n", 0)
        return heard

    assert MOST_WAITING == 200
    assert in_a_loop(late()) == [
        "event: desk\ndata: 1\n\n", "event: desk\ndata: 2\n\n", "event: n\ndata: 3\n\n",
    ]  # fmt: skip


def test_in_silence_it_is_said_that_somebody_is_still_here(monkeypatch: pytest.MonkeyPatch) -> None:
    assert events.BREATH_S == 15
    monkeypatch.setattr(events, "BREATH_S", 0.01)

    async def quiet() -> str:
        listening = Hub().listen("desk", 1)
        await anext(listening)
        said = await anext(listening)
        await listening.aclose()
        return said

    assert in_a_loop(quiet()) == ": still here\n\n"


def test_what_a_browser_may_ask_of_a_tune(tmp_path: Path) -> None:
    asked = {
        "keys": ["F", "Bb"], "tempos": [100], "positions": ["all"], "only": ["midi"],
        "parts": ["tab"], "readers": ["Bb"], "ladder": [60, 60], "closed": None, "seed": 3,
        "style": "waltz", "instrument": "mandolin", "hand": "large", "vocabulary": "first",
    }  # fmt: skip
    options = options_of(asked)
    assert options.keys == ("F", "Bb")
    assert (options.ladder, options.seed, options.closed) == ((60, 60), 3, None)
    assert (options.style, options.instrument, options.hand) == ("waltz", "mandolin", "large")
    for name in ("mine", "mine.toml"):
        mine = options_of({"style": name}, ["mine"], tmp_path)
        assert mine.style == str(tmp_path / "mine.toml")


@pytest.mark.parametrize(
    ("asked", "problem"),
    [
        ([], Problem("options are an object, and this is a list.")),
        ({"jobs": 2}, Problem("there is no option 'jobs' here.", found="jobs", setting="jobs")),
        (
            {"temps": 1},
            Problem("there is no option 'temps' here.", found="temps", setting="temps",
                    hint="Did you mean 'tempos'?"),
        ),
        (
            {"hand": "larg"},
            Problem("'larg' is no known hand.", found="larg", setting="hand",
                    expected="large, medium, small", hint="Did you mean 'large'?"),
        ),
        (
            {"hand": 5},
            Problem("'5' is no known hand.", found="5", setting="hand",
                    expected="large, medium, small"),
        ),
    ],
)  # fmt: skip
def test_what_a_browser_may_not_ask(asked: object, problem: Problem) -> None:
    with pytest.raises(InputError) as caught:
        options_of(asked)
    assert caught.value.problems == (problem,)


@pytest.mark.parametrize("asked", [{"keys": "F"}, {"seed": [1]}, {"ladder": 60}, {"paper": ["a4"]}])
def test_one_value_stands_where_one_is_meant_and_a_list_where_several_are(asked: Any) -> None:
    with pytest.raises(InputError) as caught:
        options_of(asked)
    assert [one.setting for one in caught.value.problems] == list(asked)


def test_a_file_beside_a_tune_is_a_style_and_nothing_else(tmp_path: Path) -> None:
    for asked in (
        {"instrument": "mine"},
        {"hand": "mine"},
        {"style": "other"},
        {"style": ["mine"]},
    ):
        with pytest.raises(InputError):
            options_of(asked, ["mine"], tmp_path)
    with pytest.raises(InputError, match="'mine' is no known style"):
        options_of({"style": "mine"}, ["mine"])
    with pytest.raises(InputError) as caught:
        options_of({"jobs": 1, "soundfont": "x", "hand": "none"})
    assert [one.setting for one in caught.value.problems] == ["jobs", "soundfont", "hand"]


class Line:
    """In place of a pipe to a worker: what it answers, one after another, or silence."""

    def __init__(self, *answers: Any) -> None:
        self.answers = list(answers)
        self.sent: list[Any] = []
        self.closed = False
        self.waits: list[float] = []

    def send(self, value: Any) -> None:
        """Keep what was sent."""
        self.sent.append(value)

    def poll(self, wait_s: float) -> bool:
        """Whether there is an answer."""
        self.waits.append(wait_s)
        return bool(self.answers)

    def recv(self) -> Any:
        """The next answer, or the end."""
        answer = self.answers.pop(0)
        if isinstance(answer, Exception):
            raise answer
        return answer

    def close(self) -> None:
        """Closed."""
        self.closed = True


class Process:
    """In place of a process, which obeys at once, or only when it is killed."""

    def __init__(self, stubborn: bool = False) -> None:
        self.alive, self.stubborn = True, stubborn
        self.told: list[str] = []

    def is_alive(self) -> bool:
        """Whether it lives."""
        return self.alive

    def terminate(self) -> None:
        """Asked to end."""
        self.told.append("terminate")
        self.alive = self.stubborn

    def kill(self) -> None:
        """Ended."""
        self.told.append("kill")
        self.alive = False

    def join(self, wait_s: float) -> None:
        """Waited for."""
        self.told.append(f"join {wait_s:g}")


def worker(*answers: Any, stubborn: bool = False) -> Any:
    made: Any = object.__new__(Worker)
    made._line, made._process, made._stop = Line(*answers), Process(stubborn), threading.Event()
    return made


def test_a_worker_tells_how_far_it_is_and_answers() -> None:
    one = worker(("told", ("Half", 0.5)), ("told", ("Most", 0.9)), ("done", {"a": 1}))
    told: list[tuple[str, float]] = []
    assert one.call("tasks.x", {"q": 1}, lambda *said: told.append(said), 1.0) == {"a": 1}
    assert one._line.sent == [("tasks.x", {"q": 1})]
    assert told == [("Half", 0.5), ("Most", 0.9)]
    assert one.usable
    wrong = worker(("wrong", (Problem("no"),)))
    with pytest.raises(InputError, match="no"):
        wrong.call("tasks.x", None, print, 1.0)
    assert wrong.usable


def test_a_worker_that_takes_too_long_is_given_up() -> None:
    one = worker()
    said = (
        "This takes longer than 2 s and was given up. Fewer bars or fewer different chords are "
        "done sooner."
    )
    with pytest.raises(OutputError) as caught:
        one.call("tasks.x", None, print, 2.0)
    assert str(caught.value) == said
    assert one._line.waits == [0.5] * 5  # two seconds, and the half in which it is noticed
    assert one._line.closed
    assert one._process.told == ["terminate", "join 5"]
    assert not one.usable
    stubborn = worker(stubborn=True)
    stubborn.end()
    assert stubborn._process.told == ["terminate", "join 5", "kill", "join 5"]


def test_a_worker_that_is_stopped_says_so_and_one_that_dies_too() -> None:
    stopped = worker()
    stopped.stop()
    assert not stopped.usable
    with pytest.raises(StoppedError, match=r"^The work was stopped. Nothing was changed.$"):
        stopped.call("tasks.x", None, print, 60.0)
    for error in (EOFError(), OSError("broken")):
        gone = worker(error)
        with pytest.raises(OutputError, match=r"out of memory\?") as caught:
            gone.call("tasks.x", None, print, 60.0)
        assert not isinstance(caught.value, StoppedError)
        assert gone._line.closed
        ended = worker(error)
        ended._stop.set()
        with pytest.raises(StoppedError):
            ended.call("tasks.x", None, print, 60.0)
    dead = worker()
    dead._process.alive = False
    assert not dead.usable


def test_workers_do_tasks_when_free_and_are_replaced_when_not_usable(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    begun: list[Any] = []
    calls: list[tuple[Any, ...]] = []

    class Quick:
        def __init__(self) -> None:
            begun.append(self)
            self.usable = True
            self.told: list[str] = []

        def call(self, *asked: Any) -> Any:
            calls.append(asked)
            self.usable = asked[1] != "break"
            if not self.usable:
                raise OutputError("broken")
            asked[2]("said", 0.5)
            return asked[1]

        def stop(self) -> None:
            self.told.append("stop")

        def end(self) -> None:
            self.told.append("end")

    monkeypatch.setattr(processes, "Worker", Quick)

    async def some() -> None:
        two = processes.DeskWorkers(2)
        assert [await two.ask("t", n) for n in range(4)] == [0, 1, 2, 3]
        assert len(begun) == 2
        with pytest.raises(OutputError):
            await two.ask("t", "break", deadline_s=7.0)
        assert await two.ask("t", 5) == await two.ask("t", 5) == 5
        assert len(begun) == 3
        await two.warm("t", "warm")
        two.end()

    in_a_loop(some())
    assert [asked[3] for asked in calls] == [30.0] * 4 + [7.0] + [30.0] * 4
    assert [one.told for one in begun] == [[], ["stop", "end"], ["stop", "end"]]
    with pytest.raises(OutputError):
        Quick().call("t", "break", print, 1.0)


def test_saving_keeps_twenty_and_begins_where_it_was(tmp_path: Path) -> None:
    (tmp_path / "small.toml").write_text(SMALL, "utf-8")
    kept = tmp_path / HIDDEN / "small"
    kept.mkdir(parents=True)
    for number in range(1, DEEP + 1):
        (kept / f"{number:06d}.toml").write_text(f"# {number}", "utf-8")
    (kept / "notes.toml").write_text("not a version", "utf-8")
    one = Saving(Shelf(tmp_path))
    seen = one.shelf.read("small").sha256
    one.save("small", SMALL + "#\n", seen)
    assert DEEP == 20
    numbers = [row["number"] for row in one.earlier("small")]
    assert numbers == [*range(21, 1, -1)]
    assert one.earlier_text("small", 21) == SMALL
    assert (kept / "notes.toml").exists()


def test_what_is_gone_while_it_is_saved_is_told_so(tmp_path: Path) -> None:
    assert str(ChangedError(None)) == (
        "The file is gone since you last saw it. Nothing was written."
    )
    assert ChangedError(None).there is None


def test_a_new_tune_takes_no_name_that_is_taken(tmp_path: Path) -> None:
    one = Saving(Shelf(tmp_path))
    assert one.new("Book", SMALL) == "book-2"  # book.toml is the band's
    assert one.new("Two", SMALL) == "two"
    (tmp_path / "two-2-melody.musicxml").write_bytes(b"somebody's")
    assert one.new("Two", SMALL) == "two-3"
    name = one.new("Two", 'melody = "other.musicxml"\n' + SMALL, ("other.musicxml", b"notes"))
    assert name == "two-4"
    assert (tmp_path / "two-4-melody.musicxml").read_bytes() == b"notes"
    assert (tmp_path / "two-4.toml").read_text("utf-8") == (
        'melody = "two-4-melody.musicxml"\n' + SMALL
    )
    same = one.new("Three", 'melody="three-melody.musicxml"\n', ("three-melody.musicxml", b"n"))
    assert (tmp_path / f"{same}.toml").read_bytes() == b'melody="three-melody.musicxml"\n'


def test_there_is_an_end_to_tunes_of_one_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert saving._MOST_TRIES == 1000
    monkeypatch.setattr(saving, "_MOST_TRIES", 3)
    one = Saving(Shelf(tmp_path))
    assert [one.new("T", SMALL) for _ in range(2)] == ["t", "t-2"]
    with pytest.raises(OutputError, match=r"^There are too many tunes called 'T' already\.$"):
        one.new("T", SMALL)


def test_a_file_is_read_with_its_line_ends_and_no_larger_than_a_tune(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    path.write_bytes(b"\xef\xbb\xbfa = 1\r\nb = 2\n")
    written = read_file_text(path)
    assert (written.text, written.crlf) == ("a = 1\nb = 2\n", True)
    assert written.encoded("x\ny\r\n") == b"x\r\ny\r\n"
    assert FileText("", "").encoded("x\r\ny\n") == b"x\ny\n"
    most = saving.MOST_BYTES
    path.write_bytes(b"#" * most)
    assert len(read_file_text(path).text) == most
    saving._small_enough("#" * most)
    for large in (b"#" * (most + 1),):
        path.write_bytes(large)
        with pytest.raises(InputError, match="this file is too large"):
            read_file_text(path)
        with pytest.raises(OutputError, match="too large for a tune file"):
            saving._small_enough(large.decode())
    with pytest.raises(OutputError, match="too large for a tune file"):
        saving._small_enough("é" * (most // 2 + 1))
    path.write_bytes(b"\xff")
    with pytest.raises(InputError, match="not written in UTF-8") as caught:
        read_file_text(path)
    assert caught.value.problems[0].hint == "Save it as UTF-8."
    with pytest.raises(InputError, match="cannot be read"):
        read_file_text(tmp_path / "none.toml")


def test_the_shelf_looks_again_when_a_file_has_changed(tmp_path: Path) -> None:
    path = tmp_path / "small.toml"
    path.write_text(SMALL, "utf-8")
    os.utime(path, ns=(1_000_000_000, 1_000_000_000))
    shelf = Shelf(tmp_path)
    size = len(SMALL)
    assert shelf.state() == {"small": (1_000_000_000, size)}
    (row,) = shelf.rows()
    assert (row["changed"], row["tempo"]) == ("1970-01-01T00:00:01+00:00", 120)
    path.write_text(SMALL.replace("120", "999999"), "utf-8")
    assert shelf.rows()[0]["tempo"] == 999_999
    for tempo, shown in (("1000000", "1000000"), ("-999999", -999_999), ("true", "true")):
        path.write_text(SMALL.replace("120", tempo), "utf-8")
        assert shelf.rows()[0]["tempo"] == shown
    with pytest.raises(InputError, match="this folder cannot be read"):
        Shelf(tmp_path / "none").rows()


def test_the_secret_outlives_a_restart(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(serve, "data_folder", lambda: tmp_path / "home")
    first = serve._secret()
    path = tmp_path / "home" / "desk-secret"
    assert path.read_text("ascii") == first
    assert path.stat().st_mode & 0o777 == 0o600
    assert serve._secret() == first
    assert len(first) == 43  # 32 bytes in base64
    path.write_text("s" * 32 + "\n", "ascii")
    assert serve._secret() == "s" * 32
    for bad in (b"s" * 31, b"\xff" * 40, b""):
        path.write_bytes(bad)
        made = serve._secret()
        assert made.encode() != bad
        assert path.read_text("ascii") == made  # what was there is written over as a whole
    path.write_text("s" * 2000, "ascii")
    assert serve._secret() == "s" * 1000


def test_a_port_that_is_taken_is_told_and_the_usual_one_is_no_must(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    assert serve.USUAL_PORT == 8417
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(OutputError, match=f"^port {port} cannot be listened on ") as caught:
            serve._socket(port)
        assert caught.value.helps == ("port",)
        monkeypatch.setattr(serve, "USUAL_PORT", port)
        with serve._socket(None) as other:
            assert other.getsockname()[0] == "127.0.0.1"
            assert other.getsockname()[1] not in (0, port)
    with pytest.raises(OutputError, match="a desk needs a folder of tunes"):
        serve.serve(Path("/nowhere"), 0, read_only=False, opened=print)


def test_a_port_is_free_again_at_once_where_no_two_desks_can_share_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    for name, again in (("posix", True), ("nt", False)):
        monkeypatch.setattr(serve, "os", SimpleNamespace(name=name))
        with serve._socket(0) as one:
            assert (one.getsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR) != 0) is again


def test_who_says_nothing_is_waited_for_ten_seconds() -> None:
    from accomp.web.desk import wire

    class Loop:
        def __init__(self) -> None:
            self.waits: list[float] = []
            self.cancelled = 0

        def call_later(self, wait_s: float, work: Any) -> Any:
            self.waits.append(wait_s)
            return self

        def cancel(self) -> None:
            self.cancelled += 1

    class Transport:
        closed = closing = False

        def is_closing(self) -> bool:
            return self.closing

        def close(self) -> None:
            self.closed = True

    line: Any = object.__new__(wire.PatientWire)
    line.loop, line._waiting, line.transport = Loop(), None, Transport()
    line._heard()
    assert line.loop.cancelled == 0
    line._wait()
    line._wait()  # the next request: the wait begins anew
    assert (line.loop.waits, line.loop.cancelled) == ([10.0, 10.0], 1)
    line._heard()
    assert (line._waiting, line.loop.cancelled) == (None, 2)
    line.transport.closing = True
    line._give_up()
    assert not line.transport.closed
    line.transport.closing = False
    line._give_up()
    assert line.transport.closed
    assert (wire.MOST_HEAD, wire.MOST_CONNECTIONS) == (32_768, 400)


def test_what_changes_on_the_shelf_is_told_by_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from accomp.web.desk import state
    from accomp.web.desk.guard import DeskAccess

    assert state._LOOK_S == 1
    monkeypatch.setattr(state, "_LOOK_S", 0.001)
    desk = state.OpenDesk(tmp_path, DeskAccess(1, "t", "s"))
    states: list[dict[str, tuple[int, int]]] = [
        {"a": (1, 1), "b": (1, 1)}, {"a": (1, 1), "b": (1, 1)}, {"a": (1, 2), "c": (1, 1)},
        {"a": (1, 2), "c": (1, 1)},
    ]  # fmt: skip
    told: list[Any] = []
    desk._state = lambda: states.pop(0) if len(states) > 1 else states[0]  # type: ignore[method-assign]
    desk.hub.tell = lambda name, value: told.append((name, value))  # type: ignore[method-assign]

    async def watched() -> None:
        task = asyncio.create_task(desk._watch())
        for _ in range(500):
            if len(states) == 1:
                break
            await asyncio.sleep(0.002)
        await asyncio.sleep(0.01)
        task.cancel()

    in_a_loop(watched())
    assert told == [("shelf", {"changed": ["a", "b", "c"]})]
