"""Folders and files that are made, moved and looked for: what is left, and what is said."""

from __future__ import annotations

import errno
import os
import tempfile
from hashlib import sha256
from pathlib import Path

import pytest

from accomp.errors import InputError, OutputError
from accomp.files import homes, lock, plain
from accomp.files.data import as_name, is_file, look_up
from accomp.files.folders import OutputFolder, output_errors, working_here
from accomp.files.homes import cache_folder, config_folder, data_folder
from accomp.files.keeping import as_sealed, keep_others, sealed
from accomp.files.moving import move_all
from accomp.files.saving import saved


def test_only_what_was_made_is_unmade_and_only_while_it_is_empty(tmp_path: Path) -> None:
    place = OutputFolder(tmp_path / "a" / "b")
    place.make()
    (tmp_path / "a" / "mine").write_text("")
    place.unmake()
    assert [path.name for path in (tmp_path / "a").iterdir()] == ["mine"]
    place = OutputFolder(tmp_path / "a" / "b")
    place.make()
    place.keep()
    place.unmake()
    assert (tmp_path / "a" / "b").is_dir()
    again = OutputFolder(tmp_path / "a" / "b")
    again.make()
    again.unmake()
    assert (tmp_path / "a" / "b").is_dir()  # it was there before
    with pytest.raises(OutputError) as caught:
        OutputFolder(tmp_path / "a" / "mine").make()
    assert str(caught.value) == (
        f"{tmp_path / 'a' / 'mine'}: this is a file, and a folder is needed here. Choose another "
        "place."
    )
    assert caught.value.helps == ("folder",)


def test_what_the_system_says_names_the_place(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full() -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    for around in (lambda: output_errors(tmp_path), working_here):
        monkeypatch.setattr(tempfile, "gettempdir", lambda: str(tmp_path))
        with pytest.raises(OutputError) as caught, around():
            full()
        assert str(caught.value) == (
            f"{tmp_path}: cannot write here (no space left on device). Nothing was changed; choose "
            "another folder or make room."
        )
        assert caught.value.helps == ("folder",)
    monkeypatch.setattr(tempfile, "gettempdir", full)
    with pytest.raises(OutputError) as caught, working_here():
        pass
    assert str(caught.value) == (
        "there is no folder for temporary files in which anything can be written. Name one by "
        "TMPDIR."
    )


def test_files_move_together_or_not_at_all(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def state() -> dict[str, str]:
        return {path.name: path.read_text() for path in tmp_path.iterdir() if path.is_file()}

    def begin() -> list[tuple[Path, Path]]:
        for name in ("a", "b", "c"):
            (tmp_path / f"new-{name}").write_text(f"new {name}")
        (tmp_path / "a").write_text("old a")
        (tmp_path / "c").write_text("old c")
        (tmp_path / "b").unlink(missing_ok=True)
        return [(tmp_path / f"new-{name}", tmp_path / name) for name in ("a", "b", "c")]

    replace = os.replace
    for failing in (0, 1, 2):
        pairs = begin()
        before = state()
        count = 0

        def once(source: Path, target: Path, failing: int = failing) -> None:
            nonlocal count
            count += 1
            if count == failing + 1:
                raise OSError(errno.EIO, "broken")
            replace(source, target)

        monkeypatch.setattr(os, "replace", once)
        with pytest.raises(OSError, match="broken"):
            move_all(pairs, tmp_path / "earlier")
        monkeypatch.setattr(os, "replace", replace)
        assert state() == before
    move_all(begin(), tmp_path / "earlier")
    assert state() == {"a": "new a", "b": "new b", "c": "new c"}
    assert sorted(path.read_text() for path in (tmp_path / "earlier").iterdir()) == [
        "old a", "old c",
    ]  # fmt: skip


def test_a_path_that_is_named_is_written_over(tmp_path: Path) -> None:
    assert saved(b"x", None) == b"x"
    path = tmp_path / "in" / "x"
    for data in (b"1", b"2"):
        assert saved(data, str(path)) == path
        assert path.read_bytes() == data
    assert [one.name for one in path.parent.iterdir()] == ["x"]


def test_a_seal_is_the_last_line_and_of_all_before_it(tmp_path: Path) -> None:
    path = tmp_path / "x"
    for data in (b"", b"x", b"x" * 93, b"x" * 1000):
        whole = sealed(data)
        assert whole == data + b"<!-- as accomp made it: %s -->\n" % (
            sha256(data).hexdigest().encode()
        )
        path.write_bytes(whole)
        assert as_sealed(path)
        for wrong in (b"y" + whole, whole + b"\n", whole[:-1], whole.replace(b"made", b"mode")):
            path.write_bytes(wrong)
            assert not as_sealed(path)


def test_whole_sentences_of_what_stays(tmp_path: Path) -> None:
    path = tmp_path / "x"
    path.write_bytes(b"mine")
    for given, told, helps in (
        ({"inputs": [path], "replace": True}, "this file is read for this very work, and would "
         "be lost. Choose another name.", ()),
        ({}, "this file is there already, and is not as this program would have made it. It is "
         "left as it is. Choose another place, or have it replaced.", ("replace",)),
    ):  # fmt: skip
        with pytest.raises(OutputError) as caught:
            keep_others(path, **given)
        assert (str(caught.value), caught.value.helps) == (f"{path}: {told}", helps)
    with pytest.raises(OutputError) as caught:
        keep_others(tmp_path)
    assert str(caught.value) == (
        f"{tmp_path}: a folder stands where a file would go. Choose another name."
    )
    with pytest.raises(OutputError) as caught:
        keep_others(Path("/dev/null"))
    assert str(caught.value) == (
        "/dev/null: this is a device, and only plain files are written to. Choose another name."
    )
    keep_others(path, known=[sha256(b"mine").hexdigest()])


def test_nobody_need_have_a_home(monkeypatch: pytest.MonkeyPatch) -> None:
    import platformdirs

    folders = {"data": data_folder, "config": config_folder, "cache": cache_folder}

    def nobody(*_: object, **__: object) -> str:
        raise KeyError("HOME")

    for name, find in folders.items():
        place = f"user_{name}_dir"
        seen = []

        def asked(*given: object, seen=seen, **more: object) -> str:
            seen.append((given, more))
            return "/home/x"

        monkeypatch.setattr(platformdirs, place, asked)
        assert find() == Path("/home/x")
        assert seen == [(("accomp",), {"appauthor": False})]
        monkeypatch.setattr(platformdirs, place, nobody)
        assert find() == Path(os.devnull) / "accomp"
        monkeypatch.setattr(platformdirs, place, lambda *_, **__: "~/x")
        assert find() == Path(os.devnull) / "accomp"
    assert homes.data_folder is data_folder


def test_a_file_is_still_what_it_was_by_its_bytes(tmp_path: Path) -> None:
    path = tmp_path / "x"
    assert not plain.is_still(path, sha256(b"").hexdigest())
    path.write_bytes(b"x")
    assert plain.is_still(path, sha256(b"x").hexdigest())
    assert not plain.is_still(path, sha256(b"y").hexdigest())


def test_standard_input_may_be_closed(monkeypatch: pytest.MonkeyPatch) -> None:
    plain._from_stdin.cache_clear()
    monkeypatch.setattr("sys.stdin", None)
    with plain.open_plain(Path("-")) as stream:
        assert stream.read() == b""
    plain._from_stdin.cache_clear()


def test_a_lock_is_waited_for_as_long_as_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    now = [100.0]
    slept: list[float] = []

    def sleep(seconds: float) -> None:
        slept.append(seconds)
        now[0] += seconds

    monkeypatch.setattr(lock.time, "monotonic", lambda: now[0])
    monkeypatch.setattr(lock.time, "sleep", sleep)
    path = tmp_path / "x.lock"
    with lock.locked(path):
        for wait_s, times in ((0.0, 0), (0.25, 3)):
            slept.clear()
            with pytest.raises(lock.BusyError), lock.locked(path, wait_s=wait_s):
                pass
            assert slept == [0.1] * times
    assert not path.exists()


def test_the_lock_of_a_folder_has_its_name_up_to_200_characters(tmp_path: Path) -> None:
    for length in (3, 200, 220):
        with lock.locked_folder(tmp_path / ("x" * length)):
            assert [path.name for path in tmp_path.iterdir()] == [
                f".{'x' * min(length, 200)}.accomp-lock"
            ]
        assert list(tmp_path.iterdir()) == []
    with lock.locked_folder(tmp_path / "out"):
        with pytest.raises(OutputError) as caught, lock.locked_folder(tmp_path / "out"):
            pass
        assert str(caught.value) == (
            f"{tmp_path / 'out'}: another run is making files in this folder. Wait until it is "
            "done, or choose another folder."
        )
        assert caught.value.helps == ("folder",)


def test_a_folder_that_others_take_away_is_tried_a_thousand_times(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    tried = []

    def gone(path: Path) -> None:
        tried.append(path)
        raise FileNotFoundError(errno.ENOENT, "No such file or directory")

    monkeypatch.setattr(lock, "locked", gone)
    told = pytest.raises(OutputError, match="no such file or directory")
    with told, lock.locked_folder(tmp_path / "out"):
        pass
    assert tried == [tmp_path / ".out.accomp-lock"] * 1000


@pytest.mark.parametrize(
    ("name", "hint"),
    [
        ("smal", "Did you mean 'small'? Known hands: large, small and what is yours."),
        ("xyz", "Known hands: large, small and what is yours."),
    ],
)
def test_a_name_that_is_none_shows_those_there_are(
    name: str, hint: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    for one in ("small", "large"):
        (tmp_path / f"{one}.toml").write_text("")
    monkeypatch.setattr("accomp.files.data.folders", lambda kind: (tmp_path,))
    assert look_up("hands", "small", "a hand") == tmp_path / "small.toml"
    with pytest.raises(InputError) as caught:
        look_up("hands", name, "a hand", " and what is yours")
    (problem,) = caught.value.problems
    assert (problem.message, problem.hint) == (f"{name!r} is not a hand.", hint)
    assert (problem.found, problem.expected) == (name, "large, small")


def test_of_many_names_only_the_near_one_is_shown(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr("accomp.files.data.folders", lambda kind: (tmp_path,))
    for number in range(12):
        (tmp_path / f"hand-{number:02}.toml").write_text("")
    for shown in (True, False):
        with pytest.raises(InputError) as caught:
            look_up("hands", "hand-0x", "a hand")
        assert ("Known hands:" in caught.value.problems[0].hint) is shown
        (tmp_path / "hand-12.toml").write_text("")


def test_names_are_texts_and_files_end_in_toml() -> None:
    assert as_name("x", "a hand") == "x"
    with pytest.raises(InputError) as caught:
        as_name(3, "a hand")
    assert str(caught.value) == (
        "a hand is named here by a text, and this is of type int. Write it in quotes."
    )
    assert [is_file(name) for name in ("x", "x.toml", "a/x", "toml")] == [False, True, True, False]
