"""Chords of other people's files, given as kind and degrees, written as our symbols.

Conventions: the shortest suffix of the chord table that has the same tones, in ASCII.
"""

from __future__ import annotations

from collections.abc import Iterable

from accomp.errors import ChordError, Problem
from accomp.harmony.alter import content_of
from accomp.harmony.chord import Alteration
from accomp.harmony.degree import Degree
from accomp.harmony.kind import tones_of_kind
from accomp.harmony.pitch import Spelling
from accomp.harmony.table import Change, Does, KindRow, chord_table


def symbol_from_kind(
    root: Spelling,
    kind: str,
    changes: Iterable[Alteration] = (),
    bass: Spelling | None = None,
) -> str:
    """The symbol for a MusicXML harmony: root, kind-value, degrees, bass.

    Raises `ChordError` when no symbol says it (an augmented sixth, a cluster).
    """
    changes = tuple(changes)
    try:
        suffix = suffix_of(tones_of_kind(kind, changes), kind)
    except ValueError:
        suffix = None
    if suffix is None:
        degrees = " ".join(f"{c.action} {c.degree} {c.alter:+d}" for c in changes)
        found = f"{kind} {degrees}".strip()
        message = f"no chord symbol says what stands here ({root} {found})"
        raise ChordError(Problem(message, column=1, found=found, expected="a chord with a symbol"))
    symbol = f"{root.plain}{suffix}"
    return f"{symbol}/{bass.plain}" if bass is not None and bass.plain != root.plain else symbol


def suffix_of(tones: tuple[Degree, ...], kind: str = "") -> str | None:
    """The shortest suffix that means exactly `tones`, one of `kind` among equals; None without."""
    best: tuple[int, bool, int, str] | None = None
    for row in chord_table().rows:
        changes = _between(row, tones)
        if changes is None:
            continue
        text = _joined(row, changes)
        rank = (len(changes), row.kind != kind, len(text), text)
        if (best is None or rank < best) and _means(text, tones):
            best = rank
    return best[3] if best else None


def _between(row: KindRow, tones: tuple[Degree, ...]) -> list[Change] | None:
    """Alterations that lead from `row` to `tones`."""
    missing = [tone for tone in row.degrees if tone not in tones]
    seventh = any(tone.number == 7 for tone in row.degrees)
    changes: list[Change | None] = []
    for tone in tones:
        if tone in row.degrees:
            continue
        old = next((gone for gone in missing if gone.number == tone.number), None)
        third = next((gone for gone in missing if gone.number == 3), None)
        if old is not None:
            missing.remove(old)
            changes.append(_change("set", tone))
        elif tone.number in (2, 4) and third is not None:
            missing.remove(third)
            changes.append(_change("instead", tone))
        else:
            twice = sum(other.number == tone.number for other in tones) > 1  # b9 and #9
            plain = _change("set", tone) if seventh or twice else None
            changes.append(plain or _change("add", tone))
    changes += [_change("leave", Degree(tone.number)) for tone in missing]
    known = [change for change in changes if change is not None]
    return known if len(known) == len(changes) else None


def _change(does: Does, degree: Degree) -> Change | None:
    for change in chord_table().changes:
        if change.does == does and change.degree == degree and not change.bracketed:
            return change
    return None


def _joined(row: KindRow, changes: list[Change]) -> str:
    """One text; alterations that the root or a number could swallow go into brackets."""
    base = row.spellings[0]
    text = "".join(change.spellings[0] for change in changes)
    swallowed = text and (text[0] in "b#" if base == "" else base[-1] == ")")
    return f"{base}({text})" if swallowed else f"{base}{text}"


def _means(text: str, tones: tuple[Degree, ...]) -> bool:
    content = content_of(text)
    return content is not None and content.degrees == tones
