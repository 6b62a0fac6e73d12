"""What is said of wrong data files: each key of each kind of file made wrong, one at a time.

Conventions: a key is left out, misspelt, given values of every type, and, for the sweep, numbers on
and beside all limits that there are. Every message is whole.
"""

from __future__ import annotations

import copy
import json
import tomllib
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from typing import Any

from reference_outputs import Made, folder_of_its_own
from reference_tunes import COUNTS, HOME

from accomp.cli.usual import usual_problems
from accomp.errors import AccompError, Problem
from accomp.files.toml import parse_toml
from accomp.job.check import problems_in, tune_problems

Data = dict[str, Any]
Step = str | int
SWEEP: tuple[Any, ...] = (
    -1000, -5, -4, -2, -1, 0, 1, 2, 3, 4, 5, 7, 8, 9, 17, 20, 30, 31, 36, 37, 40, 41, 100, 101, 128,
    129, 300, 301, 400, 401, 2000, 2001, 10**70, 0.1, 0.24, 0.25, 4.5, float("inf"), float("nan"),
)  # fmt: skip
TYPES: tuple[Any, ...] = (3, "", "x", "a\u0007b", "x" * 1001, [], [1, "a"], {})

TUNE: Data = {
    "title": "Cask and Ladle", "composer": "O. Wn", "key": "F", "meter": "4/4", "tempo": 120,
    "style": "four-light-heavy", "instrument": "tenor-banjo", "pickup": 1, "begin": "roll-off",
    "end": "tag", "dim": "seventh", "vocabulary": "all", "intro": "last 2", "verse": ["V"],
    "form": ["A", "A"], "coda": "Out", "choruses": 2,
    "sections": {
        "A": {"bars": "| F | C7 F / / |", "first": "| C7 |", "second": "| F |", "to_coda": 2,
              "key": "F", "meter": "4/4", "style": "two-beat"},
        "V": "|: Bb | F / C7 / :| x 3",
        "Out": "| F | % |",
    },
    "chorus": [{"position": "root-top", "style": "flat-four"}, {}],
    "shapes": {"F": "0 2 3 3"},
    "top": {"6": "- F"},
}  # fmt: skip
ROW = {"count": "1 2 & 3 4", "stroke": "down down up split roll",
"strings": "low1 all . inner high2",
       "force": "plain light ghost heavy accent",
       "sound": "ring choked dead heel ring"}  # fmt: skip
BASS = {"count": "1 3", "note": "root fifth", "force": "plain light", "sound": "long short"}
DRUMS = {"count": "1 2 3 4", "bass-drum": "x . X .", "snare": ". light . x"}
STYLE: Data = {
    "title": "Cask four", "meter": "4/4", "tempo": [90, 200], "swing": 1.5,
    "swing_notes": "eighths", "mood": "even", "right_hand": "lightly", "loose_ms": 6,
    "loose_force": 5,
    "strum": ROW,
    "bass": {**BASS, "player": "tuba", "approach": "scale", "first": "root"},
    "drums": {**DRUMS, "player": "brushes"},
    "comping": {"count": "1 2 3 4", "play": ". chord . shell", "player": "piano"},
    "answer": {"phrase": 8, "bars": [7, 8], "chorus": [2], "since": 1, "louder": 1, "over": True,
               "strum": {"count": "1 2", "length": 4}, "drums": DRUMS},
    "build": {"since": 2, "louder": 1, "bass": BASS},
    "break": {"bars": [3], "chorus": "last", "strum": {"count": "1"}},
    "lead_in": {"drums": DRUMS},
    "ending": {"ritard": 2, "slow_to": 0.7, "tag": 1, "strum": {"count": "1"}, "bass": BASS},
}  # fmt: skip
BOOK: Data = {
    "title": "Cask Band", "paper": "a4", "boxes": "top", "part": "both",
    "players": ["own", "Bb", "ukulele"], "pages": ["chart"], "order": ["cask"],
    "keys": {"cask": ["F", "Bb"]},
}  # fmt: skip
REPERTOIRE: Data = {
    "title": "Few", "strings": ["C3", "G3", "D4", "A4"],
    "shape": [{"chord": "C", "frets": "0 0 2 3",
    "movable": True, "new_elsewhere": True, "name": "g"},
              {"chord": "F", "frets": "0 2 3 3"}],
}  # fmt: skip
CONFIG: Data = {"instrument": "mandolin", "hand": "small", "vocabulary": "first", "paper": "letter",
                "side": "right"}  # fmt: skip


@cache
def bases() -> dict[str, Data]:
    """A good file of each kind."""
    data = HOME / "accomp" / "data"

    def own(*path: str) -> Data:
        return tomllib.loads(data.joinpath(*path).read_text("utf-8"))

    voice = tomllib.loads((HOME / "soundfonts" / "tenor-banjo.toml").read_text("utf-8"))
    voice["string"] = voice["string"][:1]
    instrument = {**own("instruments", "tenor-banjo.toml"), "sounding": 4}
    return {
        "tune": TUNE, "style": STYLE, "instrument": instrument, "book": BOOK,
        "hand": own("hands", "medium.toml"), "costs": own("costs.toml"), "repertoire": REPERTOIRE,
        "config": CONFIG, "voice": voice,
    }  # fmt: skip


def toml_of(data: Data) -> str:
    """A file with each key on a line of its own."""
    return "".join(f"{_key(key)} = {_value(value)}\n" for key, value in data.items())


def _key(key: str) -> str:
    return json.dumps(key)


def _value(value: Any) -> str:
    if isinstance(value, dict):
        return "{" + ", ".join(f"{_key(key)} = {_value(one)}" for key, one in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(_value, value)) + "]"
    if isinstance(value, float) and value != value:
        return "nan"
    return json.dumps(value).replace("Infinity", "inf")


def paths(value: Any, before: tuple[Step, ...] = ()) -> Iterator[tuple[Step, ...]]:
    """Where something stands, tables and lists included."""
    if isinstance(value, dict):
        inside: list[tuple[Step, Any]] = list(value.items())
    else:
        inside = list(enumerate(value)) if isinstance(value, list) else []
    for step, one in inside:
        yield (*before, step)
        yield from paths(one, (*before, step))


def changed(data: Data, path: tuple[Step, ...], change: Callable[[Any, Step], None]) -> Data:
    made = copy.deepcopy(data)
    inside: Any = made
    for step in path[:-1]:
        inside = inside[step]
    change(inside, path[-1])
    return made


def _renamed(table: Any, step: Step) -> None:
    """The table in the same order, with one key a letter short."""
    items = list(table.items())
    table.clear()
    table.update({(key[:-1] + key[-1] * 2 if key == step else key): one for key, one in items})


def said(kind: str, text: str) -> str:
    """Everything that is said of a file, each problem with all that it carries."""
    file = Path({"book": "book.toml"}.get(kind, f"{kind}.toml"))
    try:
        if kind == "tune":
            return _lines(tune_problems(parse_toml(text, str(file)), file, planned=False))
        file.write_text(text, encoding="utf-8")
        if kind == "config":
            return _lines(usual_problems(file))
        return _lines(problems_in(file))
    except AccompError as error:
        return _lines(error.problems_in(str(file)))


def _lines(problems: tuple[Problem, ...]) -> str:
    return "".join(map(_line, problems))


def _line(one: Problem) -> str:
    """A problem, and what it carries that its sentence does not say."""
    told = str(one)
    beside = [text for text in (one.found, one.expected, one.setting) if text not in told]
    return f"{told}{' ' + repr(beside) if beside else ''}\n"


@cache
def _keys() -> dict[str, tuple[str, tuple[Step, ...]]]:
    return {
        f"{kind} {'.'.join(map(str, path))}": (kind, path)
        for kind, data in bases().items()
        for path in paths(data)
    }


def words() -> list[str]:
    """Keys of which messages are kept as text: those of voices are all of one sort."""
    return [name for name, (kind, path) in _keys().items() if kind != "voice" and path]


def of_key(name: str) -> Made:
    """The file without a key, with it misspelt, and with a value of another type."""
    kind, path = _keys()[name]
    data = bases()[kind]
    made: Made = {}
    with folder_of_its_own():
        if kind == "book":
            Path("cask.toml").write_text(_small('"| F |"'), encoding="utf-8")
        ways: dict[str, Callable[[Any, Step], None]] = {
            "without": lambda inside, step: inside.pop(step),
            "wrong": lambda inside, step: inside.__setitem__(step, True),
        }
        if isinstance(path[-1], str):
            ways["misspelt"] = _renamed
        for way, change in ways.items():
            text = said(kind, toml_of(changed(data, path, change)))
            made[way] = f"{way}:\n{text}".encode()
    return made


OFTEN = {
    "costs": {"shift"},
    "voice": {"window", "frets"},
    "style": {"title", "meter", "tempo", "swing", "swing_notes", "loose_ms", "loose_force", "count",
              "strings", "phrase", "bars", "chorus", "since", "louder", "over", "ritard", "slow_to",
              "tag", "approach", "player", "length", 0},
}  # fmt: skip


def sweeps() -> list[str]:
    """Keys whose values are swept: those that have one, a few of a sort that comes often."""
    return [
        name
        for name, (kind, path) in _keys().items()
        if not isinstance(_at(bases()[kind], path), dict)
        and (kind not in OFTEN or path[-1] in OFTEN[kind])
    ]


def _at(value: Any, path: tuple[Step, ...]) -> Any:
    for step in path:
        value = value[step]
    return value


def swept(name: str) -> Made:
    """What is said of all values at a key: numbers for a number, types for all."""
    kind, path = _keys()[name]
    data = bases()[kind]
    value = _at(data, path)
    number = isinstance(value, int | float) and not isinstance(value, bool)
    lines = []
    with folder_of_its_own():
        if kind == "book":
            Path("cask.toml").write_text(_small('"| F |"'), encoding="utf-8")
        for one in SWEEP if number else TYPES[:: 3 if kind == "style" else 1]:
            text = toml_of(changed(data, path, lambda inside, step: inside.__setitem__(step, one)))  # noqa: B023
            lines.append(f"{one!r}: {said(kind, text)}")
    return {"swept": "\n".join(lines).encode()}


# Bars, chords and forms

ODD_BARS = (
    "", "|", "| |", "F", "| F", "F |", "|| F |", "| F || C |", "| F | | C |", "|: F :|", "| F :|",
    "|: F |", "|: F |: C :|", "|: F :| x 1 | C |", "|: F :| x 2 | C |", "|: F :| x 99", "| F | %",
    "|: F :| x 100", "|: F :| x 101 |", "|: F :| x | C |", "| % | F |", "| / | F |", "| F % |",
    "| F | % % |", "| N.C. | % |", "| F | / |", "| F\n| C |", "| F |\n\n| C |", "| NC |",
    "| n.c. |",
    "| F , C |", "| F. |", "| F-C |", "| (F) |", "| H |", "| f |", "| F/ |", "| F/H |", "| F / / |",
    "| F#b |", "| Fmaj7#15 |", "| F7( |", "| F7(b9 |", "| F(b9)7 |", "| Fmoll |", "| F7b9#9b13 |",
    "| Fsus |", "| F4 |", "| F2 |", "| Fadd |", "| Fno3 |", "| F7no3no5 |", "| F°ø |", "| ♭B |",
    "| F | :| C |", "|: F | C :|: G :|", "| F | C |: G :| x3", "| F x 3 |", "| F7 | |: G :| |",
    "| F | 'C |", '| F | "C" |', "| F \u0007 |", "| F \u00a0 C |", "| F\tC |", "| F ; C |",
)  # fmt: skip
FORMS = (
    "form = []", 'form = ["A", "B"]', 'form = ["2 x A", "A"]', 'form = ["0 x A"]',
    'form = ["1 x A"]',
    'form = ["100 x A"]', 'form = ["101 x A"]', 'form = ["A", "D.C."]', 'form = ["a"]',
    'form = "A"',
    'intro = "last 0"', 'intro = "last 1"', 'intro = "last 16"', 'intro = "last 17"', 'intro = "B"',
    'intro = "last 9"', 'intro = 4', 'coda = "B"', 'coda = "A"', 'coda = ["B", "B"]', 'coda = []',
    'verse = "B"', 'verse = ["A", "B"]', 'verse = "C"', 'choruses = 0', 'choruses = 1',
    'choruses = 100', 'choruses = 101', 'form = ["3 x A", "B"]', 'form = ["B", "3 x A"]',
    'form = ["B", "3 x A", "B"]', 'form = ["3 x A", "3 x B"]', 'form = ["A", "3 x A"]',
    'form = ["3 x A"]\nchoruses = 2', 'form = ["3x A", "2 × B"]', 'form = ["100 x A", "100 x A"]',
    'pickup = 0', 'pickup = 4', 'pickup = 3.99', 'pickup = 3.5', 'pickup = "1/3"', 'pickup = "1/5"',
    'pickup = -1', 'pickup = "x"', 'pickup = 0.1', 'tempo = 20', 'tempo = 19.99', 'tempo = 400.5',
    'melody = "../x.abc"', 'melody = "x.mid"', 'melody = "x.abc"', 'melody = ".abc"',
)  # fmt: skip
# A count, a row under it, how many counts the pattern has.
COUNTED: tuple[tuple[str, str, int | None], ...] = (
    ("1 2 3 4 | 1 & 3", "down down down down | up up up", None),
    ("1 2 3 4 | 1 & 3", "down down down | down up up up", None),
    ("1 2 3 4 | 1 & 3", "down down down down up up up", None), ("1 | 2", "down down | up", None),
    ("1 2 3 4", "down | up | down | up", None), ("1 2 | 3 4", "down", None), ("1 |", "down", None),
    ("| 1", "down", None), ("1 || 1", "down", None), ("", "down", None), ("1", "", None),
    ("1 2 3 4", "down down", None), ("1 2", "down down down", None), ("0", "down", None),
    ("4", "down", None), ("5", "down", None), ("1 1", "down", None), ("2 1", "down", None),
    ("& 1", "down", None), ("1 | &", "down", None), ("1 e & a", "down", None),
    ("1 & e", "down", None),
    ("1 trip let", "down", None), ("1 let trip", "down", None), ("1 e trip", "down", None),
    ("1 x", "down", None), ("1 2 3", "down", 3), ("1 2 3 &", "down", 3), ("1 4", "down", 3),
    ("1 | 2", "down", 3), ("1 2", "down", 1), ("7", "down", 7), ("1 2", "down dwon", None),
    ("1 2", ". .", None), ("1000", "down", None), ("1 2", "rest roll-up", None),
)  # fmt: skip


def grammar() -> dict[str, str]:
    """Tunes whose bars, chords or forms are odd, by name."""
    made = {}
    for meter in COUNTS:
        for count in range(1, 14):
            row = " ".join(["F", "/", "C", "N.C."][at % 4] for at in range(count))
            made[f"{count} in {meter}"] = _small(f'"| {row} |"', f'meter = "{meter}"\n')
    for at, bars in enumerate(ODD_BARS):
        made[f"bars {at}"] = _small(json.dumps(bars))
        ends = f'{{ bars = "| F |", first = {json.dumps(bars)}, last = "| C |" }}'
        made[f"ending {at}"] = _small(ends)
    for line in FORMS:
        head = f"{line}\n" if line.startswith("tempo") else f"tempo = 90\n{line}\n"
        both = 'title = "T"\nkey = "F"\nmeter = "4/4"\n' + head
        both += '[sections]\nA = "| F | C7 |"\nB = "| Bb | F |"\n'
        made[f"form {' '.join(line.split())}"] = both
        leaves = both.replace('A = "| F | C7 |"', 'A = { bars = "| F | C7 |", to_coda = 2 }')
        made[f"leaving {' '.join(line.split())}"] = leaves
        ends = '{ bars = "| F |", first = "| C7 |", second = "| F |", last = "| Bb |" }'
        made[f"endings {' '.join(line.split())}"] = both.replace('"| F | C7 |"', ends)
    return made


def _small(bars: str, more: str = 'meter = "4/4"\n') -> str:
    return f'title = "T"\nkey = "F"\n{more}tempo = 90\nform = ["A", "A"]\n[sections]\nA = {bars}\n'


@cache
def _grammar() -> dict[str, str]:
    return grammar()


def grammar_names() -> list[str]:
    return [*_grammar(), *(f"count {at}" for at in range(len(COUNTED)))]


def _counted(at: int) -> Made:
    """What is said of a style that is written on an odd count, in the meters that it may be in."""
    count, row, length = COUNTED[at]
    found = f"{count} / {row} / {length}\n"
    with folder_of_its_own():
        for meter in ("4/4", "6/8"):
            strum: Data = {"count": count, "stroke": row}
            strum |= {} if length is None else {"length": length}
            style: Data = {"title": "S", "meter": meter, "tempo": [90, 200], "strum": strum}
            found += f"{meter}: {said('style', toml_of(style)) or 'good'}\n"
    return {"said": found.encode()}


def of_grammar(name: str) -> Made:
    if name.startswith("count "):
        return _counted(int(name.split()[1]))
    text = _grammar()[name]
    return {"said": f"{text.partition('A =')[2]}{said('tune', text) or 'good'}".encode()}
