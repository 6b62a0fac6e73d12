"""What a file is, from what stands in it: every shipped file, and files with parts missing."""

from pathlib import Path
from typing import get_args

import pytest

from accomp.files.kinds import Kind, kind_of
from accomp.files.toml import parse_toml, read_toml

ROOT = Path(__file__).parents[2]
SHIPPED = [
    *((path, "tune") for path in sorted((ROOT / "examples").glob("*.toml"))),
    *((path, "style") for path in sorted((ROOT / "styles").glob("*.toml"))),
    *((path, "instrument") for path in sorted((ROOT / "accomp/data/instruments").glob("*.toml"))),
    *((path, "repertoire") for path in sorted((ROOT / "accomp/data/repertoires").glob("*.toml"))),
    *((path, "hand") for path in sorted((ROOT / "accomp/data/hands").glob("*.toml"))),
    (ROOT / "accomp/data/costs.toml", "costs"),
    *((path, "voice") for path in sorted((ROOT / "soundfonts").glob("*.toml"))),
]


@pytest.mark.parametrize(("path", "kind"), SHIPPED, ids=lambda value: getattr(value, "stem", value))
def test_shipped_files_are_known_for_what_they_are(path, kind):
    assert kind_of(read_toml(path)) == kind


def test_there_are_shipped_files_of_each_kind():
    assert {kind for _, kind in SHIPPED} == set(get_args(Kind)) - {"book"}


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ('title = "x"\ntempo = 100\nkey = "F"', "tune"),
        ('[sections]\nA = ""', "tune"),
        ('title = "x"\nmeter = "4/4"\nform = ["A"]', "tune"),
        ('title = "x"\nmeter = "4/4"\ntempo = "fast"', "tune"),
        ('title = "x"\nmeter = "3/4"\ntempo = [90, 120]', "style"),
        ('title = "x"\n[strum]\ncount = "1 2"', "style"),
        ('title = "x"\n[comping]\ncount = "2 4"', "style"),
        ('strings = ["C3"]', "instrument"),
        ('title = "x"\nfrets = 17', "instrument"),
        ('title = "x"\ngreatest = 90', "hand"),
        ("[change]\nshift = 1", "costs"),
        ("[shape]\nstretch = 1", "costs"),
        ('[[shape]]\nchord = "C"', "repertoire"),
        ('[shape]\nchord = "C"\nfrets = "0 0 2 3"', "repertoire"),
        ('title = "x"\nplayers = ["own"]', "book"),
        ('[keys]\nlane = "F"', "book"),
        ('title = "x"\n[[string]]\npitch = 40', "voice"),
        ('title = "x"\n[section]\nA = "| C |"', "tune"),
        ('title = "x"\ntuning = ["C3", "G3"]', "instrument"),
        ('chord = "C"', "repertoire"),
        ('frets = "0 0 2 3"\nmovable = false\nchord = "C"', "repertoire"),
        ('title = "x"\n[family]\nname = "C"', None),
        ('title = "x"\nfamilies = ["C"]', None),
        ('title = "x"', None),
        ("zzz = 1", None),
    ],
)
def test_a_file_with_parts_missing_is_still_known(text, kind):
    assert kind_of(parse_toml(text, "")) == kind
