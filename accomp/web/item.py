"""The practice page as an item of a job: one file for all keys and positions asked for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from accomp.files.folders import output_errors
from accomp.files.keeping import sealed
from accomp.job.items import Outcome, Progress, digest
from accomp.job.manifest import Label
from accomp.job.outside import Ingredients
from accomp.job.sound import SoundingItem
from accomp.tune import slug
from accomp.web.fonts import PageFonts
from accomp.web.notes import PageVersion
from accomp.web.page import page_bytes, page_text
from accomp.web.timeline import timeline
from accomp.write.audio.fonts import choose_fonts


@dataclass(frozen=True)
class PageItem(SoundingItem):
    """One page of several versions of a tune at one tempo."""

    versions: tuple[PageVersion, ...] = ()

    @cached_property
    def inputs(self) -> str:
        """A hash of all that decides the page's bytes: its text without sounds, and its fonts."""
        fonts = choose_fonts(self.sound.soundfont, self.sound.voice)
        small = PageFonts(b"", b"", 0.0, fonts.band.name)
        page = page_text(timeline(self.versions, fonts, small), small)
        sound = self.sound
        sounds = (sound.soundfont_sha256, sound.voice_sha256, sound.makers, sound.synth)
        return digest("page", *self.labels, page, *sounds)

    @property
    def weight(self) -> float:
        """The work that the page takes, in seconds of sound that take as much."""
        return 15.0 * len(self.versions)

    def write(self, paths: Mapping[str, Path], progress: Progress) -> Outcome:
        """Write the page."""
        self.sound.check()
        fonts = choose_fonts(self.sound.soundfont, self.sound.voice)
        data = sealed(page_bytes(self.versions, fonts))
        for path in paths.values():
            with output_errors(path.parent):
                path.write_bytes(data)
        return Outcome(fonts.notices, fonts.name)


def page_item(ingredients: Ingredients) -> PageItem:
    """The page of all versions that are made, named after the tune."""
    found = ingredients.versions
    keys = dict.fromkeys(str(version.tune.key) for version in found)
    positions = dict.fromkeys(version.position for version in found)
    first = found[0].label()
    label = Label(
        kind="page",
        role="full",
        key=", ".join(keys),
        tempo=first.tempo,
        position=", ".join(positions),
        style=first.style,
        part=found[0].request.player.instrument.name,
    )
    versions = tuple(
        PageVersion(version.tune.key, version.position, version.arrangement) for version in found
    )
    name = f"{slug(found[0].tune.title)}_practice.html"
    return PageItem({name: label}, ingredients.sound, versions)
