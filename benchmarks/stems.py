"""Groups of a performance as sound in memory, for tests and benchmarks that measure them."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from accomp.score.performance import Performance
from accomp.write.audio import GROUPS, Rendering, TrackChoice
from accomp.write.audio.bus import ScaledSource, blocks
from accomp.write.audio.fonts import choose_fonts
from accomp.write.audio.mix import AS_USUAL, mixed
from accomp.write.audio.spool import Samples


def render_stems(
    performance: Performance,
    groups: Mapping[str, TrackChoice] = GROUPS,
    rendering: Rendering = AS_USUAL,
) -> dict[str, Samples]:
    """Each group as float32 sound (frames, 2) at 44,100 Hz, all by the full mix's gain, unlimited.

    Groups that share out the tracks add up to the mix before its limiter. Raises `SoundError`.
    """
    fonts = choose_fonts(rendering.soundfont, rendering.voice)
    with mixed(performance, groups, fonts, rendering) as mix:
        gain = 10 ** (mix.gain_db / 20)
        return {
            name: np.concatenate(list(blocks(ScaledSource(mix.sounds[name], gain))))
            for name in groups
        }
