"""Lead sheets from other programs (MusicXML, ABC) read into tunes and melodies.

file ─► safe source ─► bars as written (either format) ─► order played ─► full bars ─┬─► Tune
                                                                                     └─► melody
"""

from accomp.intake.read import (
    ImportedTune,
    all_problems,
    read_leadsheet,
    read_melody,
    read_musicxml_data,
)

__all__ = [
    "ImportedTune",
    "all_problems",
    "read_leadsheet",
    "read_melody",
    "read_musicxml_data",
]
