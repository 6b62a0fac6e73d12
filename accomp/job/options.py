"""What can be asked of a job.

Conventions: tempi in beats a minute; empty tuples and None mean "as the tune says". `only` names
kinds of file ("midi", "musicxml" ...); `parts` what MusicXML files hold ("score" is notation, TAB
and bass, "both" without bass) and `readers` for whom ("Bb" is a B flat instrument); `ladder` the
steps of a speed ladder, in per cent of the tempo; `again` makes what is there already, too.
`vocabulary` is "first", "inversions" or "all"; `shapes` the older way of saying it: "known" for
"first", or "all".
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

KINDS = ("midi", "musicxml", "audio", "pdf")
PARTS = ("score", "both", "notation", "tab", "slash", "bass")
READERS = ("concert", "Bb", "Eb", "bass")
PAPERS = ("a4", "letter")
AUDIO_FORMATS = ("flac", "wav", "ogg", "mp3")


@dataclass(frozen=True)
class Options:
    """Options of `make`, as the command line gives them; see its help for each."""

    keys: tuple[str, ...] = ()
    tempos: tuple[float, ...] = ()
    positions: tuple[str, ...] = ()
    style: str | None = None
    instrument: str | None = None
    hand: str = "medium"
    reach_mm: float | None = None
    repertoire: Path | None = None
    costs: Path | None = None
    plan: str = "fixed"
    vocabulary: str | None = None
    shapes: str | None = None
    closed: bool | None = None
    mute: bool = False
    choruses: int | None = None
    count_in: int = 1
    only: tuple[str, ...] = KINDS
    soundfont: Path | None = None
    audio_format: str = "flac"
    parts: tuple[str, ...] = ("score",)
    readers: tuple[str, ...] = ("concert",)
    plain_clef: bool = False
    mxl: bool = False
    paper: str = "a4"
    seed: int = 0
    melody: bool = False
    pack: bool = False
    ladder: tuple[int, ...] = ()
    jobs: int = 1
    again: bool = False
