"""The groups of inputs of which references are kept."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import reference_commands
import reference_neck
import reference_sheets
import reference_words
from reference_outputs import outputs
from reference_store import Group, Made
from reference_tunes import Case, every_case


@cache
def _tunes() -> dict[str, Case]:
    return every_case()


def _tune(name: str) -> Made:
    return outputs(_tunes()[name])


def _named(name: str, every: Callable[[], dict[str, Callable[[], Made]]], *, texts: bool) -> Group:
    """A group of inputs that each know how they are made."""
    kept = cache(every)
    return Group(name, kept, lambda one: kept()[one](), texts)


TUNES = Group("tunes", _tunes, _tune)
SHEETS = _named("sheets", reference_sheets.every, texts=False)
NECK = _named("neck", reference_neck.every, texts=False)
SWEEPS = Group("sweeps", reference_words.sweeps, reference_words.swept)
WORDS = Group("words", reference_words.words, reference_words.of_key, texts=True)
GRAMMAR = Group("grammar", reference_words.grammar_names, reference_words.of_grammar, texts=True)
COMMANDS = _named("commands", reference_commands.every, texts=True)
GROUPS = (TUNES, SHEETS, NECK, SWEEPS, WORDS, GRAMMAR, COMMANDS)
