"""In which order a job's items are made, by how many, how much is told of it, what is taken up."""

from __future__ import annotations

import contextlib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

from accomp.errors import OutputError
from accomp.job import workers
from accomp.job.build import Build, BuildRecord
from accomp.job.items import Item, Outcome, digest
from accomp.job.make import TuneJob
from accomp.job.manifest import NAME, Label, MadeFile, Manifest


class Piece(Item):
    """Work of a weight, which says half-way how far it is."""

    made: list[str]

    def __init__(self, name: str, weight: float, *more: str) -> None:
        label = Label("midi", "full")
        object.__setattr__(self, "labels", dict.fromkeys((name, *more), label))
        object.__setattr__(self, "_weight", weight)
        object.__setattr__(self, "good", True)

    @property
    def inputs(self) -> str:
        """Its name."""
        return digest(*self.labels)

    @property
    def weight(self) -> float:
        """As given."""
        return float(self._weight)  # type: ignore[attr-defined]

    def usable(self, paths: Mapping[str, Path]) -> bool:
        """As somebody has said."""
        return bool(self.good)  # type: ignore[attr-defined]

    def write(self, paths: Mapping[str, Path], progress: Any) -> Outcome:
        """Its own name."""
        Piece.made.append(next(iter(self.labels)))
        progress(0.5)
        for name, path in paths.items():
            path.write_text(name)
        return Outcome(("said",), "font")


class Here:
    """In place of workers: the work is done here, in the order in which it is handed over."""

    begun: list[int]

    def __init__(self, jobs: int) -> None:
        Here.begun.append(jobs)

    def __enter__(self) -> Here:
        return self

    def __exit__(self, *_: object) -> None:
        Here.begun.append(-1)

    def done(self, work: Any, tasks: Any) -> Any:
        """Each with what came of it."""
        for task in tasks:
            yield task, work(task, lambda share: None)


@pytest.fixture(autouse=True)
def _here(monkeypatch: pytest.MonkeyPatch) -> None:
    Piece.made, Here.begun = [], []
    monkeypatch.setattr(workers, "Workers", Here)


def pieces() -> list[Piece]:
    return [Piece("a", 1.0), Piece("b", 3.0), Piece("c", 2.0)]


def test_one_process_makes_items_in_their_order_and_tells_shares(tmp_path: Path) -> None:
    told: list[tuple[str, float]] = []
    build = Build(tmp_path, progress=lambda what, share: told.append((what, share)))
    with build.opened():
        records = build.make(pieces(), (0.2, 0.8))
    assert Here.begun == []
    assert Piece.made == ["a", "b", "c"]
    assert [list(record.sha256) for record in records] == [["a"], ["b"], ["c"]]
    shares = [0.2 + 0.6 * done / 6 for done in (0.5, 1, 2.5, 4, 5, 6)]
    assert [what for what, _ in told] == ["a", "a", "b", "b", "c", "c"]
    assert [share for _, share in told] == pytest.approx(shares)


@pytest.mark.parametrize(("jobs", "used"), [(2, 2), (3, 3), (9, 3)])
def test_several_processes_make_the_longest_first(jobs: int, used: int, tmp_path: Path) -> None:
    told: list[tuple[str, float]] = []
    build = Build(tmp_path, jobs=jobs, progress=lambda what, share: told.append((what, share)))
    with build.opened():
        records = build.make(pieces())
    assert Here.begun == [used, -1]
    assert Piece.made == ["b", "c", "a"]
    assert [list(record.sha256) for record in records] == [["a"], ["b"], ["c"]]
    assert told == [("b", 0.5), ("c", pytest.approx(5 / 6)), ("a", 1.0)]


def test_a_single_item_needs_no_other_process_and_begun_ones_are_used(tmp_path: Path) -> None:
    build = Build(tmp_path, jobs=4)
    with build.opened():
        build.make(pieces()[:1])
        assert Here.begun == []
        build.make(pieces(), workers=Here(7))  # type: ignore[arg-type]
        assert Here.begun == [7, -1]
        assert Piece.made == ["a", "b", "c"]  # the first is there already
        build.make([])
        assert Build(tmp_path).progress("nobody hears", 1.0) is None  # type: ignore[func-returns-value]


def manifest_with(folder: Path, piece: Piece, inputs: str | None = None) -> None:
    import hashlib

    files = tuple(
        MadeFile(
            name, "midi", "full", None, "C", 1.0, "p", "s",
            hashlib.sha256(name.encode()).hexdigest(), inputs or piece.inputs, ("old",), "f", "y",
        )
        for name in piece.labels
    )  # fmt: skip
    (folder / NAME).write_bytes(Manifest("T", files).json())
    for name in piece.labels:
        (folder / name).write_text(name)


def test_what_an_earlier_run_finished_is_taken_up_whole_or_not_at_all(tmp_path: Path) -> None:
    piece = Piece("a", 1.0, "b")
    manifest_with(tmp_path, piece)
    build = Build(tmp_path)
    with build.opened():
        (record,) = build.make([piece])
        assert Piece.made == []
        assert record.outcome == Outcome(("old",), "f", "y")
        (tmp_path / "b").write_text("other")
        assert build.found([piece]) == {piece.inputs: None}
        (tmp_path / "b").write_text("b")
        assert build.found([piece])[piece.inputs] is not None
        assert build.found([Piece("a", 1.0)]) == {Piece("a", 1.0).inputs: None}
        manifest_with(tmp_path, piece, inputs="others")
        assert build.found([piece]) == {piece.inputs: None}
    again = Build(tmp_path, again=True)
    manifest_with(tmp_path, piece)
    with again.opened():
        again.make([piece])
    assert Piece.made == ["a"]


def stopped(build: Build, piece: Piece) -> None:
    """A run that makes an item and is stopped then."""
    with contextlib.suppress(ZeroDivisionError), build.opened():
        build.make([piece])
        raise ZeroDivisionError


def test_what_a_stopped_run_left_is_taken_up_where_it_is_whole(tmp_path: Path) -> None:
    piece = Piece("a", 1.0, "b")
    build = Build(tmp_path, keep=True)
    stopped(build, piece)
    assert build.work.is_dir()
    with build.opened():
        assert build.found([piece])[piece.inputs] is not None
        object.__setattr__(piece, "good", False)
        assert build.found([piece]) == {piece.inputs: None}
        object.__setattr__(piece, "good", True)
        paths = build.paths(piece)
        assert [path.name for path in paths.values()] == [
            f"{piece.inputs}-0", f"{piece.inputs}-1",
        ]  # fmt: skip
        paths["a"].rename(tmp_path / "a")  # it was put into place before the run was killed
        assert build.found([piece])[piece.inputs] is not None
        paths["b"].unlink()
        assert build.found([piece]) == {piece.inputs: None}
    assert not build.work.exists()
    forget = Build(tmp_path)
    stopped(forget, piece)
    assert not forget.work.exists()


def test_a_file_in_the_way_is_told_of_before_anything_is_made(tmp_path: Path) -> None:
    (tmp_path / "b").write_text("somebody's")
    job = TuneJob("T", tuple(pieces()), (), (), Build(tmp_path))
    with pytest.raises(OutputError, match="b"), job.opened():
        Piece.made.append("begun")
    assert Piece.made == []
    assert (tmp_path / "b").read_text() == "somebody's"
    replacing = TuneJob("T", tuple(pieces()), (), (), Build(tmp_path, replace=True))
    with replacing.opened():
        records = replacing.build.make(replacing.items)
        made = replacing.finished(records)
    assert (tmp_path / "b").read_text() == "b"
    assert [file.path for file in made.files] == ["a", "b", "c"]
    assert made.notices == ("said",)
    (tmp_path / "c").write_text("edited")
    with pytest.raises(OutputError), job.opened():
        pass


def test_the_manifest_knows_what_lies_there_from_before(tmp_path: Path) -> None:
    def made(names: list[Piece]) -> Manifest:
        job = TuneJob("T", tuple(names), (), (), Build(tmp_path))
        with job.opened():
            return job.finished(job.build.make(job.items))

    made(pieces())
    second = made([Piece("d", 1.0)])
    assert list(second.earlier) == ["a", "b", "c"]
    (tmp_path / "b").unlink()
    third = made([Piece("a", 1.0)])
    assert list(third.earlier) == ["c", "d"]
    assert isinstance(third, Manifest)
    assert BuildRecord({"a": "1"}, Outcome()).sha256 == {"a": "1"}
