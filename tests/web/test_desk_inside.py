"""The desk's addresses asked in this process: bounds, whole answers, and each refusal in words."""

from __future__ import annotations

import asyncio
import contextlib
import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
from desk_server import SMALL, in_a_loop

from accomp.errors import InputError, Problem
from accomp.web.desk import making, routes
from accomp.web.desk.app import application
from accomp.web.desk.guard import DeskAccess
from accomp.web.desk.making import MOST_JOBS, Jobs
from accomp.web.desk.processes import StoppedError, _answer
from accomp.web.desk.state import OpenDesk

DOOR = DeskAccess(8417, "token", "secret")
STYLE = 'title = "Plain"\nmeter = "4/4"\ntempo = [90, 200]\n[strum]\ncount = "1 2 3 4"\n'
NO_NAME = "'name' must be a name of the shelf."
Ask = Callable[..., httpx.Response]


class Here:
    """In place of workers: every task is done in this process."""

    async def ask(self, task: str, asked: Any, **how: Any) -> Any:
        """What a worker would answer."""
        kind, value = _answer(task, asked, how.get("tell") or (lambda what, share: None))
        if kind == "wrong":
            raise InputError(value)
        return value


@pytest.fixture
def shelf(tmp_path: Path) -> Path:
    folder = tmp_path / "shelf"
    folder.mkdir()
    (folder / "small.toml").write_text(SMALL, encoding="utf-8")
    (folder / "mine.toml").write_text(STYLE, encoding="utf-8")
    return folder


@pytest.fixture
def desk(shelf: Path) -> OpenDesk:
    return opened(shelf)


def opened(folder: Path, *, read_only: bool = False) -> OpenDesk:
    desk = OpenDesk(folder, DOOR, read_only)
    desk.text_workers = desk.sound_workers = Here()  # type: ignore[assignment]
    return desk


def asker(desk: OpenDesk) -> Ask:
    """A function that asks a desk one thing after another."""

    async def asked(method: str, path: str, how: dict[str, Any]) -> httpx.Response:
        transport = httpx.ASGITransport(app=application(desk), raise_app_exceptions=False)
        headers = {"authorization": f"Bearer {DOOR.token}"}
        async with httpx.AsyncClient(
            transport=transport, base_url=DOOR.origin, headers=headers
        ) as client:
            return await client.request(method, path, **how)

    def ask(method: str, path: str, **how: Any) -> httpx.Response:
        return in_a_loop(asked(method, path, how))

    return ask


@pytest.fixture
def ask(desk: OpenDesk) -> Ask:
    return asker(desk)


def told(answer: httpx.Response, status: int = 422) -> str:
    """The one thing that is wrong, in words."""
    assert answer.status_code == status, answer.text
    (problem,) = answer.json()["problems"]
    return str(problem["message"])


def test_the_shelf_lists_tunes_by_title_and_styles_by_name(ask: Ask, shelf: Path) -> None:
    (shelf / "other.toml").write_text(SMALL.replace("Ten Small Steps", "a Walk"), "utf-8")
    (shelf / "broken.toml").write_text("title = ", "utf-8")
    (shelf / ".hidden.toml").write_text(SMALL, "utf-8")
    (shelf / "book.toml").write_text('title = "Book"\n', "utf-8")
    (shelf / "folder.toml").mkdir()
    (shelf / "note.txt").write_text("no tune", "utf-8")
    answer = ask("GET", "/api/tunes").json()
    assert answer["styles"] == [{"name": "mine", "title": "Plain", "meter": "4/4"}]
    rows = answer["tunes"]
    assert [row["name"] for row in rows] == ["other", "broken", "small"]
    assert [row["title"] for row in rows] == ["a Walk", "broken", "Ten Small Steps"]
    changed = rows[2].pop("changed")
    assert changed.endswith("+00:00")
    assert rows[2] == {
        "name": "small", "title": "Ten Small Steps", "composer": "", "key": "C", "meter": "4/4",
        "tempo": 120, "style": "", "instrument": "", "made": [], "made_when": "", "wrong": "",
    }  # fmt: skip
    assert rows[1]["wrong"]


def test_a_file_is_handed_out_with_its_kind_and_what_was_made(ask: Ask, shelf: Path) -> None:
    made = shelf / "small"
    made.mkdir()
    for name in ("a.mid", "b.pdf", "old.mid", "c.html"):
        (made / name).write_bytes(b"x" * len(name))
    files = [
        {"path": name, "kind": kind, "role": "full", "part": None, "key": "C", "tempo": 120.0,
         "position": "root-top", "style": "s", "sha256": "0", "inputs": "0"}
        for name, kind in (("a.mid", "midi"), ("b.pdf", "pdf"), ("c.html", "page"),
                           ("gone.mid", "midi"))
    ]  # fmt: skip
    manifest = {"tune": "T", "files": files, "earlier": {"old.mid": "0", "../up.mid": "0"}}
    (made / "manifest.json").write_text(json.dumps(manifest), "utf-8")
    answer = ask("GET", "/api/tunes/small").json()
    assert (answer["name"], answer["kind"], answer["text"]) == ("small", "tune", SMALL)
    first = {"role": "full", "position": "root-top", "newest": True}
    assert answer["made"] == [
        {"file": "a.mid", "kind": "midi", "bytes": 5, **first},
        {"file": "b.pdf", "kind": "pdf", "bytes": 5, **first},
        {"file": "c.html", "kind": "page", "bytes": 6, **first},
        {"file": "old.mid", "kind": "", "role": "", "position": "", "bytes": 7, "newest": False},
    ]
    (row,) = (row for row in ask("GET", "/api/tunes").json()["tunes"] if row["name"] == "small")
    assert row["made"] == ["midi", "page", "pdf"]
    assert row["made_when"].endswith("+00:00")
    assert ask("GET", "/api/tunes/mine").json()["kind"] == "style"
    assert ask("GET", "/api/tunes/mine").json()["made"] == []
    sandbox = "sandbox allow-scripts allow-modals allow-downloads"
    for name, shown, policy in (
        ("a.mid", "attachment", "default-src 'self'"),
        ("b.pdf", "inline", "default-src 'none'; object-src 'self'; plugin-types application/pdf"),
        ("c.html", "inline", sandbox),
    ):
        file = ask("GET", f"/api/tunes/small/made/{name}")
        assert file.content == b"x" * len(name)
        assert file.headers["content-disposition"] == f'{shown}; filename="{name}"'
        assert file.headers["content-security-policy"].startswith(policy)
    gone = ask("GET", "/api/tunes/small/made/gone.mid")
    assert told(gone, 404) == "'gone.mid' has not been made."
    assert told(ask("GET", "/api/tunes/none"), 404) == "'none' is not on the shelf."
    assert told(ask("GET", "/api/tunes/none/earlier"), 404) == "'none' is not on the shelf."


def test_a_new_tune_has_a_title_on_one_line_and_a_text(ask: Ask, shelf: Path) -> None:
    answer = ask("POST", "/api/tunes", json={"title": "  Up \n and\tDown "})
    assert (answer.status_code, answer.json()) == (201, {"name": "up-and-down"})
    text = (shelf / "up-and-down.toml").read_text("utf-8")
    assert text.startswith('title = "Up and Down"\nkey   = "C"\n')
    again = ask("POST", "/api/tunes", json={"title": "Up and Down", "text": SMALL})
    assert again.json() == {"name": "up-and-down-2"}
    assert (shelf / "up-and-down-2.toml").read_text("utf-8") == SMALL
    long = ask("POST", "/api/tunes", json={"title": "a" * 201}).json()["name"]
    assert f'title = "{"a" * 200}"\n' in (shelf / f"{long}.toml").read_text("utf-8")
    assert told(ask("POST", "/api/tunes", json={"title": " \n"})) == "A tune has a title."
    assert told(ask("POST", "/api/tunes", json={})) == "'title' must be a text."


def test_who_saves_is_told_what_somebody_else_wrote(ask: Ask, shelf: Path) -> None:
    seen = ask("GET", "/api/tunes/small").json()["sha256"]
    mine = SMALL.replace("120", "90")
    saved = ask("PUT", "/api/tunes/small", json={"text": mine, "sha256": seen})
    assert saved.status_code == 200
    assert saved.json()["name"] == "small"
    late = ask("PUT", "/api/tunes/small", json={"text": SMALL + "#", "sha256": seen})
    message = "The file has been changed since you last saw it. Nothing was written."
    assert told(late, 409) == message
    assert late.json()["yours"] == {"text": SMALL + "#"}
    assert late.json()["theirs"] == {"text": mine, "sha256": saved.json()["sha256"]}
    sha = saved.json()["sha256"]
    for again in (True, 1, False):  # only what is true is meant so
        body = {"text": f"{mine}#{again}\n", "sha256": sha, "again": again}
        sha = ask("PUT", "/api/tunes/small", json=body).json()["sha256"]
    rows = ask("GET", "/api/tunes/small/earlier").json()["versions"]
    assert [row["number"] for row in rows] == [3, 2, 1]
    texts = [ask("GET", f"/api/tunes/small/earlier/{n}").json()["text"] for n in (1, 2, 3)]
    assert texts == [SMALL, f"{mine}#True\n", f"{mine}#1\n"]
    kept = "Version 9 of 'small' is not kept any more."
    assert told(ask("GET", "/api/tunes/small/earlier/9")) == kept


@pytest.mark.parametrize(
    ("name", "good"),
    [
        ("tune", True), ("a" * 250, True), ("a" * 251, False), ("é" * 125, True),
        ("é" * 125 + "a", False), ("", False), (7, False), (None, False), ("a/b", False),
        ("a\\b", False), ("a\0b", False), ("c:x", False), ("..", True),
    ],
    ids=lambda value: str(value)[:12],
)  # fmt: skip
def test_a_text_is_judged_under_a_name_that_leads_nowhere(
    name: object, good: bool, ask: Ask
) -> None:
    answer = ask("POST", "/api/judge", json={"text": SMALL, "name": name})
    if good:
        assert answer.json()["problems"] == []
        return
    assert told(answer) == NO_NAME
    assert answer.json()["problems"][0]["setting"] == "name"


def test_a_text_is_judged_with_its_head_and_its_bars(ask: Ask) -> None:
    answer = ask("POST", "/api/judge", json={"text": SMALL.replace("| F |", "| F C/G |")}).json()
    assert answer["problems"] == answer["notices"] == []
    assert answer["fields"] == {
        "title": "Ten Small Steps", "composer": None, "key": "C", "meter": "4/4", "tempo": 120,
        "style": None, "instrument": None, "form": None, "begin": None, "end": None,
    }  # fmt: skip
    chart = answer["chart"]
    assert chart["bars"] == [
        {"chorus": 1, "section": "A", "opens": first} for first in (True, False, False, False)
    ]
    assert chart["key"]["name"] == "C major"
    assert [names["text"] for names in chart["key"]["chords"]] == ["C", "F", "C/G", "G7"]
    assert chart["key"]["bars"] == [[[0, 0.0, 1]], [[1, 0.0, 1], [2, 0.5, 1]], [[3, 0.0, 1]],
                                    [[0, 0.0, 1]]]  # fmt: skip
    broken = ask("POST", "/api/judge", json={"text": "title = "}).json()
    assert broken["problems"][0]["file"] == "tune.toml"
    assert (broken["fields"], broken["chart"], broken["notices"]) == (None, None, [])


def test_a_style_is_told_on_the_count(ask: Ask) -> None:
    good = ask("POST", "/api/style", json={"text": STYLE}).json()
    assert (good["problems"], good["meter"], good["tempo"]) == ([], "4/4", [90, 200])
    assert good["lines"]
    wrong = ask("POST", "/api/style", json={"text": "title = 1", "name": "mine"}).json()
    assert (wrong["meter"], wrong["lines"]) == ("", [])
    assert {problem["file"] for problem in wrong["problems"]} == {"mine.toml"}


def test_positions_say_what_there_is_to_learn(ask: Ask) -> None:
    text = SMALL + '\n[shapes]\nG7 = "2 0 3 2"\n'
    found = ask("POST", "/api/neck", json={"text": text}).json()
    assert (found["problems"], found["key"], found["strings"]) == ([], "C major", 4)
    first = next(one for one in found["positions"] if one["name"] == found["first"])
    boxes = {box["chord"]: box for box in first["boxes"]}
    assert {chord: box["times"] for chord, box in boxes.items()} == {"C": 2, "F": 1, "G7": 1}
    assert {chord for chord, box in boxes.items() if box["pinned"]} == {"G7"}
    assert boxes["G7"]["shape"]["frets"] == [2, 0, 3, 2]
    assert first["new"] == sum(box["new"] for box in first["boxes"])
    assert len(first["hardest"]) == 3
    wrong = ask("POST", "/api/neck", json={"text": SMALL.replace("G7", "H7")}).json()
    assert wrong["positions"] == []
    assert "H7" in wrong["problems"][0]["message"]
    none = ask("POST", "/api/neck", json={"text": text, "options": {"reach_mm": 1}}).json()
    assert none["positions"] == []
    assert none["problems"]


def test_other_shapes_of_a_chord_are_as_a_pin_has_them(ask: Ask) -> None:
    found = ask("POST", "/api/others", json={"text": SMALL, "chord": "Bb7"}).json()
    assert (found["chord"], found["text"]) == ("Bb7", "B♭7")
    assert len(found["shapes"]) == min(24, found["of"])
    closed = {"text": SMALL, "chord": "C", "options": {"closed": True}}
    for row in ask("POST", "/api/others", json=closed).json()["shapes"]:
        assert "0" not in row["frets"].split()
        assert row["frets"].split() == [str(fret) for fret in row["shape"]["frets"]]
    assert told(ask("POST", "/api/others", json={"text": SMALL})) == "'chord' must be a text."


@pytest.mark.slow
def test_what_can_be_chosen_from(ask: Ask) -> None:
    found = ask("GET", "/api/choices").json()
    assert found["major"][0] == "C"
    assert len(found["major"]) == len(found["minor"]) == 12
    titles = [style["title"] for style in found["styles"]]
    assert titles == sorted(titles)
    assert {"name": "tenor-banjo", "title": "Tenor banjo"} in found["instruments"]
    assert "medium" in found["hands"]


@pytest.mark.slow
def test_styles_and_instruments_are_known_by_name_alone(ask: Ask) -> None:
    styles = [row["name"] for row in ask("GET", "/api/styles").json()]
    assert "waltz" in styles
    assert "mine" not in styles
    assert ask("GET", "/api/styles/waltz").json()["name"] == "waltz"
    text = ask("GET", "/api/styles/waltz/text").json()
    assert text["name"] == "waltz"
    assert 'meter = "3/4"' in text["text"]
    instruments = [row["name"] for row in ask("GET", "/api/instruments").json()]
    assert "mandolin" in instruments
    for kind in ("styles", "instruments"):
        for name in ("nothing", "waltz.toml", "mine.toml"):
            answer = ask("GET", f"/api/{kind}/{name}")
            assert told(answer) == f"there is no {name!r} among the {kind}."
    missing = "there is no 'nothing' among the styles."
    assert told(ask("GET", "/api/styles/nothing/text")) == missing


@pytest.mark.parametrize(
    ("body", "words"),
    [
        ({"path": ["tempo"], "value": 90}, ""),
        ({"path": ["shapes", "C"], "value": "0 0 2 3"}, ""),
        ({"path": ["shapes"], "value": "x"}, ""),
        ({"path": ["vocabulary"], "value": "first"}, ""),
        ({"path": ["form"], "value": ["A", "A"]}, ""),
        ({"path": ["composer"]}, ""),
        ({"path": ["key"], "value": True}, ""),
        ({"path": [], "value": 1}, "'path' must be a list of keys."),
        ({"path": "tempo", "value": 1}, "'path' must be a list of keys."),
        ({"path": ["shapes", 1], "value": 1}, "'path' must be a list of keys."),
        ({"value": 1}, "'path' must be a list of keys."),
        ({"path": ["sections", "A"], "value": "x"}, "'sections.A' is not changed here."),
        ({"path": ["times"], "value": 2}, "'times' is not changed here."),
        ({"path": ["key"], "value": ["C", 1]}, "'value' must be a text, a number or a list of "
                                               "texts."),
        ({"path": ["key"], "value": {}}, "'value' must be a text, a number or a list of texts."),
    ],
)  # fmt: skip
def test_which_values_of_a_text_are_changed_here(
    body: dict[str, Any], words: str, ask: Ask
) -> None:
    answer = ask("POST", "/api/change", json={"text": SMALL, **body})
    if words:
        assert told(answer) == words
    else:
        assert answer.status_code == 200


def test_a_body_is_one_object_of_json(ask: Ask) -> None:
    for body, words in (
        (b"[]", "a request is one JSON object."),
        (b'{"text": 1}', "'text' must be a text."),
        (b"{}", "'text' must be a text."),
        (b"[" * 100_000, "this is JSON of too many levels."),
    ):
        assert told(ask("POST", "/api/judge", content=body)) == words
    assert told(ask("POST", "/api/judge", content=b"{")).startswith("this is not JSON (")
    assert ask("POST", "/api/judge", content=b"{}").json()["problems"][0]["setting"] == "text"


@pytest.mark.slow
def test_a_lead_sheet_becomes_tunes_beside_the_others(ask: Ask, shelf: Path) -> None:
    sheet = b'X:1\nT:Sheet\nM:4/4\nL:1/4\nK:F\n"F"FGAc|"C7"c4|\n'
    for name in ("sheet", "sheet-2"):
        answer = ask("POST", "/api/leadsheets?file=C:/x/sheet.ABC", content=sheet)
        assert answer.status_code == 201
        (row,) = answer.json()["tunes"]
        assert (row["name"], row["title"]) == (name, "Sheet")
        assert f'"{name}-melody.musicxml"' in (shelf / f"{name}.toml").read_text("utf-8")
        assert (shelf / f"{name}-melody.musicxml").exists()
    wrong = ask("POST", "/api/leadsheets?file=dir/tune.pdf", content=sheet)
    assert told(wrong) == "'tune.pdf' is no lead sheet by its name."
    assert told(ask("POST", "/api/leadsheets", content=sheet)) == (
        "'lead sheet' is no lead sheet by its name."
    )
    empty = ask("POST", "/api/leadsheets?file=a.abc", content=b"")
    assert empty.status_code == 422
    assert "a.abc" in {problem["file"] for problem in empty.json()["problems"]}
    assert "leadsheet.abc" not in empty.text


def test_a_desk_for_reading_only_says_so(shelf: Path) -> None:
    ask = asker(opened(shelf, read_only=True))
    before = sorted(path.name for path in shelf.iterdir())
    for method, path in (
        ("POST", "/api/tunes"), ("PUT", "/api/tunes/small"), ("POST", "/api/leadsheets?file=a.abc"),
        ("POST", "/api/jobs"), ("POST", "/api/book"), ("DELETE", "/api/jobs/1"),
    ):  # fmt: skip
        body = {"title": "T", "text": SMALL, "sha256": "", "name": "small"}
        assert told(ask(method, path, json=body), 403) == "This desk is for reading only."
    assert ask("POST", "/api/judge", json={"text": SMALL}).status_code == 200
    assert sorted(path.name for path in shelf.iterdir()) == before


def test_what_is_not_there_and_what_fails_is_said_in_json(desk: OpenDesk, ask: Ask) -> None:
    nothing = "There is nothing at this address."
    for method, path in (
        ("GET", "/api/nothing"),
        ("PUT", "/api/tunes"),
        ("GET", "/files/0/desk.js"),
    ):
        assert told(ask(method, path), 404) == nothing
    assert told(ask("GET", "/api/fonts/0"), 404) == "This font is not known here."
    assert told(ask("DELETE", "/api/jobs/7"), 404) == "There is no such job."
    assert ask("GET", "/favicon.ico").status_code == 204
    desk.shelf.rows = lambda: 1 // 0  # type: ignore[method-assign,assignment,return-value]
    assert "ZeroDivisionError" in told(ask("GET", "/api/tunes"), 500)


def test_a_page_names_its_files_by_their_version(desk: OpenDesk, ask: Ask, tmp_path: Path) -> None:
    page = ask("GET", "/").text
    version = page.partition("/files/")[2].partition("/")[0]
    assert len(version) == 16
    for name, kind in (("page.css", "text/css"), ("desk.js", "text/javascript"),
                       ("italic.woff2", "font/woff2")):  # fmt: skip
        answer = ask("GET", f"/files/{version}/{name}")
        assert answer.status_code == 200
        assert answer.headers["content-type"].startswith(kind)
        assert answer.headers["cache-control"] == "private, max-age=31536000, immutable"
    assert b"regular.woff2" in ask("GET", f"/files/{version}/page.css").content
    assert told(ask("GET", f"/files/{version}/secret"), 404)
    font = tmp_path / "font.sf2"
    font.write_bytes(b"font")
    desk.fonts["abc"] = str(font)
    answer = ask("GET", "/api/fonts/abc")
    assert answer.content == b"font"
    assert answer.headers["cache-control"] == "private, max-age=31536000, immutable"


class Slow:
    """In place of a worker: it works until it is told to stop, and says what it was asked."""

    asked: list[tuple[str, Any]]

    def __init__(self) -> None:
        self.stopped = self.ended = False

    def call(self, task: str, asked: Any, tell: Any, deadline_s: float) -> Any:
        """Do as the words of the tune say."""
        Slow.asked.append((task, asked))
        tell("Half of it", 0.5)
        if asked.get("wrong"):
            raise InputError(asked["wrong"])
        if asked.get("stop"):
            raise StoppedError
        return {"files": ["a.mid"], "notices": ["said"]}

    def stop(self) -> None:
        """Note that it was told to stop."""
        self.stopped = True

    def end(self) -> None:
        """Note that it was told to end."""
        self.ended = True


@pytest.fixture(autouse=True)
def slow(monkeypatch: pytest.MonkeyPatch) -> None:
    Slow.asked = []
    monkeypatch.setattr(making, "Worker", Slow)


@contextlib.contextmanager
def jobs_with(told: list[tuple[int, str, float]]) -> Iterator[Jobs]:
    jobs = Jobs(lambda job: told.append((job.number, job.state, job.share)))
    yield jobs
    jobs.end()


def test_jobs_are_done_one_after_another_and_each_says_how_it_ended() -> None:
    told: list[tuple[int, str, float]] = []

    async def three() -> None:
        with jobs_with(told) as jobs:
            orders = [{}, {"wrong": Problem("no", hint="Do this.")}, {"stop": True}, {}]
            added = [jobs.add("small", "Small", "files", asked) for asked in orders]
            jobs.cancel(added[3])
            for _ in range(10_000):
                if (3, "stopped", 0.5) in told:
                    break
                await asyncio.sleep(0.001)
            assert [row["number"] for row in jobs.rows()] == [4, 3, 2, 1]
            assert jobs.rows()[3] == {
                "number": 1, "tune": "small", "title": "Small", "words": "files", "state": "done",
                "share": 1.0, "doing": "Half of it", "files": ["a.mid"], "notices": ["said"],
                "problems": [],
            }  # fmt: skip
            assert added[1].problems == [{"message": "no", "hint": "Do this."}]
            assert [job.state for job in added] == ["done", "wrong", "stopped", "stopped"]
            assert jobs.get(2) is added[1]
            assert jobs.get(9) is None
            assert not jobs.full()
            jobs.cancel(added[0])  # what is over stays as it is
            assert added[0].state == "done"

    in_a_loop(three())
    assert told[:5] == [(n, "waiting", 0.0) for n in (1, 2, 3, 4)] + [(4, "stopped", 0.0)]
    assert told[5:] == [
        (1, "working", 0.0), (1, "working", 0.5), (1, "done", 1.0),
        (2, "working", 0.0), (2, "working", 0.5), (2, "wrong", 0.5),
        (3, "working", 0.0), (3, "working", 0.5), (3, "stopped", 0.5),
    ]  # fmt: skip
    assert [task for task, _ in Slow.asked] == ["making.make"] * 3


def test_a_hundred_jobs_wait_and_a_hundred_are_told_of() -> None:
    async def many() -> None:
        jobs = Jobs(lambda job: None)
        added = []
        for _ in range(MOST_JOBS):
            assert not jobs.full()
            added.append(jobs.add("small", "Small", "files", {}))
        assert MOST_JOBS == 100
        assert jobs.full()
        assert len(jobs.rows()) == 100
        for job in added[:2]:
            jobs.cancel(job)
        jobs.add("small", "Small", "files", {})
        assert [row["number"] for row in jobs.rows()] == [*range(101, 1, -1)]  # the oldest goes
        jobs.add("small", "Small", "files", {})
        assert [row["number"] for row in jobs.rows()] == [*range(102, 2, -1)]
        jobs.add("small", "Small", "files", {})  # all of them wait: none is forgotten
        assert len(jobs.rows()) == 101
        jobs.end()
        assert {job["state"] for job in jobs.rows()} == {"stopped"}

    in_a_loop(many())


def test_an_order_is_answered_at_once(desk: OpenDesk, ask: Ask, shelf: Path) -> None:
    seen: list[tuple[Any, ...]] = []

    class Orders:
        def full(self) -> bool:
            return len(seen) == 4

        def add(self, *order: Any) -> Any:
            seen.append(order)
            return making.DeskJob(len(seen), *order)

    desk.jobs = Orders()  # type: ignore[assignment]
    body = {"text": SMALL, "name": "small"}
    answer = ask("POST", "/api/jobs", json=body)
    assert answer.status_code == 202
    assert answer.json()["state"] == "waiting"
    ask(
        "POST",
        "/api/jobs",
        json=body | {"title": "t" * 201, "words": "w" * 201, "options": {"seed": 1}},
    )
    ask("POST", "/api/jobs", json=body | {"title": "", "words": 7})
    assert ask("POST", "/api/book").status_code == 202
    place = {"text": SMALL, "file": str(shelf / "small.toml"), "beside": ["mine"]}
    assert seen == [
        ("small", "small", "files", place | {"options": {}}),
        ("small", "t" * 200, "w" * 200, place | {"options": {"seed": 1}}),
        ("small", "small", "files", place | {"options": {}}),
        ("book", "The band’s book", "the whole shelf", {"folder": str(shelf), "into": "book"},
         "making.book"),
    ]  # fmt: skip
    full = "So much is waiting to be made that no more is taken."
    for path in ("/api/jobs", "/api/book"):
        assert told(ask("POST", path, json=body)) == full
    assert told(ask("POST", "/api/jobs", json=body | {"name": "none"}), 404)
    assert ask("GET", "/api/book").json() == {"name": "book", "made": []}


def test_whoever_opens_a_page_is_told_which_desk_this_is(desk: OpenDesk) -> None:
    async def first() -> Any:
        answer: Any = await routes.events(desk, None)  # type: ignore[arg-type]
        assert answer.media_type == "text/event-stream"
        listening = answer.body_iterator
        try:
            return await anext(listening)
        finally:
            await listening.aclose()

    assert in_a_loop(first()) == f'event: desk\ndata: {{"run":"{desk.run}","read_only":false}}\n\n'
    assert len(desk.run) == 16


def test_a_text_is_checked_as_the_command_line_checks_it(ask: Ask, shelf: Path) -> None:
    assert ask("POST", "/api/check", json={"text": SMALL}).json() == []
    unknown = SMALL.replace("[sections]", 'style = "no"\n[sections]')
    for text in ("title = ", SMALL.replace("G7", "H7"), unknown):
        (row,) = ask("POST", "/api/check", json={"text": text, "name": "small"}).json()
        assert row["file"] == "small.toml"
        assert row["message"]
    named = SMALL.replace("[sections]", 'style = "mine.toml"\n[sections]')
    assert ask("POST", "/api/check", json={"text": named}).json() == []  # it lies beside it


@pytest.mark.slow
def test_documents_are_those_of_the_command_line(
    ask: Ask, shelf: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from accomp.cli import run

    def printed(*words: str) -> Any:
        capsys.readouterr()
        assert run([*words, "--json"]) == 0
        return json.loads(capsys.readouterr().out)

    path = str(shelf / "small.toml")
    found = ask("POST", "/api/positions", json={"text": SMALL, "options": {"positions": ["4"]}})
    assert found.json() == printed("positions", path, "--position", "4")
    assert ask("POST", "/api/shapes", json={"chord": "C7"}).json() == printed("shapes", "C7")
    small = {"chord": "C7", "options": {"vocabulary": "first", "closed": True}}
    words = ("shapes", "C7", "--vocabulary", "first", "--closed")
    assert ask("POST", "/api/shapes", json=small).json() == printed(*words)
    away = ask("POST", "/api/positions", json={"text": SMALL, "options": {"positions": ["far"]}})
    assert away.status_code == 422
    assert ask("POST", "/api/neck", json={"text": SMALL, "options": {"keys": ["D"]}}).json()[
        "key"
    ] == "D major"  # fmt: skip


def test_what_an_order_makes_lies_beside_its_tune(
    shelf: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from types import SimpleNamespace

    asked: list[Any] = []

    def made(tune: Any, options: Any, folder: Path, tell: Any) -> Any:
        asked.append((tune.title, tune.file, options.only, options.style, folder, tell))
        return SimpleNamespace(files=[SimpleNamespace(path="a.mid")], notices=("said",))

    monkeypatch.setattr("accomp.job.make.make_tune", made)
    file = str(shelf / "small.toml")
    order: dict[str, Any] = {"text": SMALL, "file": file, "beside": ["mine"],
                             "options": {"only": ["midi"], "style": "mine"}}  # fmt: skip
    assert making.make(order, print) == {"files": ["a.mid"], "notices": ["said"]}
    assert asked == [
        ("Ten Small Steps", file, ("midi",), str(shelf / "mine.toml"), shelf / "small", print)
    ]
    with pytest.raises(InputError) as caught:
        making.make({**order, "text": SMALL.replace("G7", "H7")}, print)
    assert caught.value.problems[0].file == file

    def book(plan: Any, folder: Path, *, progress: Any) -> Any:
        asked.append((plan.title, folder, progress))
        manifest = SimpleNamespace(files=[SimpleNamespace(path="b.pdf")], notices=("n",))
        return SimpleNamespace(manifest=manifest, problems=[Problem("no", "/x/a.toml")])

    monkeypatch.setattr("accomp.job.book.make_book", book)
    assert making.book({"folder": str(shelf), "into": "book"}, print) == {
        "files": ["b.pdf"], "notices": ["n", "a.toml: no"],
    }  # fmt: skip
    assert asked[-1] == ("shelf", shelf / "book", print)


def test_a_style_is_heard_by_a_round_at_its_middle_tempo(shelf: Path) -> None:
    from accomp.web.desk import sounding, tasks

    request = sounding._of_style({"file": str(shelf / "mine.toml"), "style": STYLE})
    assert (request.tune.title, request.tune.tempo, request.choruses) == ("A round", 145, 2)
    assert str(request.tune.meter) == "4/4"
    assert [style.name for style in request.styles.values()] == ["mine"]
    waltz = STYLE.replace("4/4", "3/4").replace('"1 2 3 4"', '"1 2 3"')
    assert str(sounding._of_style({"file": "w.toml", "style": waltz}).tune.meter) == "3/4"
    place = {"file": str(shelf / "small.toml"), "text": SMALL, "beside": ["mine"]}
    tune = tasks.request_of({**place, "options": {"style": "mine", "choruses": 3}})
    assert (tune.tune.title, tune.choruses) == ("Ten Small Steps", 3)
    with pytest.raises(InputError):
        tasks.request_of({**place, "text": SMALL.replace("G7", "H7")})


@pytest.mark.slow
def test_a_sound_says_where_its_fonts_are_fetched(
    desk: OpenDesk, ask: Ask, monkeypatch: pytest.MonkeyPatch
) -> None:
    from types import SimpleNamespace

    from accomp.web.desk import sounding

    voiced = [False]

    def fonts(font: Any, voice: Any) -> Any:
        return SimpleNamespace(
            voice=SimpleNamespace(path="voice.sf2") if voiced[0] else None,
            band=SimpleNamespace(path="band.sf2", name="Band"), notices=("fonts",),
        )  # fmt: skip

    sums = SimpleNamespace(
        soundfont=None, voice=None, soundfont_sha256="b", voice_sha256="v", notices=("sound",)
    )
    monkeypatch.setattr(sounding, "sound_of", lambda request, tell: sums)
    monkeypatch.setattr(sounding, "choose_fonts", fonts)
    monkeypatch.setattr(sounding, "gain_of_voice", lambda performances, fonts: len(performances))
    monkeypatch.setattr(
        sounding, "timeline",
        lambda found, fonts, small: {
            "keys": [str(one.key) for one in found], "gain": small.gain_db,
            "tempos": [one.arrangement.tempo for one in found], "name": small.band_name,
        },
    )  # fmt: skip
    body = {"text": SMALL, "options": {"keys": ["F", "C"], "tempos": [90, 120], "choruses": 1}}
    found = ask("POST", "/api/sound", json=body).json()
    assert found["timeline"] == {
        "keys": ["F", "C"], "gain": 2, "tempos": [120.0, 120.0], "name": "Band", "voiced": False,
    }  # fmt: skip
    assert found["fonts"] == {"band": "/api/fonts/b"}
    assert found["notices"] == ["sound", "fonts"]
    assert desk.fonts == {"b": "band.sf2"}
    voiced[0] = True
    found = ask("POST", "/api/sound", json={"text": STYLE, "kind": "style"}).json()
    assert found["timeline"]["voiced"]
    assert found["fonts"] == {"band": "/api/fonts/b", "voice": "/api/fonts/v"}
    assert desk.fonts == {"b": "band.sf2", "v": "voice.sf2"}


def test_who_asks_for_a_sound_waits_longer_than_who_asks_for_a_word(desk: OpenDesk) -> None:
    waits: list[tuple[str, float]] = []

    class Named:
        def __init__(self, name: str) -> None:
            self.name = name

        async def ask(self, task: str, asked: Any, *, deadline_s: float, tell: Any) -> Any:
            waits.append((self.name, deadline_s))
            return asked

    desk.text_workers = Named("text")  # type: ignore[assignment]
    desk.sound_workers = Named("sound")  # type: ignore[assignment]

    async def both() -> Any:
        await desk.about("tasks.judge", SMALL, "small", {})
        return await desk.about("sounding.sounded", SMALL, "other", {"more": 1})

    found = in_a_loop(both())
    assert waits == [("text", 30.0), ("sound", 180.0)]
    assert found == {
        "text": SMALL, "file": str(desk.folder / "other.toml"), "beside": ["mine"], "more": 1,
    }  # fmt: skip
