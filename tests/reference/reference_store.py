"""What is kept of all outputs, read and written.

Conventions: a file of hashes has a line for each input, its name and then kind=hash, where a
hash is the first 16 hexadecimal digits of SHA-256; a file of texts has each text below its name.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

KEPT = Path(__file__).parent / "kept"
HEAD = "== "
LONGEST = 1600  # signs of a text that is kept as it is
Made = dict[str, bytes]


@dataclass(frozen=True)
class Group:
    """Inputs of one sort: their names, and what comes out of one; kept as hashes or as texts."""

    name: str
    names: Callable[[], Iterable[str]]
    make: Callable[[str], Made]
    texts: bool = False

    @property
    def path(self) -> Path:
        return KEPT / f"{self.name}.txt"

    def kept(self) -> dict[str, dict[str, str]]:
        """What is kept: by input, then by kind."""
        if not self.path.exists():
            return {}
        text = self.path.read_text(encoding="utf-8")
        return _texts(text) if self.texts else _hashes(text)

    def shown(self, made: Made) -> dict[str, str]:
        """Outputs as they are kept."""
        if self.texts:
            return {"text": _shown(b"".join(made.values()).decode().strip("\n"))}
        return {kind.replace(" ", "-"): digest(data) for kind, data in made.items()}

    def renew(self) -> None:
        """Make everything and keep it."""
        rows = {name: self.shown(self.make(name)) for name in self.names()}
        KEPT.mkdir(exist_ok=True)
        self.path.write_text(self._written(rows), encoding="utf-8")

    def _written(self, rows: Mapping[str, Mapping[str, str]]) -> str:
        if self.texts:
            return "".join(f"{HEAD}{name}\n{kinds['text']}\n" for name, kinds in rows.items())
        return "".join(
            f"{name}\t{' '.join('='.join(one) for one in kinds.items())}\n"
            for name, kinds in rows.items()
        )

    def judge(self, names: Iterable[str]) -> None:
        """Fail where an output is not as it is kept, and say how to see what has changed."""
        other = []
        for name in names:
            kept, made = _kept(self).get(name, {}), self.shown(self.make(name))
            kinds = [kind for kind in {**kept, **made} if kept.get(kind) != made.get(kind)]
            if kinds and self.texts:
                other.append(f"{name}: was\n{kept.get('text')}\nand is\n{made['text']}\n")
            elif kinds:
                other.append(f"{name}: {', '.join(kinds)}")
        assert not other, (
            f"{len(other)} inputs of {self.name!r} have other outputs than those kept.\n"
            + "\n".join(other[:20])
            + "\nTo see more, run `python tests/reference/reference_run.py --write FOLDER NAME...` "
            "here and on the commit before, with two folders, and compare them. If it is meant, "
            f"run it with `--renew {self.name}`, and read what changes in {self.path.name}."
        )


@cache
def _kept(group: Group) -> dict[str, dict[str, str]]:
    return group.kept()


def _shown(text: str) -> str:
    """A text as it is kept: of a long one its begin, and the hash of all."""
    if len(text) <= LONGEST:
        return text
    return f"{text[: LONGEST // 2]}\n... {len(text)} signs, {digest(text.encode())}"


def digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()[:16]


def _hashes(text: str) -> dict[str, dict[str, str]]:
    rows = (line.partition("\t") for line in text.splitlines())
    return {name: dict(one.split("=") for one in kinds.split()) for name, _, kinds in rows}


def _texts(text: str) -> dict[str, dict[str, str]]:
    found: dict[str, list[str]] = {}
    for line in text.split("\n"):
        if line.startswith(HEAD):
            found[line.removeprefix(HEAD)] = []
        elif found:
            found[list(found)[-1]].append(line)
    return {name: {"text": "\n".join(lines).strip("\n")} for name, lines in found.items()}
