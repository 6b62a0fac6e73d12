"""The parameters of the drums: the tables of `accomp/data/kit.toml`, units in the names.

The file is part of the program and users do not edit it. So it is read without the places in the
file that `accomp.files.toml` keeps for messages; a wrong key raises an exception at once.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from accomp.files.data import package_data
from accomp.voice.kit.struck import Striker
from accomp.voice.parameters import Head, Microphone, Pot


@dataclass(frozen=True, slots=True, kw_only=True)
class Wires:
    """Snare wires under the lower head. They rattle while its motion is above `lift` (a share of
    the hardest blow's motion); `level` scales their loudness relative to the head. `bounce_s` is
    the time in which their bouncing falls by 60 dB.
    """

    level: float
    lift: float
    low_hz: float
    high_hz: float
    late_ms: float
    bounce_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Bristles:
    """A brush of `count` wires that hit the head one after another, spread over `spread_ms`; a
    `swept` brush makes one turn on the head in this time.
    """

    count: int
    spread_ms: float
    swept: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Skin:
    """A drum, its microphone and its striker. The head's pot is the air in the shell; `glide` is
    the hardest blow's added tension over the tension.
    """

    head: Head
    microphone: Microphone
    striker: Striker
    glide: float
    wires: Wires | None = None
    bristles: Bristles | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Cymbal:
    """A bronze plate. `fall_s` is the time of a fall by 60 dB at 1 kHz; it is proportional to
    f^-`slope`, the modes' amplitude to f^`tilt`. `rush` is the share of the sound in the hardest
    blow that moves from low to high modes within `rush_ms`; `pattern` is the seed of the modes.
    """

    radius_mm: float
    thick_mm: float
    low_hz: float
    high_hz: float
    fall_s: float
    slope: float
    tilt: float
    rush: float
    rush_ms: float
    pattern: int
    striker: Striker


@dataclass(frozen=True, slots=True, kw_only=True)
class WoodBlock:
    """Wood with a few modes: frequencies, times of a fall by 60 dB, amplitudes."""

    hz: tuple[float, ...]
    fall_s: tuple[float, ...]
    level: tuple[float, ...]
    striker: Striker


@dataclass(frozen=True, slots=True, kw_only=True)
class KitSound:
    """A sound of the kit: its keys, length, loudness and model.

    `sets` are the drum sets (programs of bank 128) in which `keys` play it; `apart` is the
    transposition of each key in semitones. `cut` is the exclusive class, 0 for none: its keys end
    one another.
    """

    name: str
    keys: tuple[int, ...]
    apart: tuple[int, ...]
    sets: tuple[int, ...]
    level_db: float
    length_s: float
    rate_hz: int
    made_of: Skin | Cymbal | WoodBlock
    cut: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Kit:
    """All drums, highest velocity and force (0 to 1) of each layer, and the bass's loudness."""

    layers: tuple[tuple[int, float], ...]
    bass_db: float
    sounds: tuple[KitSound, ...]


def read_kit() -> Kit:
    """The parameters of the kit, which are part of the program."""
    data = package_data("kit.toml")
    layers = tuple((row["up_to"], row["force"]) for row in data["layer"])
    skins = data["skin"]
    sounds = tuple(_struck(row, skins) for row in data["sound"])
    return Kit(layers=layers, bass_db=data["bass_db"], sounds=sounds)


def _struck(row: Mapping[str, Any], skins: Mapping[str, Any]) -> KitSound:
    row = dict(row)
    striker = Striker(**row.pop("striker"))
    parts: dict[str, Any] = {
        name: row.pop(name) for name in ("skin", "cymbal", "block") if name in row
    }
    (kind, own), *more = parts.items()
    assert not more, f"{row['name']} is made of several things"
    made: Skin | Cymbal | WoodBlock
    if kind == "skin":
        made = _skin(skins[own], row, striker)
    elif kind == "cymbal":
        made = Cymbal(**own, striker=striker)
    else:
        made = WoodBlock(**{name: tuple(values) for name, values in own.items()}, striker=striker)
    plain: dict[str, Any] = {
        name: tuple(each) if isinstance(each, list) else each for name, each in row.items()
    }
    return KitSound(**plain, made_of=made)


def _skin(own: Mapping[str, Any], row: dict[str, Any], striker: Striker) -> Skin:
    """A drum, which several sounds share, with the striker, wires and bristles of this sound."""
    head = dict(own["head"])
    pot = Pot(**head.pop("pot"))
    wires, bristles = row.pop("wires", None), row.pop("bristles", None)
    return Skin(
        head=Head(**head, pot=pot),
        microphone=Microphone(**own["microphone"]),
        striker=striker,
        glide=own["glide"],
        wires=Wires(**wires) if wires else None,
        bristles=Bristles(**bristles) if bristles else None,
    )
