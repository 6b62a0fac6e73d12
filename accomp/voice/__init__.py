"""Voices: plucked instruments modelled from physics and built into SoundFonts.

    parameters (soundfonts/*.toml) ─► model: string, bridge, head or box, plectrum ─► sounds ─► SF2

Conventions: programs and banks count from 0, as sent on the wire.
"""

from __future__ import annotations

from accomp.voice.layout import voice_bank
from accomp.voice.voices import voice_font, voice_names

__all__ = ["voice_bank", "voice_font", "voice_names"]
