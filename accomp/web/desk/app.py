"""The desk as an application: pages, files of the page, and the interface under `/api`."""

from __future__ import annotations

import contextlib
import hashlib
from collections.abc import AsyncIterator
from functools import lru_cache
from pathlib import Path

from jinja2 import Environment, FileSystemLoader
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.routing import Route
from starlette.types import ASGIApp

from accomp.errors import AccompError, own_fault
from accomp.web.desk.guard import Guard, TooLargeError, TooSlowError, too_much
from accomp.web.desk.reply import KEPT, Reply
from accomp.web.desk.routes import problem_answer, routes
from accomp.web.desk.state import OpenDesk
from accomp.web.template import BUILT, filled

_HERE = Path(__file__).parent
_WEB = _HERE.parent
# The files of a page, by the name under which a browser fetches them.
_FILES = {
    "page.css": (_WEB / "page.css", "text/css"),
    "desk.css": (_HERE / "pages" / "desk.css", "text/css"),
    "desk.js": (BUILT / "desk.js", "text/javascript"),
    "synth.js": (BUILT / "synth.js", "text/javascript"),
    "regular.woff2": (BUILT / "regular.woff2", "font/woff2"),
    "italic.woff2": (BUILT / "italic.woff2", "font/woff2"),
}


def application(desk: OpenDesk) -> ASGIApp:
    """The desk's ASGI application, behind its guard."""

    @contextlib.asynccontextmanager
    async def lifespan(app: Starlette) -> AsyncIterator[None]:
        async with desk.opened():
            yield

    async def page(request: Request) -> Response:
        return HTMLResponse(_page(desk))

    async def nothing_to_see(request: Request) -> Response:
        return Response(status_code=204)

    app = Starlette(
        routes=[
            Route("/", page, methods=["GET"]),
            Route("/favicon.ico", nothing_to_see, methods=["GET"]),
            Route("/files/{version}/{name}", _file, methods=["GET"]),
            *routes(desk),
        ],
        exception_handlers={
            AccompError: _problem,
            TooLargeError: too_much,
            TooSlowError: too_much,
            404: _nothing,
            405: _nothing,
            500: _fault,
        },
        lifespan=lifespan,
    )
    return Guard(app, desk.access)


async def _problem(request: Request, error: Exception) -> Response:
    return problem_answer(error)


async def _nothing(request: Request, error: Exception) -> Response:
    return Reply({"problems": [{"message": "There is nothing at this address."}]}, 404)


async def _fault(request: Request, error: Exception) -> Response:
    return Reply({"problems": [{"message": str(own_fault(error))}]}, 500)


def _page(desk: OpenDesk) -> str:
    templates = Environment(loader=FileSystemLoader(_HERE / "pages"), autoescape=True)
    return templates.get_template("desk.html").render(
        version=_version(), folder=desk.folder.resolve().name, read_only=desk.read_only
    )


async def _file(request: Request) -> Response:
    name = request.path_params["name"]
    if name not in _FILES or request.path_params["version"] != _version():
        return await _nothing(request, KeyError(name))
    return Response(_bytes(name), media_type=_FILES[name][1], headers=KEPT)


@lru_cache(maxsize=1)
def _version() -> str:
    """A version that changes with any file of a page, so that a browser may keep files for ever."""
    whole = hashlib.sha256()
    for path, _ in _FILES.values():
        whole.update(path.read_bytes())
    return whole.hexdigest()[:16]


@lru_cache(maxsize=16)
def _bytes(name: str) -> bytes:
    data = _FILES[name][0].read_bytes()
    if name == "page.css":
        fonts = {font: f"{font}.woff2" for font in ("regular", "italic")}
        return filled(data.decode(), fonts).encode()
    return data
