"""Who may ask: this browser, on this machine, with the token that the desk printed.

Conventions: pure ASGI, before everything else. A request is let in when it names this desk as its
host, comes from no other page, and carries the token: in the first address, from then on in a
cookie, or in a header of scripts. Bodies have a greatest size and a greatest time. What is refused
is told in one sentence, and nothing of it has been done.
"""

from __future__ import annotations

import asyncio
import hashlib
import hmac
from collections.abc import Iterable
from dataclasses import dataclass
from http.cookies import CookieError, SimpleCookie
from urllib.parse import parse_qs, unquote_to_bytes

from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from accomp.web.desk.wire import MOST_HEAD

MOST_BODY = 8_000_000  # bytes; a lead sheet, which its reader limits further
MOST_ADDRESS = 2000  # bytes of a path: two names, each sign of them written as %xx
BODY_S = 20.0  # so long a body may take to come
SAFE = frozenset({"GET", "HEAD"})
POLICY = (
    "default-src 'self'; script-src 'self' 'wasm-unsafe-eval'; object-src 'none'; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
_HEADERS = {
    b"content-security-policy": POLICY.encode(),
    b"x-content-type-options": b"nosniff",
    b"x-frame-options": b"DENY",
    b"referrer-policy": b"no-referrer",
    b"cross-origin-opener-policy": b"same-origin",
    b"cross-origin-resource-policy": b"same-origin",
    b"cache-control": b"no-store",
}


@dataclass(frozen=True, slots=True)
class Door:
    """What this desk is called, and the secrets that open it.

    The `token` is this run's; the `secret` behind the cookie is the folder's and outlives a
    restart, so that a page that is still open finds back in.
    """

    port: int
    token: str
    secret: str

    @property
    def host(self) -> str:
        """What a browser has to call the desk."""
        return f"127.0.0.1:{self.port}"

    @property
    def origin(self) -> str:
        """Where the desk's own pages come from."""
        return f"http://{self.host}"

    @property
    def address(self) -> str:
        """The first address, token and all."""
        return f"{self.origin}/?token={self.token}"

    @property
    def cookie(self) -> str:
        """The cookie's name: a browser sends cookies to all ports of a machine."""
        return f"accomp-desk-{self.port}"

    @property
    def pass_word(self) -> str:
        """The cookie's value, from which neither token nor secret can be guessed."""
        return hmac.new(self.secret.encode(), b"cookie", hashlib.sha256).hexdigest()


class TooLargeError(Exception):
    """A body is larger than anything the desk takes."""


class TooSlowError(Exception):
    """A body did not come in time."""


class Guard:
    """Lets in who may ask, and gives every answer the headers that keep it at home."""

    def __init__(self, app: ASGIApp, door: Door) -> None:
        self.app, self.door = app, door

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def out(message: Message) -> None:
            if message["type"] == "http.response.start":
                message["headers"] = _with_ours(message.get("headers", ()))
            await send(message)

        refusal = self._refusal(scope)
        if refusal is not None:
            await refusal(scope, receive, out)
        else:
            await self.app(scope, _limited(receive), out)

    def _refusal(self, scope: Scope) -> Response | None:
        """What to answer who is not let in; None for who is."""
        headers = scope["headers"]
        if sum(len(name) + len(value) + 4 for name, value in headers) > MOST_HEAD:
            return _refused(scope, 431, "There is more before this request than the desk reads.")
        if _all(headers, b"host") != [self.door.host.encode()]:
            return _refused(scope, 421, "This desk answers to its own address only.")
        origin = _all(headers, b"origin")
        if origin and origin != [self.door.origin.encode()]:
            return _refused(scope, 403, "Pages from elsewhere cannot reach this desk.")
        site = _all(headers, b"sec-fetch-site")
        if site and site[0] not in (b"same-origin", b"none"):
            return _refused(scope, 403, "Pages from elsewhere cannot reach this desk.")
        raw = scope.get("raw_path", b"")
        if len(raw) > MOST_ADDRESS or _leads_away(raw):
            return _refused(scope, 400, "This is no address of the desk's.")
        lengths = _all(headers, b"content-length")
        if not all(length.isdigit() and len(length) <= 12 for length in lengths):
            return _refused(scope, 400, "This is no length.")
        if any(int(length) > MOST_BODY for length in lengths):
            return _refused(scope, 413, "This is larger than the desk takes.")
        return self._without_token(scope, bool(origin))

    def _without_token(self, scope: Scope, from_page: bool) -> Response | None:
        headers, door = scope["headers"], self.door
        bearer = b"Bearer " + door.token.encode()
        if any(hmac.compare_digest(value, bearer) for value in _all(headers, b"authorization")):
            return None
        if scope["path"] == "/" and scope["method"] in SAFE:
            given = parse_qs(scope["query_string"].decode("latin-1")).get("token", [""])[0]
            if given and hmac.compare_digest(given.encode(), door.token.encode()):
                answer = RedirectResponse("/", 303)
                answer.set_cookie(
                    door.cookie, door.pass_word, path="/", httponly=True, samesite="strict"
                )
                return answer
        if not any(
            hmac.compare_digest(value.encode(), door.pass_word.encode())
            for value in _cookies(_all(headers, b"cookie"), door.cookie)
        ):
            return _refused(
                scope,
                403,
                "This desk is opened by the address that it printed where it was started.",
            )
        if scope["method"] not in SAFE and not from_page:
            return _refused(scope, 403, "Only the desk's own pages may change anything here.")
        return None


async def too_much(request: Request, error: Exception) -> Response:
    """The answer to a body that is too large or too slow; its rest is not read."""
    if isinstance(error, TooLargeError):
        return _refused(request.scope, 413, "This is larger than the desk takes.")
    return _refused(request.scope, 408, "This came too slowly.")


def _all(headers: Iterable[tuple[bytes, bytes]], name: bytes) -> list[bytes]:
    return [value for key, value in headers if key == name]


def _cookies(headers: Iterable[bytes], name: str) -> list[str]:
    found = []
    for header in headers:
        try:
            jar = SimpleCookie(header.decode("latin-1"))
        except CookieError:
            continue
        if name in jar:
            found.append(jar[name].value)
    return found


def _leads_away(raw: bytes) -> bool:
    """Whether a path, taken apart as often as anybody might, holds what names no thing of ours."""
    for _ in range(3):
        if b"\\" in raw or b"\0" in raw or b".." in raw.split(b"/") or b"//" in raw:
            return True
        plain = unquote_to_bytes(raw)
        if plain.count(b"/") != raw.count(b"/"):  # a separator in disguise
            return True
        if plain == raw:
            return False
        raw = plain
    return True


def _limited(receive: Receive) -> Receive:
    """The body as it comes, as long as it is not too large or too slow."""
    size = 0
    whole = False
    loop = asyncio.get_running_loop()
    until = loop.time() + BODY_S

    async def limited() -> Message:
        nonlocal size, whole
        if whole:  # what comes now is that the browser has gone: it is waited for
            return await receive()
        try:
            message = await asyncio.wait_for(receive(), max(0.0, until - loop.time()))
        except TimeoutError:
            raise TooSlowError from None
        if message["type"] == "http.request":
            size += len(message.get("body", b""))
            whole = not message.get("more_body", False)
            if size > MOST_BODY:
                raise TooLargeError
        return message

    return limited


def _with_ours(headers: Iterable[tuple[bytes, bytes]]) -> list[tuple[bytes, bytes]]:
    """An answer's headers with ours; what it says itself stays."""
    there = {name.lower() for name, _ in headers}
    return [*headers, *(row for row in _HEADERS.items() if row[0] not in there)]


def _refused(scope: Scope, status: int, words: str) -> Response:
    # What was sent with it is not read: the connection ends with the answer.
    headers = {"connection": "close"}
    if scope["path"].startswith("/api/") or scope["method"] not in SAFE:
        problems = [{"message": words}]
        return JSONResponse({"problems": problems}, status, headers)
    page = (
        f'<!doctype html><html lang="en"><meta charset="utf-8"><title>accomp</title><p>{words}</p>'
    )
    return HTMLResponse(page, status, headers)
