"""No file of another version is taken for one of this: what makes files is among their inputs."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from jobs import small

import accomp
from accomp.job import book, book_pages, items, paper, sound
from accomp.job.book import BookItem
from accomp.job.book_pages import PagesItem
from accomp.job.items import Item
from accomp.job.make import make_tune
from accomp.job.manifest import Label
from accomp.job.options import Options
from accomp.job.request import resolve
from accomp.job.sound import Sound, SoundItem
from accomp.job.versions import versions
from accomp.score.performance import Performance

LABEL = Label("pdf", "full", "C", 120.0, "root-top", "test")


@pytest.fixture
def package(tmp_path: Path) -> Path:
    """A copy of the package's folder."""
    copy = tmp_path / "accomp"
    shutil.copytree(Path(accomp.__file__).parent, copy, ignore=shutil.ignore_patterns("*.pyc"))
    return copy


@pytest.mark.many(1, 99)
@pytest.mark.parametrize(
    "file", ["harmony/transpose.py", "data/chords.toml", "data/pages/pages.typ", "write/midi.py"]
)
def test_the_program_is_another_one_after_any_change(package: Path, file: str) -> None:
    before = items.fingerprint(package)
    assert before == items.program()
    path = package / file
    path.write_bytes(path.read_bytes() + b"\n")
    changed = items.fingerprint(package)
    path.rename(path.with_name("other" + path.suffix))
    assert len({before, changed, items.fingerprint(package)}) == 3


@pytest.mark.slow
def test_what_decides_no_bytes_does_not_count(package: Path) -> None:
    before = items.fingerprint(package)
    (package / "cli" / "make.py").unlink()
    (package / "__pycache__").mkdir(exist_ok=True)
    (package / "__pycache__" / "x.cpython-312.pyc").write_bytes(b"x")
    (package / "stray.pyc").write_bytes(b"x")
    assert items.fingerprint(package) == before


def test_libraries_are_named_with_their_versions() -> None:
    import soundfile
    import verovio

    assert f"verovio {verovio.toolkit().getVersion().split('-')[0]}" in items.page_makers()
    assert "typst " in items.page_makers()
    assert f"libsndfile {soundfile.__libsndfile_version__}" in items.sound_makers()
    assert items.program() in items.page_makers()
    assert items.program() in items.sound_makers()
    assert items.libraries("no-such-library") == "no-such-library of no version"


def pages(tmp_path: Path) -> Item:
    (tmp_path / "a.toml").write_text("x")
    path = tmp_path / "a.toml"
    return PagesItem({"a": LABEL}, path, "C", ("own",), None, "a4", "top", "both", "", again=False)


def bound(tmp_path: Path) -> Item:
    return BookItem({"a.pdf": LABEL}, "T", "own", "Own", "a4", (), ())


def sheet(tmp_path: Path) -> Item:
    return paper.sheet_item(versions(resolve(small(), Options()))[0])


@pytest.mark.parametrize("make", [pages, sheet, bound])
def test_pages_of_another_engraver_have_other_inputs(make, tmp_path, monkeypatch) -> None:
    before = make(tmp_path).inputs
    assert make(tmp_path).inputs == before
    for module in (paper, book, book_pages):
        monkeypatch.setattr(module, "page_makers", lambda: "verovio of next year")
    assert make(tmp_path).inputs != before


def test_sound_of_another_encoder_has_other_inputs() -> None:
    performance = Performance("Test", (), (), (), (), (), (), 1.0)
    one, other = (
        SoundItem({"a.flac": LABEL}, Sound(makers=text), performance, {}, {}).inputs
        for text in ("libsndfile 1", "libsndfile 2")
    )
    assert one != other


def test_a_job_asks_what_makes_its_sound(monkeypatch) -> None:
    monkeypatch.setattr(sound, "sound_makers", lambda: "libsndfile of next year")
    monkeypatch.setattr(sound, "_voice", lambda *_: None)
    made = sound.sound_of(resolve(small(), Options()), lambda what, share: None)
    assert made.makers == "libsndfile of next year"


@pytest.fixture
def wrong_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder whose page was made wrong by a version with a fault."""
    from accomp.write import sheet as writer

    def wrong(arrangement, path, **how) -> tuple[str, ...]:
        path.write_bytes(b"wrong")
        return ()

    with monkeypatch.context() as patch:
        patch.setattr(writer, "write_sheet", wrong)
        make_tune(small(), Options(only=("pdf",)), tmp_path / "out")
    return tmp_path / "out"


def page(folder: Path) -> bytes:
    (path,) = folder.glob("*.pdf")
    return path.read_bytes()


@pytest.mark.slow
def test_a_page_made_wrong_is_made_anew_by_the_next_version(wrong_once, monkeypatch) -> None:
    make_tune(small(), Options(only=("pdf",)), wrong_once)
    assert page(wrong_once) == b"wrong"  # nothing tells the same version that it is wrong
    monkeypatch.setattr(paper, "page_makers", lambda: "a version without the fault")
    make_tune(small(), Options(only=("pdf",)), wrong_once)
    assert page(wrong_once).startswith(b"%PDF")


@pytest.mark.slow
def test_again_makes_everything_anew(wrong_once) -> None:
    make_tune(small(), Options(only=("pdf", "midi"), again=True), wrong_once)
    assert page(wrong_once).startswith(b"%PDF")
