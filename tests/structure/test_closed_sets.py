"""Closed sets are types: what can be asked for in words is refused by a type checker, too.

A word that nobody knows is refused at run time with a sentence of its own; here stands that the
types know the same words, and that none of them is a plain text on its way to the writers.
"""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import fields
from pathlib import Path
from typing import Any, get_args, get_type_hints

import pytest

import accomp
from accomp.errors import InputError
from accomp.job.book_read import BookFile, WholeBook
from accomp.job.options import Options

PACKAGE = Path(accomp.__file__).parent
# Neither voices nor other people's lead sheets are asked for in such words.
ROOMS = (
    "files", "harmony", "time", "neck", "tune", "rhythm", "score", "write", "job", "web", "cli",
    "notebook",
)  # fmt: skip

# What parameters and fields are called that take words of closed sets: what somebody asks for, and
# what a tune, a chord, a stroke or a file may be.
NAMES = frozenset(
    """audio_format boxes format group only pages paper part parts plan reader readers role shapes
    side usual_vocabulary vocabulary
    action approach begin dim direction does end ending force kind sound stage step
    technique""".split()
)
# Texts under such a name that are no word of a closed set, and why.
_CHORD_KIND = "a row of chords.toml, which may get more of them"
_ENDING = "the number of an ending, or that it is the last"
TEXTS = {
    "cli/writing.py ending": "how a file's name ends",
    "harmony/alter.py kind": _CHORD_KIND,
    "harmony/chord.py kind": _CHORD_KIND,
    "harmony/kind.py kind": _CHORD_KIND,
    "harmony/naming.py kind": _CHORD_KIND,
    "harmony/table.py kind": _CHORD_KIND,
    "job/manifest.py kind": "another version's manifest can be read, whatever its kinds are",
    "neck/explain.py shapes": "shapes in words",
    "tune/coded.py shapes": "frets for chords, as a tune file has them",
    "tune/road.py ending": _ENDING,
    "tune/unfold.py ending": _ENDING,
    "write/audio/tags.py kind": "a frame of ID3, by its four letters",
    "write/midi.py kind": "a meta message, as mido names them",
    "write/musicxml_directions.py sound": "an element of MusicXML and what it says",
    "cli/neck.py only": "names of positions, or of keys",
    "job/manifest.py part": "an instrument, and for whom it is written, as people read it",
    "job/manifest.py role": "another version's manifest can be read, whatever its roles are",
}
_OF_ONE = {"Collection", "Iterable", "Iterator", "Sequence", "frozenset", "list", "set"}


def _plain(annotation: ast.expr) -> bool:
    """Whether an annotation says text, several texts, a table by texts, or any of these or None."""
    match annotation:
        case ast.Constant(value=str() as quoted):
            return _plain(ast.parse(quoted, mode="eval").body)
        case ast.Name(id=name):
            return name == "str"
        case ast.BinOp(op=ast.BitOr(), left=left, right=right):
            return _plain(left) or _plain(right)
        case ast.Subscript(value=ast.Name(id="Optional"), slice=inside):
            return _plain(inside)
        case ast.Subscript(value=ast.Name(id=name), slice=inside) if name in _OF_ONE:
            return _is_text(inside)
        case ast.Subscript(value=ast.Name(id="tuple"), slice=ast.Tuple(elts=[inside, several])):
            # Of any number of one kind: of two kinds it would be a row, not a set.
            return _is_text(inside) and ast.unparse(several) == "..."
        case ast.Subscript(value=ast.Name(id="Mapping" | "dict"), slice=ast.Tuple(elts=[key, _])):
            return _is_text(key)
    return False


def _is_text(annotation: ast.expr) -> bool:
    return ast.unparse(annotation) == "str"


def _annotated(module: ast.Module) -> Iterator[tuple[str, ast.expr]]:
    """Parameters, fields and variables of such a name, with their annotations."""
    for node in ast.walk(module):
        match node:
            case ast.arg(arg=name, annotation=ast.expr() as annotation):
                pass
            case ast.AnnAssign(target=ast.Name(id=name), annotation=annotation):
                pass
            case _:
                continue
        if name in NAMES:
            yield name, annotation


def _texts(module: ast.Module) -> Iterator[str]:
    """Those among them that are annotated as plain texts."""
    return (name for name, annotation in _annotated(module) if _plain(annotation))


def test_no_word_of_a_closed_set_is_a_plain_text() -> None:
    found = {
        f"{path.relative_to(PACKAGE).as_posix()} {name}"
        for room in ROOMS
        for path in (PACKAGE / room).rglob("*.py")
        for name in _texts(ast.parse(path.read_text(encoding="utf-8")))
    }
    assert found == TEXTS.keys()


def test_every_such_name_is_used_with_a_type_of_its_own() -> None:
    used = {
        name
        for room in ROOMS
        for path in (PACKAGE / room).rglob("*.py")
        for name, annotation in _annotated(ast.parse(path.read_text(encoding="utf-8")))
        if not _plain(annotation)
    }
    assert used >= NAMES


@pytest.mark.parametrize(
    ("line", "seen"),
    [
        ("def f(paper: str) -> None: ...", True),
        ("def f(*, paper: str | None = None) -> None: ...", True),
        ("def f(paper: 'str') -> None: ...", True),
        ("async def f(readers: Sequence[str]) -> None: ...", True),
        ("class A:\n    only: tuple[str, ...] = ()", True),
        ("class A:\n    pages: tuple[str, ...] | None = None", True),
        ("class A:\n    def f(self, group: Mapping[str, int]) -> None: ...", True),
        ("paper: Optional[str] = None", True),
        ("def f(paper: Paper) -> None: ...", False),
        ("class A:\n    only: tuple[AskedKind, ...] = ()", False),
        ("def f(parts: Iterable[tuple[str, Performance]]) -> None: ...", False),
        ("def f(pages: Sequence[Mapping[str, Any]]) -> None: ...", False),
        ("def f(title: str) -> None: ...", False),
    ],
)
def test_a_plain_text_is_seen(line: str, seen: bool) -> None:
    assert bool(list(_texts(ast.parse(line)))) == seen


def _words(hint: Any) -> set[str]:
    """The words that a type knows, inside unions and tuples, too."""
    if isinstance(hint, str):
        return {hint}
    return {word for one in get_args(hint) for word in _words(one)}


TYPED = {
    option.name: words
    for option in fields(Options)
    if (words := _words(get_type_hints(Options)[option.name]))
}


def test_the_options_of_words_are_typed() -> None:
    assert TYPED.keys() == {
        "audio_format", "boxes", "only", "paper", "parts", "plan", "readers", "shapes", "side",
        "usual_vocabulary", "vocabulary",
    }  # fmt: skip


@pytest.mark.parametrize("name", TYPED)
def test_an_option_takes_the_words_of_its_type_and_no_others(name: str) -> None:
    several = isinstance(getattr(Options(), name), tuple)

    def asked(word: str) -> Options:
        given: dict[str, Any] = {name: (word,) if several else word}
        return Options(**given)

    for word in TYPED[name]:
        kept = getattr(asked(word), name)
        assert kept == ((word,) if several else word)
    with pytest.raises(InputError) as caught:
        asked("qqqq")
    (problem,) = caught.value.problems
    assert set(problem.expected.replace('"', "").split(" or ")) == TYPED[name]


@pytest.mark.parametrize("name", ["boxes", "pages", "paper", "part"])
def test_a_book_has_the_types_of_what_its_file_may_say(name: str) -> None:
    said, whole = (_words(get_type_hints(kind)[name]) for kind in (BookFile, WholeBook))
    assert said == whole != set()


# Written as somebody writes it who has a type checker: what is wrong is marked.
PROGRAM = """\
import accomp
from accomp import Options

Options(paper="letter", boxes="changes", side="right", audio_format="ogg", plan="free")
Options(only=("midi", "page"), parts=("score", "bass"), readers=("Bb", "concert"))
Options(vocabulary="first", usual_vocabulary="all", shapes="known")
Options(paper="a5")  # wrong
Options(boxes="bottom")  # wrong
Options(side="middle")  # wrong
Options(audio_format="aiff")  # wrong
Options(plan="fixt")  # wrong
Options(only=("midi", "cue"))  # wrong
Options(parts=("treble",))  # wrong
Options(readers=("F",))  # wrong
Options(shapes="first")  # wrong
Options(vocabulary="known")  # wrong


def played(tune: accomp.Tune) -> None:
    piece = accomp.arrange(tune, plan="free", vocabulary="inversions")
    piece.perform(group="without-player")
    piece.score("tab", "concert")
    piece.score("bass", reader="bass")
    piece.audio(format="mp3", group="player")
    piece.to_pdf(paper="letter")
    piece.to_pdf("tune.pdf", paper="a4")
    piece.to_audio("tune.flac", group="full")
    accomp.arrange(tune, plan="fixt")  # wrong
    accomp.positions(tune, plan="fixt")  # wrong
    piece.perform(group="band")  # wrong
    piece.score("treble")  # wrong
    piece.score(reader="F")  # wrong
    piece.audio(format="aiff")  # wrong
    piece.audio(group="band")  # wrong
    piece.to_pdf(paper="a5")  # wrong
    piece.to_pdf("tune.pdf", paper="a5")  # wrong
    piece.to_audio(group="band")  # wrong
"""


@pytest.mark.slow
def test_a_type_checker_refuses_the_words_that_nobody_knows(tmp_path: Path) -> None:
    program = tmp_path / "program.py"
    program.write_text(PROGRAM)
    root = PACKAGE.parent
    words = ["--strict", f"--config-file={root / 'pyproject.toml'}", f"--cache-dir={tmp_path}"]
    done = subprocess.run(
        [sys.executable, "-m", "mypy", *words, "--no-error-summary", str(program)],
        capture_output=True,
        text=True,
        cwd=root,
        timeout=600,
    )
    refused = {int(line.split(":")[1]) for line in done.stdout.splitlines() if ": error: " in line}
    wrong = {at for at, line in enumerate(PROGRAM.splitlines(), 1) if line.endswith("# wrong")}
    assert refused == wrong, done.stdout + done.stderr
