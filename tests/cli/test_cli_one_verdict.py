"""`check` and `make` have one verdict on a tune and on what it names, over all bad inputs.

The inputs are those of the tables of other tests; the fuzzer compares the two over invented ones.
"""

import pytest
from test_cli_bad_tunes import BAD as TUNES
from test_cli_bad_tunes import bad

from accomp.cli.saying import printable

HEAD = 'title = "Kettle Lane"\nkey = "C"\nmeter = "4/4"\ntempo = 120\n'
BARS = '[sections]\nA = "| C | G7 |"\n'
UNPLAYED = 'form = ["A"]\n[sections]\nA = "| C |"\nB = { bars = "| G7 |", style = "nothing" }\n'
MORE = {
    "nothing sounds": HEAD + '[sections]\nA = "| N.C. | N.C. |"\n',
    "no such position": HEAD + '[[chorus]]\nposition = "nowhere"\n' + BARS,
    "no such key": HEAD.replace('"C"', '"H"') + BARS,
    "a style that nobody plays": HEAD + UNPLAYED,
    "a style of the second chorus": HEAD + '[[chorus]]\n[[chorus]]\nstyle = "nothing"\n' + BARS,
    "a style file that is not there": HEAD + 'style = "absent.toml"\n' + BARS,
    "an instrument file elsewhere": HEAD + 'instrument = "../x.toml"\n' + BARS,
    "a shape of another chord": HEAD + '[shapes]\n"C" = "1 1 1 1"\n' + BARS,
    "a note that is not on top": HEAD + '[top]\n1 = "F#"\n' + BARS,
    "a melody that is not there": HEAD + 'melody = "absent.musicxml"\n' + BARS,
    "very many bars": HEAD + '[sections]\nA = "' + "| C " * 2001 + '|"\n',
    "a number of very many digits": HEAD.replace("120", "9" * 5000) + BARS,
    "no number": HEAD.replace("120", "nan") + BARS,
    "not TOML": HEAD + "=",
    "empty": "",
}
# What the option --melody asks for is looked at only where it is given.
OPTIONS = {"a melody that is not there": ["--melody"]}
TEXTS = {name: bad(name)[0] for name in TUNES} | MORE


@pytest.mark.parametrize("name", TEXTS)
def test_a_bad_tune(name, accomp, tune, tmp_path):
    path = tune(TEXTS[name])
    checked = accomp("check", path)
    made = accomp("make", path, "--only", "midi", "--out", "o", *OPTIONS.get(name, ()))
    assert (checked.code, made.code) == (1, 1), checked.err + made.err
    assert set(made.err.splitlines()) <= set(checked.err.splitlines())
    assert not (tmp_path / "o").exists()
    assert checked.err == printable(checked.err)


@pytest.mark.parametrize(
    ("kind", "text"),
    [
        ("style", 'title = "A"\nmeter = "4/4"\n[strum]\ncount = "1 7"\n'),
        ("style", 'title = "A"\nmeter = "3/4"\ntempo = [90, 180]\n[strum]\ncount = "1 2 3"\n'),
        ("instrument", 'title = "A"\nstrings = ["C3", "H3"]\nfrets = 17\nscale = 533\n'),
        ("instrument", 'title = "A"\nstrings = ["C3"]\nfrets = 3\nscale = 533\n'),
        ("instrument", 'title = "A"\nstrings = ["C3", "G3", "D4", "A4"]\nfrets = 1e9\nscale = 1\n'),
    ],
)
def test_a_tune_that_names_a_bad_file(kind, text, accomp, tune, tmp_path):
    (tmp_path / "own.toml").write_text(text)
    path = tune(HEAD + f'{kind} = "own.toml"\n' + BARS)
    checked = accomp("check", path)
    made = accomp("make", path, "--only", "midi", "--out", "o")
    assert (checked.code, made.code) == (1, 1), checked.err + made.err
    assert set(made.err.splitlines()) <= set(checked.err.splitlines())


@pytest.mark.parametrize("more", ["", 'pickup = "1/3"\n', "pickup = 2.5\n"])
def test_a_good_tune_passes_both(more, accomp, tune):
    path = tune(HEAD + more + BARS)
    assert accomp("check", path).code == 0
    made = accomp("make", path, "--only", "midi", "--only", "musicxml", "--only", "pdf")
    assert made.code == 0, made.err
