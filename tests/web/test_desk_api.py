"""The desk's interface: what its OpenAPI file says is so, and its JSON is the command line's."""

from __future__ import annotations

import asyncio
import json
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx
import jsonschema
import pytest
from desk_server import EXAMPLES, SMALL, RunningDesk, in_a_loop

import accomp.web.desk
from accomp.cli import run
from accomp.errors import OutputError
from accomp.web.desk.guard import DeskAccess
from accomp.web.desk.processes import DeskWorkers
from accomp.web.desk.routes import ROUTES
from accomp.web.desk.state import SOUNDED, OpenDesk

API = json.loads((Path(accomp.web.desk.__file__).parent / "openapi.json").read_text("utf-8"))
NAME = "harbour-street-parade"
PARADE = (EXAMPLES / f"{NAME}.toml").read_text(encoding="utf-8")
STYLE = 'title = "Plain"\nmeter = "4/4"\ntempo = [90, 200]\n[strum]\ncount = "1 2 3 4"\n'
SHEET = b'X:1\nT:Sheet\nM:4/4\nL:1/4\nK:F\n"F"FGAc|"C7"c4|\n'


def test_every_address_is_told_and_no_other() -> None:
    told = {(method.upper(), path) for path, all_ in API["paths"].items() for method in all_}
    there = {(method, path.replace(":int", "")) for method, path, _ in ROUTES}
    assert told == there


def test_what_stands_in_an_address_is_told() -> None:
    for path, operations in API["paths"].items():
        for operation in operations.values():
            told = {one["name"] for one in operation.get("parameters", []) if one["in"] == "path"}
            assert told == {part[1:-1] for part in path.split("/") if part.startswith("{")}, path


def _checked(answer: httpx.Response, method: str, path: str) -> Any:
    """The JSON of an answer, which is as the OpenAPI file has it."""
    told = API["paths"][path][method.lower()]["responses"]
    assert str(answer.status_code) in told, f"{method} {path}: {answer.status_code} {answer.text}"
    schema = told[str(answer.status_code)]["content"]["application/json"]["schema"]
    jsonschema.validate(answer.json(), {**schema, "components": API["components"]})
    return answer.json()


@pytest.mark.slow
def test_answers_are_as_the_file_has_them(running: RunningDesk) -> None:
    about = {"text": PARADE, "name": NAME}
    asked: list[tuple[str, str, str, dict[str, Any]]] = [
        ("GET", "/api/tunes", "", {}),
        ("GET", "/api/tunes/{name}", f"/api/tunes/{NAME}", {}),
        ("GET", "/api/tunes/{name}/earlier", f"/api/tunes/{NAME}/earlier", {}),
        ("POST", "/api/judge", "", about),
        ("POST", "/api/judge", "", {"text": "title = ", "name": NAME}),
        ("POST", "/api/style", "", {"text": STYLE}),
        ("POST", "/api/style", "", {"text": "title = 1"}),
        ("POST", "/api/neck", "", about),
        ("POST", "/api/neck", "", {"text": PARADE.replace("F7", "H7"), "name": NAME}),
        ("POST", "/api/others", "", about | {"chord": "C7"}),
        ("POST", "/api/change", "", {"text": SMALL, "path": ["tempo"], "value": 90}),
        ("POST", "/api/sound", "", about | {"options": {"choruses": 1}}),
        ("POST", "/api/sound", "", {"text": STYLE, "kind": "style"}),
        ("POST", "/api/check", "", {"text": PARADE.replace("F7", "H7")}),
        ("GET", "/api/styles/{name}/text", "/api/styles/waltz/text", {}),
        ("GET", "/api/choices", "", {}),
        ("GET", "/api/jobs", "", {}),
        ("GET", "/api/book", "", {}),
    ]
    with running.script() as client:
        for method, path, where, body in asked:
            how = {"json": body} if method == "POST" else {}
            _checked(client.request(method, where or path, **how), method, path)
        answer = client.post("/api/leadsheets?file=sheet.abc", content=SHEET)
        (made,) = _checked(answer, "POST", "/api/leadsheets")["tunes"]
        assert client.get(f"/api/tunes/{made['name']}").json()["text"].count("melody") >= 1
        answer = client.post("/api/leadsheets?file=sheet.pdf", content=SHEET)
        assert answer.status_code == 422


@pytest.mark.many(4, 99)
@pytest.mark.parametrize(
    "asked",
    [
        b"",
        b"[]",
        b"{",
        b'{"text": 1}',
        b"\xff",
        b'{"text": "\\ud800"}',
        b'{"text": ' + b"[" * 100_000 + b"]" * 100_000 + b"}",
    ],
    ids=["nothing", "a list", "unclosed", "a number", "no text", "half a sign", "deep"],
)
@pytest.mark.parametrize(
    "path", ["/api/judge", "/api/neck", "/api/sound", "/api/change", "/api/jobs"]
)
def test_a_body_that_cannot_be_meant_is_told(asked: bytes, path: str, running: RunningDesk) -> None:
    with running.script() as client:
        answer = client.post(path, content=asked)
        assert answer.status_code == 422
        assert answer.json()["problems"][0]["message"]
        assert "Traceback" not in answer.text
        assert "itself failed" not in answer.text


@pytest.mark.slow
def test_what_a_text_may_say_and_json_may_not_is_told(running: RunningDesk) -> None:
    with running.script() as client:
        for value in ("nan", "inf", "2020-01-01", "0x" + "f" * 9000, "[{a = nan}]"):
            asked = {"text": SMALL.replace("120", value), "name": "small"}
            answer = client.post("/api/judge", json=asked)
            assert answer.status_code == 200, answer.text
            assert answer.json()["problems"][0]["message"].startswith("'tempo' must be")
        wrong = [
            client.post("/api/judge", content=b"[" * 100_000),
            client.post("/api/others", json={"text": SMALL, "name": "small"}),
            client.post("/api/style", json={"text": STYLE, "name": "a" * 300}),
            client.post("/api/tunes", json={"title": "\0\7", "text": SMALL}),
            client.post("/api/tunes", json={"title": "Large", "text": "#" * 2_000_000}),
            client.get(f"/api/jobs/{'9' * 5000}"),
            client.get(f"/api/tunes/{NAME}/earlier/{'9' * 5000}"),
        ]
    assert [answer.status_code for answer in wrong] == [422] * 5 + [400] * 2
    for answer in wrong:
        assert answer.json()["problems"][0]["message"]
        assert "itself failed" not in answer.text
    assert not (running.folder / "large.toml").exists()


def _printed(capsys: pytest.CaptureFixture[str], *arguments: str) -> Any:
    capsys.readouterr()
    assert run([*arguments, "--json"]) in {0, 1}
    return json.loads(capsys.readouterr().out)


@pytest.mark.slow
def test_the_json_is_the_command_lines(
    running: RunningDesk, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    path = tmp_path / f"{NAME}.toml"
    path.write_text(PARADE, encoding="utf-8")
    about = {"text": PARADE, "name": NAME}
    ask: Callable[..., Any]
    with running.script() as client:

        def ask(path: str, **body: Any) -> Any:
            answer = client.post(path, json=body) if body else client.get(path)
            assert answer.status_code == 200, answer.text
            return answer.json()

        options = {"options": {"positions": ["root-top"]}}
        found = ask("/api/positions", **about, **options)
        assert found == _printed(capsys, "positions", str(path), "--position", "root-top")
        assert ask("/api/keys", **about) == _printed(capsys, "keys", str(path))
        assert ask("/api/shapes", chord="C7") == _printed(capsys, "shapes", "C7")
        large = ask("/api/shapes", chord="Bbm7b5", options={"hand": "large", "closed": True})
        assert large == _printed(capsys, "shapes", "Bbm7b5", "--hand", "large", "--closed")
        assert ask("/api/styles") == _printed(capsys, "styles")
        assert ask("/api/styles/waltz") == _printed(capsys, "styles", "waltz")
        assert ask("/api/instruments") == _printed(capsys, "instruments")
        assert ask("/api/instruments/mandolin") == _printed(capsys, "instruments", "mandolin")
        wrong = PARADE.replace("F7", "H7")
        path.write_text(wrong, encoding="utf-8")
        problems = _printed(capsys, "check", str(path))
        assert problems
        # The desk calls a file by its name alone.
        assert ask("/api/check", text=wrong, name=NAME) == [
            one | {"file": path.name} for one in problems
        ]


@pytest.mark.slow
def test_a_job_makes_what_the_command_line_makes(
    running: RunningDesk, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (running.folder / "jobbing.toml").write_text(SMALL, encoding="utf-8")
    with running.script() as client:
        body = {"name": "jobbing", "text": SMALL, "options": {"only": ["midi", "musicxml"]}}
        job = _checked(client.post("/api/jobs", json=body), "POST", "/api/jobs")
        while job["state"] in {"waiting", "working"}:
            time.sleep(0.2)
            (job,) = [
                one for one in client.get("/api/jobs").json()["jobs"]
                if one["number"] == job["number"]
            ]  # fmt: skip
        assert (job["state"], job["share"]) == ("done", 1.0), job
        assert run(["make", str(running.folder / "jobbing.toml"), "--out", str(tmp_path / "out"),
                    "--only", "midi", "--only", "musicxml"]) == 0  # fmt: skip
        capsys.readouterr()
        for name in job["files"]:
            made = client.get(f"/api/tunes/jobbing/made/{name}")
            assert made.status_code == 200
            assert made.headers["content-disposition"].startswith("attachment")
            assert made.content == (tmp_path / "out" / name).read_bytes()
        answer = client.post("/api/jobs", json=body | {"options": {"only": ["tea"]}})
        job = _checked(answer, "POST", "/api/jobs")
        while job["state"] in {"waiting", "working"}:
            time.sleep(0.2)
            job = client.get("/api/jobs").json()["jobs"][0]
        assert job["state"] == "wrong"
        assert "tea" in job["problems"][0]["message"]


def test_what_was_not_made_is_not_handed_out(running: RunningDesk) -> None:
    folder = running.folder / "wide-water"
    folder.mkdir()
    (folder / "private.txt").write_text("private")
    (folder / "manifest.json").write_text(
        '{"tune": "x", "files": [], "earlier": {"../x": "", "a/b": ""}}'
    )
    with running.script() as client:
        for file, status in (
            ("private.txt", 404), ("manifest.json", 404), ("..%2Fx", 400), ("a%2Fb", 400)
        ):  # fmt: skip
            answer = client.get(f"/api/tunes/wide-water/made/{file}")
            assert answer.status_code == status
            assert "private" not in answer.text.replace("private.txt", "")


@pytest.mark.slow
def test_what_happens_is_told_to_all_who_listen(running: RunningDesk) -> None:
    with (
        running.script() as one,
        running.script() as other,
        one.stream("GET", "/api/events") as first,
        other.stream("GET", "/api/events") as second,
    ):
        lines = [stream.iter_lines() for stream in (first, second)]
        for told in lines:
            assert next(told) == "event: desk"
        with running.script() as third:
            name = third.post("/api/tunes", json={"title": "Heard Of"}).json()["name"]
        for told in lines:
            said = next(line for line in told if line.startswith("data: ") and name in line)
            # What other tests have just changed may be told with it.
            assert name in json.loads(said.removeprefix("data: "))["changed"]


@pytest.mark.long
def test_the_bands_book_is_made_of_the_whole_shelf(tmp_path: Path) -> None:
    folder = tmp_path / "shelf"
    folder.mkdir()
    (folder / "small.toml").write_text(SMALL, encoding="utf-8")
    (folder / "wrong.toml").write_text(SMALL.replace("G7", "H7"), encoding="utf-8")
    desk = RunningDesk(folder, tmp_path / "home").open()
    try:
        with desk.script() as client:
            job = _checked(client.post("/api/book"), "POST", "/api/book")
            while job["state"] in {"waiting", "working"}:
                time.sleep(0.2)
                job = client.get("/api/jobs").json()["jobs"][0]
            assert job["state"] == "done", job
            assert any("H7" in notice for notice in job["notices"])
            made = _checked(client.get("/api/book"), "GET", "/api/book")["made"]
            assert made
            for row in made:
                answer = client.get(f"/api/tunes/book/made/{row['file']}")
                assert answer.content.startswith(b"%PDF")
                assert answer.headers["content-disposition"].startswith("inline")
            # No tune of the shelf is meant by that name.
            assert client.get("/api/tunes/book").status_code == 404
    finally:
        desk.close()


def test_work_on_a_sound_is_over_for_who_listens_even_where_it_fails(tmp_path: Path) -> None:
    """What the work itself says last may be 97 %, and a page must not show that for ever."""
    desk = OpenDesk(tmp_path, DeskAccess(8417, "token", "secret"))
    told: list[tuple[str, dict[str, Any]]] = []
    desk.hub.tell = lambda name, value: told.append((name, value))  # type: ignore[method-assign]

    async def fails(task: str, asked: Any, **how: Any) -> Any:
        how["tell"]("Building a voice", 0.97)
        raise OutputError("no room")

    desk.sound_workers.ask = fails  # type: ignore[method-assign]

    async def asked() -> None:
        with pytest.raises(OutputError, match="no room"):
            await desk.about(SOUNDED, SMALL, "small", {})
        await asyncio.sleep(0)  # what was told from the thread comes first

    in_a_loop(asked())
    assert [value["share"] for _, value in told][-1] == 1.0
    assert {value["what"] for _, value in told} == {"Building a voice"}


def test_every_worker_is_warmed_by_the_same_question() -> None:
    seen: list[tuple[object, object]] = []

    class Listening(DeskWorkers):
        async def ask(self, task: Any, asked: Any, **more: Any) -> None:
            seen.append((task, asked))
            raise OutputError("nobody waits for the answer")

    workers = Listening(3)
    asyncio.run(workers.warm(SOUNDED, {"text": SMALL}))
    workers.end()
    assert seen == [(SOUNDED, {"text": SMALL})] * 3
