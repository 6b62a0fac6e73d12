"""The sounds in a page: fonts cut down to the notes that are played, each sample as Ogg Vorbis.

Conventions: a page has at most two fonts, the player's voice and the band's. Presets are (bank,
program), drums on bank 128. Equal input gives equal bytes: the streams have one fixed serial number
and no tags.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np

from accomp.errors import SoundError, reason
from accomp.score.performance import Performance, Track
from accomp.voice.soundfont import DRUM_BANK, Font, Sample, encode
from accomp.voice.soundfont_read import read_font
from accomp.voice.trim import Note, trimmed
from accomp.write.audio.balance import voice_gain_db
from accomp.write.audio.fonts import Fonts
from accomp.write.audio.hand import by_hand
from accomp.write.audio.libsndfile import sound_file
from accomp.write.audio.ogg import ogg_with_tags
from accomp.write.audio.tags import NO_TAGS

CLICKS = ((76, 110), (77, 90))  # (key, velocity) of an accented and a plain click of the count-in
# libsndfile: Vorbis quality is 1 - level. With 0.3 the difference lies 33 dB under the sound.
_LEVEL = 0.4
_SHORTEST = 6_000  # samples; in a short loop the errors of the coding would be heard


@dataclass(frozen=True, slots=True)
class PageFonts:
    """The bytes of the small fonts; `voice` is empty where the band's font plays everybody.

    `gain_db` brings the voice to its place in the band; `band_name` names the font from which the
    band's sounds are taken.
    """

    voice: bytes
    band: bytes
    gain_db: float
    band_name: str


def page_fonts(performances: Sequence[Performance], fonts: Fonts) -> PageFonts:
    """The fonts for all notes of the performances. Raises `SoundError`."""
    voice: set[Note] = set()
    band: set[Note] = {(DRUM_BANK, 0, *click) for click in CLICKS}
    for performance in performances:
        for track in performance.tracks:
            own = fonts.voices(track)
            for note in played(track, fonts).notes:
                bank = DRUM_BANK if track.drums else note.bank if own else 0
                wanted = voice if own else band
                wanted.add((bank, fonts.program(track), note.pitch, note.velocity))
    return PageFonts(
        voice=_packed(fonts.voice.path, voice) if fonts.voice is not None and voice else b"",
        band=_packed(fonts.band.path, band),
        gain_db=gain_of_voice(performances, fonts),
        band_name=fonts.band.name,
    )


def gain_of_voice(performances: Sequence[Performance], fonts: Fonts) -> float:
    """The gain in dB that brings the player's voice to its place in the band; 0 without a voice."""
    if fonts.voice is None:
        return 0.0
    tracks = [track for performance in performances for track in performance.tracks]
    voiced = [track.program for track in tracks if fonts.voices(track)]
    return voice_gain_db(fonts.voice, fonts.band, voiced[-1]) if voiced else 0.0


def played(track: Track, fonts: Fonts) -> Track:
    """The track as a page's synthesiser gets it: on the voice's own banks, with takes in turn."""
    if not fonts.voices(track) or fonts.voice is None:
        return track
    return by_hand(track, fonts.voice)


def _packed(path: Path, notes: Iterable[Note]) -> bytes:
    try:
        changed_ns = path.stat().st_mtime_ns
        return encode(trimmed(_font(path, changed_ns), notes), pack)
    except OSError as error:
        raise SoundError(f"{path}: cannot be read ({reason(error)}).") from error
    except ValueError as error:
        raise SoundError(f"{error}. A page needs a plain .sf2 file: name one.") from error


@lru_cache(maxsize=2)
def _font(path: Path, changed_ns: int) -> Font:
    """A font as its file was at a time of change, which only tells one state from another."""
    return read_font(path)


def pack(sample: Sample) -> bytes | None:
    """A sample as Ogg Vorbis; None where it is too short to be coded well."""
    if sample.data.size < _SHORTEST:
        return None
    data = sound_file(
        [sample.data.astype(np.float32)],
        ("OGG", "VORBIS"),
        rate_hz=sample.rate_hz,
        channels=1,
        compression_level=_LEVEL,
    )
    return ogg_with_tags(data, NO_TAGS)
