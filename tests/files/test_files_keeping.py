"""What is written over, and what never: people's own files, what is no file, what is read."""

import os
import socket
import tempfile
from hashlib import sha256
from pathlib import Path

import pytest

from accomp.errors import OutputError
from accomp.files.aside import Batch
from accomp.files.keeping import keep_others, sealed
from accomp.files.plain import NotPlainError, is_still, open_plain


def test_a_file_of_known_bytes_may_go_and_others_not(tmp_path):
    path = tmp_path / "x"
    keep_others(path)
    path.write_bytes(b"made")
    keep_others(path, known={sha256(b"made").hexdigest()})
    with pytest.raises(OutputError, match="there already") as caught:
        keep_others(path, known={sha256(b"other").hexdigest()})
    assert caught.value.helps == ("replace",)
    keep_others(path, replace=True)


def test_a_sealed_file_may_go_until_somebody_changes_it(tmp_path):
    path = tmp_path / "x.html"
    whole = sealed(b"<p>made</p>")
    path.write_bytes(whole)
    keep_others(path)
    for changed in (
        whole.replace(b"made", b"mine"),
        whole + b"<p>mine</p>",
        b"mine" + whole,
        whole[:-40],
        b"",
    ):
        path.write_bytes(changed)
        with pytest.raises(OutputError, match="there already"):
            keep_others(path)
    path.write_bytes(sealed(b""))
    keep_others(path)


def test_what_the_command_reads_is_never_replaced(tmp_path):
    tune, other = tmp_path / "tune.toml", tmp_path / "same.toml"
    tune.write_text("mine")
    os.link(tune, other)
    with pytest.raises(OutputError, match="read for this very work"):
        keep_others(other, replace=True, inputs=[tmp_path / "absent", tune])


def odd_things(folder: Path) -> dict[str, Path]:
    found = {name: folder / name for name in ("pipe", "link", "gone", "socket")}
    os.mkfifo(found["pipe"])
    (folder / "file").write_text("mine")
    found["link"].symlink_to(folder / "file")
    found["gone"].symlink_to(folder / "nowhere")
    found["device"] = Path("/dev/null")
    server = socket.socket(socket.AF_UNIX)
    with tempfile.TemporaryDirectory() as short:  # a socket's path is a hundred signs at most
        server.bind(f"{short}/s")
        os.rename(f"{short}/s", found["socket"])
    server.close()
    return found


def test_what_is_no_plain_file_is_never_written_to(tmp_path):
    for path in odd_things(tmp_path).values():
        with pytest.raises(OutputError, match="only plain files"):
            keep_others(path, replace=True)


def test_what_is_no_plain_file_is_not_waited_for(tmp_path):
    things = odd_things(tmp_path)
    for name in ("pipe", "socket", "device"):
        with pytest.raises(NotPlainError) as caught:
            open_plain(things[name])
        assert caught.value.strerror == f"this is a {name}, and a plain file is needed"
        assert (caught.value.filename, caught.value.sort) == (str(things[name]), f"a {name}")
        assert not is_still(things[name], "")
    with open_plain(things["link"]) as stream:
        assert stream.read() == b"mine"


def test_a_batch_writes_the_same_bytes_again_and_no_others(tmp_path):
    for data in (b"1", b"1"):
        with Batch(tmp_path) as batch:
            batch.path("x").write_bytes(data)
            batch.commit()
    with Batch(tmp_path) as batch:
        batch.path("x").write_bytes(b"2")
        with pytest.raises(OutputError, match="left as it is"):
            batch.commit()
    assert (tmp_path / "x").read_bytes() == b"1"
