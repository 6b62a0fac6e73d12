"""A rendered piece as the bytes of a sound file, as samples, and as a player in a notebook.

Conventions: the bytes are those that the main job writes for the same request. Samples are decoded
from them, so that measurements are of the sound that is heard. Full scale is 1.
"""

from __future__ import annotations

import tempfile
from base64 import b64encode
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from accomp.files.paths import StrPath
from accomp.files.saving import saved
from accomp.files.values import short
from accomp.job.items import Item, Outcome
from accomp.job.manifest import Label
from accomp.job.sound import Sound, sound_item
from accomp.outward import Shown
from accomp.score.performance import Performance
from accomp.write.formats import AudioFormat, MixGroup

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

MEDIA_TYPES: Mapping[AudioFormat, str] = {
    "flac": "audio/flac",
    "wav": "audio/wav",
    "ogg": "audio/ogg",
    "mp3": "audio/mpeg",
}


@dataclass(frozen=True, repr=False)
class Audio(Shown):
    """A sound file: its `data` in a `format` ("flac", "wav", "ogg", "mp3"), stereo.

    `soundfont` and `synth` name what it was made with; `notices` are sentences about it.
    """

    title: str
    data: bytes
    format: AudioFormat
    soundfont: str = ""
    synth: str = ""
    notices: tuple[str, ...] = ()

    def __repr__(self) -> str:
        return f"<Audio of {short(self.title)!r}: {self.format}, {len(self.data):,} bytes>"

    def __bytes__(self) -> bytes:
        return self.data

    def to_file(self, path: StrPath) -> Path:
        """Write it to a path with any ending; an existing file is replaced.

        Raises `OutputError`, and `InputError` for anything that is no path.
        """
        return saved(self.data, path)

    def to_numpy(self) -> tuple[npt.NDArray[np.float32], int]:
        """(samples, rate): an array of float32 with a row for each frame and two columns, left and
        right, full scale at 1; and the frames per second."""
        import numpy as np

        from accomp.write.audio.encode import decoded
        from accomp.write.audio.render import SAMPLE_RATE

        return np.concatenate(list(decoded(self.data))), SAMPLE_RATE

    @property
    def address(self) -> str:
        """The file as a `data:` URL, for a player on a page."""
        return f"data:{MEDIA_TYPES[self.format]};base64,{b64encode(self.data).decode()}"


def rendered(
    performance: Performance,
    sound: Sound,
    label: Label,
    group: MixGroup,
    progress: Callable[[str, float], None],
) -> Audio:
    """One group of a performance as sound. Raises `SoundError`."""
    item = sound_item({group: ("sound", label)}, performance, sound)
    data, outcome = item_bytes(item, lambda share: progress("Sounding", share))
    return Audio(
        title=performance.title,
        data=data,
        format=sound.format,
        soundfont=outcome.soundfont or "",
        synth=outcome.synth or "",
        notices=(*sound.notices, *outcome.notices),
    )


def item_bytes(
    item: Item, progress: Callable[[float], None] = lambda share: None
) -> tuple[bytes, Outcome]:
    """The bytes of an item that has one file, and the outcome of writing it."""
    (name,) = item.labels
    with tempfile.TemporaryDirectory(prefix="accomp-") as folder:
        path = Path(folder, name)
        outcome = item.write({name: path}, progress)
        return path.read_bytes(), outcome
