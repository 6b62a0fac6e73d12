"""Kinds of file that another room makes: found by name, made once, kept as long as they are so."""

from __future__ import annotations

import hashlib
import json
import pickle
from pathlib import Path

import pytest
from jobs import TEXT, bytes_of, small

from accomp.cli import run
from accomp.errors import InputError, OutputError
from accomp.job.make import make_tune
from accomp.job.options import KINDS, USUAL, Options
from accomp.job.outside import OUTSIDE, make_alone

PAGE = Options(only=("page",), choruses=1)
NAME = "small-tune_practice.html"


def test_the_usual_kinds_are_all_but_those_of_other_rooms() -> None:
    assert set(KINDS) == {*USUAL, *OUTSIDE}
    assert not set(USUAL) & set(OUTSIDE)


@pytest.mark.slow
def test_a_page_is_made_beside_its_manifest(tmp_path: Path) -> None:
    options = Options(only=("midi", "page"), choruses=1, keys=("C", "D"), positions=("all",))
    manifest = make_tune(small(), options, tmp_path / "out")
    (page,) = [file for file in manifest.files if file.kind == "page"]
    assert (page.path, page.role, page.key) == (NAME, "full", "C, D")
    assert len(page.position.split(", ")) > 1
    assert page.soundfont
    text = (tmp_path / "out" / NAME).read_text(encoding="utf-8")
    value = json.loads(text.split('id="timeline">')[1].split("</script>")[0])
    midi = [file for file in manifest.files if file.kind == "midi"]
    assert len(value["versions"]) == len(midi)
    assert [key["name"] for key in value["keys"]] == ["C major", "D major"]


@pytest.mark.long
def test_a_page_that_is_there_is_not_made_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    make_tune(small(), PAGE, tmp_path)
    before = bytes_of(tmp_path)
    made: list[str] = []
    monkeypatch.setattr("accomp.web.item.page_bytes", lambda *args: made.append("again") or b"x")
    make_tune(small(), PAGE, tmp_path)
    assert made == []
    assert bytes_of(tmp_path) == before
    make_tune(small(TEXT.replace("C A7", "C D7")), PAGE, tmp_path)
    assert made == ["again"]


@pytest.mark.long
def test_two_processes_make_the_same_page_as_one(tmp_path: Path) -> None:
    for jobs in (1, 2):
        options = Options(only=("midi", "page"), choruses=1, jobs=jobs)
        make_tune(small(), options, tmp_path / str(jobs))
    assert (tmp_path / "1" / NAME).read_bytes() == (tmp_path / "2" / NAME).read_bytes()


@pytest.mark.slow
def test_alone_it_leaves_a_manifest_and_other_files_as_they_are(tmp_path: Path) -> None:
    (tmp_path / "manifest.json").write_text("mine")
    made = make_alone("page", small(), PAGE, tmp_path)
    (file,) = made.files
    assert (file.path, file.kind) == (NAME, "page")
    assert file.sha256 == hashlib.sha256((tmp_path / NAME).read_bytes()).hexdigest()
    assert made.notices == ()
    assert sorted(path.name for path in tmp_path.iterdir()) == ["manifest.json", NAME]
    assert (tmp_path / "manifest.json").read_text() == "mine"


@pytest.mark.long
def test_a_page_made_again_otherwise_takes_the_place_of_the_first(tmp_path: Path) -> None:
    """Beside no manifest the page itself says that nobody has changed it."""
    make_alone("page", small(), PAGE, tmp_path)
    first = (tmp_path / NAME).read_bytes()
    other = Options(only=("page",), choruses=1, keys=("D",))
    make_alone("page", small(), other, tmp_path)
    second = (tmp_path / NAME).read_bytes()
    assert first != second
    mine = second.replace(b"</body>", b"<p>mine</p></body>")
    (tmp_path / NAME).write_bytes(mine)
    with pytest.raises(OutputError, match="there already"):
        make_alone("page", small(), PAGE, tmp_path)
    assert (tmp_path / NAME).read_bytes() == mine


def test_wrong_wishes_make_nothing(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="lute"):
        make_alone("page", small(), Options(instrument="lute"), tmp_path / "out")
    (tmp_path / "taken").write_text("a file")
    with pytest.raises(OutputError):
        make_alone("page", small(), PAGE, tmp_path / "taken")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["taken"]


def test_the_item_can_be_sent_to_another_process() -> None:
    from accomp.job.outside import Ingredients, outside_item
    from accomp.job.request import resolve
    from accomp.job.sound import Sound
    from accomp.job.versions import versions

    found = tuple(versions(resolve(small(), PAGE)))
    item = outside_item("page", Ingredients(found, Sound()))
    assert pickle.loads(pickle.dumps(item)).inputs == item.inputs


def test_make_makes_a_page_in_a_pack_and_when_asked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    kinds: list[tuple[str, ...]] = []
    monkeypatch.setattr(
        "accomp.cli.making.make_all", lambda given, options, how: kinds.append(options.only)
    )
    for extra in ([], ["--pack"], ["--only", "page"]):
        run(["make", str(tmp_path / "t.toml"), *extra])
    assert kinds == [USUAL, KINDS, ("page",)]


@pytest.mark.slow
def test_the_command_says_what_it_made_in_words_and_as_json(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    tune = tmp_path / "tune.toml"
    tune.write_text(TEXT)
    out = tmp_path / "out"
    assert run(["practice", str(tune), "--out", str(out), "--choruses", "1"]) == 0
    said = capsys.readouterr()
    assert said.out == f"{out / NAME}: open it in a browser. Start quietly.\n"
    assert run(["practice", str(tune), "--out", str(out), "--replace", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    (file,) = told["files"]
    assert (file["path"], file["kind"], told["tune"]) == (NAME, "page", "Small Tune")
    assert file["sha256"] == hashlib.sha256((out / NAME).read_bytes()).hexdigest()
    assert [path.name for path in out.iterdir()] == [NAME]
