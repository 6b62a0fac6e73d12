"""The road map of a tune file: intro, verse, form, how often, coda.

Conventions: `form` is one time through, each entry a section's name, or `3 x Name`. Where a single
section has such a number (`1 x` is one), and neither `choruses` nor `verse` is given, only that
section is repeated: the sections before it are the verse, those after it come at the end.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from itertools import chain, repeat

from accomp.files import values
from accomp.files.table import Table
from accomp.files.values import Value, WrongValueError, did_you_mean, short
from accomp.time import MOST_BARS, MOST_CHORUSES
from accomp.tune.road import RoadMap
from accomp.tune.sections import ENDINGS, LAST, TypedSection

MOST_INTRO = 16  # bars; common practice, no source
_TIMES = re.compile(r"([0-9]{1,9}) ?[x×] ?(.*)")
_LAST_BARS = re.compile(r"last ([0-9]{1,4})")
_JUMP = re.compile(r"(d\.? ?[cs]\.?|da capo|dal segno|fine|to coda)\b.*", re.IGNORECASE)

FormEntry = tuple[int | None, str]  # times where they are said, section


@dataclass(frozen=True, slots=True)
class TypedForm:
    """The road map as the file has it; `wrong`: it has a problem, and `road` is a stand-in."""

    road: RoadMap
    intro: str | int | None = None
    times: int | None = None
    wrong: bool = False


def read_form(top: Table, sections: Mapping[str, TypedSection]) -> TypedForm:
    """The road map; sections that never come become notices."""
    known = top.data.get("sections")
    names = tuple(known) if isinstance(known, dict) else ()
    one = section_name(names) if names else values.text()
    verse = _one_or_several(top, "verse", one)
    coda = _one_or_several(top, "coda", one)
    intro = top.get("intro", _intro(names), None)
    times = top.get("choruses", values.whole(1, MOST_CHORUSES, example="3"), None)
    outside = {*verse, *coda, *((intro,) if isinstance(intro, str) else ())}
    entries = _entries(top, names)
    if entries is None:  # the sections once, in file order, without those that have their place
        entries = tuple((None, name) for name in sections if name not in outside) or tuple(
            (None, name) for name in sections
        )
        top.expects(["form"])
    wrong = "form" in top and len(entries) < max(1, len(_listed(top)))
    if sum(number or 1 for number, _ in entries) > MOST_BARS:
        _too_long(top)
        return TypedForm(RoadMap(()), intro, times, wrong=True)
    form = tuple(chain.from_iterable(repeat(name, number or 1) for number, name in entries))
    if not wrong and "choruses" not in top and "verse" not in top:
        verse, form, times, after = _chorus_of(entries, form)
        coda = (*after, *coda)
    road = RoadMap(form, intro if isinstance(intro, str) else None, verse, coda)
    if wrong or not form:
        return TypedForm(road, intro, times, wrong=True)
    return TypedForm(road, intro, times, wrong=not _judge_form(top, road, sections))


def _listed(top: Table) -> list[object]:
    found = top.data["form"]
    return found if isinstance(found, list) else []


def _entries(top: Table, names: Collection[str]) -> tuple[FormEntry, ...] | None:
    """Times and name of each entry of the form; None without a form."""
    if "form" not in top:
        return None
    each = _entry(names) if names else Value("a section in quotes", _any_entry, '"A"')
    return top.several("form", each, (), example='form = ["A", "A", "B", "A"]')


def _any_entry(found: object) -> FormEntry:
    return None, values.text().take(found)


def section_name(known: Collection[str]) -> Value[str]:
    """The name of one of the `known` sections, as a value of a file."""
    listed = short(", ".join(known))

    def take(found: object) -> str:
        if isinstance(found, str) and found in known:
            return found
        raise WrongValueError(_not_there(found, known))

    return Value(f"a section in quotes, one of {listed}", take, '"A"')


def _not_there(found: object, known: Collection[str]) -> str:
    if isinstance(found, str) and _JUMP.fullmatch(found):
        return "Name the sections again in the order played; the paper shows the jump by itself."
    return did_you_mean(found, known) or f"Sections here are: {short(', '.join(known))}."


def _entry(known: Collection[str]) -> Value[FormEntry]:
    one = section_name(known)

    def take(found: object) -> FormEntry:
        said = _TIMES.fullmatch(found) if isinstance(found, str) and found not in known else None
        if said is None:
            return None, one.take(found)
        number, name = int(said[1]), said[2]
        if not 1 <= number <= MOST_CHORUSES:
            raise WrongValueError(
                f'It comes 1 to {MOST_CHORUSES} times: "{min(max(number, 1), MOST_CHORUSES)} x '
                f'{short(name)}".',
                instead=f"asks for {short(name)!r} {number} times",
            )
        return number, one.take(name)

    return Value(one.expected, take, one.example)


def _one_or_several(top: Table, key: str, one: Value[str]) -> tuple[str, ...]:
    """A section's name, or a list of them."""
    if isinstance(top.data.get(key), list):
        return top.several(key, one, ())
    found = top.get(key, one, None)
    return () if found is None else (found,)


def _intro(known: Collection[str]) -> Value[str | int]:
    listed = short(", ".join(known))

    def take(found: object) -> str | int:
        if not isinstance(found, str):
            raise WrongValueError
        if found in known:
            return found
        said = _LAST_BARS.fullmatch(found)
        if said is None:
            raise WrongValueError(did_you_mean(found, known))
        if not 1 <= int(said[1]) <= MOST_INTRO:
            raise WrongValueError(f"An intro has 1 to {MOST_INTRO} bars.")
        return int(said[1])

    what = f'"last 4" (the last bars of the form), or a section, one of {listed}'
    return Value(what, take, '"last 4"')


def _chorus_of(
    entries: tuple[FormEntry, ...], form: tuple[str, ...]
) -> tuple[tuple[str, ...], tuple[str, ...], int | None, tuple[str, ...]]:
    """Verse, form, times and sections after, where one section alone has a number."""
    numbered = [index for index, (times, _) in enumerate(entries) if times is not None]
    names = Counter(name for _, name in entries)
    if len(numbered) != 1 or names[entries[numbered[0]][1]] > 1:
        return (), form, None, ()
    times, name = entries[numbered[0]]
    before, after = entries[: numbered[0]], entries[numbered[0] + 1 :]
    return tuple(n for _, n in before), (name,), times, tuple(n for _, n in after)


def _judge_form(top: Table, road: RoadMap, sections: Mapping[str, TypedSection]) -> bool:
    """Note what does not fit together; gives whether the form is short enough to be played."""
    intro = (road.intro,) if road.intro is not None else ()
    parts = (intro, road.verse, road.form, road.coda)
    come = Counter(chain.from_iterable(parts))
    for name, one in sections.items():
        if not come[name]:
            _never_comes(top, name, one)
            continue
        _judge_endings(one, road, come[name])
        if one.to_coda is not None:
            _judge_leaving(one, road)
    for name in dict.fromkeys(road.coda):
        if name in road.form:
            again = f"The coda {name!r} is in the form too, and is played once more at the end."
            top.findings.notices.append(again)
    leaving = [name for name in dict.fromkeys(road.form) if _leaves(sections, name)]
    for name in leaving[1:]:
        _inside(sections[name]).wrong(
            f"the way to the coda is in section {leaving[0]!r} already.",
            "to_coda",
            found=name,
            expected="one place to leave for the coda",
            hint="Take one of them out.",
        )
    bars = sum(sections[name].played for name in chain(*parts) if name in sections)
    if bars > MOST_BARS:
        _too_long(top)
    return bars <= MOST_BARS


def _too_long(top: Table) -> None:
    top.wrong(
        f"the form is longer than {MOST_BARS} bars, too many for a tune.",
        *(("form",) if "form" in top else ()),
        expected=f"at most {MOST_BARS} bars",
        hint="Shorten it; how often the tune is played is asked for when it is made.",
    )


def _leaves(sections: Mapping[str, TypedSection], name: str) -> bool:
    return name in sections and sections[name].to_coda is not None


def _inside(one: TypedSection) -> Table:
    """The table in which a section's endings stand."""
    return one.body.table


def _never_comes(top: Table, name: str, one: TypedSection) -> None:
    if "coda" not in top and did_you_mean(name.strip().lower(), ["coda"]):
        one.table.wrong(
            f"there is a section {name!r}, and nothing goes to it.",
            *one.path,
            at="key",
            found=name,
            expected=f"coda = {name!r} before the first table".replace("'", '"'),
            hint=f'Write coda = "{name}" before the first table: it is played after the last time.',
        )
        return
    top.findings.notices.append(f"Section {name!r} is not in the form and is not played.")


def _judge_endings(one: TypedSection, road: RoadMap, count: int) -> None:
    """Endings are for sections that come again: in the form, or because the form is repeated."""
    in_form = road.form.count(one.name)
    if in_form == 1:
        return  # the times through are counted
    most, ways = (in_form, one.numbered) if in_form else (count, one.numbered + one.has_last)
    if one.numbered and ways > most:
        last = LAST if one.has_last and not in_form else ENDINGS[one.numbered - 1]
        comes = "once" if most == 1 else f"{most} times"
        _inside(one).wrong(
            f"section {one.name!r} comes {comes}, and has {ways} endings.",
            last,
            at="key",
            found=last,
            expected=f"endings for {comes}",
            hint="Take out what is never played, or name the section once more in `form`.",
        )


def _judge_leaving(one: TypedSection, road: RoadMap) -> None:
    table = _inside(one)
    if not road.coda:
        table.wrong(
            f"section {one.name!r} goes to a coda, and there is none.",
            "to_coda",
            found=f"to_coda = {one.to_coda}",
            expected='a coda: coda = "Coda" before the first table',
            hint="Name the section that is the coda, or take the line out.",
        )
    elif one.name not in road.form:
        table.wrong(
            f"section {one.name!r} is not in the form, and only the last time through the form "
            "goes to the coda.",
            "to_coda",
            found=f"to_coda = {one.to_coda}",
            expected="a section of the form",
            hint="Write it into the section that is left, or say with `choruses` how often the "
            "whole form is played.",
        )
    elif one.has_last and one.name not in road.coda:
        table.wrong(
            f"section {one.name!r} has an ending for the last time, and is left for the coda "
            "before it comes to that.",
            LAST,
            at="key",
            found=LAST,
            expected="either `last` or `to_coda`",
            hint="Take `to_coda` out, and the coda follows the last ending; or take `last` out.",
        )
