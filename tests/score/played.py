"""Small tunes arranged and performed from text, with shapes chosen by the test."""

from __future__ import annotations

from fractions import Fraction

from accomp.neck import Plan, Shape, find_hand, find_instrument, playable_shapes
from accomp.rhythm import BandNote, BandPattern, Pattern, Stroke, Style
from accomp.score.arrange import arrange
from accomp.score.arrangement import Arrangement
from accomp.score.perform import perform
from accomp.score.performance import Note, Performance
from accomp.score.planning import tune_chords
from accomp.time import Meter, Span
from accomp.tune import Tune, parse_tune

BANJO = find_instrument("tenor-banjo")


def tune(bars: str, meter: str = "4/4", head: str = "", key: str = "C", tempo: int = 120) -> Tune:
    return parse_tune(
        f'title = "Test"\nkey = "{key}"\nmeter = "{meter}"\ntempo = {tempo}\n{head}\n'
        f'[sections]\nA = """\n{bars}\n"""\n',
        "test.toml",
    )


def pattern(length: Fraction, *strokes: tuple[str, str, str, str]) -> Pattern:
    """Strokes (start, sound, direction, strings) over `length`, each to the next one's start."""
    starts = [Fraction(stroke[0]) for stroke in strokes] + [length]
    return Pattern(
        length,
        tuple(
            Stroke(Span(start, end), direction=direction, strings=strings, sound=sound)
            for (_, sound, direction, strings), start, end in zip(
                strokes, starts, starts[1:], strict=False
            )
        ),
    )


def style(strum: Pattern, meter: str = "4/4", **more: object) -> Style:
    fields = {
        "name": "test",
        "title": "Test",
        "meter": Meter.parse(meter),
        "tempo": (60.0, 200.0),
        "strum": strum,
        "bass": None,
        "drums": None,
    }
    return Style(**{**fields, **more})


FLAT = pattern(Fraction(1), *((f"{n}/4", "ring", "down", "all") for n in range(4)))
BASS = BandPattern(Fraction(1), (BandNote(Fraction(0), "root"), BandNote(Fraction(1, 2), "fifth")))


def arranged(tune: Tune, style: Style, *shapes: str, choruses: int = 1) -> Arrangement:
    """The tune on tenor banjo with the given shapes ("0 2 3 3"), one a chord change."""
    chords = tune_chords(tune)
    plan = Plan("test", tuple(map(_shape, chords.chords, shapes)), 0.0)
    names = {(section.style or tune.style, section.meter) for section in tune.sections.values()}
    return arrange(tune, chords, [plan] * choruses, dict.fromkeys(names, style), BANJO)


def _shape(chord: object, frets: str) -> Shape:
    hand = find_hand("large").with_reach(120)
    found = [s for s in playable_shapes(chord, BANJO, hand, mute=True) if str(s) == frets]
    assert found, f"{frets} is no shape of {chord}"
    return found[0]


def performed(arrangement: Arrangement, count_in: int = 0) -> Performance:
    return perform(arrangement, count_in=count_in)


def player(performance: Performance) -> tuple[Note, ...]:
    return next(track.notes for track in performance.tracks if track.role == "player")
