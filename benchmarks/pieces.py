"""Tunes taken through the pipeline as far as a benchmark needs them."""

from __future__ import annotations

import tempfile
from pathlib import Path

from benchmarks.tunes import tune_text


def arrangement(bars: int, choruses: int):
    """An `Arrangement` of the measuring tune, planned and styled as `accomp make` does."""
    from accomp.job.asked import understand
    from accomp.job.make import versions
    from accomp.job.options import Options
    from accomp.tune import read_tune

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "mile.toml"
        path.write_text(tune_text(bars), encoding="utf-8")
        tune = read_tune(path)
    options = Options(choruses=choruses)
    return next(iter(versions(tune, understand(tune, options), options))).arrangement
