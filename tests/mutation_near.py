"""Where a change shows: lines whose tests have reason to notice it."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

from mutation_changes import PACKAGE, Change, changed_tree

_FUNCTION = (ast.FunctionDef, ast.AsyncFunctionDef)


@dataclass(frozen=True)
class Place:
    """The lines of the statement that is changed, and what depends on it at import."""

    lines: frozenset[int]
    inside: bool  # a function, which can be given other code while the program runs
    names: frozenset[str]  # by which other code knows of it


def place_of(change: Change) -> Place:
    """Where a change shows in its own module."""
    made = changed_tree(change)
    target = made.node
    if change.kind == "statement":
        target = made.node.body[change.detail]  # type: ignore[attr-defined]
    chain = _chain(made.tree, target)
    inside = any(
        name == "body" and isinstance(node, (*_FUNCTION, ast.Lambda)) for node, name in chain
    )
    around = [node for node, _ in chain if isinstance(node, ast.stmt)]
    if isinstance(target, ast.stmt):
        around.append(target)
    smallest = around[-1]
    lines = frozenset(range(smallest.lineno, (smallest.end_lineno or smallest.lineno) + 1))
    names = {name for node in around for name in _bound(node)} if not inside else set()
    names |= {node.name for node in around if isinstance(node, _FUNCTION)}
    return Place(lines, inside, frozenset(names))


def _chain(tree: ast.AST, target: ast.AST) -> list[tuple[ast.AST, str]]:
    """The nodes around a node, each with the field that leads to it."""

    def search(node: ast.AST) -> list[tuple[ast.AST, str]] | None:
        for name, value in ast.iter_fields(node):
            for child in value if isinstance(value, list) else [value]:
                if child is target:
                    return [(node, name)]
                if isinstance(child, ast.AST) and (found := search(child)) is not None:
                    return [(node, name), *found]
        return None

    return search(tree) or [(tree, "body")]


def _bound(statement: ast.AST) -> Iterator[str]:
    match statement:
        case ast.ClassDef(name=name) | ast.FunctionDef(name=name):
            yield name
        case ast.Assign(targets=targets):
            for target in targets:
                yield from (n.id for n in ast.walk(target) if isinstance(n, ast.Name))
        case ast.AnnAssign(target=ast.Name(id=name)) | ast.AugAssign(target=ast.Name(id=name)):
            yield name


@dataclass
class Uses:
    """The names that code of a module speaks of: when imported, and in functions."""

    module: str
    binds: list[tuple[frozenset[str], frozenset[str]]] = field(default_factory=list)
    functions: list[tuple[range, frozenset[str]]] = field(default_factory=list)


@cache
def _uses(root: Path) -> list[Uses]:
    found = []
    for path in sorted((root / PACKAGE).rglob("*.py")):
        uses = Uses(str(path.relative_to(root)))
        for statement in ast.parse(path.read_text(encoding="utf-8")).body:
            outside = set(_bound(statement))
            spoken = set()
            for node, deep in _walk(statement, False):
                if deep and isinstance(node, ast.stmt) and not hasattr(node, "body"):
                    lines = range(node.lineno, (node.end_lineno or node.lineno) + 1)
                    uses.functions.append((lines, _spoken(node)))
                elif deep and isinstance(node, ast.stmt):
                    uses.functions.append((range(node.lineno, node.lineno + 1), _head(node)))
                elif not deep:
                    spoken |= _own(node)
            uses.binds.append((frozenset(outside), frozenset(spoken)))
        found.append(uses)
    return found


def _walk(node: ast.AST, deep: bool) -> Iterator[tuple[ast.AST, bool]]:
    yield node, deep
    for name, value in ast.iter_fields(node):
        below = deep or (name == "body" and isinstance(node, (*_FUNCTION, ast.Lambda)))
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, ast.AST):
                yield from _walk(child, below)


def _own(node: ast.AST) -> set[str]:
    match node:
        case ast.Name(id=name) | ast.Attribute(attr=name):
            return {name}
    return set()


def _spoken(node: ast.AST) -> frozenset[str]:
    return frozenset(name for inner in ast.walk(node) for name in _own(inner))


def _head(node: ast.stmt) -> frozenset[str]:
    """What a statement speaks of before its body."""
    names: set[str] = set()
    for name, value in ast.iter_fields(node):
        if name not in {"body", "orelse", "finalbody", "handlers", "cases"}:
            for child in value if isinstance(value, list) else [value]:
                if isinstance(child, ast.AST):
                    names |= _spoken(child)
    for case in getattr(node, "cases", []):
        names |= _spoken(case.pattern)
    return frozenset(names)


def readers(root: Path, names: frozenset[str]) -> dict[str, set[int]]:
    """The lines in functions that speak of any of these names, or of what is made of them."""
    known = set(names)
    while True:
        more = {
            name
            for uses in _uses(root)
            for binds, spoken in uses.binds
            if spoken & known
            for name in binds
        }
        if more <= known:
            break
        known |= more
    found: dict[str, set[int]] = {}
    for uses in _uses(root):
        for lines, spoken in uses.functions:
            if spoken & known:
                found.setdefault(uses.module, set()).update(lines)
    return found
