"""The guard lets in requests of this machine's browser with the token that the desk printed.

Conventions: pure ASGI, before everything else. A request is let in when it names this desk as its
host, comes from no other page, and carries the token: in the first address, from then on in a
cookie, or in a header of scripts. Bodies are limited in size and time. A refusal is one sentence,
and nothing of the request has been done.
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
MOST_ADDRESS = 2000  # bytes of a path: room for two names with each byte written as %xx
BODY_S = 20.0  # the longest time that a body may take to arrive
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
class DeskAccess:
    """The address of this desk, and the secrets that open it.

    The `token` belongs to this run. The `secret` behind the cookie belongs to the user and outlives
    a restart, so that a page that is still open gets in again.
    """

    port: int
    token: str
    secret: str

    @property
    def host(self) -> str:
        """The host that a request must name."""
        return f"127.0.0.1:{self.port}"

    @property
    def origin(self) -> str:
        """The origin of the desk's own pages."""
        return f"http://{self.host}"

    @property
    def address(self) -> str:
        """The address to open first, with the token."""
        return f"{self.origin}/?token={self.token}"

    @property
    def cookie(self) -> str:
        """The cookie's name, with the port: a browser sends cookies to all ports of a machine."""
        return f"accomp-desk-{self.port}"

    @property
    def pass_word(self) -> str:
        """The cookie's value, from which neither token nor secret can be guessed."""
        return hmac.new(self.secret.encode(), b"cookie", hashlib.sha256).hexdigest()


class TooLargeError(Exception):
    """A body is larger than the desk accepts."""


class TooSlowError(Exception):
    """A body did not come in time."""


class Guard:
    """Refuses requests from elsewhere, and gives every answer headers that keep other pages out."""

    def __init__(self, app: ASGIApp, access: DeskAccess) -> None:
        self.app, self.access = app, access

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
        """The answer to a request that is refused; None for one that is let in."""
        headers = scope["headers"]
        if sum(len(name) + len(value) + 4 for name, value in headers) > MOST_HEAD:
            return _refused(scope, 431, "There is more before this request than the desk reads.")
        if _all(headers, b"host") != [self.access.host.encode()]:
            return _refused(scope, 421, "This desk answers to its own address only.")
        origin = _all(headers, b"origin")
        if origin and origin != [self.access.origin.encode()]:
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
        headers, access = scope["headers"], self.access
        bearer = b"Bearer " + access.token.encode()
        if any(hmac.compare_digest(value, bearer) for value in _all(headers, b"authorization")):
            return None
        if scope["path"] == "/" and scope["method"] in SAFE:
            given = parse_qs(scope["query_string"].decode("latin-1")).get("token", [""])[0]
            if given and hmac.compare_digest(given.encode(), access.token.encode()):
                answer = RedirectResponse("/", 303)
                answer.set_cookie(
                    access.cookie, access.pass_word, path="/", httponly=True, samesite="strict"
                )
                return answer
        if not any(
            hmac.compare_digest(value.encode(), access.pass_word.encode())
            for value in _cookies(_all(headers, b"cookie"), access.cookie)
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
    """Whether a path, decoded up to three times, has parts that no address of ours has (`..`)."""
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
    """`receive` with limits. It raises `TooLargeError` and `TooSlowError`."""
    size = 0
    whole = False
    loop = asyncio.get_running_loop()
    until = loop.time() + BODY_S

    async def limited() -> Message:
        nonlocal size, whole
        if whole:  # the next message says that the browser has gone, which may take any time
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
    """An answer's headers with ours added; headers that it has itself stay."""
    there = {name.lower() for name, _ in headers}
    return [*headers, *(row for row in _HEADERS.items() if row[0] not in there)]


def _refused(scope: Scope, status: int, words: str) -> Response:
    # The body of the request is not read, so the connection ends with the answer.
    headers = {"connection": "close"}
    if scope["path"].startswith("/api/") or scope["method"] not in SAFE:
        problems = [{"message": words}]
        return JSONResponse({"problems": problems}, status, headers)
    page = (
        f'<!doctype html><html lang="en"><meta charset="utf-8"><title>accomp</title><p>{words}</p>'
    )
    return HTMLResponse(page, status, headers)
