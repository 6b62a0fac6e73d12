"""A font reduced to the samples that some notes need.

Conventions: a note is (bank, program, key, velocity); drums are on bank 128. The notes sound the
same from the reduced font: every zone that one of them falls into is kept with its settings.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from accomp.voice.soundfont import Font, FontInstrument, Preset, Zone

Note = tuple[int, int, int, int]
_Struck = set[tuple[int, int]]  # (key, velocity)


def trimmed(font: Font, notes: Iterable[Note]) -> Font:
    """A font with only the presets, instruments and samples that the notes need."""
    played: dict[tuple[int, int], _Struck] = {}
    for bank, program, key, velocity in notes:
        played.setdefault((bank, program), set()).add((key, velocity))
    needs: dict[int, _Struck] = {}
    presets: list[Preset] = []
    for preset in font.presets:
        struck = played.get((preset.bank, preset.program), set())
        zones = [zone for zone in preset.zones if zone.target is None or _inside(zone, struck)]
        for zone in zones:
            if zone.target is not None:
                needs.setdefault(zone.target, set()).update(_inside(zone, struck))
        if any(zone.target is not None for zone in zones):
            presets.append(replace(preset, zones=tuple(zones)))
    instruments = {
        index: _reduced(font.instruments[index], struck) for index, struck in sorted(needs.items())
    }
    samples = sorted(
        {
            zone.target
            for instrument in instruments.values()
            for zone in instrument.zones
            if zone.target is not None
        }
    )
    new_sample = {old: new for new, old in enumerate(samples)}
    new_instrument = {old: new for new, old in enumerate(instruments)}
    return replace(
        font,
        samples=tuple(font.samples[index] for index in samples),
        instruments=tuple(
            replace(one, zones=_retargeted(one.zones, new_sample)) for one in instruments.values()
        ),
        presets=tuple(
            replace(one, zones=_retargeted(one.zones, new_instrument)) for one in presets
        ),
    )


def _inside(zone: Zone, struck: _Struck) -> _Struck:
    """The struck keys and velocities that lie in a zone."""
    low, high = zone.keys
    soft, hard = zone.velocities
    return {(key, loud) for key, loud in struck if low <= key <= high and soft <= loud <= hard}


def _reduced(instrument: FontInstrument, struck: _Struck) -> FontInstrument:
    kept = (zone for zone in instrument.zones if zone.target is None or _inside(zone, struck))
    return replace(instrument, zones=tuple(kept))


def _retargeted(zones: tuple[Zone, ...], new: dict[int, int]) -> tuple[Zone, ...]:
    """The zones with the new indices of their targets."""
    return tuple(
        zone if zone.target is None else replace(zone, target=new[zone.target]) for zone in zones
    )
