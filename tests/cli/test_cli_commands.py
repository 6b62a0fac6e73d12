"""The other commands on bad input, and output that cannot go where it should."""

import json
import os
import shlex
import subprocess
import sys

import pytest

WRONG = [
    ("shapes Hm7", 1, ["'Hm7' is not a chord symbol", "Did you mean"]),
    ("shapes C/", 1, ["'C/' is not a chord symbol", "bass note"]),
    ("shapes C --instrument tenor-bnajo", 2, ["'tenor-bnajo'", "Did you mean 'tenor-banjo'?"]),
    ("shapes C --hand tiny", 2, ["'tiny' is not a hand", "large, medium, small"]),
    ("shapes C --reach nan", 2, ["--reach"]),
    ("shapes C G7 --reach 5", 1, ["--reach", "5 mm"]),
    ("positions gone.toml", 1, ["gone.toml: there is no such file"]),
    ("positions tune.toml --hand giant", 2, ["'giant' is not a hand"]),
    ("keys gone.toml", 1, ["gone.toml: there is no such file"]),
    ("read tune.toml", 1, ["tune.toml", "MusicXML and ABC"]),
    ("read gone.abc", 1, ["gone.abc: there is no such file"]),
    ("read junk.musicxml", 1, ["junk.musicxml:1:1", "not well-formed XML"]),
    ("read junk.mxl", 1, ["junk.mxl", "not well-formed XML"]),
    ("read torn.mxl", 1, ["torn.mxl", "damaged archive"]),
    ("read junk.abc", 1, ["junk.abc:1:1", "no tune"]),
    ("styles jgi", 1, ["'jgi' is not a style", "Did you mean 'jig'?"]),
    ("instruments lute", 1, ["'lute' is not an instrument", "tenor-banjo"]),
    ("book gone", 1, ["gone: no such file or directory. Name a folder"]),
    ("book empty", 1, ["empty: there is no tune file"]),
    ("book tune.toml", 1, ["tune.toml"]),
    ("make tune.toml --soundfont gone.sf2", 1, ["gone.sf2: there is no such file", "--soundfont"]),
    ("make tune.toml --soundfont tune.toml", 1, ["not a SoundFont", "--soundfont"]),
    ("make tune.toml --style jgi --only midi", 2, ["--style", "'jgi'"]),
    ("make tune.toml --style jig --only midi", 2, ["--style", "6/8", "4/4"]),
    ("make tune.toml --repertoire gone.toml --only midi", 1,
     ["gone.toml: there is no such file", "(--repertoire)\n"]),
    ("positions tune.toml --costs gone.toml", 1,
     ["gone.toml: there is no such file", "(--costs)\n"]),
    ("shapes C --hand gone.toml", 1, ["gone.toml: there is no such file", "(--hand)\n"]),
    ("make tune.toml --melody --only midi", 1, ["melody"]),
    ("make tune.toml --pack --ladder 100:60:5", 2, ["--ladder", "60:100:5"]),
    ("make tune.toml --pack --ladder up", 2, ["--ladder", "FROM:TO:STEP"]),
    ("make tune.toml --jobs 0", 2, ["--jobs"]),
    ("practice gone.toml", 1, ["gone.toml: there is no such file"]),
    ("practice tune.toml --style jgi", 2, ["--style", "'jgi'"]),
    ("practice tune.toml --tempo 5000", 2, ["--tempo", "5000"]),
    ("practice tune.toml --soundfont tune.toml", 1, ["not a SoundFont", "--soundfont"]),
    ("practice tune.toml --out tune.toml", 1, ["tune.toml"]),
    ("practice tune.toml --choruses 0", 2, ["--choruses"]),
    ("make tune.toml --only song", 2, ["--only", "'song'"]),
]  # fmt: skip


@pytest.mark.parametrize(("words", "code", "said"), WRONG, ids=[row[0] for row in WRONG])
def test_every_command_says_what_is_wrong_and_makes_nothing(
    words, code, said, accomp, tune, tmp_path
):
    tune()
    (tmp_path / "empty").mkdir()
    for ending in ("musicxml", "mxl", "abc"):
        (tmp_path / f"junk.{ending}").write_text("nothing of the kind")
    (tmp_path / "torn.mxl").write_bytes(b"PK\x03\x04 and then no more")
    before = sorted(tmp_path.rglob("*"))
    result = accomp(*shlex.split(words))
    assert result.code == code
    for word in said:
        assert word in result.err, result.err
    assert not result.out
    assert sorted(tmp_path.rglob("*")) == before


@pytest.mark.parametrize(
    "words",
    [
        "shapes Bb7 --json",
        "positions tune.toml --json",
        "keys tune.toml --json",
        "check tune.toml --json",
        "make tune.toml --only midi --out out --json",
        "styles --json",
        "instruments --json",
    ],
)
def test_json_is_one_document_and_nothing_else(words, accomp, tune):
    tune()
    result = accomp(*shlex.split(words))
    assert result.code == 0, result.err
    json.loads(result.out)
    assert result.err == ""


def in_a_process(folder, words, **more):
    script = "import accomp.cli; accomp.cli.main()"
    environment = os.environ | more.pop("env", {})
    return subprocess.run(
        [sys.executable, "-c", script, *shlex.split(words)],
        cwd=folder, stderr=subprocess.PIPE, env=environment, check=False, timeout=600, **more,
    )  # fmt: skip


@pytest.mark.many(1, 99)
@pytest.mark.parametrize("encoding", ["cp1252", "ascii", "latin-1"])
@pytest.mark.parametrize("words", ["shapes B♭7", "positions tune.toml", "make gone♭.toml"])
def test_a_terminal_without_our_signs_still_gets_the_rest(encoding, words, tune, tmp_path):
    tune()
    done = in_a_process(tmp_path, words, stdout=subprocess.PIPE, env={"PYTHONIOENCODING": encoding})
    assert done.returncode == (1 if "gone" in words else 0), done.stderr
    assert b"failed" not in done.stderr
    assert done.stdout or b"there is no such file" in done.stderr


def test_a_reader_that_goes_away_is_no_error(tmp_path):
    script = "import accomp.cli; accomp.cli.main()"
    process = subprocess.Popen(
        [sys.executable, "-c", script, "shapes", *["C", "F", "G7", "Am7"] * 20],
        cwd=tmp_path, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
    )  # fmt: skip
    process.stdout.readline()
    process.stdout.close()
    said = process.stderr.read()
    process.stderr.close()
    assert process.wait(600) == 0
    assert said == b""


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="a full device is a file on Linux")
def test_output_that_cannot_be_written_is_told(tmp_path):
    with open("/dev/full", "w") as full:
        done = in_a_process(tmp_path, "shapes C", stdout=full)
    assert done.returncode == 1
    assert done.stderr.decode() == (
        "What was asked for is done, but what there is to say of it cannot be written "
        "(no space left on device).\n"
    )


@pytest.mark.slow
@pytest.mark.parametrize(
    ("command", "ending"),
    [(("make", "--only", "pdf"), "pdf"), (("book", "--player", "own"), "pdf")],
)
def test_again_makes_anew_what_has_not_changed(
    accomp, tune, tmp_path, monkeypatch, command, ending
):
    from accomp.write import sheet_fit

    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    (tmp_path / "tunes").mkdir()
    file = tune(name="tunes/kettle.toml")
    name, *options = command
    words = (name, file if name == "make" else "tunes", *options, "--out", "out")
    titles: list[str] = []
    real = sheet_fit.engrave
    monkeypatch.setattr(
        sheet_fit,
        "engrave",
        lambda score, *a, **k: titles.append(score.title) or real(score, *a, **k),
    )
    counts = []
    for more in ((), (), ("--again",)):
        titles.clear()
        assert accomp(*words, *more).code == 0
        counts.append(len(titles))
    assert counts[0] == counts[2] > counts[1] == 0
    assert len(list((tmp_path / "out").glob(f"*.{ending}"))) == 1
