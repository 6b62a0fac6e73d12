"""Signatures and modes of other people's files as major and minor keys.

Conventions: `fifths` counts sharps, flats negative. A church mode becomes the major or minor key on
its tonic, whichever has the third of the mode; the signature then differs by a sign or two.
"""

from __future__ import annotations

from accomp.harmony import Key, Spelling

_LETTERS_BY_FIFTH = "FCGDAEB"
_MINOR_MODES = ("minor", "aeolian", "dorian", "phrygian", "locrian")
# How many fifths the signature of a mode lies from that of the major or minor key on its tonic.
MODE_FIFTHS = {"dorian": 1, "phrygian": -1, "locrian": -2, "lydian": 1, "mixolydian": -1}


def key_of_signature(fifths: int, mode: str) -> Key:
    """The key of a signature and mode. Raises `ValueError` when there is none."""
    minor = mode in _MINOR_MODES
    own = fifths - MODE_FIFTHS.get(mode, 0)
    if not -7 <= own <= 7:
        raise ValueError(f"no key has {own} fifths")
    place = own + (3 if minor else 0) + 1  # of the tonic on the line of fifths, from F
    return Key(Spelling(_LETTERS_BY_FIFTH[place % 7], place // 7), minor)


def key_of_mode(tonic: Spelling, mode: str) -> tuple[Key, int]:
    """The key on `tonic` for a mode, and the mode's own signature in fifths.

    Raises `ValueError` when the key has no signature.
    """
    key = Key(tonic, mode in _MINOR_MODES)
    if not -7 <= key.fifths <= 7:
        raise ValueError(f"{key} has no key signature")
    return key, key.fifths + MODE_FIFTHS.get(mode, 0)
