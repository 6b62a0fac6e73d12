"""The hardest changes of a tune are the same on its page, in the lesson in words, and as drills."""

from __future__ import annotations

import json
import re
from pathlib import Path

import mido
import pypdf
import pytest

from accomp.cli import run
from accomp.job.make import make_tune
from accomp.job.options import Options
from accomp.tune import read_tune

EXAMPLES = sorted((Path(__file__).parent.parent.parent / "examples").glob("*.toml"))
SOME = ("peg-and-thimble", "signal-box-stomp")  # an own position a chorus in the second


def on_the_page(folder: Path) -> tuple[str, list[str]]:
    """The position of the first hand-out, which is the one played, and its changes to drill, as
    "C to G7"."""
    (path,) = folder.glob("*.pdf")
    texts = [page.extract_text() for page in pypdf.PdfReader(path).pages]
    text = re.sub(r"\s+", " ", next(text for text in texts if "Drill these changes" in text))
    position = re.search(r"(\S+-top(?:-high)?) position", text)
    assert position
    plain = text.replace("♭", "b").replace("♯", "#")
    return position[1], re.findall(r"(\S+ to \S+): ?the hand ", plain)


def drilled(path: Path) -> str:
    """The two chords of a drill in the order in which they are first played."""
    texts = [message.text for message in mido.MidiFile(path) if message.type == "text"]
    return " to ".join(texts[:2])


@pytest.mark.slow
@pytest.mark.many(1)
@pytest.mark.parametrize(
    "path",
    [
        pytest.param(path, marks=() if path.stem in SOME else pytest.mark.long, id=path.stem)
        for path in EXAMPLES
    ],
)
def test_page_words_and_drills_name_the_same_changes(
    path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    manifest = make_tune(read_tune(path), Options(only=("midi", "pdf"), pack=True), tmp_path)
    position, page_names = on_the_page(tmp_path)
    assert len(page_names) == 3

    drills = [file.path for file in manifest.files if "_drill-" in file.path]
    assert [drilled(tmp_path / name) for name in drills] == page_names

    asked = ["positions", str(path), "--position", position]
    assert run([*asked, "--explain"]) == 0
    short = re.sub(r"\s+", " ", capsys.readouterr().out)
    assert re.findall(r"(\S+ to \S+): the hand ", short) == page_names
    assert run([*asked, "--explain", "full"]) == 0
    words = re.sub(r"\s+", " ", capsys.readouterr().out)
    drill_first = re.search(r"Drill first: (.*?), to and fro", words)
    assert drill_first
    assert re.split(r", | and ", drill_first[1]) == page_names

    assert run([*asked, "--json"]) == 0
    (one,) = json.loads(capsys.readouterr().out)["positions"]
    assert [f"{row['from']} to {row['to']}" for row in one["lesson"]["hardest"]] == page_names
