"""Options are checked where they are written down: nothing that cannot be meant gets further."""

from __future__ import annotations

from dataclasses import fields
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest

from accomp.cli.make import make
from accomp.cli.options import option_name
from accomp.errors import InputError
from accomp.job.options import Options

LISTED = '"midi" or "musicxml" or "audio" or "pdf" or "page"'
KINDS = f"must be {LISTED}, and this is"
CHORUSES = "must be a whole number from 1 to 100, and this is"
TEMPO = "must be a number of beats a minute from 20 to 400, and this is"
REACH = "must be a number of mm above 0, at most 400, and this is"
WRONG = [
    ("only", ("mdi",), f"{KINDS} 'mdi'. Did you mean 'midi'?"),
    (
        "only",
        "midi",
        f"must be a tuple of one or more, each {LISTED}, and this is 'midi'. Write ('",
    ),
    ("only", "mid", f"must be a tuple of one or more, each {LISTED}, and this is 'mid'. Did you"),
    ("only", None, f"must be a tuple of one or more, each {LISTED}, and this is None."),
    ("keys", None, "must be a tuple, each a text in quotes, and this is None."),
    ("only", (), "must be one or more of "),
    ("only", (1,), f"{KINDS} 1."),
    ("paper", "a5", 'must be "a4" or "letter", and this is \'a5\'.'),
    ("paper", ["a4"], 'must be "a4" or "letter", and this is a list.'),
    ("boxes", "over", 'must be "top" or "changes" or "none", and this is \'over\'.'),
    ("parts", ("tabs",), 'must be "score" or "both" or "notation" or "tab" or'),
    (
        "readers",
        ("concert", "B"),
        'must be "concert" or "Bb" or "Eb" or "bass", and this is \'B\'.',
    ),
    ("audio_format", "aiff", 'must be "flac" or "wav" or "ogg" or "mp3", and this is \'aiff\'.'),
    ("plan", "fix", "must be \"fixed\" or \"free\", and this is 'fix'. Did you mean 'fixed'?"),
    ("shapes", "every", 'must be "known" or "all", and this is \'every\'.'),
    ("choruses", -1, f"{CHORUSES} -1."),
    ("choruses", 0, f"{CHORUSES} 0."),
    ("choruses", 1.5, f"{CHORUSES} 1.5."),
    ("choruses", True, f"{CHORUSES} true."),
    ("count_in", -1, "must be a whole number from 0 to 8, and this is -1."),
    ("jobs", 0, "must be a whole number from 1 to 64, and this is 0."),
    ("seed", "x", "must be a whole number, and this is 'x'."),
    ("tempos", (0.0,), f"{TEMPO} 0.0."),
    ("tempos", (float("nan"),), f"{TEMPO} nan."),
    ("tempos", (float("inf"),), f"{TEMPO} inf."),
    ("tempos", 120, "must be a tuple, each a number of beats a minute from 20 to 400"),
    ("keys", "F", "must be a tuple, each a text in quotes, and this is 'F'. Write ('F',)."),
    ("reach_mm", float("nan"), f"{REACH} nan."),
    ("reach_mm", -1.0, f"{REACH} -1.0."),
    ("reach_mm", "95", f"{REACH} '95'. Write it without quotes."),
    ("ladder", (60, 5), "must be a whole number from 10 to 200, and this is 5."),
    ("ladder", (60,) * 100, "must be at most 99 steps, and this has 100."),
    ("ladder", 60, "must be a tuple, each a whole number from 10 to 200"),
    ("keys", ("",), "must be a text in quotes, and this is empty."),
    ("positions", (5,), "must be a text in quotes, and this is 5."),
    ("style", " ", "must be a text in quotes, and this is empty."),
    ("hand", None, "must be a text in quotes, and this is None."),
    ("closed", "yes", "must be true or false, and this is 'yes'."),
    ("pack", 1, "must be true or false, and this is 1."),
    ("soundfont", 5, "must be the path of a file, and this is 5."),
    ("costs", "", "must be the path of a file, and this is ''."),
    # A row of numbers, and names with something beside them, are no tuple of tempi or keys.
    ("tempos", b"x", "must be a tuple, each a number of beats a minute from 20 to 400, and this"),
    ("ladder", b"x", "must be a tuple, each a whole number from 10 to 200, and this"),
    ("keys", {"F": 1}, "must be a tuple, each a text in quotes, and this is a table."),
    # 3 alone would be what it must be.
    ("choruses", Fraction(3), f"{CHORUSES} 3, of type Fraction."),
    ("tempos", (Decimal(120),), f"{TEMPO} 120, of type Decimal."),
    ("keys", (Path("F"),), "must be a text in quotes, and this is F, of type "),
]


@pytest.mark.parametrize(("name", "value", "said"), WRONG, ids=lambda value: str(value)[:30])
def test_what_cannot_be_meant_is_told_by_the_options_name(name: str, value: object, said: str):
    with pytest.raises(InputError) as caught:
        Options(**{name: value})
    (problem,) = caught.value.problems
    assert problem.setting == name
    assert str(problem).startswith(f"{name}: {said}")


def test_a_tuple_is_only_hinted_at_for_what_may_stand_in_it() -> None:
    with pytest.raises(InputError) as caught:
        Options(only=None, parts="tabs", tempos=120, ladder=5)  # type: ignore[arg-type]
    hints = {problem.setting: problem.hint for problem in caught.value.problems}
    assert hints == {
        "only": "", "parts": "Did you mean 'tab'?", "tempos": "Write (120,).",
        "ladder": "The nearest is 10.",
    }  # fmt: skip


def test_everything_wrong_is_told_at_once() -> None:
    with pytest.raises(InputError) as caught:
        Options(only=("mdi", "song"), paper="a5", choruses=-1)
    found = [(problem.setting, problem.found) for problem in caught.value.problems]
    assert found == [("choruses", "-1"), ("only", "mdi"), ("only", "song"), ("paper", "a5")]


def test_lists_and_texts_are_kept_as_tuples_and_paths_once_each() -> None:
    options = Options(
        keys=["F", "Bb", "F"], tempos=[100, 100.0], costs="mine.toml", ladder=[60, 60]
    )
    assert options == Options(
        keys=("F", "Bb"), tempos=(100,), costs=Path("mine.toml"), ladder=(60, 60)
    )


def test_every_option_is_one_of_the_command_line_by_its_name() -> None:
    there = {param.name: [*param.opts, *param.secondary_opts] for param in make.params}
    for field in fields(Options):
        if field.name.startswith("usual_"):  # what the user's own file says
            continue
        for option in option_name(field.name).split("/"):
            assert option in there[field.name]
