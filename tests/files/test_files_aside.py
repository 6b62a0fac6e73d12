"""Batches: all files or none, and never harm to what was there."""

import errno
import os
import shutil
from pathlib import Path

import pytest

from accomp.errors import OutputError
from accomp.files import aside, moving
from accomp.files.aside import Batch


def tree(folder):
    """Every file below a folder with its content, hidden ones too."""
    return {
        str(path.relative_to(folder)): path.read_text() if path.is_file() else None
        for path in folder.rglob("*")
    }


def fill(batch, **files):
    for name, text in files.items():
        batch.path(f"{name}.txt").write_text(text)


def test_files_come_into_place_in_the_order_added(tmp_path):
    out = tmp_path / "a" / "b"
    with Batch(out) as batch:
        fill(batch, second="2", first="1")
        assert [path.name for path in out.iterdir() if not path.name.startswith(".")] == []
        assert batch.commit() == (out / "second.txt", out / "first.txt")
    assert tree(out) == {"second.txt": "2", "first.txt": "1"}


def test_without_commit_nothing_is_left_not_even_folders(tmp_path):
    (tmp_path / "kept").mkdir()
    with Batch(tmp_path / "kept" / "a" / "b") as batch:
        fill(batch, x="1")
    assert tree(tmp_path) == {"kept": None}


@pytest.mark.parametrize("error", [RuntimeError, KeyboardInterrupt, SystemExit])
def test_an_error_leaves_what_was_there(tmp_path, error):
    (tmp_path / "x.txt").write_text("old")

    def work():
        with Batch(tmp_path, replace=True) as batch:
            fill(batch, x="new", y="new")
            raise error

    with pytest.raises(error):
        work()
    assert tree(tmp_path) == {"x.txt": "old"}


def test_commit_replaces_files_and_leaves_others(tmp_path):
    (tmp_path / "x.txt").write_text("old")
    (tmp_path / "z.txt").write_text("other")
    with Batch(tmp_path, replace=True) as batch:
        fill(batch, x="new")
        batch.commit()
    assert tree(tmp_path) == {"x.txt": "new", "z.txt": "other"}


def test_new_files_have_the_rights_the_user_gives_new_files(tmp_path):
    old = os.umask(0o027)
    try:
        with Batch(tmp_path, replace=True) as batch:
            fill(batch, x="1")
            batch.path("y.txt").touch(mode=0o600)  # as some writers make their files
            batch.commit()
        for name in ("x.txt", "y.txt"):
            assert (tmp_path / name).stat().st_mode & 0o777 == 0o640
        assert os.umask(0o027) == 0o027  # asking for the mask did not change it
    finally:
        os.umask(old)


@pytest.mark.parametrize("name", ["", ".", "..", "../x", "a/b", "/etc/x", "a\0b", "x/"])
def test_names_that_could_leave_the_folder_are_refused(tmp_path, name):
    with (
        Batch(tmp_path, replace=True) as batch,
        pytest.raises(OutputError, match="not a plain file name"),
    ):
        batch.path(name)
    assert tree(tmp_path) == {}


@pytest.mark.parametrize("name", ["x.txt", "X.TXT"])
def test_one_name_twice_is_refused(tmp_path, name):
    with Batch(tmp_path, replace=True) as batch:
        batch.path("x.txt")
        with pytest.raises(OutputError, match="same name"):
            batch.path(name)


def test_a_file_where_the_folder_should_be(tmp_path):
    (tmp_path / "f").write_text("mine")
    with (
        pytest.raises(OutputError, match="is a file, and a folder is needed"),
        Batch(tmp_path / "f"),
    ):
        pass
    with (
        pytest.raises(OutputError, match="hoose another"),
        Batch(tmp_path / "f" / "g"),
    ):
        pass
    assert tree(tmp_path) == {"f": "mine"}


def test_a_folder_where_a_file_should_be(tmp_path):
    (tmp_path / "y.txt").mkdir()
    with Batch(tmp_path, replace=True) as batch:
        fill(batch, x="1")
        batch.path("y.txt")
        with pytest.raises(OutputError, match=r"y\.txt: a folder stands"):
            batch.commit()
    assert tree(tmp_path) == {"y.txt": None}


def raising(number):
    def refuse(*_, **__):
        raise OSError(number, os.strerror(number))

    return refuse


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EACCES, errno.EROFS])
@pytest.mark.parametrize("where", ["folder", "aside"])
def test_a_folder_that_cannot_be_made(tmp_path, monkeypatch, number, where):
    if where == "folder":
        monkeypatch.setattr(Path, "mkdir", raising(number))
    else:
        monkeypatch.setattr(aside.tempfile, "mkdtemp", raising(number))
    with (
        pytest.raises(OutputError, match="Nothing was changed") as caught,
        Batch(tmp_path / "a" / "b"),
    ):
        pass
    assert os.strerror(number).lower() in str(caught.value)
    assert str(tmp_path / "a" / "b") in str(caught.value)
    assert tree(tmp_path) == {}


@pytest.mark.parametrize("failing", [1, 2, 3])
def test_a_disk_that_fails_while_moving_changes_nothing(tmp_path, monkeypatch, failing):
    (tmp_path / "b.txt").write_text("old b")
    (tmp_path / "c.txt").write_text("old c")
    plain, moves = os.replace, []

    def replace(source, place):
        moves.append(place)
        if len(moves) == failing:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        plain(source, place)

    monkeypatch.setattr(moving.os, "replace", replace)
    with Batch(tmp_path, replace=True) as batch:
        fill(batch, a="new", b="new", c="new")
        with pytest.raises(OutputError, match="no space left"):
            batch.commit()
    assert tree(tmp_path) == {"b.txt": "old b", "c.txt": "old c"}


def test_a_disk_without_second_names_is_copied_from(tmp_path, monkeypatch):
    (tmp_path / "x.txt").write_text("old")
    monkeypatch.setattr(moving.os, "link", raising(errno.EPERM))
    with Batch(tmp_path, replace=True) as batch:
        fill(batch, x="new")
        batch.commit()
    assert tree(tmp_path) == {"x.txt": "new"}


def test_a_full_disk_when_keeping_the_old_changes_nothing(tmp_path, monkeypatch):
    (tmp_path / "x.txt").write_text("old")
    monkeypatch.setattr(moving.os, "link", raising(errno.EPERM))
    monkeypatch.setattr(shutil, "copy2", raising(errno.ENOSPC))
    with Batch(tmp_path, replace=True) as batch:
        fill(batch, w="new", x="new")
        with pytest.raises(OutputError, match="no space left"):
            batch.commit()
    assert tree(tmp_path) == {"x.txt": "old"}


def test_a_file_announced_and_never_written(tmp_path):
    (tmp_path / "x.txt").write_text("old")
    with Batch(tmp_path, replace=True) as batch:
        fill(batch, x="new")
        batch.path("y.txt")
        with pytest.raises(OutputError):
            batch.commit()
    assert tree(tmp_path) == {"x.txt": "old"}
