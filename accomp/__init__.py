"""accomp: shapes, positions, written parts and play-along tracks for rhythm players.

The names in `__all__` are the public API. They are imported on first use, so that `import accomp`
is quick. From a tune to its MIDI file:

    >>> import accomp
    >>> tune = accomp.tune("| C | A7 | D7 | G7 |", key="C", title="Porch Light")
    >>> player = accomp.player("tenor-banjo", hand="medium")
    >>> positions = accomp.positions(tune, player)
    >>> positions["third-top"].boxes[0]
    (<Chord C>, <Shape 4 5 5 7>)
    >>> piece = accomp.arrange(tune, player, "third-top", tempo=140)
    >>> piece.perform(count_in=1)
    <Performance of 'Porch Light': 4 tracks, 17.1 s>
    >>> piece.to_midi()[:4]
    b'MThd'

A notebook shows each of these values as a picture. `make_tune` is the whole job: it writes all
files of one tune into a folder, with a manifest. All errors are `AccompError`s and say what to do.

Lengths are in mm, tempi in beats a minute of the meter's beat, played time in seconds, score time
in fractions of a whole note; MIDI 60 is C4. A shape is written from the highest-numbered string to
the first (tenor banjo: fourth to first).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from accomp import outward
    from accomp.errors import (
        AccompError,
        ChordError,
        ClusterError,
        InputError,
        KeyNameError,
        NoShapeError,
        NotInstalledError,
        OutputError,
        OwnFaultError,
        Problem,
        SoundError,
        TooManyShapesError,
    )
    from accomp.harmony import Chord, Key, Pitch, parse_chord
    from accomp.job.make import make_tune
    from accomp.job.manifest import Manifest
    from accomp.job.options import Options
    from accomp.neck import (
        ChordShapes,
        Hand,
        Instrument,
        KeyPositions,
        Lesson,
        Plan,
        Player,
        Shape,
        find_hand,
        find_instrument,
    )
    from accomp.notebook.audio import Audio
    from accomp.notebook.keys import Keys
    from accomp.notebook.making import arrange, keys, playable_shapes, player, positions, shapes
    from accomp.notebook.piece import Piece
    from accomp.notebook.positions import Positions
    from accomp.notebook.wanted import Manner, Wished
    from accomp.rhythm import Style, find_style
    from accomp.score.arrangement import Arrangement
    from accomp.score.performance import Performance
    from accomp.score.written import Score
    from accomp.tune import Tune, TuneFacts, read_tune, transpose_tune
    from accomp.tune import room as tune

__version__ = "0.2.0"

_HOMES = {
    "AccompError": "errors",
    "Arrangement": "score.arrangement",
    "Audio": "notebook.audio",
    "Chord": "harmony",
    "ChordError": "errors",
    "ChordShapes": "neck",
    "ClusterError": "errors",
    "Hand": "neck",
    "InputError": "errors",
    "Instrument": "neck",
    "Key": "harmony",
    "KeyNameError": "errors",
    "KeyPositions": "neck",
    "Keys": "notebook.keys",
    "Lesson": "neck",
    "Manifest": "job.manifest",
    "Manner": "notebook.wanted",
    "NoShapeError": "errors",
    "NotInstalledError": "errors",
    "Options": "job.options",
    "OutputError": "errors",
    "OwnFaultError": "errors",
    "Performance": "score.performance",
    "Piece": "notebook.piece",
    "Pitch": "harmony",
    "Plan": "neck",
    "Player": "neck",
    "Positions": "notebook.positions",
    "Problem": "errors",
    "Score": "score.written",
    "Shape": "neck",
    "SoundError": "errors",
    "Style": "rhythm",
    "TooManyShapesError": "errors",
    "Tune": "tune",
    "TuneFacts": "tune",
    "Wished": "notebook.wanted",
    "arrange": "notebook.making",
    "find_hand": "neck",
    "find_instrument": "neck",
    "find_style": "rhythm",
    "keys": "notebook.making",
    "make_tune": "job.make",
    "parse_chord": "harmony",
    "playable_shapes": "notebook.making",
    "player": "notebook.making",
    "positions": "notebook.making",
    "read_tune": "tune",
    "shapes": "notebook.making",
    "transpose_tune": "tune",
}

__all__ = [
    "AccompError",
    "Arrangement",
    "Audio",
    "Chord",
    "ChordError",
    "ChordShapes",
    "ClusterError",
    "Hand",
    "InputError",
    "Instrument",
    "Key",
    "KeyNameError",
    "KeyPositions",
    "Keys",
    "Lesson",
    "Manifest",
    "Manner",
    "NoShapeError",
    "NotInstalledError",
    "Options",
    "OutputError",
    "OwnFaultError",
    "Performance",
    "Piece",
    "Pitch",
    "Plan",
    "Player",
    "Positions",
    "Problem",
    "Score",
    "Shape",
    "SoundError",
    "Style",
    "TooManyShapesError",
    "Tune",
    "TuneFacts",
    "Wished",
    "arrange",
    "find_hand",
    "find_instrument",
    "find_style",
    "keys",
    "make_tune",
    "parse_chord",
    "playable_shapes",
    "player",
    "positions",
    "read_tune",
    "shapes",
    "transpose_tune",
    "tune",
]


# Functions that a room needs from a room to its right. Only this module knows all rooms: the job
# gets the makers of other kinds of file from here (`job/outside.py`), values get the makers for
# their methods (`outward.py`), and the command line gets the desk.
_MAKERS: dict[outward.OutwardKind, tuple[str, str]] = {
    "page": ("web.item", "page_item"),
    "desk": ("web.desk.serve", "serve"),
    "drawing": ("notebook.drawing", "drawing"),
    "page piece": ("notebook.page", "page_piece"),
    "midi": ("write.midi", "midi_bytes"),
    "musicxml": ("write.musicxml", "musicxml_bytes"),
    "packed musicxml": ("write.musicxml", "zipped"),
    "mido": ("notebook.bridges", "to_mido"),
    "pretty_midi": ("notebook.bridges", "to_pretty_midi"),
    "music21": ("notebook.bridges", "to_music21"),
    "tune of music21": ("notebook.bridges", "tune_of_music21"),
}


def _maker(kind: outward.OutwardKind) -> object:
    import importlib

    home, name = _MAKERS[kind]
    return getattr(importlib.import_module(f"accomp.{home}"), name)


if not TYPE_CHECKING:  # else a type checker would accept any name

    def __getattr__(name: str) -> object:
        import importlib

        if name == "tune":  # the room itself, which can be called
            return importlib.import_module("accomp.tune")
        if name not in _HOMES:
            raise AttributeError(f"module 'accomp' has no attribute {name!r}")
        return getattr(importlib.import_module(f"accomp.{_HOMES[name]}"), name)


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])
