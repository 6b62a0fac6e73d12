"""The errors for a chord symbol that cannot be read.

Conventions: "'Gm7bb5' is not a chord symbol: after 'Gm7' expected b5, #5 or '/'. Did you mean
'Gm7b5'?": what was understood, what could follow, and the nearest symbol that reads. The column is
the first character that was not understood.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterator
from functools import lru_cache

from accomp.errors import ChordError, Problem
from accomp.files.text import word_list
from accomp.harmony.alter import content_of
from accomp.harmony.pitch import LETTERS, Spelling
from accomp.harmony.suffix import (
    Suffix,
    UnreadSuffix,
    join_symbol,
    plain_signs,
    read_suffix,
    split_symbol,
)
from accomp.harmony.table import KindRow, chord_table

_SHOWN = 40  # characters of an offending text that a message repeats
_OFFERED = 7  # things named after "expected"


def no_root(text: str) -> ChordError:
    """The text does not begin with a letter A to G."""
    if not text:
        message = "a chord symbol is missing here: expected one, as F, Gm7 or C7/E"
        return ChordError(Problem(message, column=1, expected="a chord symbol"))
    expected = "a root, A to G, then b, # or nothing"
    return _error(text, 1, f"expected {expected} at its start", expected)


def too_long(text: str) -> ChordError:
    """Longer than any chord symbol."""
    expected = "at most 60 characters"
    return _error(text, 1, f"it has {len(text)} characters, expected {expected}", expected)


def not_understood(text: str, start: int, where: UnreadSuffix) -> ChordError:
    """The suffix, which begins at index `start`, is not understood beyond a place."""
    at = start + where.at
    expected = word_list(dict.fromkeys(_what_follows(text, start, where)), " or ")
    return _error(text, at + 1, f"after {_quoted(text[:at])} expected {expected}", expected)


def conflict(text: str, at: int, reason: str) -> ChordError:
    """The alteration at index `at` makes no sense in this chord."""
    message = f"{_quoted(text)} is not a chord symbol: at {_quoted(text[at:])}, {reason}."
    return ChordError(Problem(message, column=at + 1, found=text[:_SHOWN], expected=reason))


def _error(text: str, column: int, message: str, expected: str) -> ChordError:
    near = _nearest(text, column - 1)
    return ChordError(
        Problem(
            f"{_quoted(text)} is not a chord symbol: {message}.",
            column=column,
            found=text[:_SHOWN],
            expected=expected,
            hint=f"Did you mean {_quoted(near)}?" if near else "",
        )
    )


def no_text(found: object) -> ChordError:
    """The error for a value that is no text."""
    message = f"a chord symbol is a text, and this is of type {type(found).__name__}."
    hint = 'Write it in quotes, as "C7".'
    return ChordError(Problem(message, column=1, expected="a chord symbol", hint=hint))


def _quoted(text: str) -> str:
    return repr(text if len(text) <= _SHOWN else text[: _SHOWN - 1] + "…")


def _what_follows(text: str, start: int, where: UnreadSuffix) -> Iterator[str]:
    """The texts that could stand where reading stopped, the likeliest first."""
    understood = plain_signs(text)[start : start + where.at]
    if plain_signs(text)[start + where.at :].startswith("/") and not where.inside:
        yield "a bass note after '/', as C7/E"
        return
    offered = 0
    if understood == "" or understood in chord_table().by_spelling:
        for row in chord_table().rows:  # names that begin with what was understood
            rest = _rest_of(row, understood)
            if rest and offered < _OFFERED:
                offered += 1
                yield rest
    for change in chord_table().changes:
        spelling = change.spellings[0]
        closed = f"{understood}{spelling})" if where.inside else f"{understood}{spelling}"
        if offered < _OFFERED and understood and not change.bracketed and content_of(closed):
            offered += 1
            yield spelling
    yield "')'" if where.inside else "'/'"


def _rest_of(row: KindRow, understood: str) -> str:
    """The rest of a row's name after the part that was understood; "" without one.

    A word is never cut in two: "maj7" does not begin with the "m" of a minor chord, and goes on
    with "7" after "ma", which is a name of its own.
    """
    rests = [name.removeprefix(understood) for name in row.spellings if name.startswith(understood)]
    if row.spellings[0] == understood:
        return ""
    whole = [rest for rest in rests if not (understood[-1:].isalpha() and rest[:1].isalpha())]
    return whole[0] if whole else ""


def _reads(text: str) -> bool:
    parts = split_symbol(text)
    if parts is None or content_of(parts[1]) is None:
        return False
    return not _says_major_twice(parts[1])


def _says_major_twice(suffix: str) -> bool:
    """Whether a suffix is one that can be read and that nobody writes: "majj7", "maM7"."""
    found = read_suffix(suffix)
    if not isinstance(found, Suffix) or not found.changes:
        return False
    word, change = suffix[: found.starts[0]].rstrip("("), found.changes[0]
    return (
        found.row is chord_table().by_spelling["maj"] and word != "" and str(change.degree) == "7"
    )


def _nearest(text: str, at: int) -> str | None:
    """The symbol that was probably meant, or None."""
    if len(text) > _SHOWN:
        return None
    slips = [
        _without_double_sign(text),
        text[:at] + text[at + 1 :],  # one sign too many
        text[: at - 1] + text[at:] if at else "",
        text[:at] + text[at + 1 : at + 2] + text[at : at + 1] + text[at + 2 :],  # two swapped
        text + ")",
        text.strip(),
        text[:1].upper() + text[1:],
        "B" + text[1:] if text[:1] in ("H", "h") else "",
        text[:-1] + "B" if text.endswith(("/H", "/h")) else "",
        text[:-1] + text[-1:].upper(),
        text[:1].upper() + text[1:].lower(),
    ]
    for slip in slips:
        if slip and slip != text and _reads(slip):
            return slip
    parts = split_symbol(text)
    if parts is None:
        return None
    close = difflib.get_close_matches(parts[1], _suffixes(), n=1, cutoff=0.6)
    return join_symbol(text[: len(parts[0])], close[0], parts[2]) if close else None


def _without_double_sign(text: str) -> str:
    """ "A7" for "Bbb7", "" for any other text."""
    name = plain_signs(text[:3])
    if name[1:] not in ("bb", "##") or name[:1] not in LETTERS:
        return ""
    return f"{Spelling.parse(name).plain}{text[3:]}"


@lru_cache(maxsize=1)
def _suffixes() -> tuple[str, ...]:
    """Suffixes worth suggesting: every name, and every first name with one alteration."""
    table = chord_table()
    names = [row.spellings[0] for row in table.rows]
    changes = [change.spellings[0] for change in table.changes if not change.bracketed]
    pairs = (f"{name}{change}" for name in names if name for change in changes)
    return (*table.by_spelling, *(pair for pair in pairs if content_of(pair)))
