"""The options of a job, checked when they are made.

Conventions: tempi are in beats a minute; an empty tuple or None means "as the tune says". The
`setting` of a problem is the option's name here. Names (of keys, styles, hands ...) are looked up
later, by `resolve`. `vocabulary` is "first", "inversions" or "all"; `shapes` is its older form:
"known" for "first", or "all".
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import Field, dataclass, fields
from pathlib import Path
from typing import Any, Literal, get_args

from accomp.errors import InputError, Problem, needed
from accomp.files import values
from accomp.files.paths import taken_path
from accomp.files.values import Value, WrongValueError, described, wrong_setting
from accomp.job.manifest import AskedKind
from accomp.neck.hand import MOST_REACH_MM
from accomp.neck.player import VOCABULARIES, VocabularyName
from accomp.score.performance import SIDES, Side
from accomp.score.readers import PARTS, READERS, PartName, Reader
from accomp.time.limits import MOST_CHORUSES, TEMPO
from accomp.write.formats import AUDIO_FORMATS, BOXES, PAPERS, AudioFormat, BoxLayout, Paper

# The kinds of file made by default, and all kinds.
USUAL: tuple[AskedKind, ...] = ("midi", "musicxml", "audio", "pdf")
KINDS: tuple[AskedKind, ...] = get_args(AskedKind)
# "fixed": one shape for each chord; "free": it may differ at each change.
PlanKind = Literal["fixed", "free"]
PLANS: tuple[PlanKind, ...] = get_args(PlanKind)
# The older words for a vocabulary.
ShapesName = Literal["known", "all"]
SHAPES: tuple[ShapesName, ...] = get_args(ShapesName)
MOST_COUNT_IN, MOST_JOBS = 8, 64
LEAST_STEP, MOST_STEP = 10, 200  # of a speed ladder, in per cent
MOST_STEPS = 99  # a cue sheet counts its tracks with two digits


@dataclass(frozen=True)
class Options:
    """The options for all files of a tune.

    `only` names the kinds of file. `parts` are the written parts ("score" is notation, TAB and
    bass, "both" the same without bass): each is a MusicXML file and pages in the PDF, where "score"
    has no bass. `readers` are those for whom MusicXML files are made ("Bb" is a B flat instrument).
    `boxes` is the place of chord boxes on the PDF's parts: top, over the changes or none. `ladder`
    has the steps of a speed ladder in per cent of the tempo. `again` also makes files that are
    there already. `replace` replaces files that the program did not make. `side` is the player's
    side in the mix. `usual_instrument` and `usual_vocabulary` hold where neither an option nor the
    tune has a value. Raises `InputError` with every wrong value.
    """

    keys: tuple[str, ...] = ()
    tempos: tuple[float, ...] = ()
    positions: tuple[str, ...] = ()
    style: str | None = None
    instrument: str | None = None
    hand: str = "medium"
    reach_mm: float | None = None
    repertoire: Path | None = None
    costs: Path | None = None
    plan: PlanKind = "fixed"
    vocabulary: VocabularyName | None = None
    shapes: ShapesName | None = None
    closed: bool | None = None
    mute: bool = False
    choruses: int | None = None
    count_in: int = 1
    only: tuple[AskedKind, ...] = USUAL
    soundfont: Path | None = None
    audio_format: AudioFormat = "flac"
    parts: tuple[PartName, ...] = ("score",)
    readers: tuple[Reader, ...] = ("concert",)
    plain_clef: bool = False
    mxl: bool = False
    paper: Paper = "a4"
    boxes: BoxLayout = "top"
    seed: int = 0
    melody: bool = False
    pack: bool = False
    ladder: tuple[int, ...] = ()
    jobs: int = 1
    again: bool = False
    replace: bool = False
    side: Side = "left"
    usual_instrument: str | None = None
    usual_vocabulary: VocabularyName | None = None

    def __post_init__(self) -> None:
        problems: list[Problem] = []
        for option in fields(self):
            made = _checked(option, getattr(self, option.name), problems)
            object.__setattr__(self, option.name, made)
        if problems:
            raise InputError(problems)


def as_options(found: object) -> Options:
    """`found`, if it is `Options`. Raises `InputError` for anything else."""
    if isinstance(found, Options):
        return found
    hint = 'Write Options(), or what is asked for inside it, as Options(keys=("Bb",)).'
    raise needed("options are", found, hint)


_NAME, _FLAG = values.text(), values.flag()
_FILE = Value("the path of a file", taken_path)
_KINDS_OF_VALUE: dict[str, Value[Any]] = {
    "keys": _NAME,
    "tempos": TEMPO,
    "positions": _NAME,
    "style": _NAME,
    "instrument": _NAME,
    "hand": _NAME,
    "reach_mm": values.number(0.0, MOST_REACH_MM, above=True, unit=" of mm"),
    "repertoire": _FILE,
    "costs": _FILE,
    "plan": values.word(PLANS),
    "vocabulary": values.word(VOCABULARIES),
    "shapes": values.word(SHAPES),
    "closed": _FLAG,
    "mute": _FLAG,
    "choruses": values.whole(1, MOST_CHORUSES),
    "count_in": values.whole(0, MOST_COUNT_IN),
    "only": values.word(KINDS),
    "soundfont": _FILE,
    "audio_format": values.word(AUDIO_FORMATS),
    "parts": values.word(PARTS),
    "readers": values.word(READERS),
    "plain_clef": _FLAG,
    "mxl": _FLAG,
    "paper": values.word(PAPERS),
    "boxes": values.word(BOXES),
    "seed": values.whole(),
    "melody": _FLAG,
    "pack": _FLAG,
    "ladder": values.whole(LEAST_STEP, MOST_STEP),
    "jobs": values.whole(1, MOST_JOBS),
    "again": _FLAG,
    "replace": _FLAG,
    "side": values.word(SIDES),
    "usual_instrument": _NAME,
    "usual_vocabulary": values.word(VOCABULARIES),
}


def _checked(option: Field[Any], found: Any, problems: list[Problem]) -> Any:
    """An option's value, checked: several values as a tuple, a path as a `Path`.

    The option's default decides what else is allowed: None, several values, or an empty tuple.
    """
    kind = _KINDS_OF_VALUE[option.name]
    if found is None and option.default is None:
        return None
    if not isinstance(option.default, tuple):
        return _taken(option.name, kind, found, problems)
    if isinstance(found, str | bytes | Mapping) or not isinstance(found, Iterable):
        some = " of one or more" if option.default else ""
        expected = f"a tuple{some}, each {kind.expected}"
        problems.append(wrong_setting(option.name, expected, found, hint=_in_a_tuple(kind, found)))
        return found
    kept = [_taken(option.name, kind, one, problems) for one in found]
    if option.name != "ladder":  # a step may come twice, to be practised twice
        kept = [one for index, one in enumerate(kept) if one not in kept[:index]]
    if option.default and not kept:
        problems.append(
            wrong_setting(option.name, f"one or more of {kind.expected}", "", "is empty")
        )
    if option.name == "ladder" and len(kept) > MOST_STEPS:
        expected = f"at most {MOST_STEPS} steps"
        problems.append(wrong_setting(option.name, expected, "", f"has {len(kept)}"))
    return tuple(kept)


def _in_a_tuple(kind: Value[Any], found: object) -> str:
    """The hint for one value given without a tuple; it tells first if the value itself is wrong."""
    try:
        kind.take(found)
    except WrongValueError as error:
        return error.hint
    return f"Write ({described(found)},)."


def _taken(name: str, kind: Value[Any], found: object, problems: list[Problem]) -> Any:
    try:
        return kind.take(found)
    except WrongValueError as error:
        problems.append(wrong_setting(name, kind.expected, found, error.instead, error.hint))
        return found
