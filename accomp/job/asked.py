"""What was asked, understood: names become instruments, hands, styles, keys and tempi.

Conventions: everything wrong with the request is collected and reported together, with the place
in the tune file where it stands there, or the option where it was given.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TypeVar

from accomp.errors import InputError, Problem
from accomp.harmony import ALL_MAJOR, ALL_MINOR, Key
from accomp.job.named import instrument_named, style_named
from accomp.job.options import Options
from accomp.neck import (
    Hand,
    Instrument,
    Player,
    Wish,
    find_hand,
    read_repertoire,
    read_weights,
)
from accomp.neck.player import EVERY, FIRST, INVERSIONS
from accomp.rhythm import Style, plain_style
from accomp.time import FASTEST_BPM, SLOWEST_BPM, Meter
from accomp.tune import PlayedBar, Tune, unfold
from accomp.tune.melody import MelodyNote, read_melody

Data = TypeVar("Data")


@dataclass(frozen=True)
class Asked:
    """A request with every name looked up.

    `styles` maps what a bar names, and its meter, to the style it gets; `melody` is in
    `melody_key`.
    """

    player: Player
    wish: Wish
    styles: Mapping[tuple[str | None, Meter], Style]
    keys: tuple[Key, ...]
    tempos: tuple[float, ...]
    choruses: int
    melody: tuple[MelodyNote, ...]
    melody_key: Key
    notices: tuple[str, ...]

    @property
    def instrument(self) -> Instrument:
        """What the player plays."""
        return self.player.instrument


def understand(tune: Tune, options: Options) -> Asked:
    """Look everything up. Raises `InputError` with every problem there is."""
    problems: list[Problem] = []
    notices: list[str] = list(tune.notices)
    instrument = _instrument(tune, options, problems)
    hand = _hand(options, problems)
    choruses = options.choruses or max(2, len(tune.choruses))
    repertoire = _read(options.repertoire, lambda path: read_repertoire(path, instrument), problems)
    weights = _read(options.costs, read_weights, problems)
    styles = _styles(tune, options, choruses, problems, notices)
    keys = _keys(tune, options, problems)
    tempos = _tempos(tune, options, problems)
    melody = _melody(tune, options, problems)
    if problems or instrument is None or hand is None:
        raise InputError(problems)
    player = Player.on(instrument, hand, repertoire, mute=options.mute, weights=weights)
    wish = Wish(
        positions=options.positions,
        closed=options.closed,
        one_shape={"fixed": True, "free": False}[options.plan],
        vocabulary=_vocabulary(tune, options),
        choked=any(style.chokes for style in styles.values()),
    )
    return Asked(
        player=player,
        wish=wish,
        styles=styles,
        keys=keys,
        tempos=tempos,
        choruses=choruses,
        melody=melody,
        melody_key=tune.key,
        notices=tuple(notices),
    )


def _vocabulary(tune: Tune, options: Options) -> str:
    """The shapes that may be taken: by option, else by the tune.

    Else those of the player's own repertoire where they give one, since its teacher has chosen
    them; without one the inversions too.
    """
    asked = options.vocabulary or {None: None, "known": FIRST, "all": EVERY}[options.shapes]
    return asked or tune.vocabulary or (INVERSIONS if options.repertoire is None else FIRST)


def _at(tune: Tune, place: str) -> tuple[str, int, int]:
    """File, line and column of a value in the tune file, by its dotted name."""
    line, column = tune.places.get(place, (0, 0))
    return tune.file, line, column


def _placed(error: InputError, place: tuple[str, int, int]) -> list[Problem]:
    """Problems of a look-up, at the place that named the thing, unless they have their own."""
    file, line, column = place
    return [
        problem if problem.line else replace(problem, file=file, line=line, column=column)
        for problem in error.problems
    ]


def _instrument(tune: Tune, options: Options, problems: list[Problem]) -> Instrument | None:
    try:
        if options.instrument:
            return instrument_named(options.instrument)
        return instrument_named(tune.instrument, Path(tune.file))
    except InputError as error:
        place = ("--instrument", 0, 0) if options.instrument else _at(tune, "instrument")
        problems += _placed(error, place)
        return None


def _hand(options: Options, problems: list[Problem]) -> Hand | None:
    place = "--hand"
    try:
        hand = find_hand(options.hand)
        place = "--reach"
        return hand if options.reach_mm is None else hand.with_reach(options.reach_mm)
    except InputError as error:
        problems += _placed(error, (place, 0, 0))
        return None


def _melody(tune: Tune, options: Options, problems: list[Problem]) -> tuple[MelodyNote, ...]:
    """The melody beside the tune, where it was asked for."""
    if not options.melody:
        return ()
    if tune.melody is None:
        hint = 'Name its file in the tune: melody = "tune-melody.musicxml".'
        message = f"{tune.title!r} has no melody to add."
        problems.append(Problem(message, tune.file, expected="a melody", hint=hint))
        return ()
    try:
        return read_melody(Path(tune.file).parent / tune.melody)
    except InputError as error:
        problems += _placed(error, _at(tune, "melody"))
        return ()


def _read(path: Path | None, read: Callable[[Path], Data], problems: list[Problem]) -> Data | None:
    """A data file of the user's own; None where he gives none."""
    if path is None:
        return None
    try:
        return read(path)
    except InputError as error:
        problems += error.problems
        return None


def _styles(
    tune: Tune,
    options: Options,
    choruses: int,
    problems: list[Problem],
    notices: list[str],
) -> dict[tuple[str | None, Meter], Style]:
    """The style of every (style name, meter) that a played bar has.

    A style named for the whole tune (or a chorus, or by option) is for the tune's own meter; a
    section in another meter that names none gets the plain style of its meter.
    """
    styles: dict[tuple[str | None, Meter], Style] = {}
    for bar in unfold(tune, choruses):
        if (bar.style, bar.meter) in styles:
            continue
        own = tune.sections[bar.section].style
        name, place = bar.style, _style_place(tune, bar)
        if options.style and bar.meter == tune.meter:
            name, place = options.style, ("--style", 0, 0)
        beside = None if place[0] == "--style" else Path(tune.file)
        style = _style(name, beside, bar.meter, place, problems, notices)
        if style is not None and style.meter != bar.meter:
            if own is None and bar.meter != tune.meter:
                style = _style(None, None, bar.meter, place, problems, notices)
            else:
                problems.append(_misfit(style, bar, place))
        if style is not None:
            styles[bar.style, bar.meter] = style
    problems[:] = dict.fromkeys(problems)
    return styles


def _style(
    name: str | None,
    beside: Path | None,
    meter: Meter,
    place: tuple[str, int, int],
    problems: list[Problem],
    notices: list[str],
) -> Style | None:
    """The style of a name, or the plain one of the meter; None after a problem."""
    if name is None:
        style = plain_style(meter)
        notices.append(f"No style is named for {meter}: {style.name!r} is played.")
        return style
    try:
        return style_named(name, beside)
    except InputError as error:
        problems += _placed(error, place)
        return None


def _style_place(tune: Tune, bar: PlayedBar) -> tuple[str, int, int]:
    """Where the tune file names the style of a bar."""
    for name in (f"chorus.{bar.chorus - 1}.style", f"sections.{bar.section}.style", "style"):
        if name in tune.places:
            return _at(tune, name)
    return tune.file, 0, 0


def _misfit(style: Style, bar: PlayedBar, place: tuple[str, int, int]) -> Problem:
    file, line, column = place
    return Problem(
        f"style {style.name!r} is in {style.meter}, and section {bar.section!r} is in {bar.meter}.",
        file,
        line,
        column,
        found=style.name,
        expected=f"a style in {bar.meter}",
        hint=f"Choose a style in {bar.meter}, such as {plain_style(bar.meter).name!r}.",
    )


def _keys(tune: Tune, options: Options, problems: list[Problem]) -> tuple[Key, ...]:
    """The keys asked for; `all` is every key of the tune's mode, in chromatic order."""
    if not options.keys:
        return (tune.key,)
    keys: list[Key] = []
    for name in options.keys:
        names = (ALL_MINOR if tune.key.minor else ALL_MAJOR) if name == "all" else (name,)
        for each in names:
            try:
                key = Key.parse(each)
            except ValueError as error:
                hint = "Give a key as F, Bb, F# or Dm."
                problems.append(Problem(f"{error}.", "--key", found=each, hint=hint))
                continue
            if tune.key.minor and not key.minor and "m" not in each:
                key = replace(key, minor=True)  # "--key D" of a minor tune is D minor
            if key.minor != tune.key.minor or not -7 <= key.fifths <= 7:
                mode = "minor" if tune.key.minor else "major"
                hint = f"Choose a {mode} key."
                message = f"the tune is in {tune.key}, and {each} is no {mode} key to put it in."
                problems.append(Problem(message, "--key", found=each, expected=mode, hint=hint))
                continue
            if key not in keys:
                keys.append(key)
    return tuple(keys)


def _tempos(tune: Tune, options: Options, problems: list[Problem]) -> tuple[float, ...]:
    for tempo in options.tempos:
        if not (math.isfinite(tempo) and SLOWEST_BPM <= tempo <= FASTEST_BPM):
            expected = f"{SLOWEST_BPM:g} to {FASTEST_BPM:g} beats a minute"
            message = f"{tempo:g} is no tempo to play at: expected {expected}."
            problems.append(Problem(message, "--tempo", found=f"{tempo:g}", expected=expected))
    return tuple(dict.fromkeys(options.tempos)) or (tune.tempo,)
