"""An instrument with more shapes than anybody can weigh is told so, in time and memory."""

import resource
import subprocess
import sys
import time

import pytest

from accomp.errors import TooManyShapesError
from accomp.harmony import Pitch, parse_chord
from accomp.neck import Instrument, playable_shapes
from accomp.neck.hand import find_hand
from accomp.neck.search import MOST_ROWS

STRINGS = "C2 E2 G2 C3 E3 G3 C4 E4 G4 C5 E5 G5".split()
TEXT = f"title = 'Twelve'\nstrings = {STRINGS}\nfrets = 36\nscale = 100\n"
TUNE = 'title = "T"\nkey = "C"\nmeter = "4/4"\ntempo = 120\n[sections]\nA = "| C | F | G7 | C |"\n'


def twelve(scale_mm: float = 100.0) -> Instrument:
    pitches = tuple(map(Pitch.parse, STRINGS))
    return Instrument("twelve", "Twelve", pitches, 36, scale_mm, 0, 106, 1, 4)


@pytest.mark.many(1, 99)
@pytest.mark.parametrize("symbol", ["C", "C13", "Am7", "Bdim"])
def test_too_many_shapes_are_told_soon(symbol):
    began = time.process_time()
    with pytest.raises(TooManyShapesError, match="Narrow it") as caught:
        playable_shapes(parse_chord(symbol), twelve(), find_hand("large"))
    assert time.process_time() - began < 5
    assert "12 strings, 36 frets" in str(caught.value)
    assert "hand" in caught.value.helps


@pytest.mark.slow
def test_usual_instruments_are_far_below_the_limit():
    from accomp.neck import find_instrument, instrument_names

    for name in instrument_names():
        for symbol in ("C", "C7", "Am7", "C13"):
            hand = find_hand("large")
            found = playable_shapes(parse_chord(symbol), find_instrument(name), hand, mute=True)
            assert len(found) < MOST_ROWS / 4, (name, symbol)


@pytest.mark.slow
@pytest.mark.parametrize(
    "command", [["shapes", "C"], ["positions", "t.toml"], ["make", "t.toml", "--only", "midi"]]
)
def test_commands_end_in_words_within_a_gigabyte(command, tmp_path):
    (tmp_path / "twelve.toml").write_text(TEXT)
    (tmp_path / "t.toml").write_text(TUNE)
    run = subprocess.run(
        [sys.executable, "-m", "accomp", *command, "--instrument", "twelve.toml"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        timeout=120,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_AS, (2**31, 2**31)),
    )
    assert run.returncode == 1
    assert "Twelve has more shapes of it than can be weighed" in run.stderr
    assert "Traceback" not in run.stderr
