"""A voice's SoundFont, from its parameters.

Conventions: `progress` is called with the part done, 0 to 1. The same parameters and library
versions give the same bytes, whatever the number of processors.
"""

from __future__ import annotations

from accomp.voice.layout import lay_out
from accomp.voice.model import model
from accomp.voice.parameters import Voice
from accomp.voice.sampling import Progress, takes
from accomp.voice.soundfont import encode


def build(voice: Voice, progress: Progress | None = None) -> bytes:
    """The bytes of the voice's SoundFont."""
    return encode(lay_out(voice, takes(model(voice), progress)))
