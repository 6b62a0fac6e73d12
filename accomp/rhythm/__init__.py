"""Styles, patterns, strokes, bass and drums. Knows nothing of tunes or necks."""

from accomp.rhythm.bass import BandBar, BassNote, bass_line
from accomp.rhythm.describe import describe_style
from accomp.rhythm.feel import jitter, ratio_by_tempo, swung, swung_time
from accomp.rhythm.general_midi import DrumHit, drum_hits, percussion_key, program_number
from accomp.rhythm.pattern import Approach, BandNote, BandPattern, Pattern
from accomp.rhythm.read import find_style, plain_name, plain_style, read_style, style_names
from accomp.rhythm.stroke import FORCES, Stroke, louder, spread_ms, tapered, velocity
from accomp.rhythm.strum import choose_strings
from accomp.rhythm.style import Style

__all__ = [
    "FORCES",
    "Approach",
    "BandBar",
    "BandNote",
    "BandPattern",
    "BassNote",
    "DrumHit",
    "Pattern",
    "Stroke",
    "Style",
    "bass_line",
    "choose_strings",
    "describe_style",
    "drum_hits",
    "find_style",
    "jitter",
    "louder",
    "percussion_key",
    "plain_name",
    "plain_style",
    "program_number",
    "ratio_by_tempo",
    "read_style",
    "spread_ms",
    "style_names",
    "swung",
    "swung_time",
    "tapered",
    "velocity",
]
