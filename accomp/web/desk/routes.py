"""The desk's addresses: a handler for each checks the request and answers as JSON.

Conventions: every address of `/api` is described in `openapi.json`, beside this module. A body is
one JSON object; mistakes in it, or in a tune in it, come back as `problems` with status 422. Names
in addresses are names of the shelf. A desk for reading only refuses every change.
"""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from typing import Any

import msgspec
from starlette.requests import Request
from starlette.responses import FileResponse, Response, StreamingResponse
from starlette.routing import Route

from accomp.errors import InputError, OutputError, Problem
from accomp.files.text import one_line
from accomp.web.desk.edit import edited
from accomp.web.desk.problems import FIELDS, problem_rows
from accomp.web.desk.processes import TaskName
from accomp.web.desk.reply import KEPT, Reply
from accomp.web.desk.saving import ChangedError
from accomp.web.desk.shelf import BOOK, NoSuchTuneError
from accomp.web.desk.state import SOUNDED, OpenDesk

Json = dict[str, Any]
Handler = Callable[[OpenDesk, Request], Awaitable[Response]]


async def body_of(request: Request, *texts: str) -> Json:
    """The JSON object of a request; the keys `texts` must be there and be texts. Raises
    `InputError`."""
    raw = await request.body()
    try:
        value = msgspec.json.decode(raw)
    except (msgspec.DecodeError, UnicodeDecodeError) as error:
        raise InputError(Problem(f"this is not JSON ({error}).")) from None
    except RecursionError:
        raise InputError(Problem("this is JSON of too many levels.")) from None
    if not isinstance(value, dict):
        raise InputError(Problem("a request is one JSON object."))
    for name in texts:
        if not isinstance(value.get(name), str):
            raise InputError(Problem(f"{name!r} must be a text.", setting=name))
    return value


def _may_write(desk: OpenDesk) -> None:
    if desk.read_only:
        raise ReadOnlyError("This desk is for reading only.")


class ReadOnlyError(OutputError):
    """The desk was opened for reading only."""


async def tunes(desk: OpenDesk, request: Request) -> Response:
    """The tunes and styles of the shelf."""
    rows = await asyncio.to_thread(desk.shelf.rows)
    styles = await asyncio.to_thread(desk.shelf.styles)
    return Reply({"tunes": rows, "styles": styles})


async def new_tune(desk: OpenDesk, request: Request) -> Response:
    """Write a new tune: with the text of the request, or a text to begin with."""
    _may_write(desk)
    asked = await body_of(request, "title")
    title = " ".join(one_line(asked["title"]).split())[:200]
    if not title:
        raise InputError(Problem("A tune has a title.", setting="title"))
    text = asked.get("text")
    if not isinstance(text, str):
        text = edited(_BEGINNING, ("title",), title)
    name = await asyncio.to_thread(desk.saving.new, title, text)
    return Reply({"name": name}, 201)


_LONGEST_NAME = 250  # bytes, which leaves room for an ending
_FULL = "So much is waiting to be made that no more is taken."
_BEGINNING = '''title = ""
key   = "C"
meter = "4/4"
tempo = 120

[sections]
A = """
| C | C | F | C |
| C | C | G7 | C |
"""
'''


async def tune(desk: OpenDesk, request: Request) -> Response:
    """A file's text: a tune's, or a style's."""
    name = request.path_params["name"]
    written = await asyncio.to_thread(desk.shelf.read, name)
    made = await asyncio.to_thread(desk.shelf.made, name)
    kind = await asyncio.to_thread(desk.shelf.kind, name)
    return Reply(
        {
            "name": name,
            "kind": kind or "tune",
            "text": written.text,
            "sha256": written.sha256,
            "made": made,
        }
    )


async def save(desk: OpenDesk, request: Request) -> Response:
    """Write a tune's text, on condition that the file is as it was last seen."""
    _may_write(desk)
    name = request.path_params["name"]
    asked = await body_of(request, "text", "sha256")
    try:
        written = await asyncio.to_thread(
            desk.saving.save,
            name,
            asked["text"],
            asked["sha256"],
            again=asked.get("again") is True,
        )
    except ChangedError as error:
        there = error.there
        return Reply(
            {
                "problems": [{"message": str(error)}],
                "yours": {"text": asked["text"]},
                "theirs": None if there is None else {"text": there.text, "sha256": there.sha256},
            },
            409,
        )
    return Reply({"name": name, "sha256": written.sha256})


async def earlier(desk: OpenDesk, request: Request) -> Response:
    """The earlier versions of a tune that are kept."""
    rows = await asyncio.to_thread(desk.saving.earlier, request.path_params["name"])
    return Reply({"versions": rows})


async def earlier_text(desk: OpenDesk, request: Request) -> Response:
    """The text of an earlier version."""
    params = request.path_params
    text = await asyncio.to_thread(desk.saving.earlier_text, params["name"], params["number"])
    return Reply({"text": text})


def about_a_text(task: TaskName, *more_texts: str) -> Handler:
    """A handler that asks a worker about the text of a request; `more_texts` are other keys that it
    must have."""

    async def handler(desk: OpenDesk, request: Request) -> Response:
        asked = await body_of(request, "text", *more_texts)
        name = _name(asked)
        more: Json = {key: asked[key] for key in ("options", "chord") if key in asked}
        return Reply(await desk.about(task, asked["text"], name, more))

    return handler


def _name(asked: Json) -> str:
    """The name under which a text is judged, which cannot be a path. Raises `InputError`."""
    name = asked.get("name", "tune")
    if not isinstance(name, str) or not 0 < len(name.encode()) <= _LONGEST_NAME:
        raise InputError(Problem("'name' must be a name of the shelf.", setting="name"))
    if any(sign in name for sign in "/\\\0:"):
        raise InputError(Problem("'name' must be a name of the shelf.", setting="name"))
    return name


async def change(desk: OpenDesk, request: Request) -> Response:
    """The text of the request with one value changed; nothing is saved."""
    asked = await body_of(request, "text")
    path, value = asked.get("path"), asked.get("value")
    if not isinstance(path, list) or not path or not all(isinstance(one, str) for one in path):
        raise InputError(Problem("'path' must be a list of keys.", setting="path"))
    if tuple(path[:1]) not in _CHANGEABLE and tuple(path) not in _CHANGEABLE:
        raise InputError(Problem(f"{'.'.join(path)!r} is not changed here.", setting="path"))
    texts = isinstance(value, list) and all(isinstance(one, str) for one in value)
    if not (value is None or texts or isinstance(value, str | int | float)):
        raise InputError(Problem("'value' must be a text, a number or a list of texts."))
    text = await asyncio.to_thread(edited, asked["text"], tuple(path), value)
    return Reply({"text": text})


_CHANGEABLE = {(name,) for name in (*FIELDS, "vocabulary", "shapes")}


async def take_over(desk: OpenDesk, request: Request) -> Response:
    """Put the tunes of a lead sheet, whose bytes are the body, on the shelf."""
    _may_write(desk)
    file = request.query_params.get("file", "")
    found = await desk.text_workers.ask(
        "taking.taken", {"name": file, "data": await request.body()}
    )
    made = []
    for one in found["tunes"]:
        melody = None if one["melody"] is None else (one["melody_name"], one["melody"])
        name = await asyncio.to_thread(desk.saving.new, one["title"], one["toml"], melody)
        made.append({"name": name, "title": one["title"], "notices": one["notices"]})
    status = 201 if made else 422
    return Reply({"tunes": made, "problems": found["problems"]}, status)


def listed(task: TaskName) -> Handler:
    """A handler that asks a worker about the name in the address, or without one about all."""

    async def handler(desk: OpenDesk, request: Request) -> Response:
        return Reply(await desk.text_workers.ask(task, request.path_params.get("name")))

    return handler


async def shapes(desk: OpenDesk, request: Request) -> Response:
    """The shapes of a chord, without a tune."""
    asked = await body_of(request, "chord")
    return Reply(await desk.text_workers.ask("answers.shapes", asked))


async def sound(desk: OpenDesk, request: Request) -> Response:
    """The timeline of a text, and the addresses of its fonts."""
    asked = await body_of(request, "text")
    more: Json = {"options": asked.get("options", {})}
    if asked.get("kind") == "style":
        more["style"] = asked["text"]
    found = await desk.about(SOUNDED, asked["text"], _name(asked), more)
    desk.fonts |= dict(found["fonts"].values())
    fonts = {name: f"/api/fonts/{sha}" for name, (sha, _) in found["fonts"].items()}
    return Reply(found | {"fonts": fonts})


async def font(desk: OpenDesk, request: Request) -> Response:
    """The file of a font that a timeline has named."""
    path = desk.fonts.get(request.path_params["sha256"])
    if path is None:
        return Reply({"problems": [{"message": "This font is not known here."}]}, 404)
    return FileResponse(path, headers=KEPT)


async def choices(desk: OpenDesk, request: Request) -> Response:
    """The choices of the page's lists."""
    return Reply(await desk.text_workers.ask("tasks.choices", None))


async def jobs(desk: OpenDesk, request: Request) -> Response:
    """All jobs: waiting, at work and finished."""
    return Reply({"jobs": desk.jobs.rows()})


async def new_job(desk: OpenDesk, request: Request) -> Response:
    """Put a job that makes files of a text into the queue."""
    _may_write(desk)
    asked = await body_of(request, "text", "name")
    await asyncio.to_thread(desk.shelf.path, asked["name"])
    if desk.jobs.full():
        raise OutputError(_FULL)
    words = asked.get("words")
    job = desk.jobs.add(
        asked["name"],
        str(asked.get("title") or asked["name"])[:200],
        words[:200] if isinstance(words, str) else "files",
        desk.asked(asked["text"], asked["name"]) | {"options": asked.get("options", {})},
    )
    return Reply(job.row(), 202)


async def book(desk: OpenDesk, request: Request) -> Response:
    """The files of the band's book that have been made."""
    return Reply({"name": BOOK, "made": await asyncio.to_thread(desk.shelf.made, BOOK)})


async def new_book(desk: OpenDesk, request: Request) -> Response:
    """Put a job that makes the band's book of the whole shelf into the queue."""
    _may_write(desk)
    if desk.jobs.full():
        raise OutputError(_FULL)
    asked = {"folder": str(desk.folder), "into": BOOK}
    job = desk.jobs.add(BOOK, "The band’s book", "the whole shelf", asked, "making.book")
    return Reply(job.row(), 202)


async def cancel(desk: OpenDesk, request: Request) -> Response:
    """Stop a job."""
    _may_write(desk)
    job = desk.jobs.get(request.path_params["number"])
    if job is None:
        return Reply({"problems": [{"message": "There is no such job."}]}, 404)
    desk.jobs.cancel(job)
    return Reply(job.row())


async def made(desk: OpenDesk, request: Request) -> Response:
    """A file that was made. A page runs in a sandbox, without access to the desk."""
    params = request.path_params
    path = await asyncio.to_thread(desk.shelf.made_path, params["name"], params["file"])
    headers = {}
    if path.suffix == ".html":
        headers["content-security-policy"] = "sandbox allow-scripts allow-modals allow-downloads"
    elif path.suffix == ".pdf":
        headers["content-security-policy"] = (
            "default-src 'none'; object-src 'self'; plugin-types application/pdf"
        )
    kind = "inline" if path.suffix in (".html", ".pdf") else "attachment"
    return FileResponse(path, filename=path.name, headers=headers, content_disposition_type=kind)


async def events(desk: OpenDesk, request: Request) -> Response:
    """The stream of the desk's events."""
    about = {"run": desk.run, "read_only": desk.read_only}
    return StreamingResponse(desk.hub.listen("desk", about), media_type="text/event-stream")


ROUTES: tuple[tuple[str, str, Handler], ...] = (
    ("GET", "/api/tunes", tunes),
    ("POST", "/api/tunes", new_tune),
    ("GET", "/api/tunes/{name}", tune),
    ("PUT", "/api/tunes/{name}", save),
    ("GET", "/api/tunes/{name}/earlier", earlier),
    ("GET", "/api/tunes/{name}/earlier/{number:int}", earlier_text),
    ("GET", "/api/tunes/{name}/made/{file}", made),
    ("POST", "/api/judge", about_a_text("tasks.judge")),
    ("POST", "/api/style", about_a_text("tasks.judge_style")),
    ("POST", "/api/neck", about_a_text("tasks.positions")),
    ("POST", "/api/others", about_a_text("tasks.other_shapes", "chord")),
    ("POST", "/api/change", change),
    ("POST", "/api/sound", sound),
    ("GET", "/api/fonts/{sha256}", font),
    ("POST", "/api/leadsheets", take_over),
    ("POST", "/api/check", about_a_text("answers.check")),
    ("POST", "/api/positions", about_a_text("answers.positions")),
    ("POST", "/api/keys", about_a_text("answers.keys")),
    ("POST", "/api/shapes", shapes),
    ("GET", "/api/styles", listed("answers.styles")),
    ("GET", "/api/styles/{name}", listed("answers.styles")),
    ("GET", "/api/styles/{name}/text", listed("answers.style_text")),
    ("GET", "/api/instruments", listed("answers.instruments")),
    ("GET", "/api/instruments/{name}", listed("answers.instruments")),
    ("GET", "/api/choices", choices),
    ("GET", "/api/jobs", jobs),
    ("POST", "/api/jobs", new_job),
    ("DELETE", "/api/jobs/{number:int}", cancel),
    ("GET", "/api/book", book),
    ("POST", "/api/book", new_book),
    ("GET", "/api/events", events),
)


def routes(desk: OpenDesk) -> list[Route]:
    """All addresses of `/api`."""

    def bound(handler: Handler) -> Callable[[Request], Awaitable[Response]]:
        async def endpoint(request: Request) -> Response:
            return await handler(desk, request)

        return endpoint

    return [Route(path, bound(handler), methods=[method]) for method, path, handler in ROUTES]


def problem_answer(error: Exception) -> Response:
    """An error as JSON."""
    status = 422
    if isinstance(error, NoSuchTuneError):
        status = 404
    elif isinstance(error, ReadOnlyError):
        status = 403
    if isinstance(error, InputError):
        return Reply({"problems": problem_rows(error.problems)}, status)
    return Reply({"problems": [{"message": str(error)}]}, status)
