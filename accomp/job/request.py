"""A request: a tune and its options, with every name looked up.

Conventions: all problems of the request are collected and raised together, each with its place in
the tune file or with the option that set it.
"""

from __future__ import annotations

import contextlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

from accomp.errors import InputError, KeyNameError, Problem
from accomp.files.text import counted
from accomp.files.toml import MELODY_ENDING
from accomp.harmony import ALL_MAJOR, ALL_MINOR, Key, enharmonic_key
from accomp.job.length import length_of
from accomp.job.manifest import AskedKind
from accomp.job.named import Lookup, Origin, instrument_named, style_named
from accomp.job.options import Options
from accomp.neck import Instrument, Player, Wish
from accomp.neck.player import EVERY, FIRST, INVERSIONS, VocabularyName
from accomp.rhythm import Style, plain_style
from accomp.time import Meter
from accomp.tune import PlayedBar, Tune, unfold
from accomp.tune.melody import MelodyNote


@dataclass(frozen=True)
class Request:
    """Everything about a job that is known before shapes are planned.

    `tune` and `melody` are in the tune's own key; `keys` and `tempos` (beats a minute) are those to
    make. `styles` has the style to play by the style name of a bar (None without one) and its
    meter.
    """

    tune: Tune
    options: Options
    player: Player
    wish: Wish
    styles: Mapping[tuple[str | None, Meter], Style]
    keys: tuple[Key, ...]
    tempos: tuple[float, ...]
    choruses: int
    melody: tuple[MelodyNote, ...] = ()
    notices: tuple[str, ...] = ()

    def wants(self, kind: AskedKind) -> bool:
        """Whether files of a kind are asked for."""
        return kind in self.options.only


def resolve(tune: Tune, options: Options, player: Player | None = None) -> Request:
    """Look every name up; a `player` takes the place of the one that tune and options describe.

    Raises `InputError` with every problem there is.
    """
    return _TuneLookup(tune=tune, options=options, given=player).request()


@dataclass(frozen=True)
class _TuneLookup(Lookup):
    """Looks up the names in a tune and its options."""

    tune: Tune = field(kw_only=True)
    options: Options = field(kw_only=True)
    given: Player | None = field(default=None, kw_only=True)
    notices: list[str] = field(default_factory=list)

    def request(self) -> Request:
        """The whole request. Raises `InputError` with every problem there is."""
        tune, options = self.tune, self.options
        self.notices.extend(tune.notices)
        player = self.given or self.player(options, self._instrument())
        if player is not None:
            self.notices.extend(player.instrument.notices)
        choruses = options.choruses or max(tune.times or 2, len(tune.choruses))
        tempos = options.tempos or (tune.tempo,)
        self._not_endless(choruses, min(tempos))
        styles = self._styles(choruses)
        keys = self._keys()
        melody = self._melody() if options.melody else None
        if self.problems or player is None:
            raise InputError(dict.fromkeys(self.problems))
        wish = Wish(
            positions=options.positions,
            closed=options.closed,
            one_shape=options.plan == "fixed",
            vocabulary=_vocabulary(tune, options),
            choked=any(style.chokes for style in styles.values()),
        )
        return Request(
            tune=tune,
            options=options,
            player=player,
            wish=wish,
            styles=styles,
            keys=keys,
            tempos=tempos,
            choruses=choruses,
            melody=melody or (),
            notices=tuple(self.notices),
        )

    def _not_endless(self, choruses: int, slowest_bpm: float) -> None:
        """Raise `InputError` when the performance would be far too long."""
        too_much = length_of(self.tune, choruses, slowest_bpm).too_much
        if not too_much:
            return
        asked = self.options.choruses is not None
        origin = Origin(setting="choruses") if asked else self._in_tune("form")
        said = origin.problem(
            f"{self.tune.title!r}, {counted(choruses, 'time')} through, {too_much}.",
            found=str(choruses),
            expected="what can be played in an evening",
            hint="Choose fewer times through (`choruses`), a shorter form or a faster tempo.",
        )
        raise InputError(dict.fromkeys((*self.problems, said)))

    def _in_tune(self, *names: str) -> Origin:
        """The place in the tune file of the first of these dotted names that it has."""
        for name in names:
            if name in self.tune.places:
                return Origin(self.tune.file, *self.tune.places[name])
        return Origin(self.tune.file)

    def _instrument(self) -> Instrument | None:
        name, origin = self.tune.instrument, self._in_tune("instrument")
        if self.options.instrument:
            name, origin = self.options.instrument, Origin(setting="instrument")
        elif self.options.usual_instrument and "instrument" not in self.tune.places:
            name, origin = self.options.usual_instrument, Origin(setting="usual_instrument")
        return self.at(origin, lambda: instrument_named(name, origin.beside))

    def _melody(self) -> tuple[MelodyNote, ...] | None:
        """The melody from the file that the tune names; None after a problem."""
        name = self.tune.melody
        if name is None:
            hint = f'Name its file in the tune: melody = "tune{MELODY_ENDING}".'
            message = f"{self.tune.title!r} has no melody to add."
            found = Problem(message, self.tune.file, expected="a melody", hint=hint)
            self.problems.append(found)
            return None
        path = Path(self.tune.file).parent / name
        # Imported here, since only a melody needs lxml.
        from accomp.intake import read_melody

        return self.at(self._in_tune("melody"), lambda: read_melody(path))

    def _styles(self, choruses: int) -> dict[tuple[str | None, Meter], Style]:
        """The style for every (style name, meter) of the bars played.

        A style named for the whole tune, for a chorus or by option is for the tune's own meter. A
        section in another meter that names no style gets the plain style of its meter.
        """
        styles: dict[tuple[str | None, Meter], Style] = {}
        for bar in unfold(self.tune, choruses):
            if (bar.style, bar.meter) not in styles:
                style = self._style(bar)
                if style is not None:
                    styles[bar.style, bar.meter] = style
        self._look_for_drums(next(iter(styles.values()), None))
        self._unplayed()
        return styles

    def _unplayed(self) -> None:
        """Look up the styles that the tune names and does not use, too, to find their problems."""
        tune = self.tune
        named = {"style": tune.style}
        named |= {f"sections.{name}.style": one.style for name, one in tune.sections.items()}
        named |= {f"chorus.{at}.style": one.style for at, one in enumerate(tune.choruses)}
        for where, name in named.items() if self.options.style is None else ():
            if name:
                origin = self._in_tune(where)
                self.at(origin, partial(style_named, name, origin.beside))

    def _look_for_drums(self, first: Style | None) -> None:
        """Add a problem when the drums play the beginning and the first style has no drums."""
        begin = self.tune.begin
        if begin not in ("roll-off", "pick-up") or first is None:
            return
        if first.drums is None or not first.drums.notes:
            origin = self._in_tune("begin")
            self.problems.append(
                origin.problem(
                    f"begin = {begin!r} is played by the drums, and {first.name!r} has none.",
                    found=begin,
                    expected="a style with drums",
                    hint='Write begin = "vamp", or choose a style with drums.',
                )
            )

    def _style(self, bar: PlayedBar) -> Style | None:
        """The style of a bar; None after a problem."""
        name = bar.style
        origin = self._in_tune(
            f"chorus.{bar.chorus - 1}.style", f"sections.{bar.spot.section}.style", "style"
        )
        if self.options.style and bar.meter == self.tune.meter:
            name, origin = self.options.style, Origin(setting="style")
        if name is None:
            return self._plain(bar.meter)
        named = name
        style = self.at(origin, lambda: style_named(named, origin.beside))
        if style is None or style.meter == bar.meter:
            return style
        if self.tune.sections[bar.spot.section].style is None and bar.meter != self.tune.meter:
            return self._plain(bar.meter)
        self.problems.append(_misfit(style, bar, origin))
        return None

    def _plain(self, meter: Meter) -> Style:
        style = plain_style(meter)
        self.notices.append(f"No style is named for {meter}: {style.name!r} is played.")
        return style

    def _keys(self) -> tuple[Key, ...]:
        """The keys asked for; `all` is every key of the tune's mode, in chromatic order."""
        keys: list[Key] = []
        for name in self.options.keys:
            every = ALL_MINOR if self.tune.key.minor else ALL_MAJOR
            for each in every if name == "all" else (name,):
                key = self._key(each)
                if key is not None and key not in keys:
                    keys.append(key)
        return tuple(keys) if self.options.keys else (self.tune.key,)

    def _key(self, name: str) -> Key | None:
        """A key of the tune's mode; None after a problem."""
        try:
            key = _key_named(name, minor=self.tune.key.minor)
        except KeyNameError as error:
            same = enharmonic_key(name)
            hint = f"Write {same}." if same else _did_you_mean_key(name)
            self.problems.append(Problem(str(error), found=name, hint=hint, setting="keys"))
            return None
        tune = self.tune.key
        if key.minor == tune.minor:
            return key
        mode = "minor" if tune.minor else "major"
        message = f"the tune is in {tune}, and {name} is no {mode} key to put it in."
        same = enharmonic_key(f"{name}m") if tune.minor and "m" not in name else None
        hint = f"Choose a {mode} key." if same is None else f"Write {same}."
        self.problems.append(Problem(message, found=name, expected=mode, hint=hint, setting="keys"))
        return None


def _did_you_mean_key(name: str) -> str:
    """A hint at the key probably meant ("bb": Bb, "h": B), empty without one."""
    letter = {"H": "B"}.get(name[:1].upper(), name[:1].upper())
    for slip in (letter + name[1:], letter + name[1:].lower()):
        with contextlib.suppress(KeyNameError):
            return f"Did you mean '{Key.parse(slip)}'?"
    return ""


def _vocabulary(tune: Tune, options: Options) -> VocabularyName:
    """The vocabulary: from the options, else from the tune.

    Else "first" if the player has a repertoire of their own, since a teacher chose its shapes; else
    the user's usual vocabulary, or "inversions".
    """
    asked = options.vocabulary or {None: None, "known": FIRST, "all": EVERY}[options.shapes]
    usual = options.usual_vocabulary or INVERSIONS
    return asked or tune.vocabulary or (usual if options.repertoire is None else FIRST)


def _key_named(text: str, *, minor: bool) -> Key:
    """The key of a name; for a minor tune "D" is D minor. Raises `KeyNameError`."""
    if minor and "m" not in text:
        with contextlib.suppress(KeyNameError):
            return Key.parse(f"{text}m")
    return Key.parse(text)


def _misfit(style: Style, bar: PlayedBar, origin: Origin) -> Problem:
    return origin.problem(
        f"style {style.name!r} is in {style.meter}, and section {bar.section!r} is in {bar.meter}.",
        found=style.name,
        expected=f"a style in {bar.meter}",
        hint=f"Choose a style in {bar.meter}, such as {plain_style(bar.meter).name!r}.",
    )
