"""What a plain install weighs.

The wheel is built and installed by pip into an empty environment, as a user's `pip install accomp`
does, so this needs pip's index. Counted are the bytes of all files, those that Python compiles
among them; what comes with the environment itself (pip, and setuptools up to Python 3.11) is not
ours and counted apart.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import venv
from collections.abc import Iterable
from pathlib import Path

from benchmarks.measure import Measure

ROOT = Path(__file__).parent.parent
GOAL_MB, GOAL_WHEEL_MB = 250.0, 10.0
ITS_OWN = ("pip", "setuptools", "pkg_resources", "_distutils_hack", "distutils-precedence")
NAMED = ("numpy", "typst", "pygame", "verovio", "lxml", "accomp", "pretty_midi")


def run() -> list[Measure]:
    """The environment and the wheel."""
    with tempfile.TemporaryDirectory() as folder:
        here = Path(folder)
        pip = [sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "-w", str(here / "w")]
        subprocess.run([*pip, str(ROOT)], check=True, capture_output=True)
        (wheel,) = (here / "w").glob("accomp-*.whl")
        venv.create(here / "venv", with_pip=True)
        python = here / "venv" / "bin" / "python"
        install = [python, "-I", "-m", "pip", "install", "--quiet", wheel]
        subprocess.run(install, check=True, capture_output=True)
        (packages,) = (here / "venv" / "lib").glob("python*/site-packages")
        entries = list(packages.iterdir())
        own = _megabytes(path for path in entries if path.name.startswith(ITS_OWN))
        ours = _megabytes(entries) - own
        largest = ", ".join(f"{name} {_megabytes(packages.glob(f'{name}*')):.0f}" for name in NAMED)
        wheel_mb = wheel.stat().st_size / 1e6
    return [
        Measure(
            "a plain install", ours, "MB", "what it may weigh", GOAL_MB, ours / GOAL_MB,
            at_most=1.0, note=f"{ours + own:.0f} with pip and its like; {largest}",
        ),
        Measure(
            "the wheel", wheel_mb, "MB", "what it may weigh", GOAL_WHEEL_MB,
            wheel_mb / GOAL_WHEEL_MB, at_most=1.0,
        ),
    ]  # fmt: skip


def _megabytes(paths: Iterable[Path]) -> float:
    total = 0
    for path in paths:
        files = path.rglob("*") if path.is_dir() else [path]
        total += sum(file.stat().st_size for file in files if file.is_file())
    return total / 1e6
