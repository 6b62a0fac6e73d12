"""What the command line says: every command on a few inputs, its help, and wrong usage.

Conventions: a command runs in this process, in an empty folder that has a few tunes, on a terminal
a hundred signs wide; the library that parses arguments has no word in what is kept of the help.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from unittest.mock import patch

from fuzz_targets import ABC, MUSICXML
from reference_outputs import Made, as_json, folder_of_its_own
from reference_tunes import HOME

from accomp.cli import cli, run

GOOD = """title = "Kettle Lane"
key = "C"
meter = "4/4"
tempo = 120
style = "four-light-heavy"

[sections]
A = "| C | F / G7 / | C7 | C |"
"""
BAD = GOOD.replace("tempo = 120", "tempo = 500").replace("G7", "G77").replace("key", "kee")
UNPLAYABLE = GOOD.replace("C7", "C13#11")
FILES = {
    "good.toml": GOOD,
    "bad.toml": BAD,
    "hard.toml": UNPLAYABLE,
    "style.toml": (HOME / "styles" / "two-beat.toml").read_text("utf-8"),
    "sheet.musicxml": MUSICXML[0].decode(),
    "sheet.abc": ABC[0].decode(),
    "two.abc": (ABC[0] + b"\n" + ABC[1]).decode(),
    "notes.txt": "nothing\n",
}
RUNS = (
    "shapes C7", "shapes C7 Gm --best 3 --explain", "shapes Bb7 --vocabulary first",
    "shapes F --closed --best 2 --instrument mandolin", "shapes C --json --best 1", "shapes H",
    "shapes G7 --hand small --reach 70 --best 1", "shapes", "shapes C --best 0",
    "shapes C --best x",
    "shapes C --instrument tenor-banju", "shapes C --svg -", "shapes Cmaj7 --known --explain",
    "shapes --write-repertoire -", "shapes C --hand huge", "shapes C --reach -1",
    "positions good.toml", "positions good.toml --explain", "positions good.toml --explain full",
    "positions good.toml --position third-top", "positions good.toml --position nine-top",
    "positions good.toml --json", "positions good.toml --key Bb", "positions good.toml --key all",
    "positions good.toml --key Cm", "positions good.toml --key D#", "positions bad.toml",
    "positions nothing.toml", "positions good.toml --closed", "positions good.toml --open",
    "positions good.toml --plan free", "positions good.toml --plan fre", "positions hard.toml",
    "keys good.toml --key F --key G", "keys good.toml --json --key A", "keys good.toml --key x",
    "check good.toml", "check bad.toml", "check bad.toml --json",
    "check good.toml bad.toml hard.toml",
    "check style.toml notes.txt nothing", "check", "styles", "styles two-beat", "styles --json",
    "styles tow-beat", "styles style.toml", "styles two-beat --write -", "styles --write x.toml",
    "instruments", "instruments mandolin", "instruments --json", "instruments lute",
    "new tune -", "new style -", "new config -", "new book -", "new hand - --like small",
    "new tune good.toml", "new tune - --like x", "new tuna", "new", "config", "config --json",
    "completion bash", "completion nosh", "read sheet.musicxml", "read sheet.abc --json",
    "read two.abc", "read two.abc -o -", "read notes.txt", "read nothing.xml",
    "read sheet.abc -o -",
    "make good.toml --only midi --json", "make good.toml --only midi --only musicxml --out x",
    "make good.toml --only midi --tempo 90 --tempo 120 --key F --position third-top",
    "make good.toml --only midi --tempo 19", "make good.toml --only mid",
    "make bad.toml --only midi",
    "make good.toml bad.toml --only midi", "make good.toml --ladder 60:50:10",
    "make good.toml --ladder 60:100", "make good.toml --ladder a:b:c",
    "make good.toml --choruses 0",
    "make good.toml --choruses 101", "make good.toml --jobs 65", "make good.toml --count-in 9",
    "make good.toml --melody", "make good.toml --style waltz --only midi", "make",
    "make good.toml --pack --only midi --json --position root-top --choruses 1",
    "book . --player x",
    "make good.toml --reader Bb --only musicxml --part slash --json", "make nothing",
    "make good.toml --paper a3", "make good.toml --part x", "make good.toml --nothing",
    "make good.toml --only midi --instrument ukulele --vocabulary all -q",
    "make good.toml --only midi --seed 3 -v", "book .", "book nothing", "practice bad.toml",
    "practice good.toml --tempo 401", "desk nothing", "nothing", "make good.toml --shapes know",
)  # fmt: skip
_SPREAD = re.compile(r"[0-9a-f]{64}")


def every() -> dict[str, Callable[[], Made]]:
    found: dict[str, Callable[[], Made]] = {}
    for name in ("", *sorted(cli.commands)):
        found[f"help {name}".strip()] = lambda name=name: _help(name)
    for words in RUNS:
        found[f"accomp {words}"] = lambda words=words: _said(words)
    return found


def _said(words: str) -> Made:
    """Exit code, both streams, and the names of what was made; JSON with its floats rounded."""
    streams = [io.TextIOWrapper(io.BytesIO(), encoding="utf-8", newline="") for _ in range(2)]
    out, err = streams
    with folder_of_its_own() as folder, _nobody_at_home(folder):
        for name, text in FILES.items():
            (folder / name).write_text(text, encoding="utf-8")
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            code = run(words.split())
        files = (str(p.relative_to(folder)) for p in sorted(folder.rglob("*")) if p.is_file())
        made = [name for name in files if not name.startswith(".home")]
        for stream in streams:
            stream.flush()
        said = "".join(stream.buffer.getvalue().decode() for stream in streams)
        said = said.replace(str(folder), "HERE")
    there = [name for name in made if name not in FILES]
    with contextlib.suppress(ValueError):
        said = as_json(json.loads(said))
    said = _SPREAD.sub("SHA-256", said)
    return {"said": f"{said.rstrip()}\n{code} {' '.join(there)}\n".encode()}


@contextlib.contextmanager
def _nobody_at_home(folder: Path) -> Iterator[None]:
    """No settings, no data of whoever runs the tests, and a terminal of a known width."""
    home = folder / ".home"
    said = {f"XDG_{one}_HOME": str(home) for one in ("CONFIG", "CACHE", "DATA")}
    with patch.dict(os.environ, {**said, "COLUMNS": "100", "LINES": "40"}):
        yield


def _help(name: str) -> Made:
    """What a command and its options say of themselves, without the layout of a help page."""
    command = cli.commands[name] if name else cli
    lines = [f"{command.short_help} | {command.help}"]
    for one in command.params:
        names = "/".join((*one.opts, *one.secondary_opts))
        usual = one.default if isinstance(one.default, str | int | float | tuple) else ""
        words = getattr(one, "help", "") or ""
        lines.append(f"  {names} {one.metavar} {one.nargs} {usual!r} {words}")
    return {"help": "\n".join(lines).encode()}
