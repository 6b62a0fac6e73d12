"""The shipped styles: each whole, no two alike, and everything the engine can do used by one."""

from fractions import Fraction
from itertools import combinations

import pytest

from accomp.rhythm import (
    FORCES,
    BandPattern,
    Pattern,
    Style,
    describe_style,
    find_style,
    style_names,
)
from accomp.rhythm.bass import ROLES
from accomp.rhythm.comping import STRIKES
from accomp.rhythm.passage import Ending
from accomp.rhythm.stroke import StrokeDirection, StrokeSound, Technique
from accomp.time import METERS, Span

STYLES = {name: find_style(name) for name in style_names()}
PLAIN = {name for name in STYLES if name.startswith("plain-")}
TRADE = [style for name, style in STYLES.items() if name not in PLAIN]

# The names that a player asks for (common practice, no source).
WANTED = """
    flat-four four-light-heavy choked-four two-beat charleston shuffle ragtime stomp slow-drag
    tremolo-ballad quickstep march march-six-eight waltz jazz-waltz jig slip-jig reel hornpipe polka
    tango rumba bolero beguine bossa five-four slow-twelve-eight three-two-hornpipe
""".split()


def test_there_are_enough_and_the_usual_names_are_there() -> None:
    assert len(TRADE) >= 24
    assert set(WANTED) <= set(STYLES)
    assert {str(style.meter) for style in TRADE} == set(METERS)
    assert len({style.title for style in STYLES.values()}) == len(STYLES)


@pytest.mark.parametrize("name", STYLES)
def test_each_says_what_it_is(name: str) -> None:
    style = STYLES[name]
    assert style.title
    assert style.mood
    assert style.right_hand.endswith(".")
    assert style.right_hand.count(".") == 1, "one sentence"
    assert style.tempo[0] * 1.2 < style.tempo[1]
    assert style.bass is not None
    assert style.drums is not None
    # No numbered or lettered variations: a name is words.
    assert all(len(word) > 1 and word.isalpha() for word in name.split("-"))


def places(style: Style) -> object:
    bar = style.meter.bar
    return frozenset(stroke.start % bar for stroke in style.strum.strokes), style.strum.length


def strings(style: Style) -> object:
    return tuple(stroke.strings for stroke in style.strum.strokes)


def articulation(style: Style) -> object:
    return tuple((stroke.sound, stroke.technique) for stroke in style.strum.strokes)


def feel(style: Style) -> object:
    return style.swing, style.swing_by_tempo, style.swing_pair


def bass(style: Style) -> object:
    return style.bass


def drums(style: Style) -> object:
    return style.drums


@pytest.mark.parametrize("meter", METERS)
def test_two_styles_of_one_meter_differ_in_two_things_at_least(meter: str) -> None:
    same = [style for style in STYLES.values() if str(style.meter) == meter]
    for one, other in combinations(same, 2):
        features = (places, strings, articulation, feel, bass, drums)
        differ = [each.__name__ for each in features if each(one) != each(other)]
        assert len(differ) >= 2, (one.name, other.name, differ)


def strokes() -> list[object]:
    return [stroke for style in TRADE for strum in style.strums for stroke in strum.strokes]


def used(attribute: str) -> set[object]:
    return {getattr(stroke, attribute) for stroke in strokes()}


def test_every_property_of_a_stroke_is_used() -> None:
    assert used("direction") == set(StrokeDirection)
    assert used("force") == set(FORCES)
    assert used("sound") == set(StrokeSound)
    assert used("technique") == set(Technique)
    kinds = {str(choice).rstrip("0123456789") for choice in used("strings")}
    assert kinds == {"all", "low", "high", "string", "inner", "outer"}
    tremolos = {stroke.value is None for stroke in strokes() if stroke.technique == "tremolo"}
    assert tremolos == {True, False}, "measured and unmeasured"


def uneven(pattern: Pattern, style: Style) -> bool:
    return pattern.length % style.meter.bar != 0


def test_every_property_of_a_style_is_used() -> None:
    passages = [passage for style in TRADE for passage in style.passages]
    endings = [style.ending for style in TRADE]
    assert any(style.swing_by_tempo for style in TRADE)
    assert any(style.swing > 1 for style in TRADE)
    assert len({style.swing_pair for style in TRADE}) > 1
    assert any(style.spread != 1 for style in TRADE)
    assert any(style.taper != 1 for style in TRADE)
    assert any(style.jitter_ms for style in TRADE)
    assert any(style.jitter_force for style in TRADE)
    assert any(style.lead_in for style in TRADE)
    assert any(style.strum.length > style.meter.bar for style in TRADE)
    assert any(uneven(strum, style) for style in TRADE for strum in style.strums)
    assert {passage.name for passage in passages} == {"answer", "build", "break"}
    assert any(passage.phrase != 8 for passage in passages)
    assert any(passage.since > 2 for passage in passages)
    assert any(passage.choruses for passage in passages)
    assert any(passage.last for passage in passages)
    assert any(passage.louder for passage in passages)
    assert any(passage.over for passage in passages)
    assert any(ending.ritard for ending in endings)
    assert any(ending.tag for ending in endings)
    assert all(style.ending != Ending() for style in TRADE)
    tremolo = {s.technique for e in endings if e.strum for s in e.strum.strokes}
    assert "tremolo" in tremolo


def test_every_word_of_the_band_is_used() -> None:
    basses = [style.bass for style in TRADE if style.bass]
    assert {note.what for part in basses for note in part.notes} == set(ROLES)
    comping = [style.comping for style in TRADE if style.comping]
    assert {note.what for part in comping for note in part.notes} == set(STRIKES)
    assert {note.sound for part in basses + comping for note in part.notes} == {"long", "short"}
    assert len({part.player for part in basses}) > 1
    assert len({part.player for part in comping}) > 2
    assert any(ending.bass and ending.bass.free for ending in (style.ending for style in TRADE))


@pytest.mark.parametrize("name", STYLES)
def test_it_can_be_shown(name: str) -> None:
    lines = describe_style(STYLES[name])
    assert STYLES[name].title in lines[0]
    assert "?" not in "".join(lines), "a place without a word"
    assert all(line == line.rstrip() for line in lines)


@pytest.mark.parametrize("style", TRADE, ids=lambda style: style.name)
def test_what_lies_over_a_pattern_takes_nothing_from_it(style: Style) -> None:
    for bar in range(16):
        now = style.playing(bar, section_bars=16)
        over = [p for p in style.passages if p.over and p.drums and p.holds(bar, 1, 1, 16)]
        if not over:
            continue
        assert style.drums is not None
        assert now.drums is not None

        def heard(pattern: BandPattern, turn: Fraction) -> set[tuple[Fraction, str]]:
            inside = Span(turn, turn + style.meter.bar)
            return {(span.start - turn, note.what) for span, note in pattern.during(inside)}

        own = heard(style.drums, bar * style.meter.bar)
        added = heard(over[0].drums, Fraction(0))
        assert heard(*now.drums) == own | added
