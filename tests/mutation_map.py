"""Which tests pass through which line of the package, kept in a folder from run to run.

There is one piece for each test file: its tests with what they cost, and for each module the lines
that each test passes through, in the test's own process and in programs that it starts. A piece
holds until its test file changes. When a module has changed since, its lines are looked up where
they stand now; where they have changed themselves, whoever passes through their function counts.
"""

from __future__ import annotations

import ast
import difflib
import hashlib
import json
import os
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any

Lines = dict[str, dict[int, int]]  # of each module: line to the set of tests, a bit for each
IMPORT = "import"  # what the package runs when it is imported, and below it what test files run


def digest(path: Path) -> str:
    """What tells a text from another one."""
    return hashlib.sha256(path.read_bytes()).hexdigest()[:20]


@dataclass(frozen=True)
class Test:
    """A test, what it costs with what it shares with others, and whether it may be believed."""

    name: str
    cost_s: float
    green: bool = True

    @property
    def file(self) -> str:
        """Its file, from the root of the tree."""
        return self.name.partition("::")[0]

    @property
    def room(self) -> str:
        """The folder that it stands in, which is called like a room."""
        return self.file.split("/")[1]


@dataclass
class Piece:
    """What the tests of one file pass through."""

    file: str
    digest: str
    tests: list[Test]
    here: Lines
    elsewhere: Lines  # in programs that the tests start
    modules: dict[str, str] = field(default_factory=dict)  # digests of the texts that were run

    def write(self, path: Path) -> None:
        """Many lines have the same tests, so that they are kept together."""
        data = {
            "file": self.file,
            "digest": self.digest,
            "tests": [[test.name, round(test.cost_s, 4), test.green] for test in self.tests],
            "here": _grouped(self.here),
            "elsewhere": _grouped(self.elsewhere),
            "modules": self.modules,
        }
        new = path.with_suffix(f".{os.getpid()}")
        new.write_text(json.dumps(data), encoding="utf-8")
        new.replace(path)

    @classmethod
    def read(cls, path: Path) -> Piece:
        """A piece as it was written."""
        data: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
        here, elsewhere = (_spread(data[name]) for name in ("here", "elsewhere"))
        tests = [Test(*row) for row in data["tests"]]
        return cls(data["file"], data["digest"], tests, here, elsewhere, data["modules"])


def _grouped(lines: Lines) -> dict[str, list[tuple[str, list[int]]]]:
    found: dict[str, dict[int, list[int]]] = {}
    for module, by_line in lines.items():
        for line, tests in sorted(by_line.items()):
            found.setdefault(module, {}).setdefault(tests, []).append(line)
    return {m: [(f"{tests:x}", some) for tests, some in rows.items()] for m, rows in found.items()}


def _spread(groups: Mapping[str, Iterable[tuple[str, list[int]]]]) -> Lines:
    return {
        module: {line: int(tests, 16) for tests, some in rows for line in some}
        for module, rows in groups.items()
    }


class Map:
    """All pieces, and the tree that they are asked about."""

    def __init__(self, folder: Path, root: Path) -> None:
        self.folder = folder
        self.root = root
        self.pieces: dict[str, Piece] = {}
        self._moved: dict[tuple[str, str], dict[int, list[int]]] = {}
        (folder / "texts").mkdir(parents=True, exist_ok=True)
        for path in sorted(folder.glob("*.json")):
            piece = Piece.read(path)
            self.pieces[piece.file] = piece

    @cached_property
    def tests(self) -> dict[str, Test]:
        """All tests that can be run, by name."""
        return {test.name: test for piece in self._own() for test in piece.tests if test.green}

    def _own(self) -> list[Piece]:
        return [piece for file, piece in self.pieces.items() if file != IMPORT]

    def stale(self, files: Iterable[str]) -> list[str]:
        """The test files whose piece is not there or not of their present text."""
        known = {file: piece.digest for file, piece in self.pieces.items()}
        return [file for file in files if known.get(file) != digest(self.root / file)]

    def place_of(self, file: str) -> Path:
        """Where the piece of a test file is kept."""
        return self.folder / f"{file.removesuffix('.py').replace('/', '-')}.json"

    def keep(self, piece: Piece) -> None:
        """Keep a piece, and the text of each module as it was run."""
        for module in {*piece.here, *piece.elsewhere}:
            path = self.root / module
            piece.modules[module] = digest(path)
            text = self.folder / "texts" / piece.modules[module]
            if not text.exists():
                text.write_bytes(path.read_bytes())
        piece.write(self.place_of(piece.file))
        self.pieces[piece.file] = piece
        self.__dict__.pop("tests", None)

    def through(self, module: str, lines: Iterable[int], elsewhere: bool = False) -> set[str]:
        """The tests that pass through any of these lines of a module as it is now."""
        asked = set(lines)
        found: set[str] = set()
        for piece in self._own():
            bits = self._bits(piece, piece.elsewhere if elsewhere else piece.here, module, asked)
            found.update(t.name for at, t in enumerate(piece.tests) if bits >> at & 1 and t.green)
        return found

    def at_import(self, module: str, lines: Iterable[int]) -> list[str]:
        """Who passes through when imported: `import` for the package itself, or test files."""
        piece = self.pieces.get(IMPORT)
        if piece is None:
            return []
        bits = self._bits(piece, piece.here, module, set(lines))
        return [test.name for at, test in enumerate(piece.tests) if bits >> at & 1]

    def _bits(self, piece: Piece, table: Lines, module: str, asked: set[int]) -> int:
        by_line = table.get(module)
        if not by_line:
            return 0
        bits = 0
        for line in asked:
            for before in self._before(module, piece.modules[module], line):
                bits |= by_line.get(before, 0)
        return bits

    def _before(self, module: str, text: str, line: int) -> list[int]:
        """Where a line stood in a text that was run."""
        if (module, text) not in self._moved:
            was = (self.folder / "texts" / text).read_text(encoding="utf-8")
            now = (self.root / module).read_text(encoding="utf-8")
            self._moved[module, text] = {} if was == now else dict(_moved(was, now))
        return self._moved[module, text].get(line, [line])


def _moved(was: str, now: str) -> Iterator[tuple[int, list[int]]]:
    """Every line of a text, with the lines of the text before that stand for it."""
    matcher = difflib.SequenceMatcher(None, was.splitlines(), now.splitlines(), autojunk=False)
    functions = [
        range(node.lineno, (node.end_lineno or node.lineno) + 1)
        for node in ast.walk(ast.parse(was))
        if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef))
    ]
    for kind, i, end, j, until in matcher.get_opcodes():
        if kind == "equal":
            yield from ((j + k + 1, [i + k + 1]) for k in range(end - i))
            continue
        around = [set(lines) for lines in functions if {i, i + 1, end} & set(lines)]
        stands = set(range(i + 1, end + 1)).union(*around)
        yield from ((line, sorted(stands)) for line in range(j + 1, until + 1))
