"""The shape of the house: the arrow between rooms, light imports, an exact public list."""

from __future__ import annotations

import ast
import gc
import re
import subprocess
import sys
from collections.abc import Callable, Iterable, Iterator
from functools import cache
from pathlib import Path

import pytest
from hypothesis import settings

import accomp
from accomp.cli.group import COMMANDS

PACKAGE = Path(accomp.__file__).parent

# A room may import itself and rooms in groups to its left; rooms of one group do not know one
# another, but for `errors` and `files`.
ARROW = (
    "outward | errors files | harmony time voice | neck tune rhythm | score | write | intake | job"
    " | web cli notebook"
)
GROUPS = [group.split() for group in ARROW.split("|")]
MODULES = sorted(PACKAGE.rglob("*.py"))
FRONT = {"__init__", "__main__"}  # no room: the front alone knows all rooms


@pytest.fixture(scope="module", autouse=True)
def trees() -> Iterator[None]:
    """Those of all modules are kept for all rules, and are not searched for garbage meanwhile."""
    gc.disable()
    yield
    for kept in (_tree, _nodes):
        kept.cache_clear()
    gc.enable()


@cache
def _tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


@cache
def _nodes(path: Path) -> tuple[ast.AST, ...]:
    return tuple(ast.walk(_tree(path)))


def _docstrings(path: Path) -> set[int]:
    """The nodes of a module that are docstrings, by their ids."""
    return {
        id(node.body[0].value)
        for node in _nodes(path)
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef)
        and isinstance(node.body[0], ast.Expr)
    }


def _in(path: Path) -> str:
    return str(path.relative_to(PACKAGE))


def _room(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def _allowed(room: str) -> set[str]:
    index = next(i for i, group in enumerate(GROUPS) if room in group)
    left = {name for group in GROUPS[:index] for name in group}
    return left | {room} | ({"errors"} if room == "files" else set())


def _imports(path: Path) -> set[str]:
    """The rooms that a module names, whatever way it takes to them.

    A name of the package's front is the room that it comes from.
    """
    rooms = set()
    docstrings = _docstrings(path)
    for node in _nodes(path):
        names = []
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
            assert ("accomp", True) not in {(a.name, a.asname is not None) for a in node.names}, (
                f"{path}: the package under another name"
            )
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            names = [f"{node.module}.{alias.name}" for alias in node.names]
        elif isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
            names = [f"{node.value.id}.{node.attr}"]  # `import accomp`, then `accomp.write`
        elif (
            isinstance(node, ast.Constant)
            and isinstance(node.value, str)
            and id(node) not in docstrings
        ):  # for importlib, and in annotations in quotes
            names = re.findall(r"\baccomp[.:]\w+", node.value)
            names = [name.replace(":", ".") for name in names]
        named = {name.split(".")[1] for name in names if name.startswith("accomp.")}
        rooms |= {accomp._HOMES.get(name, name).split(".")[0] for name in named}
    return rooms & {_room(module) for module in MODULES}


def test_arrow() -> None:
    wrong = {
        _in(path): other
        for path in MODULES
        if _room(path) not in FRONT
        for other in _imports(path) - _allowed(_room(path))
    }
    assert wrong == {}, "what stands on the left must not know what stands on the right"


def test_every_room_is_in_the_arrow() -> None:
    rooms = {_room(path) for path in MODULES} - FRONT
    assert rooms == {room for group in GROUPS for room in group}


@pytest.mark.parametrize(
    "line",
    [
        "import accomp.write",
        "import accomp.write.midi as midi",
        "from accomp import write",
        "from accomp import errors, write as paper",
        "from accomp.write import midi",
        "from accomp.write.midi import write_midi",
        "import accomp\naccomp.write.midi.write_midi",
        "import importlib\nimportlib.import_module('accomp.write.midi')",
        "def late():\n    from accomp import write",
        "from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    from accomp.write import midi",
        "import accomp\ndef f(thing: 'list[accomp.write.midi.Thing] | None'): ...",
        "import pkgutil\npkgutil.resolve_name('accomp:write')",
        "exec('from accomp.write import midi')",
    ],
)
def test_the_arrow_catches_a_wrong_import(line: str, tmp_path: Path) -> None:
    module = tmp_path / "bad.py"
    module.write_text(line + "\n")
    assert "write" in _imports(module)
    assert "write" not in _allowed("neck")


@pytest.mark.parametrize(
    "line", ["from accomp import make_tune", "import accomp\naccomp.make_tune(tune)"]
)
def test_the_arrow_sees_through_the_front(line: str, tmp_path: Path) -> None:
    module = tmp_path / "bad.py"
    module.write_text(line + "\n")
    assert _imports(module) == {"job"}


@pytest.mark.parametrize(
    "line", ["from . import write", "from .. import write", "import accomp as a"]
)
def test_imports_that_hide_a_room_are_refused(line: str, tmp_path: Path) -> None:
    module = tmp_path / "bad.py"
    module.write_text(line + "\n")
    with pytest.raises(AssertionError, match=r"bad\.py: "):
        _imports(module)


# Modules that go a hidden way on purpose: they ask the front for what it alone knows, load parts of
# their own room by name, or libraries of others; a room that can be called looks itself up.
HIDDEN = {
    "cli/desk.py": ["_maker of the front"],
    "cli/group.py": ["a name that is put together"],
    "job/outside.py": ["_maker of the front"],
    "notebook/bridges.py": ["a name that is put together"],
    "outward.py": ["_maker of the front"],
    "tune/__init__.py": ["modules by name"] * 2,
    "web/desk/processes.py": ["a name that is put together"],
}
_BY_NAME = {"import_module", "__import__", "resolve_name", "run_module", "exec", "eval"}


def _hidden_ways(path: Path) -> list[str]:
    """Ways on which a module may come to a room whose name does not stand there."""
    whole = {id(node.value): node.attr for node in _nodes(path) if isinstance(node, ast.Attribute)}
    found = []
    for node in _nodes(path):
        what = ""
        if isinstance(node, ast.Name) and node.id == "accomp":
            what = _of_the_front(whole.get(id(node), "all"))
        elif isinstance(node, ast.ImportFrom) and node.module == "accomp":
            what = next(filter(None, (_of_the_front(alias.name) for alias in node.names)), "")
        elif isinstance(node, ast.Call):
            called = ast.unparse(node.func).split(".")[-1]
            name = node.args[0] if node.args else None
            constant = isinstance(name, ast.Constant) and isinstance(name.value, str)
            if called in _BY_NAME and not (constant and name.value.split(".")[0] in HEAVY):
                what = "a name that is put together"
        elif isinstance(node, ast.Attribute) and ast.unparse(node) == "sys.modules":
            what = "modules by name"
        if what:
            found.append(what)
    return found


def _of_the_front(name: str) -> str:
    """What is taken of the front that is neither a room nor public."""
    open_ones = {"__version__", "__file__"}
    hidden = name in {"*", "all"} or (name.startswith("_") and name not in open_ones)
    return f"{name} of the front" if hidden else ""


def test_no_room_goes_a_hidden_way() -> None:
    found = {_in(path): ways for path in MODULES if (ways := _hidden_ways(path))}
    assert {
        name: ways for name, ways in found.items() if _room(PACKAGE / name) not in FRONT
    } == HIDDEN


@pytest.mark.parametrize(
    "line",
    [
        "import accomp\ngetattr(accomp, 'write')",
        "import accomp\na = accomp\na.write",
        "import accomp\nvars(accomp)['write']",
        "import accomp\naccomp.__dict__['write']",
        "import accomp\naccomp._maker('midi')",
        "from accomp import *",
        "from accomp import _maker",
        "import importlib\nimportlib.import_module('accomp.' + 'write')",
        "import importlib\nimportlib.import_module('.write', 'accomp')",
        "from importlib import import_module\ndef f(name): return import_module(name)",
        "__import__('accomp', fromlist=['write']).write",
        "import sys\nsys.modules['accomp'].write",
        "import runpy\nrunpy.run_module('accomp')",
        "def f(text): exec(text)",
    ],
)
def test_a_hidden_way_is_seen(line: str, tmp_path: Path) -> None:
    module = tmp_path / "bad.py"
    module.write_text(line + "\n")
    assert _hidden_ways(module)


HEAVY = ("music21", "verovio", "fluidsynth", "scipy", "soundfile", "pyloudnorm", "pretty_midi",
         "typst", "numpy", "mido", "lxml", "distributed")  # fmt: skip


def _fresh(code: str) -> str:
    """What a fresh process prints."""
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=600
    )
    return done.stdout.strip()


@pytest.mark.parametrize(
    "module", ["accomp", "accomp.cli", "accomp.tune", "accomp.neck", "accomp.score.performance"]
)
def test_imports_stay_light(module: str) -> None:
    code = f"import {module}, sys; print([m for m in {HEAVY!r} if m in sys.modules])"
    assert _fresh(code) == "[]"


# Written down here once more, so that a name comes or goes on purpose.
PUBLIC = """
    AccompError Arrangement Audio Chord ChordError ChordShapes ClusterError Hand InputError
    Instrument Key KeyNameError KeyPositions Keys Lesson Manifest Manner NoShapeError
    NotInstalledError Options OutputError OwnFaultError Performance Piece Pitch Plan Player
    Positions Problem Score Shape SoundError Style TooManyShapesError Tune TuneFacts Wished
    arrange find_hand find_instrument find_style keys make_tune parse_chord playable_shapes
    player positions read_tune shapes transpose_tune tune
""".split()


def test_public_list_is_exact() -> None:
    assert accomp.__all__ == sorted(set(PUBLIC))
    for name in PUBLIC:
        thing = getattr(accomp, name)
        if name == "tune":  # the room itself, which can be called
            assert thing is sys.modules["accomp.tune"]
            continue
        assert thing.__name__ == name
        assert thing.__module__.split(".")[0] == "accomp"
    # What a reader of the package finds, apart from rooms that were imported meanwhile.
    code = "import accomp; print(*(name for name in dir(accomp) if not name.startswith('_')))"
    found = set(_fresh(code).split()) - {"annotations", "TYPE_CHECKING"}
    assert found == set(PUBLIC)
    with pytest.raises(AttributeError, match="no attribute 'make_tea'"):
        accomp.make_tea  # noqa: B018  the question is the test


def test_type_checkers_see_the_public_list() -> None:
    seen = {
        alias.asname or alias.name
        for node in _nodes(PACKAGE / "__init__.py")
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("accomp.")
        for alias in node.names
    }
    assert seen == set(PUBLIC)


def _reads_toml_by_itself(path: Path) -> bool:
    """Whether a module takes another reader of TOML than the house's (`accomp.files`)."""
    names = [
        name
        for node in _nodes(path)
        if isinstance(node, ast.Import | ast.ImportFrom)
        for name in (getattr(node, "module", None), *(alias.name for alias in node.names))
    ]
    return "tomllib" in names


def test_only_files_reads_toml(tmp_path: Path) -> None:
    assert [_in(p) for p in MODULES if _room(p) != "files" and _reads_toml_by_itself(p)] == []
    for number, line in enumerate(("import tomllib", "from tomllib import loads")):
        module = tmp_path / f"{number}.py"
        module.write_text(f"def inner():\n    {line}\n")
        assert _reads_toml_by_itself(module)


def test_every_module_says_what_it_is() -> None:
    for path in MODULES:
        assert ast.get_docstring(_tree(path)), path


def _own_settings(path: Path) -> list[str]:
    """What a test's module says of random examples that the one profile says for all."""
    found = []
    for node in _nodes(path):
        if not isinstance(node, ast.Call):
            continue
        called = ast.unparse(node.func).split(".")[-1]
        if called in {"register_profile", "load_profile"}:
            found.append(called)
        elif called == "settings":
            found += [
                keyword.arg or "**"
                for keyword in node.keywords
                if keyword.arg != "max_examples"
                or not ast.unparse(keyword.value).startswith(("examples(", "drawn.examples("))
            ]
            found += ["*"] * len(node.args)
    return found


def test_random_examples_have_no_deadline_and_come_again() -> None:
    assert settings.default is not None
    assert settings.default.deadline is None
    assert settings.default.print_blob
    tests = Path(__file__).parent.parent
    modules = [path for path in tests.rglob("*.py") if path != tests / "conftest.py"]
    assert {path.name: own for path in modules if (own := _own_settings(path))} == {}


@pytest.mark.parametrize(
    ("line", "own"),
    [
        ("@settings(max_examples=examples(40))\ndef test_a(): ...", []),
        ("settings(max_examples=40)", ["max_examples"]),
        ("hypothesis.settings(deadline=200)", ["deadline"]),
        ("settings(max_examples=examples(40), derandomize=False)", ["derandomize"]),
        ("settings(suppress_health_check=[])", ["suppress_health_check"]),
        ("settings(ANY_TIME)", ["*"]),
        ("settings(**more)", ["**"]),
        ("settings.register_profile('mine')", ["register_profile"]),
    ],
)
def test_settings_of_ones_own_are_seen(line: str, own: list[str], tmp_path: Path) -> None:
    module = tmp_path / "bad.py"
    module.write_text(line + "\n")
    assert _own_settings(module) == own


def _timed(path: Path) -> list[str]:
    """Clocks of a test that only measure how fast something is."""
    return [
        name
        for node in _nodes(path)
        for name in (getattr(node, "attr", None), *(a.name for a in getattr(node, "names", ())
                     if isinstance(a, ast.alias)))
        if name in {"process_time", "perf_counter", "process_time_ns", "perf_counter_ns"}
    ]  # fmt: skip


def test_speed_is_measured_in_benchmarks_only(tmp_path: Path) -> None:
    """A machine that others keep busy is no fault of the program; see tests/growth.py."""
    tests = Path(__file__).parent.parent.rglob("test_*.py")
    assert {path.name: found for path in tests if (found := _timed(path))} == {}
    for number, line in enumerate(
        ("import time\ntime.process_time()", "from time import perf_counter")
    ):
        module = tmp_path / f"{number}.py"
        module.write_text(line)
        assert _timed(module)


def _classes(paths: Iterable[Path]) -> dict[str, list[str]]:
    """Where each class of some modules is defined, by its name."""
    found: dict[str, list[str]] = {}
    for path in paths:
        for node in _nodes(path):
            if isinstance(node, ast.ClassDef):
                found.setdefault(node.name, []).append(path.name)
    return found


def test_no_class_name_occurs_twice(tmp_path: Path) -> None:
    assert {name: places for name, places in _classes(MODULES).items() if len(places) > 1} == {}
    for name in ("one.py", "two.py"):
        (tmp_path / name).write_text("def inner():\n    class Way:\n        pass\n")
    assert _classes(sorted(tmp_path.iterdir())) == {"Way": ["one.py", "two.py"]}


def _named_types(paths: Iterable[Path]) -> dict[str, set[str]]:
    """What each name of a type stands for: a class, or another name for a type, spelt out.

    A variable of a type stands for any and is nobody's but its own module's.
    """
    found: dict[str, set[str]] = {}
    for path in paths:
        for name in _classes([path]):
            found.setdefault(name, set()).add(f"a class of {path.name}")
        for node in _tree(path).body:
            match node:
                case ast.Assign(targets=[ast.Name(id=name)], value=value):
                    spelt = ast.unparse(value)
                    if re.fullmatch("[A-Z][a-z]\\w+", name) and not spelt.startswith("TypeVar("):
                        found.setdefault(name, set()).add(spelt)
    return found


def test_no_name_of_a_type_stands_for_two(tmp_path: Path) -> None:
    # A model of an instrument has the words of physics.
    named = _named_types([path for path in MODULES if _room(path) != "voice"])
    assert {name: types for name, types in named.items() if len(types) > 1} == {}
    for name, line in (("a", "Way = tuple[int, int]"), ("b", "class Way: ..."), ("c", "Way = str")):
        (tmp_path / f"{name}.py").write_text(line + "\nT = TypeVar('T')\n")
    assert _named_types(sorted(tmp_path.iterdir())) == {
        "Way": {"tuple[int, int]", "a class of b.py", "str"}
    }


# Commands, addresses and what people call in Python are named after what they do, which others do
# for them; a model of an instrument has the words of physics.
_OWN_WORDS = {*GROUPS[-1], "voice", *FRONT}


def _functions(paths: Iterable[Path], room: Callable[[Path], str]) -> dict[str, set[str]]:
    """The rooms that have a public function of a name."""
    found: dict[str, set[str]] = {}
    for path in paths:
        for node in _tree(path).body:
            if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
                found.setdefault(node.name, set()).add(room(path))
    return found


def test_no_two_rooms_have_a_public_function_of_one_name(tmp_path: Path) -> None:
    core = [path for path in MODULES if _room(path) not in _OWN_WORDS]
    found = _functions(core, _room)
    assert {name: rooms for name, rooms in found.items() if len(rooms) > 1} == {}
    for name in ("one.py", "two.py"):
        (tmp_path / name).write_text("def way():\n    pass\n\n\ndef _own():\n    pass\n")
    assert _functions(sorted(tmp_path.iterdir()), lambda path: path.stem) == {"way": {"one", "two"}}


MOST_PARAMETERS = 6  # beside `self`; what goes together beyond that is a type


def _long_lists(path: Path) -> list[str]:
    """Functions of a module with more parameters than a reader keeps apart."""
    found = []
    for node in _nodes(path):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda):
            asked = node.args
            names = [one.arg for one in (*asked.posonlyargs, *asked.args, *asked.kwonlyargs)]
            names = names[names[:1] in (["self"], ["cls"]) :]
            names += [one.arg for one in (asked.vararg, asked.kwarg) if one is not None]
            if len(names) > MOST_PARAMETERS:
                found.append(f"{getattr(node, 'name', 'lambda')}, line {node.lineno}")
    return found


def test_no_function_has_a_long_list_of_parameters() -> None:
    assert {_in(path): long for path in MODULES if (long := _long_lists(path))} == {}


@pytest.mark.parametrize(
    ("line", "long"),
    [
        ("def f(a, b, c, d, e, f): ...", False),
        ("def f(a, b, c, d, e, f, g): ...", True),
        ("def f(a, b, c, /, d, *, e, f, g): ...", True),
        ("def f(a, b, c, d, *e, f): ...", False),
        ("def f(a, b, c, d, *e, f, g): ...", True),
        ("def f(a, b, c, d, e, f, **g): ...", True),
        ("class A:\n    def f(self, *a, b, c, d, e, **f): ...", False),
        ("class A:\n    def f(self, a, b, c, d, e, f): ...", False),
        ("class A:\n    async def f(self, a, b, c, d, e, f, g): ...", True),
    ],
)
def test_a_long_list_of_parameters_is_seen(line: str, long: bool, tmp_path: Path) -> None:
    module = tmp_path / "bad.py"
    module.write_text(line + "\n")
    assert bool(_long_lists(module)) == long


def _options_named(path: Path) -> list[str]:
    """Texts of a module, but for docstrings, that name an option as a command line has it."""
    docstrings = _docstrings(path)
    return [
        node.value
        for node in _nodes(path)
        if isinstance(node, ast.Constant)
        and isinstance(node.value, str)
        and id(node) not in docstrings
        and re.search(r"(?<![\w-])--[a-z]|\bby option\b", node.value)
        and "pip install --force-reinstall" not in node.value
    ]


# Rooms whose texts are read by people who may have no command line before them.
CORE = [path for path in MODULES if _room(path) not in {"cli", "web", "__init__", "__main__"}]
_COMMAND = re.compile(rf"`accomp\s|\baccomp\s+({'|'.join(COMMANDS)})\b")


def _commands_named(path: Path) -> list[str]:
    """Texts of a module, docstrings too, that name a command: `accomp read`, in backticks or not.

    Of an f-string what is put in stands as {}.
    """
    inside = {
        id(part) for node in _nodes(path) if isinstance(node, ast.JoinedStr) for part in node.values
    }
    texts = [
        "".join(part.value if isinstance(part, ast.Constant) else "{}" for part in node.values)
        if isinstance(node, ast.JoinedStr)
        else node.value
        for node in _nodes(path)
        if isinstance(node, ast.JoinedStr | ast.Constant) and id(node) not in inside
    ]
    return [text for text in texts if isinstance(text, str) and _COMMAND.search(text)]


def test_only_the_command_line_names_its_options() -> None:
    assert {_in(path): named for path in CORE if (named := _options_named(path))} == {}


def test_only_the_command_line_names_its_commands() -> None:
    assert {_in(path): named for path in CORE if (named := _commands_named(path))} == {}


@pytest.mark.parametrize(
    ("line", "named"),
    [
        ("hint = 'See `accomp positions` for others.'", True),
        ("hint = 'or a lead sheet with accomp read.'", True),
        ("hint = f'Make it with `accomp read {file}`.'", True),
        ("hint = f'Make it with `accomp {command}`.'", True),
        ("hint = f'{file} is read by accomp read.'", True),
        ("hint = ('or with `accomp '\n    'read`.')", True),
        ("def f():\n    'What `accomp make` does.'", True),
        ("error = 'accomp itself failed, or `accomp.keys` did'", False),
        ("error = f'another accomp {version} than here, read by accomp'", False),
    ],
)
def test_a_named_command_is_seen(line: str, named: bool, tmp_path: Path) -> None:
    module = tmp_path / "bad.py"
    module.write_text(line + "\n")
    assert bool(_commands_named(module)) == named


@pytest.mark.parametrize("text", ["Choose --replace.", "a key by option", "see -- or --out=DIR"])
def test_a_named_option_is_seen(text: str, tmp_path: Path) -> None:
    module = tmp_path / "bad.py"
    module.write_text(f'"""Docstring with --this."""\nhint = {text!r}\n')
    assert _options_named(module) == [text]
