"""The paper side of a version: MusicXML files by part and reader, and the sheet as PDF.

Conventions: the first part for concert pitch has the plain file name; others add what they are
("..._slash_Bb.musicxml"). A part that a reader has no use for (TAB in B flat) is not made.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from accomp.job.items import Item, SheetItem, score_item
from accomp.job.options import Options
from accomp.job.positions import TuneNeck
from accomp.job.versions import Version
from accomp.neck import lesson
from accomp.score.notate_layout import ScoreLayout
from accomp.score.readers import PlayerPart, Reader
from accomp.write.sheet_lesson import LessonText

_LAYOUTS = {
    "score": ("both", True),
    "both": ("both", False),
    "notation": ("notation", False),
    "tab": ("tab", False),
    "slash": ("slash", False),
    "bass": ("none", True),
}


def score_items(version: Version, options: Options) -> Iterator[Item]:
    """One MusicXML file for each part and reader that go together."""
    ending = "mxl" if options.mxl else "musicxml"
    for reader in options.readers:
        for part in options.parts:
            if reader != "concert" and part in {"tab", "bass"}:
                continue
            player, bass = _LAYOUTS[part]
            if reader != "concert" and player == "both":
                player = "notation"
            layout = ScoreLayout(PlayerPart(player), bass, Reader(reader), options.plain_clef)
            extra = [part] if part != options.parts[0] else []
            extra += [reader] if reader != "concert" else []
            name = "_".join([version.stem, *extra])
            label = replace(version.label(), part=_title(version, part, reader))
            yield score_item(f"{name}.{ending}", label, version.written, layout)


def _title(version: Version, part: str, reader: str) -> str:
    """What the manifest calls a part."""
    instrument = version.arrangement.instrument.name
    name = instrument if part in {"score", "both"} else f"{instrument}, {part}"
    return name if reader == "concert" else f"{name}, {reader}"


def sheet_item(version: Version, neck: TuneNeck, options: Options) -> Item:
    """Chord chart, part and lesson of a version as one PDF."""
    label = replace(version.label(), kind="pdf", part=version.arrangement.instrument.name)
    return SheetItem(
        {f"{version.stem}.pdf": label},
        arrangement=version.written,
        layout=ScoreLayout(bass=False, plain_clef=options.plain_clef),
        paper=options.paper,
        lesson=lesson_text(version, neck),
    )


def lesson_text(version: Version, neck: TuneNeck) -> LessonText:
    """The lesson of a version's positions, as its page needs it.

    What is to be drilled is of the position that is played, the first chorus's where they change.
    """
    player = neck.neck.player
    costs = player.cost_model(choked=neck.wish.choked)
    taught = lesson(neck.every, version.chords.chords, version.tune.key, costs)
    played = version.plans[0]
    return LessonText(
        lesson=taught,
        instrument=player.instrument,
        comfort_mm=player.hand.comfort_mm,
        played=played.name,
        hardest=neck.hardest(played),
    )
