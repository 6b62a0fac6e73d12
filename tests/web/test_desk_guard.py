"""Who may ask the desk, by raw bytes where a browser would not send them.

What a browser can be made to send: RFC 9110 (Host, methods), the Fetch standard (Origin,
Sec-Fetch-Site), RFC 6265bis (SameSite). What a stranger may try: the OWASP pages on path traversal
and DNS rebinding (from memory).
"""

from __future__ import annotations

import socket

import pytest
from desk_server import SMALL, RunningDesk, read_all

from accomp.web.desk.wire import HEAD_S


def _status(answer: bytes) -> int:
    assert answer.startswith(b"HTTP/1.1 "), answer[:200]
    return int(answer.split()[1])


def _ask(
    running: RunningDesk, line: str, *headers: str, host: str = "", body: bytes = b""
) -> bytes:
    first = f"{line} HTTP/1.1\r\nHost: {host or f'127.0.0.1:{running.port}'}\r\n"
    rest = "".join(f"{header}\r\n" for header in (*headers, "Connection: close"))
    return running.bytes(f"{first}{rest}\r\n".encode() + body)


def _cookie(running: RunningDesk) -> str:
    with running.page() as client:
        (name, value), *others = client.cookies.items()
    assert not others
    return f"Cookie: {name}={value}"


def test_the_address_lets_in_once_and_the_cookie_from_then_on(running: RunningDesk) -> None:
    answer = _ask(running, f"GET /?token={running.token}").decode()
    assert " 303 " in answer.splitlines()[0]
    cookie = next(row for row in answer.splitlines() if row.lower().startswith("set-cookie"))
    assert "HttpOnly" in cookie
    assert "SameSite=strict" in cookie
    assert running.token not in cookie
    assert _status(_ask(running, "GET /", _cookie(running))) == 200


@pytest.mark.parametrize(
    "path", ["/", "/api/tunes", "/api/events", "/api/fonts/0", "/files/0/desk.js"]
)
def test_nothing_is_shown_without_the_token(path: str, running: RunningDesk) -> None:
    for more in ((), ("Authorization: Bearer wrong",), ("Cookie: accomp-desk=1",)):
        answer = _ask(running, f"GET {path}", *more)
        assert _status(answer) == 403
        assert b"Ten Small Steps" not in answer
    assert _status(_ask(running, f"GET /?token={running.token[:-1]}")) == 403
    assert _status(_ask(running, "GET /?token=")) == 403


@pytest.mark.parametrize(
    "host",
    ["evil.example", "localhost", "127.0.0.1", "127.0.0.1:1", "127.0.0.1.evil.example", "[::1]"],
)
def test_another_host_is_refused_token_or_not(host: str, running: RunningDesk) -> None:
    token = f"Authorization: Bearer {running.token}"
    assert _status(_ask(running, "GET /api/tunes", token, host=host)) == 421
    assert _status(_ask(running, f"GET /?token={running.token}", host=host)) == 421


def test_two_hosts_are_refused(running: RunningDesk) -> None:
    two = f"Host: 127.0.0.1:{running.port}"
    assert _status(_ask(running, "GET /", two, _cookie(running))) == 400


@pytest.mark.parametrize(
    "origin", ["http://evil.example", "null", "http://127.0.0.1", "https://127.0.0.1:{port}", ""]
)
def test_another_origin_is_refused_cookie_or_not(origin: str, running: RunningDesk) -> None:
    said = f"Origin: {origin.format(port=running.port)}"
    cookie = _cookie(running)
    assert _status(_ask(running, "GET /api/tunes", cookie, said)) == 403
    body = b'{"title": "Planted"}'
    length = f"Content-Length: {len(body)}"
    assert _status(_ask(running, "POST /api/tunes", cookie, said, length, body=body)) == 403
    assert not (running.folder / "planted.toml").exists()


def test_a_form_elsewhere_cannot_write(running: RunningDesk) -> None:
    """What a browser sends with a request that a page elsewhere starts, cookie included."""
    body = b'{"title": "Planted"}'
    cookie, length = _cookie(running), f"Content-Length: {len(body)}"
    for more in ((), ("Sec-Fetch-Site: cross-site",), ("Sec-Fetch-Site: same-site",)):
        assert _status(_ask(running, "POST /api/tunes", cookie, length, *more, body=body)) == 403
    assert not (running.folder / "planted.toml").exists()
    there = f"Origin: {running.origin}"
    assert _status(_ask(running, "POST /api/tunes", cookie, there, length, body=body)) == 201
    (running.folder / "planted.toml").unlink()


@pytest.mark.parametrize(
    "path",
    [
        "/api/tunes/..", "/api/tunes/../secret", "/api/tunes/%2e%2e", "/api/tunes/..%2fsecret",
        "/api/tunes/%2e%2e%2fsecret", "/api/tunes/%252e%252e%252fsecret", "/api/tunes/..%5csecret",
        "/api/tunes/%2fetc%2fpasswd", "/api/tunes//etc/passwd", "/api/tunes/secret%00",
        "/files/%2e%2e/secret", "/api/tunes/small/made/..%2f..%2fsecret.toml",
        "/api/tunes/small/made/../../secret.toml", "/api/tunes/.hidden", "/api/tunes/secret",
    ],
)  # fmt: skip
def test_no_path_leads_out_of_the_shelf(path: str, running: RunningDesk) -> None:
    for place in (running.folder.parent / "secret.toml", running.folder / ".hidden.toml"):
        place.write_text(SMALL.replace("Ten Small Steps", "Secret"), encoding="utf-8")
    answer = _ask(running, f"GET {path}", f"Authorization: Bearer {running.token}")
    plain = path.endswith(("/.hidden", "/secret")) and ".." not in path and "%" not in path
    assert _status(answer) == (404 if plain else 400)
    assert b"Secret" not in answer
    assert b"root:" not in answer


@pytest.mark.slow
def test_no_name_in_a_body_leads_out_of_the_shelf(running: RunningDesk) -> None:
    (running.folder.parent / "secret.toml").write_text(SMALL, encoding="utf-8")
    with running.script() as client:
        for name in ("../secret", "/etc/passwd", "a/b", "a\\b", "a\0b", "c:x", "", 7):
            answer = client.post("/api/judge", json={"text": SMALL, "name": name})
            assert answer.status_code == 422, name
            answer = client.post("/api/jobs", json={"text": SMALL, "name": name})
            assert answer.status_code == (422 if name == 7 else 404), name
        for option in (
            {"style": "/etc/passwd.toml"}, {"style": "../secret.toml"}, {"instrument": "x.toml"},
            {"hand": "../secret"}, {"soundfont": "/etc/passwd"}, {"repertoire": "/etc/passwd"},
            {"costs": "/etc/passwd"}, {"jobs": 64}, {"replace": True}, {"style": ["a"]},
        ):  # fmt: skip
            answer = client.post("/api/sound", json={"text": SMALL, "options": option})
            assert answer.status_code == 422, option
            assert "passwd" not in answer.text.replace("/etc/passwd", "")
        text = SMALL.replace("tempo = 120", 'tempo = 120\nmelody = "../secret.abc"')
        (problem,) = client.post("/api/judge", json={"text": text}).json()["problems"]
        assert "folder" in problem["hint"]


@pytest.mark.slow
def test_a_title_never_names_a_path(running: RunningDesk) -> None:
    with running.script() as client:
        for title in ("../../x", "/etc/cron.d/x", "CON", "book", ".accomp-desk", "a\nb\0c"):
            answer = client.post("/api/tunes", json={"title": title})
            assert answer.status_code == 201, answer.text
            if answer.status_code == 201:
                path = running.folder / f"{answer.json()['name']}.toml"
                assert path.resolve().parent == running.folder.resolve()
                assert path.name != "book.toml"
                path.unlink()


def test_what_is_too_large_is_refused_before_it_has_come(running: RunningDesk) -> None:
    token = f"Authorization: Bearer {running.token}"
    # Whoever waits for the rest, which never comes, answers 408 or not at all.
    answer = _ask(running, "POST /api/judge", token, "Content-Length: 104857600", body=b"x" * 1000)
    assert _status(answer) == 413
    # Without a length it is counted as it comes.
    with socket.create_connection(("127.0.0.1", running.port), timeout=30) as line:
        head = f"POST /api/judge HTTP/1.1\r\nHost: 127.0.0.1:{running.port}\r\n{token}\r\n"
        line.sendall(f"{head}Transfer-Encoding: chunked\r\n\r\n".encode())
        sent = 0
        try:
            for _ in range(1600):  # 100 MB
                line.sendall(b"10000\r\n" + b"x" * 65536 + b"\r\n")
                sent += 65536
        except OSError:
            pass
        answer = read_all(line)
    assert sent < 104_857_600
    assert answer == b"" or _status(answer) == 413  # it may be lost in what was on its way
    with running.script() as client:
        assert client.get("/api/tunes").status_code == 200


def test_ten_thousand_headers_are_refused(running: RunningDesk) -> None:
    for name in ("X-Header-{}", "X{}"):  # the short ones come whole in one piece
        headers = [f"{name.format(number)}: {number}" for number in range(10_000)]
        assert _status(_ask(running, "GET /", *headers)) in {400, 431}


@pytest.mark.many(2, 99)
@pytest.mark.parametrize(
    "data",
    [b"\x16\x03\x01\x02\x00\x01\x00", b"GET\r\n\r\n", b"GET / HTTP/9.9\r\n\r\n", b"\r\n" * 40_000,
     b"GET /" + b"a" * 100_000 + b" HTTP/1.1\r\n\r\n"],
    ids=["tls", "no address", "version", "empty lines", "long"],
)  # fmt: skip
def test_what_is_no_request_is_answered_and_closed(data: bytes, running: RunningDesk) -> None:
    answer = running.bytes(data)
    assert answer == b"" or _status(answer) >= 400
    with running.script() as client:
        assert client.get("/api/tunes").status_code == 200


def _closed(line: socket.socket, wait_s: float) -> bool:
    """Whether the other side closes a connection, without a word, within some seconds."""
    line.settimeout(wait_s)
    try:
        return line.recv(1) == b""
    except ConnectionResetError:
        return True
    except (BlockingIOError, TimeoutError):
        return False


@pytest.mark.long
def test_who_is_slow_is_closed_and_holds_nobody_up(running: RunningDesk) -> None:
    """A hundred connections that say one byte of their head and then nothing (slowloris)."""
    lines = [socket.create_connection(("127.0.0.1", running.port)) for _ in range(100)]
    try:
        for line in lines:
            line.sendall(b"G")
        with running.script() as client:
            assert client.get("/api/tunes").status_code == 200
        assert not _closed(lines[-1], 0), "it was answered after the slow ones were given up"
        assert all(_closed(line, 20 * HEAD_S) for line in lines)
    finally:
        for line in lines:
            line.close()


def test_every_answer_keeps_the_page_at_home(running: RunningDesk) -> None:
    with running.page() as client:
        for path in ("/", "/api/tunes", "/nothing", "/api/tunes/nothing"):
            headers = client.get(path).headers
            assert headers["content-security-policy"].startswith("default-src 'self'")
            assert "unsafe-inline" not in headers["content-security-policy"]
            assert headers["x-content-type-options"] == "nosniff"
            assert headers["cross-origin-resource-policy"] == "same-origin"
            assert headers["cache-control"] == "no-store"
            assert "access-control-allow-origin" not in headers
            assert "server" not in headers


def test_it_listens_on_this_machine_only(running: RunningDesk) -> None:
    """Linux lists who listens where in /proc/net/tcp: 0100007F is 127.0.0.1 (proc(5))."""
    import pathlib

    table = pathlib.Path("/proc/net/tcp")
    rows = [row.split() for row in table.read_text().splitlines()[1:]]
    mine = [row[1] for row in rows if row[3] == "0A" and row[1].endswith(f":{running.port:04X}")]
    assert mine == [f"0100007F:{running.port:04X}"]
