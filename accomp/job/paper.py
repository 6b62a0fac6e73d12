"""The written side of a version: MusicXML files by part and reader, and the pages as PDF.

Conventions: the file name of the first part at concert pitch has no addition; other names add part
and reader ("..._slash_Bb.musicxml"). A part that is useless to a reader (TAB in B flat) is not
made.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path

from accomp.files.folders import output_errors
from accomp.job.items import BytesItem, Item, Outcome, Progress, digest, page_makers, spelt
from accomp.job.versions import Version
from accomp.score.arrangement import Arrangement
from accomp.score.notate import notate
from accomp.score.notate_layout import ScoreLayout
from accomp.score.readers import PartName, PlayerPart, Reader
from accomp.write.formats import Paper
from accomp.write.musicxml import musicxml_bytes, zipped
from accomp.write.sheet_lesson import LessonText
from accomp.write.sheet_tune import Printing

# How the strummed part is written, and whether the bass is written.
_LAYOUTS: Mapping[PartName, tuple[PlayerPart, bool]] = {
    "score": ("both", True),
    "both": ("both", False),
    "notation": ("notation", False),
    "tab": ("tab", False),
    "slash": ("slash", False),
    "bass": ("none", True),
}
# Parts for the player only, not for readers of other instruments; parts that are the player's whole
# part.
_PLAYERS_OWN: frozenset[PartName] = frozenset({"tab", "bass"})
_WHOLE: frozenset[PartName] = frozenset({"score", "both"})


def score_items(version: Version) -> Iterator[Item]:
    """One MusicXML file for each useful pair of part and reader."""
    options = version.request.options
    for reader in options.readers:
        for part in options.parts:
            if reader != "concert" and part in _PLAYERS_OWN:
                continue
            layout = layout_of(part, reader, plain_clef=options.plain_clef)
            extra: list[str] = [part] if part != options.parts[0] else []
            extra += [reader] if reader != "concert" else []
            name = "_".join([version.stem, *extra])
            label = replace(version.label(), kind="musicxml", part=_title(version, part, reader))
            data = musicxml_bytes(notate(version.on_paper, layout))
            ending, data = ("mxl", zipped(data)) if options.mxl else ("musicxml", data)
            yield BytesItem({f"{name}.{ending}": label}, data)


def layout_of(part: PartName, reader: Reader, *, plain_clef: bool) -> ScoreLayout:
    """The layout of a MusicXML part; TAB is for the player only."""
    player, bass = _LAYOUTS[part]
    if reader != "concert" and player == "both":
        player = "notation"
    return ScoreLayout(player, bass, reader, plain_clef)


def _title(version: Version, part: PartName, reader: Reader) -> str:
    """The name of a part in the manifest."""
    instrument = version.request.player.instrument.name
    name = instrument if part in _WHOLE else f"{instrument}, {part}"
    return name if reader == "concert" else f"{name}, {reader}"


@dataclass(frozen=True)
class SheetItem(Item):
    """The pages of one version as PDF: chord chart, part, lesson."""

    arrangement: Arrangement
    printing: Printing
    paper: Paper
    lesson: LessonText

    @cached_property
    def inputs(self) -> str:
        """Hash of the notation, the lesson, the paper and the makers."""
        scores = [musicxml_bytes(notate(self.arrangement, one)) for one in self.printing.layouts]
        return digest(
            "sheet", *self.labels, *scores, self.printing.boxes, spelt(self.lesson), self.paper,
            page_makers(),
        )  # fmt: skip

    @property
    def weight(self) -> float:
        """About as much as 30 s of sound."""
        return 30.0

    def write(self, paths: Mapping[str, Path], progress: Progress) -> Outcome:
        """Engrave and set the pages."""
        from accomp.write.sheet import write_sheet  # late: engraver and typesetter

        notices: list[str] = []
        for path in paths.values():
            with output_errors(path.parent):
                notices += write_sheet(
                    self.arrangement,
                    path,
                    printing=self.printing,
                    paper=self.paper,
                    lesson=self.lesson,
                )
        return Outcome(tuple(notices))


def sheet_item(version: Version) -> SheetItem:
    """Chord chart, part and lesson of a version as one PDF."""
    options = version.request.options
    part = version.request.player.instrument.name
    return SheetItem(
        {f"{version.stem}.pdf": replace(version.label(), kind="pdf", part=part)},
        arrangement=version.on_paper,
        printing=_printing(version),
        paper=options.paper,
        lesson=lesson_text(version),
    )


def _printing(version: Version) -> Printing:
    """The parts asked for, each once; the player's pages have no bass.

    The bass part is left out if nobody plays bass. If no part is left, it is the player's own.
    """
    options = version.request.options
    bass = any(bar.bass for bar in version.on_paper.bars)
    layouts = []
    for part in options.parts:
        player, _ = _LAYOUTS[part]
        alone = player == "none"
        if bass or not alone:
            layouts.append(ScoreLayout(player, bass=alone, plain_clef=options.plain_clef))
    own = ScoreLayout(bass=False, plain_clef=options.plain_clef)
    return Printing(tuple(dict.fromkeys(layouts)) or (own,), options.boxes)


def lesson_text(version: Version, *, every: bool = True) -> LessonText:
    """The lesson of a version for its pages: first the positions played, then, with `every`, all
    others."""
    neck, player = version.neck, version.request.player
    plans = {plan.name: plan for plan in version.plans}
    if every:
        plans = {plan.name: plan for plan in neck.every} | plans
    played = dict.fromkeys(plan.name for plan in version.plans)
    taught = neck.lesson_of([plans[name] for name in dict.fromkeys((*played, *plans))])
    return LessonText(taught, player.instrument, player.hand.comfort_mm)
