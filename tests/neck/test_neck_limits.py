"""An instrument with more shapes than anybody can weigh is told so before they are weighed."""

import resource
import subprocess
import sys

import pytest
from growth import calls

from accomp.errors import TooManyShapesError
from accomp.harmony import Pitch, parse_chord
from accomp.neck import Instrument, playable_shapes, search
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
def test_too_many_shapes_are_told_before_one_is_fingered(symbol, monkeypatch):
    monkeypatch.delattr(search, "_make")
    with pytest.raises(TooManyShapesError, match="Narrow it") as caught:
        playable_shapes(parse_chord(symbol), twelve(), find_hand("large"))
    assert "12 strings, 36 frets" in str(caught.value)
    assert "hand" in caught.value.helps


@pytest.mark.parametrize(("name", "limit"), [("MOST_ROWS", 200), ("MOST_STEPS", 20_000)])
def test_the_search_ends_where_one_limit_is_reached(name, limit, monkeypatch):
    """Each alone: of a chord's shapes as of the places that are tried for one."""
    for each in ("MOST_ROWS", "MOST_STEPS"):
        monkeypatch.setattr(search, each, limit if each == name else 10**9)

    def refused():
        with pytest.raises(TooManyShapesError):
            search._rows(parse_chord("C13"), twelve(), find_hand("large"), False)

    calls(refused, most=10 * limit + 2000)


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
