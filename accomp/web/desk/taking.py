"""The task that reads a lead sheet, dropped on the desk's page, into tunes.

Conventions: the bytes are read by the readers of `accomp read`, with their limits, from a temporary
file of our own. Of the name that the browser gives, only the ending is used.
"""

from __future__ import annotations

import contextlib
import tempfile
from dataclasses import replace
from pathlib import Path
from typing import Any

from accomp.errors import AccompError, InputError, Problem
from accomp.files.folders import working_here
from accomp.files.text import one_line
from accomp.files.toml import LEADSHEET_ENDINGS
from accomp.intake import all_problems, read_leadsheet
from accomp.web.desk.problems import problem_rows
from accomp.web.desk.processes import Tell


def taken(asked: dict[str, Any], tell: Tell) -> dict[str, Any]:
    """The tunes of a lead sheet, each with text, melody and notices, and the problems of tunes that
    could not be read. Raises `InputError`."""
    name = Path(one_line(str(asked["name"]))).name or "lead sheet"
    ending = Path(name).suffix.lower()
    if ending not in LEADSHEET_ENDINGS:
        expected = f"a name that ends in {', '.join(LEADSHEET_ENDINGS)}"
        message = f"{name!r} is no lead sheet by its name."
        raise InputError(Problem(message, found=name, expected=expected, hint=f"Give {expected}."))
    with contextlib.ExitStack() as stack:
        with working_here():
            folder = stack.enter_context(tempfile.TemporaryDirectory(prefix="accomp-"))
            path = Path(folder) / f"leadsheet{ending}"
            path.write_bytes(asked["data"])
        try:
            found = read_leadsheet(path)
        except AccompError as error:
            raise InputError(_called(name, path, error.problems_in(name))) from None
        tunes = [
            {
                "title": one.title,
                "toml": one.toml,
                "melody": one.melody,
                "melody_name": one.melody_name,
                "notices": [notice.replace(str(path), name) for notice in one.notices],
            }
            for one in found
            if one.tune is not None
        ]
        problems = _called(name, path, all_problems(found))
    return {"tunes": tunes, "problems": problem_rows(problems)}


def _called(name: str, path: Path, problems: tuple[Problem, ...]) -> list[Problem]:
    """The problems with the file's own name in place of our path."""
    return [
        replace(one, file=name, message=one.message.replace(str(path), name)) for one in problems
    ]
