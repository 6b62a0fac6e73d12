"""What becomes of a folder when things go wrong: a table, by hand or for the long tests.

    python tests/faults/fault_table.py [--only FAULT]...

Each command makes its files once, then the same with a change under a fault. Right is: either all
files are the earlier ones or all are the new ones, the manifest's SHA-256 fit, what is said names
the right place and holds no traceback, and the command run once more afterwards ends well and
leaves nothing hidden. File systems that are full, out of names or read-only are small ones in
memory; mounting them takes root on Linux.
"""

from __future__ import annotations

import argparse
import contextlib
import hashlib
import json
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

TUNE = """title = "Kettle Lane"
key = "C"
meter = "4/4"
tempo = {tempo}
[sections]
A = "| C | F / G7 / | C7 | C |"
"""
COMMANDS = {
    "make": ("make", "{tunes}/a.toml", "--only", "midi", "--only", "pdf"),
    "pack": ("make", "{tunes}/a.toml", "--pack", "--only", "midi", "--only", "pdf", "--jobs", "2"),
    "book": ("book", "{tunes}", "--player", "own"),
}
MANIFEST = "manifest.json"
BEFORE, AFTER = 120, 132


@dataclass(frozen=True)
class Row:
    """One line of the table; `wrong` is empty where all is right."""

    command: str
    fault: str
    codes: str
    seconds: float
    said: str
    wrong: str


def heed_ctrl_c() -> None:
    """What a shell puts in the background ignores Ctrl-C, and so does what that starts: then the
    table would say "right" of something that never happened."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


@dataclass
class Place:
    """Where one command works: its tunes, its output folder, its TMPDIR and cache."""

    root: Path
    command: str

    @property
    def out(self) -> Path:
        return self.root / "disk" / "out"

    def tunes(self, tempo: int) -> None:
        folder = self.root / "tunes"
        folder.mkdir(parents=True, exist_ok=True)
        for name in "ab":
            (folder / f"{name}.toml").write_text(TUNE.format(tempo=tempo))

    def start(self) -> subprocess.Popen[str]:
        words = [word.format(tunes=self.root / "tunes") for word in COMMANDS[self.command]]
        tmp, cache = self.root / "tmp", self.root / "cache"
        tmp.mkdir(exist_ok=True)
        return subprocess.Popen(
            [sys.executable, "-m", "accomp", *words, "--out", str(self.out)],
            env={**os.environ, "TMPDIR": str(tmp), "XDG_CACHE_HOME": str(cache)},
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            start_new_session=True,
            preexec_fn=heed_ctrl_c,
        )

    def run(self) -> tuple[int, str]:
        process = self.start()
        said = process.communicate(timeout=600)[1]
        return process.returncode, said

    def files(self) -> dict[str, str]:
        """Every file that is no hidden one, with its SHA-256; the manifest, which also lists what
        lay there before, is looked at by itself."""
        return {
            str(path.relative_to(self.out)): hashlib.sha256(path.read_bytes()).hexdigest()
            for path in sorted(self.out.rglob("*"))
            if path.is_file()
            and path.name != MANIFEST
            and not path.relative_to(self.out).parts[0].startswith(".")
        }


Ended = list[tuple[int, str]]


@contextlib.contextmanager
def mounted(folder: Path, options: str) -> Iterator[None]:
    """A small file system in memory over a folder, with what is in it."""
    inside = folder.with_name(folder.name + "-inside")
    shutil.copytree(folder, inside)
    subprocess.run(["mount", "-t", "tmpfs", "-o", options, "none", str(folder)], check=True)
    try:
        shutil.copytree(inside, folder, dirs_exist_ok=True)
        yield
        shutil.rmtree(inside)
        shutil.copytree(folder, inside)  # what it looks like now, for whoever looks afterwards
    finally:
        subprocess.run(["umount", str(folder)], check=True)
        shutil.rmtree(folder)
        inside.rename(folder)


def full(folder: Path, left: int = 0) -> None:
    """Fill a file system but for so many bytes."""
    with contextlib.suppress(OSError), open(folder / ".filler", "wb", buffering=0) as filler:
        while True:
            filler.write(bytes(4096))
    os.truncate(folder / ".filler", (folder / ".filler").stat().st_size - left)


def full_disk(place: Place) -> Ended:
    with mounted(place.root / "disk", "size=40m"):
        full(place.root / "disk")
        ended = [place.run()]
        (place.root / "disk" / ".filler").unlink()
    return ended


def full_tmpdir(place: Place) -> Ended:
    (place.root / "tmp").mkdir(exist_ok=True)
    with mounted(place.root / "tmp", "size=64k"):
        full(place.root / "tmp", 8192)  # without any room Python itself takes another folder
        ended = [place.run()]
        (place.root / "tmp" / ".filler").unlink()
    return ended


def no_names_left(place: Place) -> Ended:
    count = sum(1 for _ in (place.root / "disk").rglob("*")) + 3
    with mounted(place.root / "disk", f"size=40m,nr_inodes={count}"):
        return [place.run()]


def read_only(place: Place) -> Ended:
    with mounted(place.root / "disk", "size=40m"):
        disk = str(place.root / "disk")
        subprocess.run(["mount", "-o", "remount,ro", disk], check=True)
        ended = [place.run()]
        subprocess.run(["mount", "-o", "remount,rw", disk], check=True)
    return ended


def killed(place: Place) -> Ended:
    ended: Ended = []
    for moment in (0.4, 1.0, 2.0):
        process = place.start()
        time.sleep(moment)
        with contextlib.suppress(ProcessLookupError):
            os.kill(process.pid, signal.SIGKILL)
        ended.append((process.wait(), process.communicate()[1]))
    return ended


def ctrl_c_twice(place: Place) -> Ended:
    ended: Ended = []
    for moment in (0.8, 2.0):
        process = place.start()
        time.sleep(moment)
        for _ in range(2):
            with contextlib.suppress(ProcessLookupError):
                os.killpg(process.pid, signal.SIGINT)
            time.sleep(0.1)
        began = time.monotonic()
        said = process.communicate(timeout=120)[1]
        slow = time.monotonic() - began > 20
        ended.append((process.returncode, "does not end" if slow else said))
    return ended


def together(count: int) -> Callable[[Place], Ended]:
    """Several processes at one folder: one makes it, the others are told so or come after."""

    def run(place: Place) -> Ended:
        runs = [place.start() for _ in range(count)]
        said = [process.communicate(timeout=600)[1] for process in runs]
        return [(process.returncode, words) for process, words in zip(runs, said, strict=True)]

    return run


@dataclass(frozen=True)
class Fault:
    """What goes wrong: how, the exit codes that are right, a word that has to be said."""

    do: Callable[[Place], Ended]
    codes: frozenset[int]
    word: str = ""
    mounts: bool = False


STOPPED = frozenset({130, -signal.SIGINT, 0})
FAULTS = {
    "full disk": Fault(full_disk, frozenset({1}), "cannot write here (no space", mounts=True),
    "full TMPDIR": Fault(
        full_tmpdir, frozenset({1}), "tmp: cannot write here (no space", mounts=True
    ),
    "no names left": Fault(no_names_left, frozenset({0, 1}), mounts=True),
    "read-only": Fault(read_only, frozenset({1}), "read-only", mounts=True),
    "kill -9": Fault(killed, frozenset({-signal.SIGKILL, 0})),
    "Ctrl-C twice": Fault(ctrl_c_twice, STOPPED),
    "two at once": Fault(together(2), frozenset({0, 1})),
    "six at once": Fault(together(6), frozenset({0, 1})),
}


def may_mount() -> bool:
    """Whether a file system can be mounted here."""
    if not sys.platform.startswith("linux") or os.geteuid() != 0:
        return False
    with tempfile.TemporaryDirectory() as folder:
        words = ["mount", "-t", "tmpfs", "-o", "size=4k", "none", folder]
        done = subprocess.run(words, capture_output=True)
        if done.returncode == 0:
            subprocess.run(["umount", folder], check=True)
        return done.returncode == 0


def rows(command: str, only: tuple[str, ...] = ()) -> Iterator[Row]:
    """The lines of one command."""
    mounts = may_mount()
    with tempfile.TemporaryDirectory(prefix="faults-") as folder:
        first, second = Place(Path(folder) / "first", command), Place(Path(folder) / "new", command)
        for place, tempo in ((first, BEFORE), (second, AFTER)):
            place.tunes(tempo)
            assert place.run()[0] == 0
        for name in only or FAULTS:
            if FAULTS[name].mounts and not mounts:
                continue
            place = Place(Path(folder) / "place", command)
            shutil.copytree(first.root / "disk", place.root / "disk")
            place.tunes(AFTER)
            yield row(place, name, first.files(), second.files())
            shutil.rmtree(place.root)


def row(place: Place, name: str, before: dict[str, str], after: dict[str, str]) -> Row:
    fault = FAULTS[name]
    began = time.monotonic()
    ended = fault.do(place)
    seconds = time.monotonic() - began
    said = " ".join(words for _, words in ended)
    wrong = []
    if not {code for code, _ in ended} <= fault.codes:
        wrong.append("another exit code is right")
    if fault.word and fault.word not in said:
        wrong.append(f"says nothing of {fault.word!r}")
    if "Traceback" in said or "itself failed" in said or "does not end" in said:
        wrong.append("a fault of the program")
    files = place.files()
    named = [one["path"] for one in json.loads((place.out / MANIFEST).read_text())["files"]]
    if not set(named) <= files.keys() or not named:
        wrong.append("the manifest names what is not there")
    # Killed while it moves, it may leave some new ones; each file is whole all the same.
    if any(sha not in (before.get(path), after.get(path)) for path, sha in files.items()):
        wrong.append("a file is neither the earlier nor the new one")
    if not before.keys() <= files.keys():
        wrong.append("an earlier file is lost")
    if name != "kill -9" and files != before and not after.items() <= files.items():
        wrong.append("some new files and not all")
    code, words = place.run()
    if code != 0:
        wrong.append(f"afterwards it says {words.strip()}")
    elif not after.items() <= place.files().items():
        wrong.append("afterwards it makes something else")
    hidden = [path.name for path in (*place.out.glob(".*"), *place.out.parent.glob(".*"))]
    if hidden or list((place.root / "tmp").iterdir()):
        wrong.append(f"left behind: {hidden or 'something in TMPDIR'}")
    codes = " ".join(str(code) for code, _ in ended)
    line = next((words.strip().splitlines()[-1] for _, words in ended if words.strip()), "")
    if "a fault of the program" in wrong:
        line = said  # all of it
    return Row(place.command, name, codes, seconds, line if wrong else line[-70:], "; ".join(wrong))


def main() -> int:
    words = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    words.add_argument("--only", action="append", choices=FAULTS, default=[])
    words.add_argument("--command", action="append", choices=COMMANDS, default=[])
    said = words.parse_args()
    bad = 0
    for command in said.command or COMMANDS:
        for one in rows(command, tuple(said.only)):
            bad += bool(one.wrong)
            verdict = one.wrong or "right"
            print(f"{one.command:6}{one.fault:15}{one.codes:22}{one.seconds:5.1f} s  {verdict}")
            print(f"      {one.said}", flush=True)
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
