"""The mixer: how strong the player, the band and the clicks are, and where they stand.

Fonts differ by many decibels in how loud they make one instrument, and place drums far to the
sides; styles differ in who plays. So gains and places come from measuring each tune: the player
stands to one side, and the band a little to the other and not much weaker, so that neither side of
the whole is louder; the clicks stand in the middle, a little softer than the tune.

Conventions: energies are sums of squares, (left, right); gains amplitudes, (left, right). Which
figures are right is common practice and a matter of taste (no source).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from accomp.score.performance import Role, Track
from accomp.write.audio.loudness import hop_energies, lufs_of
from accomp.write.audio.spool import InMemory, Samples, Source, SummedSource

CENTRED_DB = 0.2  # left against right in a full mix
_PLAYER_ASIDE_DB = 5.0  # how far the player stands to their side; the room moves them a little
_NO_SIDE_DB = 2.0  # a player less far aside stays there (some fonts do not obey pan)
_BAND_ASIDE_DB = 0.8  # how far the band stands to the other side
_BAND_UP_DB = 6.0  # the most by which the band is raised where that is not enough
_BAND_FAR_DB = 3.0  # how far the band goes aside before the player has to move in
CLICKS_UNDER_LU = 1.5  # the clicks, under the tune
_CLICKS_MOST_DB = 24.0
# The share of a font's stereo width that a track keeps: drums stand as far apart as one kit does.
_WIDTH_DRUMS, _WIDTH_CLICKS = 0.4, 0.0
_STEP_DB = 0.1
_READ = 131_072

_Array = npt.NDArray[np.float64]


def width(track: Track) -> float:
    """The share of its font's stereo width that a track keeps, 0 to 1."""
    if track.role == Role.CLICK:
        return _WIDTH_CLICKS
    return _WIDTH_DRUMS if track.drums else 1.0


def narrowed(block: Samples, width: float) -> Samples:
    """The block, its sides moved towards the middle."""
    if width == 1.0:
        return block
    middle = block.mean(axis=1, keepdims=True)
    moved: Samples = middle + np.float32(width) * (block - middle)
    return moved


class PannedSource:
    """A source, louder or softer on each side."""

    def __init__(self, source: Source, gains: tuple[float, float]) -> None:
        self._source = source
        self._gains = np.array(gains, np.float32)

    @property
    def frames(self) -> int:
        """Length."""
        return self._source.frames

    def read(self, start: int, count: int) -> Samples:
        """`count` frames from `start` on, silence outside."""
        block = self._source.read(start, count)
        for side, gain in enumerate(self._gains):
            if gain != 1:
                block[:, side] *= gain
        return block


@dataclass(frozen=True, slots=True)
class BusGains:
    """The gains of each bus, and the estimated loudness (LUFS) of all buses with these gains."""

    gains: Mapping[Role, tuple[float, float]]
    about_lufs: float


def set_up(buses: Mapping[Role, Source], sample_rate: int) -> BusGains:
    """The gains for the dry buses of one tune. The room changes all of them alike."""
    player, band, clicks = (
        buses.get(role, _NOBODY) for role in (Role.PLAYER, Role.BAND, Role.CLICK)
    )
    inward, sides = balance(_sides(player), _sides(band))
    # Loudness is measured at half the rate: next to nothing lies above a quarter of the rate.
    tune = HalfRateSource(SummedSource([PannedSource(player, inward), PannedSource(band, sides)]))
    ours, theirs = (
        hop_energies(one, sample_rate // 2) * 2 for one in (tune, HalfRateSource(clicks))
    )
    click = _click_gain(theirs, ours, sample_rate)
    whole = np.zeros(max(len(ours), len(theirs)))
    whole[: len(ours)] += ours
    whole[: len(theirs)] += theirs * click**2
    frames = max(player.frames, band.frames, clicks.frames)
    gains = {Role.PLAYER: inward, Role.BAND: sides, Role.CLICK: (click, click)}
    return BusGains(gains, lufs_of(whole, frames, sample_rate))


def _click_gain(clicks: _Array, tune: _Array, sample_rate: int) -> float:
    """The gain that sets the clicks `CLICKS_UNDER_LU` under the tune; both are given as energies of
    each 100 ms."""
    hop = sample_rate // 10
    ours, theirs = (lufs_of(hops, len(hops) * hop, sample_rate) for hops in (clicks, tune))
    if not np.isfinite(ours) or not np.isfinite(theirs):
        return 1.0
    wanted_db = theirs - CLICKS_UNDER_LU - ours
    return float(10 ** (min(max(wanted_db, -_CLICKS_MOST_DB), _CLICKS_MOST_DB) / 20))


def _sides(source: Source) -> _Array:
    """The energies of a source, left and right."""
    sides = np.zeros(2)
    for start in range(0, source.frames, _READ):
        block = source.read(start, min(_READ, source.frames - start))
        sides += np.einsum("fc,fc->c", block, block, dtype=np.float64)
    return sides


_NOBODY = InMemory(np.zeros((0, 2), np.float32))


class HalfRateSource:
    """A source at half its rate: the mean of each two frames."""

    def __init__(self, source: Source) -> None:
        self._source = source

    @property
    def frames(self) -> int:
        """Length."""
        return self._source.frames // 2

    def read(self, start: int, count: int) -> Samples:
        """`count` frames from `start` on, silence outside."""
        block = self._source.read(2 * start, 2 * count)
        return (block[0::2] + block[1::2]) * np.float32(0.5)


def centred(source: Source) -> Source:
    """The source with both sides equally strong: a kit as its player hears it."""
    sides = _sides(source)
    if not sides.all():
        return source
    left, right = np.sqrt(sides.mean() / sides)
    return PannedSource(source, (float(left), float(right)))


_Gains = tuple[float, float]


def balance(player: _Array, band: _Array) -> tuple[_Gains, _Gains]:
    """Gains for player and band, left and right, that bring the two of them to the middle.

    The player is set `_PLAYER_ASIDE_DB` aside first, then the band is placed by `_ways`. Player and
    band are taken not to correlate. A player without a band stands in the middle.
    """
    if not player.all():
        return (1.0, 1.0), (1.0, 1.0)
    if not band.any():
        left, right = np.sqrt(player.mean() / player)
        return (float(left), float(right)), (1.0, 1.0)
    side = np.sign(player[0] - player[1])  # 1: the player stands left
    stands_db = abs(_apart_db(player))
    nearer_db = stands_db - _PLAYER_ASIDE_DB if stands_db > _NO_SIDE_DB else 0.0
    for further_db, raised_db, aside_db in _ways(stands_db - nearer_db):
        in_db = nearer_db + further_db
        player_db = side * np.array([-0.5, 0.5]) * in_db
        band_db = raised_db + side * np.array([-0.5, 0.5]) * aside_db
        both = player * 10 ** (player_db / 10) + band * 10 ** (band_db / 10)
        if abs(_apart_db(both)) <= CENTRED_DB:
            break
    return _amplitudes(player_db), _amplitudes(band_db)


def _ways(player_db: float) -> Iterator[tuple[float, float, float]]:
    """Ways to place both, smallest changes first: by how many dB the player, who stands `player_db`
    aside, moves in, and the band is raised and moved to the other side.

    First the band goes aside and is raised; where that is not enough it goes further aside, so that
    the player is still heard at their side. Last the player moves in.
    """
    for raised_db in _steps(0.0, _BAND_UP_DB):
        for aside_db in _steps(0.0, _BAND_ASIDE_DB):
            yield 0.0, raised_db, aside_db
    for aside_db in _steps(_BAND_ASIDE_DB, _BAND_FAR_DB):
        yield 0.0, _BAND_UP_DB, aside_db
    for in_db in _steps(0.0, player_db + _STEP_DB):
        yield in_db, _BAND_UP_DB, _BAND_FAR_DB


def _steps(first_db: float, last_db: float) -> Iterator[float]:
    """The levels from the first to the last, `_STEP_DB` apart."""
    for step in range(round((last_db - first_db) / _STEP_DB) + 1):
        yield first_db + step * _STEP_DB


def _apart_db(sides: _Array) -> float:
    """By how many dB the left is stronger than the right."""
    return float(10 * np.log10(sides[0] / sides[1]))


def _amplitudes(both_db: _Array) -> _Gains:
    left, right = 10 ** (both_db / 20)
    return float(left), float(right)
