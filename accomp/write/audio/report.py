"""What is known about a sound file after it was made."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class AudioReport:
    """`loudness_lufs` and `true_peak_dbtp` are None for silence; `gain_db` is the one gain of the
    whole mix, `limited_db` the most that the limiter took away (0 when it did nothing).
    """

    duration_s: float
    loudness_lufs: float | None
    true_peak_dbtp: float | None
    gain_db: float
    limited_db: float
    synth: str
    soundfont: str
    notices: tuple[str, ...] = ()
