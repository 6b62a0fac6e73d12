"""The groups of inputs of which references are kept."""

from __future__ import annotations

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


TUNES = Group("tunes", _tunes, _tune)
SHEETS = Group("sheets", reference_sheets.names, reference_sheets.make)
NECK = Group("neck", reference_neck.names, reference_neck.make)
SWEEPS = Group("sweeps", reference_words.sweeps, reference_words.swept)
WORDS = Group("words", reference_words.words, reference_words.of_key, texts=True)
GRAMMAR = Group("grammar", reference_words.grammar_names, reference_words.of_grammar, texts=True)
COMMANDS = Group("commands", reference_commands.names, reference_commands.make, texts=True)
GROUPS = (TUNES, SHEETS, NECK, SWEEPS, WORDS, GRAMMAR, COMMANDS)
