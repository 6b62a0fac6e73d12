"""Files and folders that the user has no right to."""

import os
import tempfile
from pathlib import Path

import pytest
from cli_refused import refuse


@pytest.fixture
def tmp_path():
    """A folder that other users may enter.

    Those that pytest makes are closed to them, and closed again whenever another pytest begins.
    """
    with tempfile.TemporaryDirectory() as folder:
        Path(folder).chmod(0o755)
        yield Path(folder)


@pytest.fixture
def plain_user(accomp, tune):
    """Give up root's power to read and write everything, where the tests run as root."""
    if not hasattr(os, "seteuid"):
        pytest.skip("permissions of this kind are POSIX")
    if os.geteuid() != 0:
        yield
        return
    warm = tune(name="warm.toml")
    assert accomp("make", warm, "--out", "warm", "--only", "midi").code == 0  # imports everything
    assert accomp("check", warm).code == 0
    os.seteuid(65534)  # "nobody" by convention
    yield
    os.seteuid(0)


def test_a_file_that_may_not_be_read(accomp, earlier, tune, plain_user):
    os.seteuid(os.getuid())
    path = tune(name="secret.toml")
    path.chmod(0)
    if os.getuid() == 0:
        os.seteuid(65534)
    refuse(accomp, earlier, "secret.toml", "no permission")


def test_a_folder_that_may_not_be_written(accomp, tune, tmp_path, plain_user):
    os.seteuid(os.getuid())
    tune()
    locked = tmp_path / "locked"
    locked.mkdir()
    (locked / "old.txt").write_text("mine")
    locked.chmod(0o555)
    if os.getuid() == 0:
        os.seteuid(65534)
    for out in ("locked", "locked/inner"):
        said = accomp("make", "tune.toml", "--out", out, "--only", "midi")
        assert said.code == 1
        assert "permission denied" in said.err
        assert "--out" in said.err
    assert [path.name for path in locked.iterdir()] == ["old.txt"]
