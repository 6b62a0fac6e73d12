"""A style file made into a `Style`.

Conventions: every problem in the file is found and told at once, in file order.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any, Literal

from accomp.files import values
from accomp.files.table import Table
from accomp.files.toml import Document
from accomp.files.values import Value, WrongValueError
from accomp.rhythm.passage import Ending, Passage, PassageKind
from accomp.rhythm.read_parts import read_bass, read_comping, read_drums, read_strum
from accomp.rhythm.style import Style
from accomp.time import FASTEST_BPM, METER, MOST_CHORUSES, SLOWEST_BPM, TEMPO, Meter

LONGEST_PHRASE = 64  # bars; more is a typing error

_SWING_NOTES = {"eighths": Fraction(1, 4), "sixteenths": Fraction(1, 8)}
_CHORUS = values.whole(1, MOST_CHORUSES)
_BY_TEMPO: Literal["by tempo"] = "by tempo"
_RATIO = values.number(1, 4)


def style_from(document: Document, name: str) -> Style:
    """The style in a document. Raises `InputError` with every problem, in file order."""
    top = Table.of(document)
    title, tempo = top.text("title"), _tempo(top)
    meter = top.get("meter", METER, None, needed=True)
    mood, right_hand = (top.get(key, values.text(lines=True), "") for key in ("mood", "right_hand"))
    jitter_ms, jitter_force = top.number("loose_ms", 0, 40, 0), top.number("loose_force", 0, 30, 0)
    swing, by_tempo, pair = _swing(top, meter)
    strum = top.table("strum", 'count = "1 2 3 4"')
    spread, taper = (strum.number(key, 0, 8, 1) if strum else 1.0 for key in ("spread", "taper"))
    parts = _parts(top, meter)
    passages = tuple(
        _passage(table, kind, meter)
        for kind in PassageKind
        for table in top.tables(kind.value, single=True)
    )
    first = top.table("lead_in")
    drums = first.table("drums") if first else None
    lead_in = read_drums(drums, meter) if drums else None
    ending = _ending(top.table("ending"), meter)
    top.check()
    assert meter is not None, "without a meter there is a problem"
    return Style(
        **parts,
        name=name,
        title=title,
        tempo=tempo,
        meter=meter,
        mood=mood,
        right_hand=right_hand,
        jitter_ms=jitter_ms,
        jitter_force=jitter_force,
        swing=swing,
        swing_by_tempo=by_tempo,
        swing_pair=pair,
        file=document.file,
        spread=spread,
        taper=taper,
        passages=passages,
        lead_in=lead_in,
        ending=ending,
    )


def _parts(table: Table, meter: Meter | None) -> dict[str, Any]:
    """Each player's pattern in a table, None for those that have none."""
    strum, bass, drums, comping = map(table.table, ("strum", "bass", "drums", "comping"))
    sound = not table.path  # who plays is said once, not in every passage
    return {
        "strum": read_strum(strum, meter) if strum else None,
        "bass": read_bass(bass, meter, sound) if bass else None,
        "drums": read_drums(drums, meter, sound) if drums else None,
        "comping": read_comping(comping, meter, sound) if comping else None,
    }


def _passage(table: Table, kind: PassageKind, meter: Meter | None) -> Passage:
    phrase = table.whole("phrase", 1, LONGEST_PHRASE, 8)
    bars = table.several("bars", values.whole(1, phrase, example="4"), ())
    usual = (phrase,) if kind == PassageKind.ANSWER else ()  # the end of the phrase
    last = table.data.get("chorus") == "last"
    example = 'chorus = [2] or chorus = "last"'
    choruses = () if last else table.several("chorus", _CHORUS, (), example=example)
    table.expects(["chorus"])
    return Passage(
        name=kind,
        bars=tuple(sorted(set(bars))) or usual,
        phrase=phrase,
        since=table.whole("since", 1, MOST_CHORUSES, 2 if kind == PassageKind.BUILD else 1),
        choruses=tuple(sorted(set(choruses))),
        last=last,
        louder=table.whole("louder", -4, 4, 0),
        over=table.flag("over"),
        **_parts(table, meter),
    )


def _ending(table: Table | None, meter: Meter | None) -> Ending:
    if table is None:
        return Ending()
    ritard = table.whole("ritard", 0, LONGEST_PHRASE, 0)
    return Ending(
        ritard=ritard,
        slow_to=table.number("slow_to", 0.25, 1, 0.7 if ritard else 1),
        tag=table.whole("tag", 0, 8, 0),
        **_parts(table, meter),
    )


def _tempo(table: Table) -> tuple[float, float]:
    """The range of tempo, beats a minute."""
    example = "tempo = [100, 240]"
    found = table.several("tempo", TEMPO, least=2, most=2, example=example)
    if len(found) != 2:
        return SLOWEST_BPM, FASTEST_BPM
    slowest, fastest = found
    if slowest > fastest:
        table.wrong(
            f"the slowest tempo {slowest:g} is above the fastest {fastest:g}.",
            "tempo",
            found=f"[{slowest:g}, {fastest:g}]",
            expected="the slowest and the fastest tempo",
            hint=f"Write tempo = [{fastest:g}, {slowest:g}].",
        )
    return slowest, fastest


def _take_swing(found: object) -> float | Literal["by tempo"]:
    if isinstance(found, str):
        if found == _BY_TEMPO:
            return _BY_TEMPO
        raise WrongValueError(f'Write swing = "{_BY_TEMPO}", or a ratio as swing = 2.0.')
    return _RATIO.take(found)


_SWING = Value(f'"{_BY_TEMPO}" or {_RATIO.expected}', _take_swing, f'"{_BY_TEMPO}"')


def _swing(table: Table, meter: Meter | None) -> tuple[float, bool, Fraction]:
    """The swing ratio, whether it is taken from the tempo instead, and what swings."""
    pair = _SWING_NOTES[table.word("swing_notes", tuple(_SWING_NOTES), "eighths")]
    ratio = table.get("swing", _SWING, 1.0)
    if meter is not None and meter.compound and ratio != 1:
        table.wrong(
            f"{meter} does not swing: its beats divide in three already.",
            "swing",
            found=str(ratio),
            expected="no swing",
            hint="Leave `swing` out.",
        )
    by_tempo = isinstance(ratio, str)
    return (1.0 if isinstance(ratio, str) else ratio), by_tempo, pair
