"""What the band's sounds are made of: the tables of `accomp/data/kit.toml`, units in the names.

The file comes with the program and is not anybody's to change, so that it is read without the
places that `accomp.files.toml` keeps; a wrong key stops at once.
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
    """Snare wires under the lower head: they leave it where it moves more than `lift` (a share of
    the hardest blow's motion) and rattle, `level` times as loud as the head at the most; `bounce_s`
    is the time in which their bouncing falls by 60 dB.
    """

    level: float
    lift: float
    low_hz: float
    high_hz: float
    late_ms: float
    bounce_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Bristles:
    """A brush: so many wires that come down one after another, within `spread_ms` at the hardest;
    a `swept` one turns on the head as long.
    """

    count: int
    spread_ms: float
    swept: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Skin:
    """A drum: its head over the air in it, struck; `glide` is how much tighter the hardest blow
    makes the head.
    """

    head: Head
    microphone: Microphone
    striker: Striker
    glide: float
    wires: Wires | None = None
    bristles: Bristles | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Cymbal:
    """A bronze plate: its modes by their statistics. `fall_s` is the time to fall by 60 dB at
    1 kHz, at other frequencies times f^-`slope`; `rush` the share of the sound that wanders up from
    low to high modes within `rush_ms` at the hardest blow; `tilt` a power of the frequency.
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
    """Wood with a few modes of its own."""

    hz: tuple[float, ...]
    fall_s: tuple[float, ...]
    level: tuple[float, ...]
    striker: Striker


@dataclass(frozen=True, slots=True, kw_only=True)
class KitSound:
    """A sound of the kit: where it stands, how long it is kept, how loud it is, what makes it.

    `sets` are the drum sets (programs of bank 128) in which `keys` sound it, the first as made, the
    others `apart` semitones higher or lower; `cut` is a class of keys that end one another.
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
    """All drums, the highest velocity of each layer with the force that it stands for, and how loud
    a note of the bass is.
    """

    layers: tuple[tuple[int, float], ...]
    bass_db: float
    sounds: tuple[KitSound, ...]


def read_kit() -> Kit:
    """The kit that comes with the program."""
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
    """A drum that several sounds share, as this one strikes it."""
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
