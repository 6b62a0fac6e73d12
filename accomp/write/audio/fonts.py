"""Which SoundFont plays which track, and the notices when one is missing or lacks a sound.

The player's track is played by the voice (a font of its own, with ringing, choked and dead strokes
on banks 0, 1 and 2) when there is one. The rest of the band is played by the General MIDI font,
with modelled drums and bass where no other font was asked for.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from accomp.errors import SoundError
from accomp.score.performance import DRUM_CHANNEL, Role, Track
from accomp.write.soundfont import (
    DRUM_BANK,
    SoundFont,
    band_soundfont,
    default_soundfont,
    read_soundfont,
)


@dataclass(frozen=True, slots=True)
class Fonts:
    """The band's font, the player's voice if it is usable, and notices about them."""

    band: SoundFont
    voice: SoundFont | None = None
    notices: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """The fonts as the manifest names them."""
        if self.voice is None:
            return self.band.name
        return f"{self.voice.name} (player), {self.band.name} (band)"

    def of(self, track: Track) -> tuple[SoundFont, ...]:
        """The fonts of a track; the last one is searched first."""
        if self.voice is not None and self.voices(track):
            return (self.band, self.voice)
        return (self.band,)

    def voices(self, track: Track) -> bool:
        """Whether the voice plays a track: the player's, if it has their instrument."""
        return (
            self.voice is not None
            and track.role == Role.PLAYER
            and self.voice.has(0, track.program)
        )

    def program(self, track: Track) -> int:
        """The program that is heard: where the band's font lacks a drum set, its first set plays
        instead, as General MIDI asks."""
        lacks = track.drums and not self.band.has(DRUM_BANK, track.program)
        return 0 if lacks else track.program

    def plain_channels(self, track: Track) -> frozenset[int]:
        """Channels of a track with notes on a bank that its fonts lack."""
        return frozenset(
            note.channel
            for note in track.notes
            if note.bank
            and note.channel != DRUM_CHANNEL
            and not any(font.has(note.bank, track.program) for font in self.of(track))
        )

    def missing(self, track: Track) -> str:
        """A notice when no font has the track's sound at all, else nothing."""
        if track.drums:
            known = any(bank == DRUM_BANK for bank, _ in self.band.presets)
        else:
            known = any(font.has(0, track.program) for font in self.of(track))
        if known or not track.notes:
            return ""
        sound = "drums" if track.drums else f"sound for program {track.program} (counted from 0)"
        return (
            f"{track.name}: {self.band.name} has no {sound}; the synthesiser puts another sound "
            f"in its place, or none. Choose a General MIDI font."
        )


def choose_fonts(soundfont: Path | None, voice: Path | None) -> Fonts:
    """The fonts to play with: `soundfont` or the band's own, and `voice` where it is usable.

    Raises `SoundError` when the band's font is unusable; a bad voice only makes a notice, and so do
    modelled drums that cannot be built.
    """
    notices: list[str] = []
    if soundfont is not None:
        band = read_soundfont(soundfont)
    else:
        band, said = bands_own_font()
        notices += said
    player = None
    if voice is not None:
        try:
            player = read_soundfont(voice)
        except SoundError as error:
            heard = f"The player is heard with {band.name}, not with their own voice: {error}"
            notices.append(heard)
    return Fonts(band, player, tuple(notices))


def bands_own_font(
    progress: Callable[[float], None] | None = None,
) -> tuple[SoundFont, tuple[str, ...]]:
    """The band's default font, and notices about it.

    Its drums and bass are modelled; where they cannot be built, it is the plain General MIDI font.
    Raises `SoundError` when that is not there either.
    """
    try:
        return band_soundfont(progress), ()
    except SoundError as error:
        said = f"The General MIDI sounds are used for drums and bass: {error}"
        return default_soundfont(), (said,)
