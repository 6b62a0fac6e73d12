"""A tune built in code from bars as they are typed; arguments take the place of a tune file.

Conventions: names and values are those of the tune file, and so are the errors. Bars are one text,
or one for each section.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Required, TypedDict, Unpack

from accomp.errors import InputError, Problem
from accomp.files.given import GivenData
from accomp.files.paths import StrPath
from accomp.files.toml import TomlPath
from accomp.files.values import described, short
from accomp.harmony import Key
from accomp.time import USUAL_BPM, Meter
from accomp.tune.fields import KEY, DimMeaning
from accomp.tune.model import Beginning, Finish, Tune, VocabularyName
from accomp.tune.read import draft_of, finished

BarsGiven = str | Mapping[str, str | Mapping[str, str]]
ONLY_SECTION = "A"
_USUAL = {"title": "Untitled", "meter": "4/4", "tempo": USUAL_BPM}


class ChorusFacts(TypedDict, total=False):
    """The facts of one time through."""

    position: str
    style: str


class TuneFacts(TypedDict, total=False):
    """The facts of a tune beside its bars, as in a tune file; only the key is needed.

    `meter` is 4/4 and `tempo` 120 beats a minute unless they are said; `form` the sections in the
    order played, `choruses` how often; `intro` a section or "last 4" bars, `verse` and `coda`
    sections before and after; `pickup` in beats; `shapes` frets by chord symbol ("0 0 2 1", fourth
    string to first), `top` notes by bar; `chorus` one mapping with `position` and `style` for each
    time through.
    """

    title: str
    key: Required[str | Key]
    meter: str | Meter
    tempo: float
    style: str
    instrument: str
    intro: str
    verse: str | Sequence[str]
    form: Sequence[str]
    choruses: int
    coda: str | Sequence[str]
    begin: Beginning
    end: Finish
    composer: str
    pickup: float | str | Fraction
    melody: StrPath
    vocabulary: VocabularyName
    dim: DimMeaning
    shapes: Mapping[str, str]
    top: Mapping[int, str]
    chorus: Sequence[ChorusFacts]


def tune(bars: BarsGiven, /, **facts: Unpack[TuneFacts]) -> Tune:
    """Build a tune from its bars, as a tune file has them, and its other facts.

    `bars` is one text, or a mapping with one for each section; `key` must be said, everything else
    of `TuneFacts` where it is not what is usual (4/4, 120 beats a minute):

        >>> import accomp
        >>> accomp.tune("| C | G7 | C / F G7 | C |", key="C", title="Porch Light")
        <Tune 'Porch Light': C, 4/4, 120 beats a minute, 4 bars>

    Raises `InputError` with everything that is wrong, each in its line and column of the bars.
    """
    if not isinstance(bars, str | Mapping):
        raise InputError(
            Problem(
                f"bars are needed here, and this is {described(bars)}.",
                found=short(bars),
                expected="a text of bars, or one for each section",
                hint='Write them as "| C | G7 | C | C |", or as {"A": "| C | F |", "B": "| G7 |"}.',
            )
        )
    if "key" not in facts:
        hint = 'Say it beside the bars: key="F".'
        raise InputError(Problem("the key is missing.", expected=KEY.expected, hint=hint))
    one = isinstance(bars, str)
    sections = {ONLY_SECTION: bars} if one else bars
    data: dict[str, object] = {**_USUAL, **facts, "sections": sections}
    for name in ("key", "meter"):
        if isinstance(data[name], Key | Meter):
            data[name] = str(data[name])
    called: dict[TomlPath, str] = {("sections", ONLY_SECTION): "bars"} if one else {}
    return finished(draft_of(GivenData.of(data, called)))
