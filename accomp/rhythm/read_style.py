"""A style file made into a `Style`.

Conventions: every problem in the file is found and told at once, in file order.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from accomp.errors import InputError
from accomp.files.toml import Document
from accomp.rhythm.passage import PASSAGES, Ending, Passage, PassageKind
from accomp.rhythm.read_parts import read_bass, read_comping, read_drums, read_strum
from accomp.rhythm.reading import Reader, TomlPath, is_number
from accomp.rhythm.style import Style
from accomp.time import FASTEST_BPM, METERS, SLOWEST_BPM, Meter

MOST_BARS = 64

_SWING_NOTES = {"eighths": Fraction(1, 4), "sixteenths": Fraction(1, 8)}
_PLAYERS = ("strum", "bass", "drums", "comping")
_PASSAGE_KEYS = ("bars", "phrase", "since", "chorus", "louder", "over", *_PLAYERS)
_KNOWN = (
    "title", "meter", "tempo", "swing", "swing_notes", "loose_ms", "loose_force", "mood",
    "right_hand", *_PLAYERS, *PASSAGES, "lead_in", "ending",
)  # fmt: skip

# Bars that a passage takes where its table does not say: phrase ends; all; all.
_USUAL_BARS = {"answer": (4, 8), "build": (), "break": ()}


def style_from(document: Document, name: str) -> Style:
    """The style in a document. Raises `InputError` with every problem, in file order."""
    reader = Reader(document)
    reader.only((), _KNOWN)
    plain: dict[str, Any] = {
        "title": reader.text("title", needed=True),
        "tempo": _tempo(reader),
        "mood": reader.text("mood"),
        "right_hand": reader.text("right_hand"),
        "jitter_ms": reader.number(("loose_ms",), 0.0, 40.0, 0.0),
        "jitter_force": reader.number(("loose_force",), 0.0, 30.0, 0.0),
    }
    meter = _meter(reader)
    if meter is None:
        raise InputError(_in_order(reader))
    swing, by_tempo, pair = _swing(reader, meter)
    parts: dict[str, Any] = _parts(reader, (), meter)
    if reader.value(("strum",)) is None:
        reader.wrong(
            "[strum] is missing.",
            expected="[strum]",
            hint='It needs at least a count: count = "1 2 3 4".',
        )
    passages = tuple(
        _passage(reader, path, name, meter) for name in PASSAGES for path in reader.tables(name)
    )
    lead_in = None
    if reader.table(("lead_in",)):
        reader.only(("lead_in",), ("drums",))
        lead_in = _parts(reader, ("lead_in",), meter)["drums"]
    style = Style(
        **plain,
        **parts,
        name=name,
        meter=meter,
        swing=swing,
        swing_by_tempo=by_tempo,
        swing_pair=pair,
        file=document.file,
        spread=reader.number(("strum", "spread"), 0.0, 8.0, 1.0),
        taper=reader.number(("strum", "taper"), 0.0, 8.0, 1.0),
        passages=passages,
        lead_in=lead_in,
        ending=_ending(reader, meter),
    )
    if reader.problems:
        raise InputError(_in_order(reader))
    return style


def _in_order(reader: Reader) -> list[Any]:
    return sorted(reader.problems, key=lambda found: (found.line, found.column))


def _parts(reader: Reader, path: TomlPath, meter: Meter) -> dict[str, Any]:
    """Each player's pattern in the table at a path, None for those that have none."""
    # How wide a strum is, and who plays, is said once, not in every passage.
    taste, sound = ((), ()) if path else (("spread", "taper"), ("player",))
    strum, bass, drums, comping = ((*path, player) for player in _PLAYERS)
    return {
        "strum": read_strum(reader, strum, meter, taste) if reader.table(strum) else None,
        "bass": read_bass(reader, bass, meter, sound) if reader.table(bass) else None,
        "drums": read_drums(reader, drums, meter) if reader.table(drums) else None,
        "comping": read_comping(reader, comping, meter, sound) if reader.table(comping) else None,
    }


def _passage(reader: Reader, path: TomlPath, name: str, meter: Meter) -> Passage:
    reader.only(path, _PASSAGE_KEYS)
    phrase = reader.whole((*path, "phrase"), 1, MOST_BARS, 8)
    bars = reader.wholes((*path, "bars"), 1, phrase)
    usual = tuple(bar for bar in _USUAL_BARS[name] if bar <= phrase)
    last = reader.value((*path, "chorus")) == "last"
    since = 2 if name == "build" else 1
    return Passage(
        name=PassageKind(name),
        bars=bars or usual,
        phrase=phrase,
        since=reader.whole((*path, "since"), 1, MOST_BARS, since),
        choruses=() if last else reader.wholes((*path, "chorus"), 1, MOST_BARS),
        last=last,
        louder=reader.whole((*path, "louder"), -4, 4, 0),
        over=reader.flag((*path, "over")),
        **_parts(reader, path, meter),
    )


def _ending(reader: Reader, meter: Meter) -> Ending:
    path = ("ending",)
    if not reader.table(path):
        return Ending()
    reader.only(path, ("ritard", "slow_to", "tag", *_PLAYERS))
    ritard = reader.whole((*path, "ritard"), 0, MOST_BARS, 0)
    return Ending(
        ritard=ritard,
        slow_to=reader.number((*path, "slow_to"), 0.25, 1.0, 0.7 if ritard else 1.0),
        tag=reader.whole((*path, "tag"), 0, 8, 0),
        **_parts(reader, path, meter),
    )


def _meter(reader: Reader) -> Meter | None:
    text = reader.text("meter", needed=True)
    if not text:
        return None
    if text not in METERS:
        reader.wrong(
            f"{text!r} is not a meter known here.",
            "meter",
            found=text,
            expected=", ".join(METERS),
            hint=f"Known are {', '.join(METERS)}.",
        )
        return None
    return Meter.parse(text)


def _tempo(reader: Reader) -> tuple[float, float]:
    """The range of tempo, beats a minute."""
    found = reader.value(("tempo",))
    expected = f"two numbers from {SLOWEST_BPM:g} to {FASTEST_BPM:g}, as tempo = [100, 240]"
    hint = "Write tempo = [100, 240]."
    if found is None:
        reader.wrong("'tempo' is missing.", expected=expected, hint=hint)
    elif not isinstance(found, list) or len(found) != 2:
        message = "'tempo' is the slowest and the fastest tempo of the style."
        reader.wrong(message, "tempo", found=found, expected=expected, hint=hint)
    else:
        for index, tempo in enumerate(found):
            if not is_number(tempo) or not SLOWEST_BPM <= tempo <= FASTEST_BPM:
                reader.wrong(
                    f"a tempo of {str(tempo)[:40]} cannot be played.",
                    "tempo",
                    index,
                    found=tempo,
                    expected=expected,
                    hint=f"Take beats a minute, from {SLOWEST_BPM:g} to {FASTEST_BPM:g}.",
                )
                return SLOWEST_BPM, FASTEST_BPM
        if found[0] <= found[1]:
            return float(found[0]), float(found[1])
        reader.wrong(
            f"the slowest tempo {found[0]} is above the fastest {found[1]}.",
            "tempo",
            found=found,
            expected=expected,
            hint=f"Write tempo = [{found[1]}, {found[0]}].",
        )
    return SLOWEST_BPM, FASTEST_BPM


def _swing(reader: Reader, meter: Meter) -> tuple[float, bool, Fraction]:
    """The swing ratio, whether it is taken from the tempo instead, and what swings."""
    found = reader.value(("swing",))
    notes = reader.word(("swing_notes",), tuple(_SWING_NOTES), "eighths", "what swings")
    pair = _SWING_NOTES[notes]
    if found is None:
        return 1.0, False, pair
    if meter.compound and found != 1:
        reader.wrong(
            f"{meter} does not swing: its beats divide in three already.",
            "swing",
            found=found,
            expected="no swing",
            hint="Leave `swing` out.",
        )
    elif not isinstance(found, str):
        return reader.number(("swing",), 1.0, 4.0, 1.0), False, pair
    elif found == "by tempo":
        return 1.0, True, pair
    else:
        reader.wrong(
            f"swing = {found[:40]!r} is not known.",
            "swing",
            found=found,
            expected='"by tempo" or a number from 1 to 4',
            hint='Write swing = "by tempo", or a ratio as swing = 2.0.',
        )
    return 1.0, False, pair
