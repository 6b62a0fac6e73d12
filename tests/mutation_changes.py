"""Single changes to the package: which there are, what each makes of its module, and a draw."""

from __future__ import annotations

import ast
import random
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parent.parent
PACKAGE = "accomp"

_COMPARED: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq, ast.In: ast.NotIn, ast.NotIn: ast.In, ast.Is: ast.IsNot, ast.IsNot: ast.Is,
}  # fmt: skip
_EVEN = set("min max fmin fmax minimum maximum isinstance hypot gcd lcm".split())  # in any order


@dataclass(frozen=True)
class Change:
    """One change: the module, the place of the node in its walk, what is done to it."""

    path: Path
    node: int
    kind: str
    detail: int = 0

    @property
    def room(self) -> str:
        """The room that the module is in."""
        return room_of(self.path)


def room_of(path: Path) -> str:
    """The room that a module is in: the first name below the package, wherever the tree stands."""
    inside = path.parts[len(path.parts) - path.parts[::-1].index(PACKAGE) :]
    return inside[0].removesuffix(".py")


def walk(tree: ast.AST) -> Iterator[ast.AST]:
    """All nodes that decide what the program does, in a fixed order."""
    yield tree
    for name, value in ast.iter_fields(tree):
        if name in {"annotation", "returns", "decorator_list"}:
            continue
        for child in value if isinstance(value, list) else [value]:
            if not isinstance(child, ast.AST) or isinstance(child, (ast.Assert, ast.JoinedStr)):
                continue
            if isinstance(child, ast.If) and "TYPE_CHECKING" in ast.unparse(child.test):
                continue
            yield from walk(child)


def changes_of(path: Path) -> list[Change]:
    """Every change that can be made to a module."""
    found = []
    for number, node in enumerate(walk(ast.parse(path.read_text(encoding="utf-8")))):
        found += [Change(path, number, kind, detail) for kind, detail in _ways(node)]
    return found


def _ways(node: ast.AST) -> Iterator[tuple[str, int]]:
    match node:
        case ast.Compare(ops=ops):
            yield from (("comparison", i) for i in range(len(ops)))
        case ast.BoolOp():
            yield "and, or", 0
        case ast.Constant(value=int() | float() as value) if not isinstance(value, bool):
            yield "constant", 1
            yield "constant", -1
        case ast.Call(args=args, func=func) if _name(func) not in _EVEN:
            for i in range(len(args) - 1):
                starred = any(isinstance(arg, ast.Starred) for arg in args[i : i + 2])
                if not starred and ast.unparse(args[i]) != ast.unparse(args[i + 1]):
                    yield "arguments", i
    if isinstance(node, (ast.If, ast.While, ast.IfExp)):
        yield "condition", 0
    if isinstance(node, ast.comprehension):
        yield from (("condition", i) for i in range(len(node.ifs)))
    if not isinstance(node, (ast.Module, ast.ClassDef)):
        body = getattr(node, "body", None)
        if isinstance(body, list):
            yield from (("statement", i) for i, statement in enumerate(body) if _matters(statement))


def _name(function: ast.expr) -> str:
    match function:
        case ast.Name(id=name) | ast.Attribute(attr=name):
            return name
    return ""


def _matters(statement: ast.stmt) -> bool:
    """Whether the rest makes sense without it: a missing name or result is noticed too easily."""
    if isinstance(statement, ast.Expr):
        return not isinstance(statement.value, ast.Constant)
    if isinstance(statement, ast.Assign):
        return not any(isinstance(target, ast.Name) for target in statement.targets)
    return isinstance(statement, (ast.AugAssign, ast.Continue, ast.If, ast.Raise))


@dataclass(frozen=True)
class Changed:
    """A module with a change made: its tree, with every other node where it stands in the text."""

    tree: ast.Module
    node: ast.AST  # the one that was changed, or that has the statement in it
    line: int
    before: str
    after: str


def changed(change: Change) -> tuple[str, int, str, str]:
    """The module with the change made; its line, and the place before and after."""
    made = changed_tree(change)
    return ast.unparse(made.tree) + "\n", made.line, made.before, made.after


def changed_tree(change: Change) -> Changed:
    """The module with the change made, not yet written down."""
    tree = ast.parse(change.path.read_text(encoding="utf-8"))
    node = next(node for number, node in enumerate(walk(tree)) if number == change.node)
    at = change.detail
    shown: ast.AST = node
    before = ""
    match change.kind, node:
        case "comparison", ast.Compare():
            before = ast.unparse(node)
            node.ops[at] = _COMPARED[type(node.ops[at])]()
        case "and, or", ast.BoolOp():
            before = ast.unparse(node)
            node.op = ast.Or() if isinstance(node.op, ast.And) else ast.And()
        case "constant", ast.Constant(value=int() | float() as value):
            shown = _statement_of(tree, node)
            before = ast.unparse(shown)
            node.value = value + at
        case "arguments", ast.Call():
            before = ast.unparse(node)
            node.args[at : at + 2] = reversed(node.args[at : at + 2])
        case "condition", ast.comprehension():
            before = ast.unparse(node)
            node.ifs[at] = ast.UnaryOp(ast.Not(), node.ifs[at])
        case "condition", ast.If() | ast.While() | ast.IfExp():
            shown = node.test
            before = ast.unparse(shown)
            shown = node.test = ast.UnaryOp(ast.Not(), node.test)
        case "statement", _:
            body: list[ast.stmt] = node.body  # type: ignore[attr-defined]
            before = ast.unparse(body[at])
            line = body[at].lineno
            shown = body[at] = ast.copy_location(ast.Pass(), body[at])
    line = getattr(shown, "lineno", 0) or _line(node)
    after = ast.unparse(shown)
    return Changed(ast.fix_missing_locations(tree), node, line, before, after)


def _statement_of(tree: ast.AST, node: ast.AST) -> ast.AST:
    """The smallest statement or call around a node, for a reader to see what it is part of."""
    inside = tree
    for other in walk(tree):
        plain = isinstance(other, ast.expr) or (isinstance(other, ast.stmt) and not _holds(other))
        if plain and other is not node and any(child is node for child in ast.walk(other)):
            inside = other  # later ones lie deeper
    return node if inside is tree else inside


def _holds(statement: ast.stmt) -> bool:
    return any(isinstance(getattr(statement, name, None), list) for name in ("body", "handlers"))


def _line(node: ast.AST) -> int:
    return min((n.lineno for n in ast.walk(node) if hasattr(n, "lineno")), default=0)


def by_rooms(
    root: Path, rooms: Sequence[str] = (), modules: Sequence[Path] = ()
) -> dict[str, list[Change]]:
    """All changes to these rooms and modules."""
    found: dict[str, list[Path]] = {}
    for path in sorted((root / PACKAGE).rglob("*.py")):
        found.setdefault(room_of(path), []).append(path)
    for room in rooms:
        if room not in found:
            raise SystemExit(f"{room!r} is no room: expected one of {', '.join(found)}")
    for path in modules:
        if not any(path in paths for paths in found.values()):
            raise SystemExit(f"{path} is no module of {PACKAGE}")
    return {
        room: [
            change
            for path in found[room]
            if not modules or path in modules
            for change in changes_of(path)
        ]
        for room in rooms or sorted(set(found) - {"__init__", "__main__"})
    }


def draw(
    root: Path, count: int, seed: int, rooms: Sequence[str] = (), modules: Sequence[Path] = ()
) -> list[Change]:
    """So many changes: as many from every room as half of them allow, the rest where code is."""
    by_room = by_rooms(root, rooms, modules)
    asked = [room for room, changes in by_room.items() if changes]
    if not asked:
        raise SystemExit("there is nothing to change")
    if count >= sum(map(len, by_room.values())):
        return [change for changes in by_room.values() for change in changes]
    dice = random.Random(seed)
    wanted = [room for room in asked for _ in range(count // 2 // len(asked))]
    sizes = [len(by_room[room]) for room in asked]
    wanted += dice.choices(asked, sizes, k=count - len(wanted))
    drawn: dict[Change, None] = {}
    for room in sorted(wanted):
        left = [change for change in by_room[room] if change not in drawn]
        if left:
            kind = dice.choice(sorted({change.kind for change in left}))
            drawn[dice.choice([change for change in left if change.kind == kind])] = None
    return list(drawn)


def those_with(text: str, changes: Iterable[Change], root: Path) -> list[Change]:
    """The changes whose row has this text."""
    path = text.partition(":")[0].split(" ")[-1]
    if path.endswith(".py"):  # a row takes a while to make
        changes = [change for change in changes if str(change.path).endswith(path)]
    return [change for change in changes if text in row(change, root)]


def row(change: Change, root: Path) -> str:
    """A change for a reader: its room, kind and place, and what becomes of what."""
    made = changed_tree(change)
    place = f"{change.path.relative_to(root)}:{made.line}"
    what = f"{_short(made.before)}  ->  {_short(made.after)}"
    return f"{change.room:8} {change.kind:10} {place}: {what}"


def _short(text: str) -> str:
    line = " ".join(text.split())
    return line if len(line) <= 90 else f"{line[:89]}…"
