"""Tunes taken through the pipeline as far as a benchmark needs them."""

from __future__ import annotations

import tempfile
from pathlib import Path

from benchmarks.tunes import tune_text


def asked_for(bars: int, choruses: int = 1, **options: object):
    """The measuring tune, what is asked, and the options, as `accomp make` has them."""
    from accomp.job.asked import understand
    from accomp.job.options import Options
    from accomp.tune import read_tune

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "mile.toml"
        path.write_text(tune_text(bars), encoding="utf-8")
        tune = read_tune(path)
    wanted = Options(choruses=choruses, **options)
    return tune, understand(tune, wanted), wanted


def arrangement(bars: int, choruses: int, key: str = "F"):
    """An `Arrangement` of the measuring tune, planned and styled as `accomp make` does."""
    from accomp.job.versions import in_keys, versions

    tune, asked, options = asked_for(bars, choruses, keys=(key,))
    moved, neck = next(iter(in_keys(tune, asked)))
    return next(iter(versions(moved, neck, asked, options.seed))).arrangement
