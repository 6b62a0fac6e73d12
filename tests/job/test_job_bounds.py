"""Every bound of what can be asked, from both sides, and what is said on the wrong side, in full.

The bounds are our own: common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from jobs import TEXT, small

from accomp.errors import InputError, Problem
from accomp.harmony import Key
from accomp.job.length import Length, length_of
from accomp.job.options import Options
from accomp.job.request import resolve
from accomp.tune import Tune, parse_tune
from accomp.write.formats import BOXES

# option, lowest and highest that it takes, one step, the words of its bounds
NUMBERS = [
    ("choruses", 1, 100, 1, "a whole number from 1 to 100"),
    ("count_in", 0, 8, 1, "a whole number from 0 to 8"),
    ("jobs", 1, 64, 1, "a whole number from 1 to 64"),
    ("ladder", 10, 200, 1, "a whole number from 10 to 200"),
    ("tempos", 20, 400, 0.5, "a number of beats a minute from 20 to 400"),
    ("reach_mm", 0.5, 400, 0.5, "a number of mm above 0, at most 400"),
]
WORDS = {
    "plan": ("fixed", "free"),
    "vocabulary": ("first", "inversions", "all"),
    "usual_vocabulary": ("first", "inversions", "all"),
    "shapes": ("known", "all"),
    "only": ("midi", "musicxml", "audio", "pdf", "page"),
    "audio_format": ("flac", "wav", "ogg", "mp3"),
    "parts": ("score", "both", "notation", "tab", "slash", "bass"),
    "readers": ("concert", "Bb", "Eb", "bass"),
    "paper": ("a4", "letter"),
    "boxes": ("top", "changes", "none"),
    "side": ("left", "centre", "right"),
}
MANY = {"only", "parts", "readers", "ladder", "tempos", "keys", "positions"}


def options(name: str, value: object) -> Options:
    given: dict[str, Any] = {name: (value,) if name in MANY else value}
    return Options(**given)


def problems(name: str, value: object) -> tuple[Problem, ...]:
    with pytest.raises(InputError) as caught:
        options(name, value)
    return caught.value.problems


@pytest.mark.parametrize(("name", "least", "most", "step", "words"), NUMBERS)
def test_a_number_reaches_from_the_least_to_the_most(
    name: str, least: float, most: float, step: float, words: str
) -> None:
    for value in (least, most):
        kept = getattr(options(name, value), name)
        assert kept == ((value,) if name in MANY else value)
    for value in (least - step, most + step):
        (problem,) = problems(name, value)
        assert problem.message == f"must be {words}, and this is {value}."
        assert (problem.setting, problem.found, problem.expected) == (name, str(value), words)


def test_a_word_is_one_of_those_that_there_are() -> None:
    assert WORDS["boxes"] == tuple(BOXES)
    for name, words in WORDS.items():
        if name == "side":
            continue
        for word in words:
            assert getattr(options(name, word), name) == ((word,) if name in MANY else word)
        (problem,) = problems(name, "qqqq")
        expected = " or ".join(f'"{word}"' for word in words)
        assert problem.message == f"must be {expected}, and this is 'qqqq'."
    assert {word for word in ("left", "centre", "center", "right") if _side(word)} >= {"left"}


def _side(word: str) -> bool:
    try:
        return options("side", word).side == word
    except InputError:
        return False


def test_what_is_made_where_nothing_is_said() -> None:
    usual = Options()
    assert usual.only == ("midi", "musicxml", "audio", "pdf")
    assert (usual.keys, usual.tempos, usual.positions, usual.ladder) == ((), (), (), ())
    assert (usual.parts, usual.readers) == (("score",), ("concert",))
    assert (usual.count_in, usual.seed, usual.jobs, usual.choruses) == (1, 0, 1, None)
    assert (usual.hand, usual.plan, usual.paper, usual.boxes) == ("medium", "fixed", "a4", "top")
    assert (usual.audio_format, usual.side, usual.closed) == ("flac", "left", None)
    assert not any((usual.melody, usual.pack, usual.again, usual.replace, usual.mute, usual.mxl))


def test_several_are_kept_once_each_in_their_order_and_the_steps_of_a_ladder_all() -> None:
    assert Options(keys=("F", "Bb", "F", "C", "Bb")).keys == ("F", "Bb", "C")
    assert Options(ladder=(60, 100, 60)).ladder == (60, 100, 60)
    assert Options(ladder=(60,) * 99).ladder == (60,) * 99
    with pytest.raises(InputError) as caught:
        Options(ladder=(60,) * 100, only=(), readers=(), keys=7)  # type: ignore[arg-type]
    said = [(one.setting, one.message, one.hint) for one in caught.value.problems]
    assert said == [
        ("keys", "must be a tuple, each a text in quotes, and this is 7.", ""),
        ("only", 'must be one or more of "midi" or "musicxml" or "audio" or "pdf" or "page", and '
                 "this is empty.", ""),
        ("readers", 'must be one or more of "concert" or "Bb" or "Eb" or "bass", and this is '
                    "empty.", ""),
        ("ladder", "must be at most 99 steps, and this has 100.", ""),
    ]  # fmt: skip
    with pytest.raises(InputError) as caught:
        Options(ladder=(60, 5, 300))
    assert [one.found for one in caught.value.problems] == ["5", "300"]


def test_how_long_a_tune_may_be() -> None:
    """4,000 bars and 150 minutes are played, and no more."""
    assert Length(4000, 150.0).too_much == ""
    assert Length(4001, 1.0).too_much == "has 4,001 bars, and at most 4,000 are played"
    assert Length(1, 150.1).too_much == "lasts 2.5 hours, and at most 2.5 are played"
    assert Length(1, 6000.0).too_much == "lasts 100.0 hours, and at most 2.5 are played"


@pytest.mark.parametrize("choruses", [1, 2, 3, 10])
@pytest.mark.parametrize("road", ["", 'intro = "last 2"\nend = "tag"\n', 'coda = "A"\n'])
def test_the_length_of_a_tune_is_that_of_its_bars(road: str, choruses: int) -> None:
    """Counted out, bar by bar, as it is played."""
    from accomp.tune import unfold

    one = parse_tune(TEXT.replace("[sections]", f"{road}[sections]"), "t.toml")
    bars = list(unfold(one, choruses))
    found = length_of(one, choruses, 160.0)
    assert found.bars == len(bars)
    assert found.minutes == pytest.approx(sum(bar.meter.beats for bar in bars) / 160)


def said(tune: Tune, **asked: Any) -> list[Problem]:
    with pytest.raises(InputError) as caught:
        resolve(tune, Options(**asked))
    return list(caught.value.problems)


@pytest.mark.slow
def test_what_nobody_could_play_is_told_where_it_was_asked_for() -> None:
    long = replace(small(), form=("A",) * 125)  # 500 bars
    (problem,) = said(long, choruses=9, tempos=(400.0,))
    assert problem == Problem(
        "'Small Tune', 9 times through, has 4,500 bars, and at most 4,000 are played.",
        found="9",
        expected="what can be played in an evening",
        hint="Choose fewer times through (`choruses`), a shorter form or a faster tempo.",
        setting="choruses",
    )
    (slow,) = said(long, choruses=8, tempos=(400.0, 100.0))  # 16,000 beats at the slowest
    assert slow.message == (
        "'Small Tune', 8 times through, lasts 2.7 hours, and at most 2.5 are played."
    )
    text = TEXT.replace("[sections]", 'form = ["A"]\n[sections]')
    (own,) = said(replace(parse_tune(text, "long.toml"), form=long.form, times=9))
    assert (own.file, own.line, own.column, own.setting) == ("long.toml", 6, 8, "")
    assert own.message.startswith("'Small Tune', 9 times through, has 4,500 bars")


@pytest.mark.parametrize(
    ("name", "hint"),
    [
        ("bb", "Did you mean 'Bb'?"),
        ("BB", "Did you mean 'Bb'?"),
        ("h", "Did you mean 'B'?"),
        ("H", "Did you mean 'B'?"),
        ("hM", "Did you mean 'Bm'?"),
        ("f#", "Did you mean 'F#'?"),
        ("q", ""),
        ("G#", "Write Ab."),
    ],
)
def test_a_key_that_was_probably_meant(name: str, hint: str) -> None:
    (problem,) = said(small(), keys=(name,))
    assert (problem.hint, problem.found, problem.setting) == (hint, name, "keys")


def test_a_key_is_of_the_tunes_mode() -> None:
    minor = replace(small(), key=Key.parse("Am"))
    assert [str(key) for key in resolve(minor, Options(keys=("D", "Em"))).keys] == ["Dm", "Em"]
    (problem,) = said(small(), keys=("Am",))
    assert problem == Problem(
        "the tune is in C, and Am is no major key to put it in.", found="Am", expected="major",
        hint="Choose a major key.", setting="keys",
    )  # fmt: skip
    (sharp,) = said(minor, keys=("Db",))
    assert (sharp.expected, sharp.hint) == ("minor", "Write C#m.")
    assert [str(key) for key in resolve(small(), Options(keys=("F", "F", "all"))).keys][:3] == [
        "F", "C", "Db",
    ]  # fmt: skip
    assert len(resolve(small(), Options(keys=("all",))).keys) == 12
    assert resolve(small(), Options()).keys == (small().key,)
    wrong = said(small(), keys=("H", "F", "q"))
    assert [one.found for one in wrong] == ["H", "q"]


def test_how_often_and_how_fast_where_nothing_is_said() -> None:
    assert resolve(small(), Options()).choruses == 2
    assert resolve(small(), Options()).tempos == (160.0,)
    assert resolve(small(), Options(choruses=1)).choruses == 1
    assert resolve(replace(small(), times=1), Options()).choruses == 1
    three = parse_tune(TEXT + "[[chorus]]\n" * 3, "t.toml")
    assert resolve(three, Options()).choruses == 3
    assert resolve(three, Options(choruses=2, tempos=(90, 120))).tempos == (90, 120)


@pytest.mark.parametrize(
    ("option", "usual", "shapes", "tune", "repertoire", "taken"),
    [
        (None, None, None, None, False, "inversions"),
        (None, "all", None, None, False, "all"),
        (None, "all", None, "first", False, "first"),
        (None, None, "known", "all", False, "first"),
        (None, None, "all", "first", False, "all"),
        ("inversions", "all", "known", "first", False, "inversions"),
        (None, None, None, None, True, "first"),
        (None, "all", None, None, True, "first"),
        (None, None, None, "all", True, "all"),
    ],
)
def test_whose_word_holds_for_the_shapes_that_are_taken(
    option: str | None, usual: str | None, shapes: str | None, tune: str | None,
    repertoire: bool, taken: str, tmp_path: Path,
) -> None:  # fmt: skip
    path = tmp_path / "mine.toml"
    path.write_text(
        'title = "Mine"\nstrings = ["C3", "G3", "D4", "A4"]\n[[shape]]\nchord = "C"\n'
        'frets = "0 0 2 3"\nmovable = true\n'
    )
    asked = Options(
        vocabulary=option, usual_vocabulary=usual, shapes=shapes,
        repertoire=path if repertoire else None,
    )  # fmt: skip
    one = replace(small(), vocabulary=tune)
    assert resolve(one, asked).wish.vocabulary == taken


def test_whose_word_holds_for_the_instrument(tmp_path: Path) -> None:
    def played(text: str, **asked: Any) -> str:
        return resolve(parse_tune(text, "t.toml"), Options(**asked)).player.instrument.name

    named = TEXT.replace("[sections]", 'instrument = "ukulele"\n[sections]')
    assert played(TEXT) == "tenor-banjo"
    assert played(TEXT, usual_instrument="mandolin") == "mandolin"
    assert played(named, usual_instrument="mandolin") == "ukulele"
    assert played(named, usual_instrument="mandolin", instrument="guitar") == "guitar"


def test_a_style_fits_the_meter_of_its_bars() -> None:
    (problem,) = said(small(), style="waltz")
    assert problem == Problem(
        "style 'waltz' is in 3/4, and section 'A' is in 4/4.", found="waltz",
        expected="a style in 4/4", hint="Choose a style in 4/4, such as 'plain-four-four'.",
        setting="style",
    )  # fmt: skip
    other = TEXT + 'B = { bars = "| F |", meter = "3/4" }\n'
    form = other.replace("[sections]", 'form = ["A", "B"]\n[sections]')
    request = resolve(parse_tune(form, "t.toml"), Options())
    assert {str(meter): style.name for (_, meter), style in request.styles.items()} == {
        "4/4": "four-light-heavy", "3/4": "plain-three-four",
    }  # fmt: skip
    assert request.notices == ("No style is named for 3/4: 'plain-three-four' is played.",)
    by_option = resolve(parse_tune(form, "t.toml"), Options(style="two-beat"))
    assert sorted(style.name for style in by_option.styles.values()) == [
        "plain-three-four", "two-beat",
    ]  # fmt: skip
    wrong = form.replace('meter = "3/4"', 'meter = "3/4", style = "two-beat"')
    (place,) = said(parse_tune(wrong, "t.toml"))
    assert (place.line, place.found, place.expected) == (9, "two-beat", "a style in 3/4")


@pytest.mark.parametrize("begin", ["roll-off", "pick-up", "vamp"])
def test_a_beginning_of_the_drums_needs_some(begin: str, tmp_path: Path) -> None:
    style = 'title = "Mine"\nmeter = "4/4"\ntempo = [60, 200]\n[strum]\ncount = "1 2 3 4"\n'
    (tmp_path / "mine.toml").write_text(style)
    text = TEXT.replace("four-light-heavy", "mine.toml")
    text = text.replace("[sections]", f'begin = "{begin}"\n[sections]')
    one = parse_tune(text, str(tmp_path / "t.toml"))
    if begin == "vamp":
        assert resolve(one, Options()).tune == one
        return
    (problem,) = said(one)
    assert problem.message == f"begin = '{begin}' is played by the drums, and 'mine' has none."
    assert (problem.line, problem.found, problem.expected) == (6, begin, "a style with drums")
    assert problem.hint == 'Write begin = "vamp", or choose a style with drums.'
    resolve(one, Options(style="two-beat"))


def test_a_style_that_is_named_and_not_played_is_looked_for_too() -> None:
    unplayed = TEXT + 'B = { bars = "| F |", style = "none-such" }\n'
    form = unplayed.replace("[sections]", 'form = ["A"]\n[sections]')
    (problem,) = said(parse_tune(form, "t.toml"))
    assert (problem.line, problem.found) == (9, "none-such")
    resolve(parse_tune(form, "t.toml"), Options(style="two-beat"))  # nobody's business then
    chorus = TEXT + '[[chorus]]\n[[chorus]]\nstyle = "none-such"\n'
    (again,) = said(parse_tune(chorus, "t.toml"))
    assert (again.line, again.found) == (10, "none-such")


def test_the_wish_is_as_the_options_have_it() -> None:
    wish = resolve(small(), Options(plan="free", closed=True, positions=("4",))).wish
    assert (wish.one_shape, wish.closed, wish.positions) == (False, True, ("4",))
    assert resolve(small(), Options()).wish.one_shape
    assert resolve(small(), Options(style="choked-four")).wish.choked
    assert not resolve(small(), Options(style="plain-four-four")).wish.choked
    assert resolve(small(), Options(only=("midi",))).options.only == ("midi",)
    assert small().pickup == Fraction(0)


def test_a_file_of_no_kind_is_told_so(tmp_path: Path) -> None:
    from accomp.job.check import problems_in

    path = tmp_path / "odd.toml"
    path.write_text("# nothing\nwhat = 1\n")
    assert problems_in(path) == (
        Problem(
            "this is no tune, style, instrument, repertoire, hand, cost, book, config or voice "
            "file.", str(path), 1, 1,
            expected="a tune has [sections], a style [strum], an instrument `strings`",
            hint="README.md shows each kind of file.",
        ),
    )  # fmt: skip
