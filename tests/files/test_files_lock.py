"""A lock that excludes: one process in a folder, whatever the others do to it meanwhile."""

import multiprocessing
import os
import time
from pathlib import Path

import pytest

from accomp.errors import OutputError
from accomp.files import lock
from accomp.files.folders import OutputFolder
from accomp.files.lock import BusyError, locked, locked_folder


def at_work(folder: Path, until: float, counts) -> None:
    """Get in as often as possible, and see that nobody else is in; come to nothing each time."""
    entered = met = 0
    while time.time() < until:
        try:
            with locked_folder(folder):
                entered += 1
                place = OutputFolder(folder)
                place.make()
                mark = folder / "somebody"
                try:
                    os.close(os.open(mark, os.O_CREAT | os.O_EXCL))
                    mark.unlink()
                except FileExistsError:
                    met += 1
                place.unmake()
        except OutputError:
            pass
    counts.put((entered, met))


def met_in(folder: Path, seconds: float) -> tuple[int, int]:
    """How often four processes got in, and how often two were in together."""
    context = multiprocessing.get_context("fork")
    counts = context.Queue()
    until = time.time() + seconds
    several = [context.Process(target=at_work, args=(folder, until, counts)) for _ in range(4)]
    for one in several:
        one.start()
    found = [counts.get(timeout=seconds + 30) for _ in several]
    for one in several:
        one.join()
    return sum(entered for entered, _ in found), sum(met for _, met in found)


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_four_processes_are_never_in_together(tmp_path):
    entered, met = met_in(tmp_path / "deep" / "out", 2.0)
    assert entered > 100
    assert met == 0
    # A folder may stay in which somebody's lock lay just when its maker went, but nothing in it.
    assert {path.name for path in tmp_path.rglob("*")} <= {"deep", "out"}


@pytest.mark.long
@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_four_processes_are_never_in_together_for_long(tmp_path):
    entered, met = met_in(tmp_path / "deep" / "out", 20.0)
    assert entered > 1000
    assert met == 0


def test_a_lock_leaves_nothing_and_shuts_others_out(tmp_path):
    path = tmp_path / "x.lock"
    with locked(path):
        assert path.exists()
        with pytest.raises(BusyError), locked(path):
            pass
    assert not path.exists()


def test_a_folder_has_one_lock_by_whatever_name(tmp_path, monkeypatch):
    (tmp_path / "link").symlink_to(tmp_path / "out")
    monkeypatch.chdir(tmp_path)
    busy = pytest.raises(OutputError, match="another run")
    with locked_folder(Path("out")), busy, locked_folder(tmp_path / "link"):
        pass


def test_a_file_that_was_exchanged_is_no_lock(tmp_path, monkeypatch):
    """Whoever waits for the old file gets it when its holder has removed it: it means nothing."""
    path = tmp_path / "x.lock"
    taken, really = [], lock._grasp

    def grasp(handle: int) -> bool:
        if not taken:
            path.unlink()  # its holder was done just now
            path.touch()
        taken.append(handle)
        return really(handle)

    monkeypatch.setattr(lock, "_grasp", grasp)
    with locked(path):
        assert len(taken) == 2


def test_nobody_may_write_beside_the_folder(tmp_path, monkeypatch):
    out = tmp_path / "out"
    out.mkdir()
    really = os.open

    def refused(path, *more, **others):
        if Path(path).parent == tmp_path:
            raise PermissionError(13, "Permission denied")
        return really(path, *more, **others)

    monkeypatch.setattr(os, "open", refused)
    with locked_folder(out), pytest.raises(OutputError, match="another run"), locked_folder(out):
        pass


@pytest.mark.skipif(not Path("/proc/self").is_dir(), reason="no such file system here")
def test_a_folder_in_which_nothing_can_be_made_is_not_busy():
    with (
        pytest.raises(OutputError, match="/proc/accomp: cannot write here"),
        locked_folder(Path("/proc/accomp")),
    ):
        pass
