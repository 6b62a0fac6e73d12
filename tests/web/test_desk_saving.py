"""Saving at the desk: conditions, the versions before, what else may happen meanwhile."""

from __future__ import annotations

import asyncio
import errno
import hashlib
import json
import os
import signal
import subprocess
import sys
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import httpx
import pytest
from desk_server import SMALL, RunningDesk, in_a_loop, judged

from accomp.files.lock import locked
from accomp.tune import read_tune
from accomp.web.desk.making import Jobs
from accomp.web.desk.reply import Reply
from accomp.web.desk.saving import DEEP, HIDDEN, ChangedError, Saving
from accomp.web.desk.shelf import NoSuchTuneError, Shelf


def _sha(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


@pytest.fixture
def small(tmp_path: Path) -> Path:
    path = tmp_path / "small.toml"
    path.write_text(SMALL, encoding="utf-8")
    return path


def test_a_tune_is_saved_where_it_lies_and_the_one_before_is_kept(small: Path) -> None:
    saving = Saving(Shelf(small.parent))
    seen = saving.shelf.read("small")
    other = SMALL.replace("120", "90")
    saved = saving.save("small", other, seen.sha256)
    assert small.read_text(encoding="utf-8") == other
    assert saved.sha256 == _sha(small)
    (version,) = saving.earlier("small")
    assert saving.earlier_text("small", version["number"]) == SMALL
    assert read_tune(small).tempo == 90


def test_who_has_not_seen_the_last_change_writes_nothing(small: Path) -> None:
    saving = Saving(Shelf(small.parent))
    seen = saving.shelf.read("small").sha256
    theirs = SMALL.replace("120", "100")
    small.write_text(theirs, encoding="utf-8")
    with pytest.raises(ChangedError) as caught:
        saving.save("small", SMALL.replace("120", "90"), seen)
    assert caught.value.there is not None
    assert caught.value.there.text == theirs
    assert small.read_text(encoding="utf-8") == theirs
    assert saving.earlier("small") == []
    # Who writes what is there already has lost nothing.
    assert saving.save("small", theirs, seen).sha256 == _sha(small)


def test_twenty_versions_are_kept_the_oldest_go(small: Path) -> None:
    saving = Saving(Shelf(small.parent))
    sha = saving.shelf.read("small").sha256
    texts = [SMALL.replace("120", str(60 + number)) for number in range(DEEP + 7)]
    for text in texts:
        sha = saving.save("small", text, sha).sha256
    versions = saving.earlier("small")
    assert len(versions) == 20
    assert [saving.earlier_text("small", one["number"]) for one in versions] == texts[-2:-22:-1]
    assert [path.name for path in small.parent.iterdir() if path.name[0] != "."] == ["small.toml"]


def test_line_ends_stay_as_the_file_has_them(small: Path) -> None:
    small.write_bytes(SMALL.replace("\n", "\r\n").encode())
    saving = Saving(Shelf(small.parent))
    there = saving.shelf.read("small")
    assert "\r" not in there.text
    saving.save("small", there.text.replace("120", "90"), there.sha256)
    data = small.read_bytes()
    assert data.count(b"\r\n") == data.count(b"\n") == SMALL.count("\n")
    assert b"tempo = 90" in data


def test_a_file_that_is_gone_is_not_made_again(small: Path) -> None:
    saving = Saving(Shelf(small.parent))
    seen = saving.shelf.read("small").sha256
    small.unlink()
    with pytest.raises(NoSuchTuneError):
        saving.save("small", SMALL, seen)
    assert not small.exists()


def test_a_link_or_a_pipe_is_not_written_over(tmp_path: Path) -> None:
    elsewhere = tmp_path / "elsewhere.toml"
    elsewhere.write_text(SMALL, encoding="utf-8")
    shelf = tmp_path / "shelf"
    shelf.mkdir()
    (shelf / "linked.toml").symlink_to(elsewhere)
    os.mkfifo(shelf / "pipe.toml")
    saving = Saving(Shelf(shelf))
    assert [row["name"] for row in saving.shelf.rows()] == ["linked"]
    with pytest.raises(Exception, match="a link"):
        saving.save("linked", SMALL.replace("120", "90"), _sha(elsewhere))
    assert elsewhere.read_text(encoding="utf-8") == SMALL


def test_no_file_keeps_the_others_from_the_shelf(tmp_path: Path) -> None:
    """What TOML may say and JSON may not, and what no name should be."""
    heads = ("nan", "-inf", "2020-01-01", "10:00:00", "0x" + "f" * 9000, "true", "[nan]", "1e300")
    for number, head in enumerate(heads):
        for key in ("tempo", "title", "style"):
            text = f"{key} = {head}\n[sections]\n"
            (tmp_path / f"{key}-{number}.toml").write_text(text, encoding="utf-8")
    odd = [b"\xff.toml", b"\xfe.toml", b"a\nb\x1b.toml"]
    for name in odd:
        Path(os.fsdecode(bytes(tmp_path) + b"/" + name)).write_text(SMALL, encoding="utf-8")
    shelf = Shelf(tmp_path)
    rows = shelf.rows()
    assert len(rows) == 3 * len(heads) + len(odd)
    sent = json.loads(Reply({"tunes": rows}).body)["tunes"]
    assert [row["name"] for row in sent] == [row["name"] for row in rows]
    assert {os.fsencode(shelf.path(row["name"]).name) for row in sent} >= set(odd)


def test_a_job_that_fails_as_nobody_foresaw_holds_no_other_up(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Odd:
        def __init__(self) -> None:
            raise OSError(errno.EAGAIN, "no more processes")

    monkeypatch.setattr("accomp.web.desk.making.Worker", Odd)

    async def two() -> list[str]:
        jobs = Jobs(lambda job: None)
        added = [jobs.add("small", "Small", "files", {}) for _ in range(2)]
        for _ in range(200):
            await asyncio.sleep(0.01)
            if added[-1].state == "wrong":
                break
        jobs.end()
        return [job.state for job in added]

    assert in_a_loop(two()) == ["wrong", "wrong"]


@pytest.mark.slow
def test_two_pages_on_one_tune_one_of_them_is_told(running: RunningDesk) -> None:
    with running.page() as one, running.page() as other:
        name = one.post("/api/tunes", json={"title": "Two Pages", "text": SMALL}).json()["name"]
        seen = [client.get(f"/api/tunes/{name}").json()["sha256"] for client in (one, other)]
        mine = {"text": SMALL.replace("120", "90"), "sha256": seen[0]}
        assert one.put(f"/api/tunes/{name}", json=mine).status_code == 200
        late = {"text": SMALL.replace("120", "80"), "sha256": seen[1]}
        answer = other.put(f"/api/tunes/{name}", json=late)
        assert answer.status_code == 409
        both = answer.json()
        assert both["yours"]["text"] == late["text"]
        assert both["theirs"]["text"] == mine["text"]
        late["sha256"] = both["theirs"]["sha256"]
        assert other.put(f"/api/tunes/{name}", json=late).status_code == 200
        versions = one.get(f"/api/tunes/{name}/earlier").json()["versions"]
        texts = [
            one.get(f"/api/tunes/{name}/earlier/{row['number']}").json()["text"] for row in versions
        ]
        assert texts == [mine["text"], SMALL]


@pytest.mark.slow
def test_of_fifty_at_once_one_is_first_and_nothing_is_lost(running: RunningDesk) -> None:
    with running.script() as client:
        name = client.post("/api/tunes", json={"title": "Fifty", "text": SMALL}).json()["name"]
        sha = client.get(f"/api/tunes/{name}").json()["sha256"]

        def save(number: int) -> tuple[int, str]:
            text = SMALL.replace("120", str(60 + number))
            answer = client.put(f"/api/tunes/{name}", json={"text": text, "sha256": sha})
            return answer.status_code, text

        with ThreadPoolExecutor(50) as pool:
            answers = list(pool.map(save, range(50)))
        codes = [code for code, _ in answers]
        assert sorted(codes) == [200] + [409] * 49
        (text,) = [text for code, text in answers if code == 200]
        assert (running.folder / f"{name}.toml").read_text(encoding="utf-8") == text
        (version,) = client.get(f"/api/tunes/{name}/earlier").json()["versions"]
        path = f"/api/tunes/{name}/earlier/{version['number']}"
        assert client.get(path).json()["text"] == SMALL


@pytest.mark.long
def test_fifty_questions_at_once_are_answered_and_others_too(running: RunningDesk) -> None:
    text = (running.folder / "harbour-street-parade.toml").read_text(encoding="utf-8")
    with running.script() as client:

        def question(number: int) -> int:
            body = {"text": text.replace("168", str(100 + number)), "name": "harbour-street-parade"}
            return client.post("/api/neck", json=body).status_code

        slowest_s = 0.0
        with ThreadPoolExecutor(50) as pool:
            answers = [pool.submit(question, number) for number in range(50)]
            while not all(one.done() for one in answers):
                begun = time.monotonic()
                assert client.get("/api/tunes").status_code == 200
                slowest_s = max(slowest_s, time.monotonic() - begun)
        assert [one.result() for one in answers] == [200] * 50
    assert slowest_s < 10


@pytest.mark.long
def test_a_desk_killed_while_it_saves_leaves_whole_files(tmp_path: Path) -> None:
    folder = tmp_path / "shelf"
    folder.mkdir()
    path = folder / "small.toml"
    path.write_text(SMALL, encoding="utf-8")
    text = SMALL + "# " + "a long remark " * 20_000 + "\n"
    whole = {hashlib.sha256(one.encode()).hexdigest() for one in (SMALL, text)}
    for delay_s in (0.0, 0.01, 0.03, 0.1):
        desk = RunningDesk(folder, tmp_path / "home").open()
        stop = threading.Event()
        with desk.script() as client:

            def save(client: httpx.Client = client, stop: threading.Event = stop) -> None:
                while not stop.is_set():
                    try:
                        there = client.get("/api/tunes/small").json()
                        other = text if there["text"] == SMALL else SMALL
                        body = {"text": other, "sha256": there["sha256"]}
                        client.put("/api/tunes/small", json=body)
                    except (httpx.HTTPError, ValueError):
                        return

            writer = threading.Thread(target=save)
            writer.start()
            time.sleep(0.5 + delay_s)
            desk.close(signal.SIGKILL)
            stop.set()
            writer.join()
        assert _sha(path) in whole
        kept = list((folder / HIDDEN / "small").glob("*.toml"))
        assert kept
        assert {_sha(one) for one in kept} <= whole
        with locked(folder / HIDDEN / "small" / "lock"):
            pass  # the lock has gone with who held it


@pytest.mark.slow
def test_reading_only_writes_nothing(tmp_path: Path) -> None:
    folder = tmp_path / "shelf"
    folder.mkdir()
    (folder / "small.toml").write_text(SMALL, encoding="utf-8")
    desk = RunningDesk(folder, tmp_path / "home", ("--read-only",)).open()
    try:
        with desk.page() as client:
            there = client.get("/api/tunes/small").json()
            assert judged(client, there["text"])["problems"] == []
            for method, address, body in (
                ("POST", "/api/tunes", {"title": "New"}),
                ("PUT", "/api/tunes/small", {"text": "x", "sha256": there["sha256"]}),
                ("POST", "/api/jobs", {"name": "small", "text": SMALL}),
                ("DELETE", "/api/jobs/1", {}),
            ):
                answer = client.request(method, address, json=body)
                assert answer.status_code == 403, address
    finally:
        desk.close()
    assert [path.name for path in folder.iterdir()] == ["small.toml"]
    assert (folder / "small.toml").read_text(encoding="utf-8") == SMALL


@pytest.mark.slow
def test_a_desk_needs_a_folder_and_a_free_port(tmp_path: Path, running: RunningDesk) -> None:
    def told(*arguments: str) -> tuple[int, str]:
        command = [sys.executable, "-m", "accomp", "desk", *arguments, "--no-browser"]
        done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
        assert done.stdout == ""
        return done.returncode, done.stderr

    code, said = told(str(tmp_path / "nothing"))
    assert code == 1
    assert "needs a folder" in said
    code, said = told(str(tmp_path), "--port", str(running.port))
    assert code == 1
    assert "--port" in said
    assert "Traceback" not in said


def test_a_hand_that_saves_again_and_again_keeps_what_was_before(small: Path) -> None:
    saving = Saving(Shelf(small.parent))
    sha = saving.shelf.read("small").sha256
    for number in range(5):
        text = SMALL.replace("120", str(60 + number))
        sha = saving.save("small", text, sha, again=number > 0).sha256
    (version,) = saving.earlier("small")
    assert saving.earlier_text("small", version["number"]) == SMALL
