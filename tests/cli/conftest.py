"""Running the command line inside the test, and watching that a folder stays as it was."""

from dataclasses import dataclass
from pathlib import Path

import pytest

from accomp.cli import run

GOOD = '''title = "Kettle Lane"
key = "C"
meter = "4/4"
tempo = 120
style = "four-light-heavy"

[sections]
A = """
| C | F / G7 / |
| C7 | C |
"""
'''


@dataclass(frozen=True)
class RunResult:
    """What a run of the command line left: its exit code and what it printed."""

    code: int
    out: str
    err: str


@pytest.fixture
def accomp(capsys, monkeypatch, tmp_path):
    """Run `accomp ARGUMENTS` in `tmp_path`; whatever happens, no traceback and no blame on us."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / ".data"))

    def run_it(*arguments: object) -> RunResult:
        capsys.readouterr()
        code = run([str(argument) for argument in arguments])
        said = RunResult(code, *capsys.readouterr())
        assert said.code in {0, 1, 2, 130}
        assert "Traceback" not in said.out + said.err
        assert "accomp itself failed" not in said.err, said.err
        return said

    return run_it


@pytest.fixture
def good() -> str:
    """A tune file with nothing wrong in it."""
    return GOOD


@pytest.fixture
def tune(tmp_path):
    """Write a tune file into `tmp_path`."""

    def write(text: str = GOOD, name: str = "tune.toml") -> Path:
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return path

    return write


@pytest.fixture
def earlier(accomp, tune, tmp_path):
    """A folder `out` made by an earlier run, and a function that insists it is still the same."""
    good = tune(name="earlier.toml")
    assert accomp("make", good, "--out", "out", "--only", "midi").code == 0
    good.unlink()
    folder = tmp_path / "out"
    before = contents(folder)
    assert {"manifest.json"} < set(before)

    def still_there() -> None:
        assert contents(folder) == before

    return still_there


def contents(folder: Path) -> dict[str, tuple[bytes, int]]:
    """Everything in a folder, hidden files too: relative path, bytes, time of writing."""
    return {
        str(path.relative_to(folder)): (path.read_bytes(), path.stat().st_mtime_ns)
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }
