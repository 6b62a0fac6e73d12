"""Lead sheets that someone else wrote: MusicXML and ABC to tune files.

file ─► safe source ─► bars as written (either format) ─► the road ─► full bars ─► Tune
                                                             └─► the melody in played order
"""

from accomp.tune.leadsheet.read import LEADSHEET_ENDINGS, ImportedTune, problems_of, read_leadsheet

__all__ = ["LEADSHEET_ENDINGS", "ImportedTune", "problems_of", "read_leadsheet"]
