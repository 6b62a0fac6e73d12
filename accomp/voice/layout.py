"""Laying a voice's sounds out over banks, keys and velocities.

Banks, all on the voice's program:   variant + 4·(up-stroke) + 8·string
    variant   0 rings, 1 is choked by the fretting hand, 2 is dead
    string    the player's number (1 = first), or 0 for the whole instrument: each key sounds on
              the string that has it at the lowest fret
So banks 0, 1 and 2 alone make a plain instrument, and General MIDI fonts respond to the same
numbers.

A stroke of odd velocity sounds the take nearest to its fret, one of even velocity the next
nearest. A player can so repeat a stroke without repeating the sample: SoundFont 2 has no round
robin.

Conventions: parameters give a release as the time of a fall by 60 dB; a SoundFont gives it as the
time of a fall by 100 dB.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from accomp.voice.parameters import Voice
from accomp.voice.sampling import FretCorrection, Take, nearest
from accomp.voice.soundfont import Font, FontInstrument, Generator, Preset, Sample, Zone, timecents

RING, CHOKE, DEAD = 0, 1, 2
UP, STRING = 4, 8
VARIANTS = ("ring", "choke", "dead")
# FluidSynth scales attenuations as the EMU hardware did for which the format was made: a written
# decibel attenuates by 0.4 dB.
ATTENUATION_READ = 0.4
DEAD_TUNING = 15  # cents per key: a dead stroke hardly has a pitch
LICENCE = "Made from physics by code; public domain (CC0 1.0)"


def voice_bank(variant: int, string: int = 0, *, up: bool = False) -> int:
    """The bank of a variant (0 ring, 1 choke, 2 dead) on a string (1 = first, 0 = any)."""
    return variant + (UP if up else 0) + STRING * string


def lay_out(voice: Voice, takes: Sequence[Take]) -> Font:
    """The font of a voice."""
    samples = tuple(_sample(voice, take) for take in takes)
    instruments: list[FontInstrument] = []
    places: dict[tuple[int, bool, bool, int], int] = {}  # string, up, dead, take -> instrument
    for string in range(len(voice.strings)):
        number = len(voice.strings) - string
        for up in (False, True):
            for take in (0, 1):
                places[string, up, False, take] = len(instruments)
                zones = tuple(_ringing_zones(voice, takes, string, up, take))
                name = f"String {number} {'up' if up else 'down'} {'AB'[take]}"
                instruments.append(FontInstrument(name, (_release_zone(voice), *zones)))
        for take in range(voice.dead.takes):
            places[string, False, True, take] = len(instruments)
            zones = tuple(_dead_zones(voice, takes, string, take))
            instruments.append(FontInstrument(f"String {number} dead {take + 1}", zones))
    presets = tuple(_presets(voice, places))
    return Font(
        name=voice.title,
        samples=samples,
        instruments=tuple(instruments),
        presets=presets,
        author="accomp",
        copyright=LICENCE,
        comment="Physical model of string, bridge, body and plectrum; no recordings.",
    )


def _sample(voice: Voice, take: Take) -> Sample:
    number = len(voice.strings) - take.string
    if take.dead is not None:
        name = f"s{number} dead {take.dead + 1} f{take.force + 1}"
    else:
        name = f"s{number} {take.fret:02d} {'up' if take.up else 'dn'} f{take.force + 1}"
    key = voice.strings[take.string].pitch + take.fret
    return Sample(name, take.data, take.rate_hz, key, round(take.correction_cents))


def _release_zone(voice: Voice) -> Zone:
    """The global zone: the release of a ringing note."""
    release = timecents(voice.layout.ring_ms / 1000.0 * 100.0 / 60.0)
    return Zone(None, settings=((Generator.VOLUME_RELEASE, release),))


def _velocities(voice: Voice, force: int) -> tuple[int, int]:
    levels = voice.plectrum.force
    return (levels[force - 1].up_to + 1 if force else 0), levels[force].up_to


def _ringing_zones(
    voice: Voice, takes: Sequence[Take], string: int, up: bool, choice: int
) -> Iterator[Zone]:
    """The zones of one string, one for each fret and level of force. `choice` is 0 for the nearest
    sampled fret, 1 for the next nearest; attenuation and fine tuning adapt the sample to the fret.
    Keys beyond the neck belong to its first or last zone.
    """
    pitch, frets = voice.strings[string].pitch, voice.neck.frets
    takes_by_fret = {
        (take.fret, take.force): (index, take, {fit.fret: fit for fit in take.fits})
        for index, take in enumerate(takes)
        if (take.string, take.up, take.dead) == (string, up, None)
    }
    for fret in range(frets + 1):
        keys = (pitch + fret if fret else 0, pitch + fret if fret < frets else 127)
        for force in range(len(voice.plectrum.force)):
            index, take, fits = takes_by_fret[nearest(voice, fret)[choice], force]
            settings = _settings(take, fits[fret])
            yield Zone(index, keys, _velocities(voice, force), settings)


def _settings(take: Take, fit: FretCorrection) -> tuple[tuple[int, int], ...]:
    """A correction as generators; fine tuning includes the rounding error of the sample's own."""
    softer = round(fit.softer_db * 10.0 / ATTENUATION_READ)
    rounded = take.correction_cents - round(take.correction_cents)
    sharper = round(fit.sharper_cents + rounded)
    settings = ((Generator.ATTENUATION, softer), (Generator.FINE_TUNE, sharper))
    return tuple((name, amount) for name, amount in settings if amount)


def _dead_zones(voice: Voice, takes: Sequence[Take], string: int, choice: int) -> Iterator[Zone]:
    for index, take in enumerate(takes):
        if take.string == string and take.dead == choice:
            tuning = ((Generator.SCALE_TUNING, DEAD_TUNING),)
            yield Zone(index, velocities=_velocities(voice, take.force), settings=tuning)


def _presets(voice: Voice, places: dict[tuple[int, bool, bool, int], int]) -> Iterator[Preset]:
    layout = voice.layout
    choke_change = timecents(layout.choke_ms / 1000.0) - timecents(layout.ring_ms / 1000.0)
    regions = _regions(voice)
    for number in range(len(voice.strings) + 1):
        index = len(voice.strings) - number
        parts = regions if number == 0 else ((index, 0, 127),)
        for up in (False, True):
            for variant, words in enumerate(VARIANTS):
                settings = ((Generator.VOLUME_RELEASE, choke_change),) if variant == CHOKE else ()
                dead = variant == DEAD
                count = voice.dead.takes if dead else 2
                zones = tuple(
                    Zone(
                        places[string, up and not dead, dead, (velocity + 1) % count],
                        (first, last),
                        (velocity, velocity),
                        settings,
                    )
                    for string, first, last in parts
                    for velocity in range(1, 128)
                )
                bank = voice_bank(variant, number, up=up)
                name = f"{words} string {number}" if number else f"{voice.title[:11]} {words[:4]}"
                yield Preset(f"{name}{' up' if up else ''}", bank, layout.program, zones)


def _regions(voice: Voice) -> tuple[tuple[int, int, int], ...]:
    """String, lowest key and highest key of each region of the whole instrument (string 0)."""
    order = sorted(range(len(voice.strings)), key=lambda index: voice.strings[index].pitch)
    starts = [voice.strings[index].pitch for index in order]
    starts[0] = 0
    ends = [*(start - 1 for start in starts[1:]), 127]
    return tuple(zip(order, starts, ends, strict=True))
