"""Who is let in at the desk, asked without a wire: every bound, every refusal in full."""

from __future__ import annotations

import asyncio
import hashlib
import hmac
import json
from dataclasses import dataclass, field
from typing import Any

import pytest
from desk_server import in_a_loop

from accomp.web.desk import guard
from accomp.web.desk.guard import DeskAccess, Guard, TooLargeError, TooSlowError, too_much

DOOR = DeskAccess(8417, "the-token", "the-secret")
BEARER = (b"authorization", b"Bearer the-token")
HOST = (b"host", b"127.0.0.1:8417")
ORIGIN = (b"origin", b"http://127.0.0.1:8417")
PASS = hmac.new(b"the-secret", b"cookie", hashlib.sha256).hexdigest().encode()
COOKIE = (b"cookie", b"accomp-desk-8417=" + PASS)
ADDRESS_ONLY = "This desk answers to its own address only."
ELSEWHERE = "Pages from elsewhere cannot reach this desk."
NO_ADDRESS = "This is no address of the desk's."
NO_LENGTH = "This is no length."
TOO_LARGE = "This is larger than the desk takes."
OPENED_BY = "This desk is opened by the address that it printed where it was started."
OWN_PAGES = "Only the desk's own pages may change anything here."
TOO_MUCH_BEFORE = "There is more before this request than the desk reads."
Header = tuple[bytes, bytes]


@dataclass
class Answer:
    """What came back, and what of the body got through to the desk."""

    status: int = 0
    headers: list[Header] = field(default_factory=list)
    body: bytes = b""
    taken: bytes | None = None

    @property
    def words(self) -> str:
        """What a refusal of the interface says."""
        (problem,) = json.loads(self.body)["problems"]
        return str(problem["message"])


def ask(
    *headers: Header,
    path: str = "/api/tunes",
    method: str = "GET",
    raw: bytes | None = None,
    query: bytes = b"",
    host: tuple[Header, ...] = (HOST,),
    kind: str = "http",
    pieces: tuple[dict[str, Any], ...] = ({"type": "http.request", "body": b""},),
) -> Answer:
    """Put one request before the guard; who is let in is answered 200 with headers of its own."""
    answer = Answer()
    coming = list(pieces)

    async def inside(scope: Any, receive: Any, send: Any) -> None:
        answer.taken = b""
        if scope["type"] != "http":
            return
        while True:
            message = await receive()
            if message["type"] != "http.request":
                break
            answer.taken += message.get("body", b"")
            if not message.get("more_body", False):
                break
        await send({"type": "http.response.start", "status": 200,
                    "headers": [(b"Cache-Control", b"private"), (b"x-own", b"1")]})  # fmt: skip
        await send({"type": "http.response.body", "body": b"inside"})

    async def receive() -> Any:
        if coming:
            return coming.pop(0)
        return await asyncio.sleep(3600)

    async def send(message: Any) -> None:
        if message["type"] == "http.response.start":
            answer.status, answer.headers = message["status"], list(message["headers"])
        else:
            answer.body += message["body"]

    scope = {
        "type": kind, "method": method, "path": path, "query_string": query,
        "raw_path": path.encode() if raw is None else raw, "headers": [*host, *headers],
    }  # fmt: skip
    in_a_loop(Guard(inside, DOOR)(scope, receive, send))
    return answer


def refused(answer: Answer, status: int, words: str) -> None:
    """A refusal: nothing got through, and the connection ends with it."""
    assert (answer.status, answer.words, answer.taken) == (status, words, None)
    assert dict(answer.headers)[b"connection"] == b"close"


def test_what_the_door_is_called() -> None:
    assert DOOR.host == "127.0.0.1:8417"
    assert DOOR.origin == "http://127.0.0.1:8417"
    assert DOOR.address == "http://127.0.0.1:8417/?token=the-token"
    assert DOOR.cookie == "accomp-desk-8417"
    assert DOOR.pass_word == PASS.decode()


def test_who_is_let_in_gets_its_own_headers_and_ours() -> None:
    answer = ask(BEARER)
    assert (answer.status, answer.body, answer.taken) == (200, b"inside", b"")
    assert answer.headers[:2] == [(b"Cache-Control", b"private"), (b"x-own", b"1")]
    assert dict(answer.headers[2:]) == {
        b"content-security-policy": (
            b"default-src 'self'; script-src 'self' 'wasm-unsafe-eval'; object-src 'none'; "
            b"base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
        ),
        b"x-content-type-options": b"nosniff",
        b"x-frame-options": b"DENY",
        b"referrer-policy": b"no-referrer",
        b"cross-origin-opener-policy": b"same-origin",
        b"cross-origin-resource-policy": b"same-origin",
    }
    assert ask().headers[-1] == (b"cache-control", b"no-store")


def test_what_is_no_request_of_http_is_not_the_doors_business() -> None:
    assert ask(kind="lifespan", host=()).taken == b""


def test_only_so_much_may_stand_before_a_request() -> None:
    """32,768 bytes, each line with the colon, the blank and the line end that it comes with."""
    before = sum(len(name) + len(value) + 4 for name, value in (HOST, BEARER))
    filler = b"x" * (32_768 - before - len(b"x-filler") - 4)
    assert ask(BEARER, (b"x-filler", filler)).status == 200
    refused(ask(BEARER, (b"x-filler", filler + b"x")), 431, TOO_MUCH_BEFORE)


def test_the_host_is_this_desk_once() -> None:
    for host in ((), (HOST, HOST), ((b"host", b"localhost:8417"),), ((b"host", b"127.0.0.1"),)):
        refused(ask(BEARER, host=host), 421, ADDRESS_ONLY)


def test_no_other_page_gets_in_with_the_token_either() -> None:
    assert ask(BEARER, ORIGIN).status == 200
    for other in (b"http://127.0.0.1", b"null", b"", b"https://127.0.0.1:8417"):
        refused(ask(BEARER, (b"origin", other)), 403, ELSEWHERE)
    refused(ask(BEARER, ORIGIN, ORIGIN), 403, ELSEWHERE)
    for site, status in (
        (b"same-origin", 200), (b"none", 200), (b"same-site", 403), (b"cross-site", 403),
    ):  # fmt: skip
        answer = ask(BEARER, (b"sec-fetch-site", site))
        assert answer.status == status
        assert status == 200 or answer.words == ELSEWHERE


@pytest.mark.parametrize(
    ("raw", "inside"),
    [
        (b"/", True),
        (b"/api/tunes/a%20b", True),
        (b"/api/tunes/100%2525", True),
        (b"/api/tunes/a..b", True),
        (b"/api/tunes/...", True),
        (b"/api/tunes/%252e", True),
        (b"/api/tunes/%25252e", False),  # taken apart three times it still hides something
        (b"/api/tunes/..", False),
        (b"/../secret", False),
        (b"/api/tunes/%2e%2e", False),
        (b"/api/tunes/%252e%252e", False),
        (b"/api//tunes", False),
        (b"/api/tunes/a\\b", False),
        (b"/api/tunes/a%5cb", False),
        (b"/api/tunes/a\0b", False),
        (b"/api/tunes/a%00", False),
        (b"/api/tunes/a%2fb", False),
        (b"/api/tunes/a%252fb", False),
        (b"/" + b"a" * 1999, True),
        (b"/" + b"a" * 2000, False),
    ],
    ids=lambda value: str(value)[:40],
)
def test_an_address_holds_nothing_in_disguise(raw: bytes, inside: bool) -> None:
    answer = ask(BEARER, raw=raw)
    if inside:
        assert answer.status == 200
    else:
        refused(answer, 400, NO_ADDRESS)


@pytest.mark.parametrize(
    ("length", "words"),
    [
        (b"0", ""),
        (b"8000000", ""),
        (b"000008000000", ""),
        (b"8000001", TOO_LARGE),
        (b"999999999999", TOO_LARGE),
        (b"0000000000000", NO_LENGTH),
        (b"", NO_LENGTH),
        (b"-1", NO_LENGTH),
        (b"1e3", NO_LENGTH),
        (b" 1", NO_LENGTH),
    ],
)
def test_a_length_is_digits_and_no_more_than_the_desk_takes(length: bytes, words: str) -> None:
    answer = ask(BEARER, (b"content-length", length), method="POST")
    if words:
        refused(answer, 413 if words == TOO_LARGE else 400, words)
    else:
        assert answer.status == 200


def test_every_length_counts() -> None:
    good, large, odd = ((b"content-length", value) for value in (b"1", b"8000001", b"x"))
    assert ask(BEARER, good, good).status == 200
    for two in ((good, large), (large, good)):
        refused(ask(BEARER, *two), 413, TOO_LARGE)
    for two in ((good, odd), (odd, good), (large, odd)):
        refused(ask(BEARER, *two), 400, NO_LENGTH)


def test_the_token_opens_by_the_first_address_alone() -> None:
    for method in ("GET", "HEAD"):
        answer = ask(path="/", method=method, query=b"token=the-token")
        assert (answer.status, answer.taken) == (303, None)
        told = dict(answer.headers)
        assert told[b"location"] == b"/"
        cookie = COOKIE[1] + b"; HttpOnly; Path=/; SameSite=strict"
        assert told[b"set-cookie"] == cookie
    refused(ask(path="/", method="POST", query=b"token=the-token"), 403, OPENED_BY)
    refused(ask(query=b"token=the-token"), 403, OPENED_BY)
    for query in (
        b"",
        b"token=",
        b"token=the-toke",
        b"other=the-token",
        b"token=x&token=the-token",
    ):
        assert ask(path="/", query=query).status == 403
    assert ask(COOKIE, path="/", query=b"token=old").status == 200


def test_a_script_shows_the_token_in_a_header_and_may_write() -> None:
    assert ask(BEARER, method="DELETE").status == 200
    for wrong in (b"the-token", b"Bearer the-toke", b"Bearer the-token ", b"bearer the-token"):
        refused(ask((b"authorization", wrong)), 403, OPENED_BY)
    assert ask((b"authorization", b"Basic x"), BEARER).status == 200


def test_a_cookie_reads_and_writes_only_for_the_desks_own_pages() -> None:
    for method in ("GET", "HEAD"):
        assert ask(COOKIE, method=method).status == 200
    for method in ("POST", "PUT", "DELETE", "OPTIONS"):
        refused(ask(COOKIE, method=method), 403, OWN_PAGES)
        assert ask(COOKIE, ORIGIN, method=method).status == 200


@pytest.mark.parametrize(
    ("cookies", "inside"),
    [
        ([b"other=1; " + COOKIE[1]], True),
        ([b"other=1", COOKIE[1]], True),
        ([b"a/b=1", COOKIE[1]], True),  # one that cannot be read is none
        ([b"accomp-desk-8417=old", COOKIE[1]], True),
        ([b"accomp-desk-8417=" + PASS[:-1]], False),
        ([b"accomp-desk-8418=" + PASS], False),
        ([b"a/b=1"], False),
        ([], False),
    ],
)
def test_which_cookie_opens(cookies: list[bytes], inside: bool) -> None:
    answer = ask(*((b"cookie", one) for one in cookies))
    if inside:
        assert answer.status == 200
    else:
        refused(answer, 403, OPENED_BY)


def test_a_refusal_is_a_page_where_a_browser_looks_and_json_elsewhere() -> None:
    for path in ("/", "/files/0/desk.js", "/api"):
        answer = ask(path=path)
        assert answer.body.decode() == (
            '<!doctype html><html lang="en"><meta charset="utf-8"><title>accomp</title>'
            f"<p>{OPENED_BY}</p>"
        )
        assert dict(answer.headers)[b"connection"] == b"close"
    refused(ask(path="/", method="POST"), 403, OPENED_BY)
    refused(ask(path="/api/tunes"), 403, OPENED_BY)


def piece(body: bytes, *, more: bool) -> dict[str, Any]:
    """A piece of a body, as a server hands it on."""
    return {"type": "http.request", "body": body, "more_body": more}


def test_a_body_is_counted_as_it_comes() -> None:
    most = 8_000_000
    assert ask(BEARER, pieces=(piece(b"x" * most, more=False),)).taken == b"x" * most
    halves = (piece(b"x" * (most - 1), more=True), piece(b"y", more=True), piece(b"", more=False))
    assert ask(BEARER, pieces=halves).taken == b"x" * (most - 1) + b"y"
    for pieces in ((piece(b"x" * (most + 1), more=False),),
                   (piece(b"x" * most, more=True), piece(b"y", more=False))):  # fmt: skip
        with pytest.raises(TooLargeError):
            ask(BEARER, pieces=pieces)
    gone: tuple[dict[str, Any], ...] = (piece(b"x", more=True), {"type": "http.disconnect"})
    assert ask(BEARER, pieces=gone).taken == b"x"


def test_a_body_that_does_not_come_is_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    assert guard.BODY_S == 20
    monkeypatch.setattr(guard, "BODY_S", 0.02)
    with pytest.raises(TooSlowError):
        ask(BEARER, pieces=())
    with pytest.raises(TooSlowError):
        ask(BEARER, pieces=(piece(b"x", more=True),))


def test_once_the_body_is_there_it_is_waited_for_as_long_as_it_takes(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """What comes then is that the browser has gone, and that may be at any time."""
    monkeypatch.setattr(guard, "BODY_S", 0.01)
    seen: list[str] = []

    async def inside(scope: Any, receive: Any, send: Any) -> None:
        seen.extend([(await receive())["type"] for _ in range(2)])

    coming = [piece(b"x", more=False), {"type": "http.disconnect"}]

    async def receive() -> Any:
        if len(coming) == 1:
            await asyncio.sleep(0.03)
        return coming.pop(0)

    scope = {
        "type": "http", "method": "GET", "path": "/api/tunes", "query_string": b"",
        "raw_path": b"/api/tunes", "headers": [HOST, BEARER],
    }  # fmt: skip

    async def send(message: Any) -> None:
        seen.append("answered")

    in_a_loop(Guard(inside, DOOR)(scope, receive, send))
    assert seen == ["http.request", "http.disconnect"]


def test_too_large_and_too_slow_are_told_apart() -> None:
    from starlette.requests import Request

    request = Request({"type": "http", "method": "POST", "path": "/api/tunes", "headers": []})
    for error, status, words in (
        (TooLargeError(), 413, TOO_LARGE),
        (TooSlowError(), 408, "This came too slowly."),
    ):
        answer = in_a_loop(too_much(request, error))
        assert answer.status_code == status
        assert json.loads(answer.body) == {"problems": [{"message": words}]}
        assert answer.headers["connection"] == "close"
