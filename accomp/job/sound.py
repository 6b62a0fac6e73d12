"""What a job's audio is made with: fonts, voice, synthesiser, format.

Conventions: all of it is looked at before any work begins. The player has a voice of his own where
there is one for his instrument; a SoundFont named by option plays everybody.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from accomp.errors import SoundError
from accomp.job.items import Sound
from accomp.job.makers import sound_makers
from accomp.job.manifest import sha256
from accomp.job.options import Options
from accomp.neck import Instrument

# General MIDI programs (1 to 128) and the voice that is nearest where an instrument has none.
_BY_PROGRAM = {106: "tenor-banjo"}


def sound_of(
    options: Options,
    instrument: Instrument,
    notices: list[str],
    progress: Callable[[float], None],
) -> Sound:
    """Fonts and synthesiser; a voice is built on first use. Raises `SoundError`."""
    from accomp.write.soundfont import default_soundfont, read_soundfont
    from accomp.write.synth import synth_name

    chosen = options.soundfont
    font = default_soundfont() if chosen is None else read_soundfont(chosen)
    voice = _voice(instrument, notices, progress) if chosen is None else None
    return Sound(
        soundfont=chosen,
        soundfont_sha256=sha256(font.path),
        voice=voice,
        voice_sha256=sha256(voice) if voice else "",
        format=options.audio_format,
        synth=synth_name(),
        makers=sound_makers(),
        threads=1 if options.jobs > 1 else None,
    )


def _voice(
    instrument: Instrument, notices: list[str], progress: Callable[[float], None]
) -> Path | None:
    """The voice for an instrument: its own, its family's, its General MIDI sound's; or none."""
    from accomp.voice import voice_font, voice_names

    names = voice_names()
    family = [name for name in names if instrument.name.startswith(name)]
    name = max(family, key=len) if family else _BY_PROGRAM.get(instrument.program)
    if name not in names:
        return None
    try:
        return voice_font(name, progress=progress)
    except SoundError as error:
        notices.append(f"The General MIDI sound is used for the player: {error}")
        return None
