"""Merging: the kit and the bass replace those of a General MIDI font.

The modelled sounds are first a font of their own: the kit's samples in its order, and the bass as
an instrument. All other sounds of the General MIDI font stay unchanged. Conventions: drum sets are
programs of bank 128. Each key of a drum set keeps its panning.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from accomp.voice.kit.bass import BassRecording
from accomp.voice.kit.parameters import Kit, KitSound
from accomp.voice.kit.sounds import LayeredSound
from accomp.voice.soundfont import (
    DRUM_BANK,
    Font,
    FontInstrument,
    Generator,
    Preset,
    Sample,
    Zone,
    timecents,
)

MODELLED = ", drums and bass modelled"  # appended to the font's own name
BASS = 32  # General MIDI's acoustic bass, counted from 0
_RINGS_S = 60.0  # release time: drums ring on after note-off
_BASS_RELEASE_S = 0.25  # release time: a finger damps the string


def modelled_font(sounds: Sequence[LayeredSound], bass: Sequence[BassRecording]) -> Font:
    """A font of the drums and the bass alone; only the bass has a preset."""
    samples = [sample for each in sounds for sample in _recordings(each)]
    instrument = _bass(bass, samples)
    preset = Preset(instrument.name, 0, BASS, (Zone(0),))
    return Font("Modelled kit and bass", tuple(samples), (instrument,), (preset,))


def merged(font: Font, kit: Kit, modelled: Font) -> Font:
    """`font` with its drums and bass replaced by those of `modelled` (from `modelled_font`)."""
    first_new = len(font.samples)
    samples, instruments = font.samples + modelled.samples, list(font.instruments)
    zones: dict[int, dict[int, list[Zone]]] = {}  # by set and key
    for number, struck in enumerate(kit.sounds):
        first = first_new + number * len(kit.layers)
        for key, apart in zip(struck.keys, struck.apart, strict=True):
            for drum_set in struck.sets:
                made = _layers(kit, struck, first, key, apart)
                zones.setdefault(drum_set, {}).setdefault(key, []).extend(made)
    presets = [preset for preset in font.presets if (preset.bank, preset.program) != (0, BASS)]
    for place, preset in enumerate(presets):
        own = zones.get(preset.program) if preset.bank == DRUM_BANK else None
        if own:
            presets[place] = _with_zones(preset, instruments, own)
    (bass,) = modelled.instruments
    presets.append(Preset(bass.name, 0, BASS, (Zone(len(instruments)),)))
    moved = (
        replace(zone, target=None if zone.target is None else first_new + zone.target)
        for zone in bass.zones
    )
    instruments.append(replace(bass, zones=tuple(moved)))
    return replace(
        font,
        name=font.name + MODELLED,
        samples=samples,
        instruments=tuple(instruments),
        presets=tuple(presets),
        comment="Drums and upright bass: physical models, no recordings, public domain (CC0 1.0).",
    )


def _recordings(each: LayeredSound) -> list[Sample]:
    struck = each.struck
    return [
        Sample(f"{struck.name[:16]} v{number}", data, struck.rate_hz, struck.keys[0])
        for number, data in enumerate(each.layers, 1)
    ]


def _layers(kit: Kit, struck: KitSound, first: int, key: int, apart: int) -> list[Zone]:
    """The zones of one key, from soft to hard."""
    made = []
    softest = 0
    for number, (up_to, _) in enumerate(kit.layers):
        settings = [
            (Generator.VOLUME_RELEASE, timecents(_RINGS_S)),
            (Generator.ROOT_KEY, key - apart),
        ]
        if struck.cut:
            settings.append((Generator.EXCLUSIVE_CLASS, struck.cut))
        made.append(Zone(first + number, (key, key), (softest, up_to), tuple(settings)))
        softest = up_to + 1
    return made


def _with_zones(
    preset: Preset, instruments: list[FontInstrument], own: dict[int, list[Zone]]
) -> Preset:
    """The drum set with the zones of `own` in place of those for the same keys. Copies of changed
    instruments are appended to `instruments`.
    """
    panning: dict[int, int] = {}  # by key
    new_zones = []
    for zone in preset.zones:
        if zone.target is None:
            new_zones.append(zone)
            continue
        old = instruments[zone.target]
        kept = []
        for part in old.zones:
            if part.target is not None and part.keys[0] == part.keys[1] and part.keys[0] in own:
                panning.setdefault(part.keys[0], dict(part.settings).get(Generator.PAN, 0))
            else:
                kept.append(part)
        if any(part.target is not None for part in kept):
            instruments.append(replace(old, zones=tuple(kept)))
            new_zones.append(replace(zone, target=len(instruments) - 1))
    panned = [
        replace(zone, settings=((Generator.PAN, panning.get(key, 0)), *zone.settings))
        for key, zones in sorted(own.items())
        for zone in zones
    ]
    instruments.append(FontInstrument("Modelled kit", tuple(panned)))
    return replace(preset, zones=(*new_zones, Zone(len(instruments) - 1)))


def _bass(notes: Sequence[BassRecording], samples: list[Sample]) -> FontInstrument:
    """The bass as an instrument; its samples are appended to `samples`."""
    released = Zone(None, settings=((Generator.VOLUME_RELEASE, timecents(_BASS_RELEASE_S)),))
    zones = [released]
    for note in notes:
        zones.append(Zone(len(samples), note.keys, note.velocities))
        name = f"Bass {note.key} v{note.velocities[1]}"
        cents = round(note.correction_cents)
        samples.append(Sample(name, note.data, note.rate_hz, note.key, cents))
    return FontInstrument("Upright bass", tuple(zones))
