"""Other people's lead sheets, MusicXML and ABC: read into tunes and melodies.

file ─► safe source ─► bars as written (either format) ─► order played ─► full bars ─┬─► Tune
                                                                                     └─► melody
"""

from accomp.intake.read import (
    ImportedTune,
    problems_of,
    read_leadsheet,
    read_melody,
    read_musicxml_data,
)

__all__ = [
    "ImportedTune",
    "problems_of",
    "read_leadsheet",
    "read_melody",
    "read_musicxml_data",
]
