"""Parameter files: what is right is read, what is wrong is reported with its place, all at once."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from voice_texts import changed, parameters

from accomp.errors import InputError
from accomp.files.data import folders
from accomp.files.toml import parse_toml
from accomp.voice import sampling, voice_names
from accomp.voice.parameters import Voice
from accomp.voice.reader import read_voice, voice_of
from accomp.voice.starts import Start


@pytest.mark.parametrize("name", voice_names())
def test_every_shipped_voice_is_read(name: str) -> None:
    path = next(folder / f"{name}.toml" for folder in folders("soundfonts"))
    voice = read_voice(path)
    assert voice.name == name
    assert len(voice.plectrum.force) >= 4
    for string in voice.strings:
        # A steel string breaks near 2.5 GPa, nylon near 0.5 (from memory).
        stress = string.tension_n(voice.neck.scale_mm / 1e3) / (
            3.1416 / 4 * (string.core_mm / 1e3) ** 2
        )
        assert stress < (2.5e9 if string.young_gpa > 20 else 0.5e9), string


def test_values_have_their_places(banjo: Voice) -> None:
    assert [string.pitch for string in banjo.strings] == [48, 55, 62, 69]
    assert banjo.decay.at(48) == pytest.approx(1.1)
    assert banjo.decay.at(81) == pytest.approx(0.54)
    assert banjo.decay.at(64.5) == pytest.approx((1.1 * 0.54) ** 0.5)


LATER = set(
    "side_loss lean arc_deg spread_db knock_after_ms shortest_ms longest_ms soonest_ms latest_ms "
    "crest_db brighter".split()
)


def test_a_file_of_an_earlier_model_is_still_read(banjo: Voice) -> None:
    """Without air in the pot, rim, lean, the arc of the hand and what takes are chosen by."""
    tables = re.split(r"(?m)^(?=\[)", parameters())
    kept = [table for table in tables if not table.startswith(("[head.pot]", "[[head.rim]]"))]
    assert len(kept) < len(tables) - 1
    lines = [line for line in "".join(kept).split("\n") if line.split(" ")[0] not in LATER]
    voice = voice_of(parse_toml("\n".join(lines), "mine.toml"), "mine")
    assert voice.head is not None
    assert voice.head.pot is None
    assert voice.head.rim == ()
    assert voice.plectrum.down.arc_deg == voice.plectrum.up.arc_deg == 0.0
    assert (voice.neck.side_loss, voice.neck.lean) == (1.0, 0.0)
    assert voice.plectrum.knock_after_ms == voice.plectrum.spread_db == 0.0
    assert voice.strings == banjo.strings
    # Every take is early, late and even enough.
    start = Start(attacks_s=(0.0005, 0.5), peaks_s=(0.0, 5.0), crest_db=90.0, centroid_hz=800.0)
    assert sampling._distance(start, voice.plectrum) == 0.0
    assert sampling._distance(start, banjo.plectrum) > 1.0


def _problems(text: str) -> list[tuple[int, str]]:
    with pytest.raises(InputError) as caught:
        voice_of(parse_toml(text, "voice.toml"), "voice")
    return [(problem.line, problem.message) for problem in caught.value.problems]


def _line(text: str, start: str) -> int:
    return next(n for n, line in enumerate(text.split("\n"), 1) if line.startswith(start))


@pytest.mark.parametrize(
    ("key", "value", "message"),
    [
        ("scale_mm", "-3", "'scale_mm' must be a number above 0, and this is -3"),
        ("scale_mm", '"long"', "above 0, and this is 'long'"),
        ("scale_mm", "nan", "above 0, and this is nan"),
        ("frets", "17.5", "'frets' must be a whole number above 0, and this is 17.5"),
        ("apart", "-1e-4", "'apart' must be a number of 0 or more, and this is -0.0001"),
        ("program", "true", "'program' must be a whole number from 0 to 127, and this is true"),
        ("roots", '["a"]', "each of 'roots' must be a whole number of 0 or more"),
        ("roots", "[5, 2]", "'roots' must be rising frets of the neck, up to 19, and this is 5, 2"),
        ("roots", "[0, 25]", "up to 19, and this is 0, 25"),
        ("program", "128", "from 0 to 127, and this is 128"),
        ("window", "100000", "'window' must be a power of two, and this is 100000"),
        ("up_to", "127", "rise to velocity 127"),
    ],
)
def test_a_wrong_value_is_named_with_its_line(key: str, value: str, message: str) -> None:
    text = changed(parameters(), **{key: value})
    problems = _problems(text)
    assert len(problems) == 1
    line, words = problems[0]
    assert message in words
    if key != "up_to":
        assert line == _line(text, key)


def test_all_problems_come_together() -> None:
    text = changed(parameters(), scale_mm="0", loss='"much"').replace("[decay]", "[decays]")
    text = text.replace("young_gpa", "young", 1)
    words = " ".join(message for _, message in _problems(text))
    for part in (
        "scale_mm",
        "loss",
        "'decays'",
        "[decay] is missing",
        "'young'",
        "'young_gpa' is missing in [[string]]",
    ):
        assert part in words


def test_a_file_of_nonsense_is_refused(tmp_path: Path) -> None:
    assert len(_problems('title = ""\nstring = 5\nhead = 3\n')) > 5
    path = tmp_path / "x.toml"
    with pytest.raises(InputError, match="no such file"):
        read_voice(path)


def test_a_voice_has_one_body() -> None:
    def wrong(text: str) -> tuple[str, str, str]:
        with pytest.raises(InputError) as caught:
            voice_of(parse_toml(text, "voice.toml"), "voice")
        (one,) = [one for one in caught.value.problems if one.message.startswith("a voice has")]
        return one.found, one.expected, one.hint

    message = "[head] or [box]"
    assert wrong('title = "T"\n') == ("", message, "Add one of them.")
    both = 'title = "T"\n[head]\nloss = 1\n[box]\nloss = 1\n'
    assert wrong(both) == ("[head] and [box]", message, "Leave one of them.")


@pytest.mark.parametrize(
    ("key", "value", "good"),
    [
        ("scale_mm", "0", False), ("scale_mm", "0.1", True), ("noise_n", "0", True),
        ("noise_n", "-1", False), ("side_mm", "-3", True), ("end_db", "-90", True),
        ("program", "0", True), ("program", "127", True), ("window", "131072", True),
        ("window", "0", False), ("frets", "0", False),
    ],
)  # fmt: skip
def test_what_may_be_zero_or_less(key: str, value: str, good: bool) -> None:
    text = changed(parameters(), **{key: value})
    if good:
        assert voice_of(parse_toml(text, "voice.toml"), "voice").name == "voice"
    else:
        assert _problems(text)


def test_levels_roots_and_windows_make_sense_together() -> None:
    def hints(text: str) -> list[tuple[str, str, str]]:
        with pytest.raises(InputError) as caught:
            voice_of(parse_toml(text, "voice.toml"), "voice")
        return [(one.found, one.expected, one.hint) for one in caught.value.problems]

    window = changed(parameters(), window="100000")
    assert hints(window)[0][2] == "The nearest below is 65536."
    roots = hints(changed(parameters(), roots="[0, 2, 2]"))
    assert roots[0][1:] == (
        "rising frets of the neck, up to 19", "Put them in order, each once.",
    )  # fmt: skip
    levels = hints(changed(parameters(), up_to="126"))
    assert levels[0][1:] == (
        "rising `up_to`, the last 127", "Put the levels in order, up_to = 127 last.",
    )  # fmt: skip
    last = parameters()
    at = last.rindex("up_to = 127")
    assert hints(last[:at] + "up_to = 126" + last[at + 11 :])[0][1].endswith("the last 127")
    edge = changed(parameters(), roots="[0, 19]")
    assert voice_of(parse_toml(edge, "voice.toml"), "voice").layout.roots == (0, 19)
