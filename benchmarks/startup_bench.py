"""How long a new process takes: the help page, and a tune to MIDI and MusicXML.

The reference is Python importing, in a process of its own, what the job cannot do without.
"""

from __future__ import annotations

import sys
import tempfile
from itertools import count
from pathlib import Path

from benchmarks.measure import Measure, command, in_turns, slower
from benchmarks.tunes import tune_text

EXPLAINED = {
    "accomp make, MIDI and MusicXML, 32 bars x 3 choruses": (
        "0.2 s of it is importing the program's own modules, of which there are a quarter more "
        "than when the goal was set; the plan says more by now, too (what to learn first and next)."
    ),
}


def run() -> list[Measure]:
    """Both figures."""
    accomp = str(Path(sys.executable).with_name("accomp"))
    python = sys.executable
    shown, click = in_turns([command(accomp, "--help"), command(python, "-c", "import click")], 30)
    with tempfile.TemporaryDirectory() as folder:
        tune = Path(folder) / "mile.toml"
        tune.write_text(tune_text(32), encoding="utf-8")
        make = f"make {tune} --only midi --only musicxml --choruses 3 --out".split()
        turns = count()

        def into_a_new_folder() -> None:
            command(accomp, *make, str(Path(folder) / f"out{next(turns)}"))()

        imports = "import mido, lxml.etree, numpy"
        made, bare = in_turns([into_a_new_folder, command(python, "-c", imports)], 15)
    return [
        slower("accomp --help", shown, "import click", click, at_most=1.5),
        slower(
            "accomp make, MIDI and MusicXML, 32 bars x 3 choruses", made, imports, bare, at_most=4
        ),
    ]
