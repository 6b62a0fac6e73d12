"""Building: nothing half made, nothing made twice, nothing lost."""

from __future__ import annotations

import errno
import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

import pytest
from jobs import bytes_of

from accomp.errors import OutputError, SoundError
from accomp.files.lock import locked_folder
from accomp.job import build as room
from accomp.job.build import WORK, Build, manifest_of
from accomp.job.items import BytesItem, Item, Outcome, digest
from accomp.job.manifest import Label, Manifest
from accomp.job.sound import Sound, SoundItem
from accomp.score.performance import Performance

LABEL = Label("midi", "full", "C", 120.0, "root-top", "test")


def item(name: str, data: bytes) -> BytesItem:
    return BytesItem({name: LABEL}, data)


@dataclass(frozen=True)
class Failing(Item):
    """An item that fails after having written half of its file."""

    error: BaseException | None = None

    @property
    def inputs(self) -> str:
        return digest("failing", *self.labels)

    def write(self, paths: Mapping[str, Path], progress: Callable[[float], None]) -> Outcome:
        for path in paths.values():
            path.write_bytes(b"half")
        assert self.error is not None
        raise self.error


def run(
    folder: Path,
    *items: Item,
    keep: bool = False,
    again: bool = False,
    replace: bool = False,
    made: list[str] | None = None,
) -> Manifest:
    build = Build(
        folder,
        keep=keep,
        again=again,
        replace=replace,
        progress=lambda name, share: made.append(name) if made is not None else None,
    )
    with build.opened():
        build.keep_others(name for one in items for name in one.labels)
        return build.move(items, manifest_of("Test", items, build.make(items)))


def test_files_and_manifest_appear_together(tmp_path: Path) -> None:
    run(tmp_path / "out", item("a.mid", b"a"), item("b.mid", b"b"))
    assert set(bytes_of(tmp_path / "out")) == {"a.mid", "b.mid", "manifest.json"}


@pytest.mark.parametrize(
    "error", [SoundError("no sound"), KeyboardInterrupt(), OSError(28, "full")]
)
def test_a_failed_run_leaves_everything_as_it_was(tmp_path: Path, error: BaseException) -> None:
    out = tmp_path / "out"
    run(out, item("a.mid", b"old"))
    before = bytes_of(out)
    with pytest.raises(type(error)):
        run(out, item("a.mid", b"new"), Failing({"b.mid": LABEL}, error))
    assert bytes_of(out) == before


def test_a_failed_first_run_leaves_no_folder(tmp_path: Path) -> None:
    with pytest.raises(SoundError):
        run(tmp_path / "deep" / "out", Failing({"a.mid": LABEL}, SoundError("no")))
    assert not (tmp_path / "deep").exists()


def test_a_full_disk_is_told_in_words(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(self: Path, data: bytes) -> int:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    out = tmp_path / "out"
    run(out, item("a.mid", b"old"))
    monkeypatch.setattr(Path, "write_bytes", full)
    with pytest.raises(OutputError, match="no space left on device"):
        run(out, item("a.mid", b"new"))
    monkeypatch.undo()
    assert bytes_of(out)["a.mid"] == b"old"


def test_a_kept_run_goes_on_where_it_stopped(tmp_path: Path) -> None:
    out = tmp_path / "out"
    with pytest.raises(KeyboardInterrupt):
        run(out, item("a.mid", b"a"), Failing({"b.mid": LABEL}, KeyboardInterrupt()), keep=True)
    assert not (out / "a.mid").exists()
    made: list[str] = []
    run(out, item("a.mid", b"a"), item("b.mid", b"b"), keep=True, made=made)
    assert made == ["b.mid"] * len(made)
    assert bytes_of(out)["a.mid"] == b"a"
    assert not (out / WORK).exists()


def test_unchanged_files_are_not_made_again_and_damaged_ones_are(tmp_path: Path) -> None:
    out = tmp_path / "out"
    run(out, item("a.mid", b"a"), item("b.mid", b"b"))
    made: list[str] = []
    run(out, item("a.mid", b"a"), item("b.mid", b"b"), made=made)
    assert made == []
    (out / "b.mid").write_bytes(b"damaged")
    run(out, item("a.mid", b"a"), item("b.mid", b"b"), replace=True, made=made)
    assert set(made) == {"b.mid"}
    assert bytes_of(out)["b.mid"] == b"b"


def test_again_takes_up_nothing(tmp_path: Path) -> None:
    out = tmp_path / "out"
    one, two = item("a.mid", b"a"), item("b.mid", b"b")
    run(out, one, two)
    made: list[str] = []
    run(out, one, two, again=True, made=made)
    assert set(made) == {"a.mid", "b.mid"}
    made.clear()
    run(out, one, two, made=made)
    assert made == []


def test_again_takes_up_nothing_of_a_stopped_run_nor_leaves_it_to_the_next(tmp_path: Path) -> None:
    out = tmp_path / "out"
    one, stop = item("a.mid", b"a"), Failing({"b.mid": LABEL}, KeyboardInterrupt())
    with pytest.raises(KeyboardInterrupt):
        run(out, one, stop, keep=True)
    (wrong,) = (out / WORK).glob("*-0")
    wrong.write_bytes(b"wrong")
    record = wrong.with_name(wrong.name.replace("-0", ".done"))
    text = record.read_text().replace(sha256(b"a").hexdigest(), sha256(b"wrong").hexdigest())
    record.write_text(text)
    with pytest.raises(KeyboardInterrupt):  # stopped before it came to a.mid
        run(out, stop, one, keep=True, again=True)
    run(out, one, keep=True)
    assert bytes_of(out)["a.mid"] == b"a"


def test_a_run_killed_while_moving_is_finished_by_the_next(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "out"
    real = os.replace
    moved = 0

    def dies(source: Path, target: Path) -> None:
        nonlocal moved
        if Path(target).parent == out:
            moved += 1
            if moved == 2:
                raise KeyboardInterrupt
        real(source, target)

    monkeypatch.setattr(room.os, "replace", dies)
    items = [item(f"{n}.mid", f"{n}".encode()) for n in range(3)]
    with pytest.raises(KeyboardInterrupt):
        run(out, *items, keep=True)
    monkeypatch.undo()
    made: list[str] = []
    run(out, *items, keep=True, made=made)
    assert made == []
    assert {name: data for name, data in bytes_of(out).items() if name != "manifest.json"} == {
        f"{n}.mid": f"{n}".encode() for n in range(3)
    }


def test_a_folder_in_the_way_is_told_before_anything_moves(tmp_path: Path) -> None:
    out = tmp_path / "out"
    (out / "b.mid").mkdir(parents=True)
    with pytest.raises(OutputError, match="a folder stands where"):
        run(out, item("a.mid", b"a"), item("b.mid", b"b"))
    assert not (out / "a.mid").exists()


def test_out_that_is_a_file(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("mine")
    with pytest.raises(OutputError, match="this is a file"):
        run(tmp_path / "out", item("a.mid", b"a"))
    assert (tmp_path / "out").read_text() == "mine"


def test_two_runs_in_one_folder(tmp_path: Path) -> None:
    out = tmp_path / "out"
    with (
        locked_folder(out),
        pytest.raises(OutputError, match="another run"),
    ):
        run(out, item("a.mid", b"a"))


@pytest.mark.parametrize("which", ["soundfont", "voice"])
def test_a_font_that_goes_while_the_work_is_on_stops_it(tmp_path: Path, which: str) -> None:
    # Without its own voice the player would be heard with another, under the name of this one.
    font = tmp_path / "font.sf2"
    font.write_bytes(b"as it was")
    sound = Sound(**{which: font, f"{which}_sha256": sha256(b"as it was").hexdigest()})
    sound.check()
    performance = Performance("Test", (), (), (), (), (), (), 1.0)
    sounding = SoundItem({"a.flac": LABEL}, sound, performance, {"full": "a.flac"}, {})
    for change in (lambda: font.write_bytes(b"as it is now"), font.unlink):
        change()
        with pytest.raises(SoundError, match=r"font\.sf2: this font has changed, or is gone"):
            run(tmp_path / "out", sounding)
    assert not (tmp_path / "out").exists()


def test_the_manifest_is_moved_last(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # Whoever finds a manifest may rely on the files it lists, whenever the run is killed.
    out = tmp_path / "out"
    real, order = os.replace, []

    def noted(source: Path, target: Path) -> None:
        if Path(target).parent == out:
            order.append(Path(target).name)
        real(source, target)

    monkeypatch.setattr(room.os, "replace", noted)
    run(out, item("z.mid", b"z"), item("a.mid", b"a"))
    assert order == ["z.mid", "a.mid", "manifest.json"]


def test_what_was_edited_since_is_not_replaced(tmp_path: Path) -> None:
    out = tmp_path / "out"
    run(out, item("a.mid", b"a"))
    (out / "a.mid").write_bytes(b"edited")
    before = bytes_of(out)
    made: list[str] = []
    with pytest.raises(OutputError, match=r"a\.mid: this file is there already"):
        run(out, item("a.mid", b"new"), made=made)
    assert (made, bytes_of(out)) == ([], before)
    run(out, item("a.mid", b"new"), replace=True)
    assert bytes_of(out)["a.mid"] == b"new"


@pytest.mark.parametrize("name", ["a.mid", "manifest.json"])
def test_somebody_elses_files_are_not_replaced(tmp_path: Path, name: str) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / name).write_text('{"name": "somebody\'s"}')
    before = bytes_of(out)
    with pytest.raises(OutputError, match="left as it is"):
        run(out, item("a.mid", b"a"))
    assert bytes_of(out) == before


def test_a_pipe_in_the_way_is_told_of_at_once(tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    os.mkfifo(out / "a.mid")
    with pytest.raises(OutputError, match="this is a pipe"):
        run(out, item("a.mid", b"a"), replace=True)


def test_files_of_earlier_runs_are_known_and_may_be_made_anew(tmp_path: Path) -> None:
    out = tmp_path / "out"
    run(out, item("a.mid", b"a"))
    manifest = run(out, item("b.mid", b"b"))
    assert manifest.earlier == {"a.mid": sha256(b"a").hexdigest()}
    assert run(out, item("a.mid", b"new")).earlier == {"b.mid": sha256(b"b").hexdigest()}
    (out / "b.mid").write_bytes(b"edited")
    with pytest.raises(OutputError, match=r"b\.mid"):
        run(out, item("b.mid", b"new"))


def test_a_damaged_hidden_folder_is_worked_in_all_the_same(tmp_path: Path) -> None:
    out = tmp_path / "out"
    stop = Failing({"b.mid": LABEL}, KeyboardInterrupt())
    with pytest.raises(KeyboardInterrupt):
        run(out, item("a.mid", b"a"), stop, keep=True)
    for path in list((out / WORK).iterdir()):
        path.unlink()
        path.mkdir()
    os.mkfifo(out / WORK / f"{item('c.mid', b'c').inputs}.done")
    run(out, item("a.mid", b"a"), item("c.mid", b"c"))
    assert set(bytes_of(out)) == {"a.mid", "c.mid", "manifest.json"}
