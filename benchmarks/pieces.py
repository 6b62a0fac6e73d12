"""Tunes taken through the pipeline as far as a benchmark needs them."""

from __future__ import annotations

import tempfile
from pathlib import Path

from benchmarks.tunes import tune_text


def asked_for(bars: int, choruses: int = 1, **options: object):
    """The request for the measuring tune, as `accomp make` has it."""
    from accomp.job.options import Options
    from accomp.job.request import resolve
    from accomp.tune import read_tune

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "mile.toml"
        path.write_text(tune_text(bars), encoding="utf-8")
        tune = read_tune(path)
    return resolve(tune, Options(choruses=choruses, **options))


def arrangement(bars: int, choruses: int, key: str = "F"):
    """An `Arrangement` of the measuring tune, planned and styled as `accomp make` does."""
    from accomp.job.versions import versions

    return versions(asked_for(bars, choruses, keys=(key,)))[0].arrangement
