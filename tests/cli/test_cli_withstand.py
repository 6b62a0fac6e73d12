"""Nothing of the user's is lost, nothing keeps others waiting, nothing odd reaches a terminal."""

import contextlib
import json
import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from accomp import cli as room
from accomp.cli.progress import progress

LONG = "x" * 300
LONG_S = 600.0  # a guard against waiting for ever


def test_a_drawing_never_takes_the_place_of_somebodys_file(accomp, tune, tmp_path):
    path = tune()
    before = path.read_text()
    for more in ((), ("--replace",)):
        said = accomp("positions", path, "--svg", path, *more)
        assert (said.code, "read for this very work" in said.err) == (1, True)
    (tmp_path / "mine.svg").write_text("mine")
    for command in (("positions", path), ("keys", path), ("shapes", "C")):
        said = accomp(*command, "--svg", "mine.svg")
        assert (said.code, "--replace" in said.err) == (1, True)
    assert (tmp_path / "mine.svg").read_text() == "mine"
    assert path.read_text() == before
    assert accomp("shapes", "C", "--svg", "mine.svg", "--replace").code == 0
    assert "svg" in (tmp_path / "mine.svg").read_text()


def test_an_edited_repertoire_is_not_written_over(accomp, tmp_path):
    assert accomp("shapes", "C", "--write-repertoire", "known.toml").code == 0
    own = tmp_path / "known.toml"
    own.write_text(own.read_text() + "# mine\n")
    assert accomp("shapes", "C", "--write-repertoire", own).code == 1
    assert own.read_text().endswith("# mine\n")
    given = ("--repertoire", own, "--write-repertoire", own, "--replace")
    assert accomp("shapes", "C", *given).code == 1


@pytest.mark.skipif(not os.access("/dev/null", os.W_OK), reason="no devices here")
def test_a_device_is_not_replaced(accomp, tune):
    said = accomp("positions", tune(), "--svg", "/dev/null", "--replace")
    assert (said.code, "this is a device" in said.err) == (1, True)
    assert not Path("/dev/null").is_file()


def test_make_keeps_what_was_edited(accomp, tune, tmp_path):
    path = tune()
    made = ("make", path, "--only", "midi", "--out", "out")
    assert accomp(*made).code == 0
    (midi,) = (tmp_path / "out").glob("*.mid")
    midi.write_bytes(b"edited")
    said = accomp(*made)
    assert (said.code, "--replace" in said.err, midi.read_bytes()) == (1, True, b"edited")
    assert accomp(*made, "--replace").code == 0
    assert midi.read_bytes() != b"edited"


def test_one_bad_name_stops_nobody_else(accomp, good, tmp_path):
    folder = tmp_path / "tunes"
    folder.mkdir()
    (folder / "a.toml").write_text(good)
    odd = os.fsencode(folder) + b"/b\xff.toml"
    Path(os.fsdecode(odd)).write_text(good.replace("Kettle", "Slate"))
    (folder / "c.toml").write_text(good.replace("four-light-heavy", LONG).replace("Kettle", "C"))
    melody = f'melody = "{LONG}.abc"\nstyle'
    (folder / "d.toml").write_text(good.replace("style", melody).replace("Kettle", "D"))
    for command in (("make", *sorted(folder.iterdir()), "--only", "midi"), ("book", folder)):
        said = accomp(*command, *(("--player", "concert") if command[0] == "book" else ()))
        assert said.code == 1
        assert "c.toml:5" in said.err
        assert "d.toml:5" in said.err
        assert "a.toml" not in said.err
        told = said.err if command[0] == "make" else said.out
        assert ("2 of 4 tunes made" if command[0] == "make" else "2 tunes, ") in told


def test_a_fault_of_the_program_is_one_tunes_fault(accomp, good, tune, monkeypatch, tmp_path):
    from accomp.job import make as making

    really = making.resolve

    def failing(tune, options):
        if tune.title == "Bad":
            raise ZeroDivisionError("nobody foresaw this")
        return really(tune, options)

    monkeypatch.setattr(making, "resolve", failing)
    one, two = tune(good.replace("Kettle Lane", "Bad"), "bad.toml"), tune()
    code = room.run(["make", str(one), str(two), "--only", "midi", "--out", str(tmp_path / "o")])
    assert code == 1
    assert (tmp_path / "o" / "kettle-lane" / "manifest.json").is_file()


@pytest.mark.parametrize(
    ("option", "value"),
    [("--key", "H"), ("--tempo", "5000"), ("--tempo", "x"), ("--hand", "huge"), ("--hand", LONG),
     ("--style", LONG), ("--instrument", "x"), ("--choruses", "9" * 5000), ("--ladder", "1:2:x"),
     ("--ladder", f"60:{'9' * 5000}:5"), ("--position", "9" * 5000)],
)  # fmt: skip
def test_a_wrong_value_of_an_option_is_wrong_usage(option, value, accomp, tune):
    said = accomp("make", tune(), option, value, "--only", "midi")
    assert said.code == 2, said.err
    assert option in said.err


@pytest.mark.parametrize("where", ["9" * 900, "99999999", "²"])
def test_a_position_that_is_none_is_told_at_once(where, accomp, tune):
    said = accomp("make", tune(), "--position", where, "--only", "midi")
    assert said.code == 1
    assert len(said.err) < 500


def test_a_file_that_may_not_be_read_is_a_fault_of_the_input(accomp, tune, monkeypatch):
    path = tune()
    monkeypatch.setattr(os, "access", lambda *_, **__: False)
    really = os.open

    def refused(name, *more, **others):
        if Path(name) == path:
            raise PermissionError(13, "Permission denied")
        return really(name, *more, **others)

    monkeypatch.setattr(os, "open", refused)
    for command in ("make", "check", "positions", "read"):
        said = accomp(command, path if command != "read" else path.rename(path.with_suffix(".abc")))
        assert said.code == 1, said.err
        if command != "read":
            assert "no permission" in said.err


def test_a_pipe_is_not_waited_for(accomp, tmp_path):
    os.mkfifo(tmp_path / "pipe.toml")
    os.mkfifo(tmp_path / "pipe.abc")
    for command in (("make",), ("check",), ("positions",), ("practice",), ("styles",)):
        said = accomp(*command, "pipe.toml")
        assert (said.code in {1, 2}, "pipe" in said.err) == (True, True)
    assert accomp("read", "pipe.abc").code == 1
    (tmp_path / "tunes").mkdir()
    os.mkfifo(tmp_path / "tunes" / "book.toml")
    os.mkfifo(tmp_path / "tunes" / "a.toml")
    assert accomp("book", "tunes").code == 1


def test_control_characters_do_not_reach_the_terminal(accomp, good, tmp_path):
    folder = tmp_path / "tunes\x1b]0;owned\x07\x9b31m"
    folder.mkdir()
    (folder / "a.toml").write_text(good)
    said = accomp("book", folder, "--player", "concert", "--out", folder / "out")
    assert said.code == 0, said.err
    for text in (said.out, said.err, accomp("check", folder / "a.toml", folder / "no.toml").err):
        assert not set(text) & set("\x1b\x07\x9b")
    said = accomp("book", folder, "--player", "concert", "--out", folder / "out", "--json")
    assert not set(said.out) & set("\x1b\x07\x9b")
    assert json.loads(said.out)["tune"].startswith("tunes\x1b")


def test_the_progress_is_one_line_that_goes_and_sends_no_control_character(capsys, monkeypatch):
    monkeypatch.setattr("shutil.get_terminal_size", lambda: os.terminal_size((60, 24)))
    with progress("Porch\x1b[31m", shown=True) as tell:
        tell("a\nb", 0.5)
        tell("a\nb", 0.501)  # nothing new to be seen
        tell("a title that is so long that it does not go on the line", 1.5)
    said = capsys.readouterr()
    assert said.out == ""
    assert not set(said.err) & set("\x1b\n")
    first, second, third, gone = said.err.split("\r")[2::2]
    assert first.startswith("Porch\\x1b[31m ")
    assert first.endswith("   0%")
    assert second.endswith(f"a b {'━' * 15}{'─' * 15}  50%")
    assert third.endswith("… " + "━" * 30 + " 100%")
    assert max(map(len, (first, second, third))) < 60
    assert gone == ""
    assert said.err.split("\r")[-2] == " " * len(third)  # wiped


def test_nothing_else_prints():
    for path in Path(room.__file__).parent.glob("*.py"):
        if path.name != "saying.py":
            assert not re.search(r"click\.echo|\bprint\(", path.read_text()), path.name


def started(*arguments, **more):
    return subprocess.Popen(
        [sys.executable, "-m", "accomp", *map(str, arguments)],
        stderr=more.pop("stderr", subprocess.PIPE),
        stdout=more.pop("stdout", subprocess.PIPE),
        text=True,
        **more,
    )


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full here")
def test_what_cannot_be_said_is_told_after_all_is_made(tune, tmp_path):
    path = tune()
    with open("/dev/full", "w") as full:
        run = started("make", path, "--only", "midi", "--out", tmp_path / "o", stdout=full)
        said = run.communicate(timeout=60)[1]
    assert run.returncode == 1
    assert said.startswith("What was asked for is done")
    assert said.count("\n") == 1
    assert (tmp_path / "o" / "manifest.json").is_file()


@pytest.mark.slow
@pytest.mark.parametrize("closed", ["2>&-", ">&-", "<&- >&- 2>&-", "2>/dev/full"])
def test_closed_streams_harm_nothing(closed, tune, tmp_path):
    command = f"{sys.executable} -m accomp make {tune()} --only midi --out {tmp_path / 'o'}"
    assert subprocess.run(["sh", "-c", f"{command} {closed}"], timeout=60).returncode == 0
    assert len(list((tmp_path / "o").iterdir())) == 2
    command = command.replace("tune.toml", "absent.toml")
    assert subprocess.run(["sh", "-c", f"{command} {closed}"], timeout=60).returncode == 1


@pytest.mark.slow
def test_somebody_without_a_home(tune, tmp_path):
    """No HOME, and a user whom the system does not know."""
    code = (
        "import os, pwd\n"
        "for name in ('HOME', 'XDG_DATA_HOME', 'XDG_CACHE_HOME'): os.environ.pop(name, None)\n"
        "def nobody(uid): raise KeyError(uid)\n"
        "pwd.getpwuid = nobody\n"
        "from accomp.cli import main\n"
        f"main(['make', {str(tune())!r}, '--only', 'midi', '--out', 'o'])\n"
    )
    run = subprocess.run(
        [sys.executable, "-c", code], cwd=tmp_path, capture_output=True, text=True, timeout=60
    )
    assert (run.returncode, run.stderr) == (0, "")
    assert {path.name for path in tmp_path.iterdir()} == {"o", "tune.toml"}


def test_ctrl_c_while_the_command_line_is_imported_ends_quietly():
    code = (
        "import builtins, sys\n"
        "from accomp.__main__ import main\n"
        "found = builtins.__import__\n"
        "def stopped(name, *more):\n"
        "    if name == 'click': raise KeyboardInterrupt\n"
        "    return found(name, *more)\n"
        "builtins.__import__ = stopped\n"
        "main()\n"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60)
    assert (run.returncode, run.stderr) == (130, "")


@pytest.mark.long
@pytest.mark.parametrize("pause", [0.05, 0.2])
def test_ctrl_c_twice_ends_a_pack_with_two_jobs(pause, tune, tmp_path):
    for moment in (1.5, 3.0, 5.0):
        out = tmp_path / f"o{moment}"
        run = started(
            "make", tune(), "--pack", "--jobs", 2, "--only", "pdf", "--only", "audio",
            "--out", out, start_new_session=True,
        )  # fmt: skip
        time.sleep(moment)
        os.killpg(run.pid, signal.SIGINT)
        time.sleep(pause)
        with contextlib.suppress(ProcessLookupError):  # it may have ended already
            os.killpg(run.pid, signal.SIGINT)
        said = run.communicate(timeout=LONG_S)[1]
        assert run.returncode in {130, -signal.SIGINT}, said
        assert not list(out.rglob("manifest.json")), "it went on to the end of the pack"
        assert "Traceback" not in said, said
