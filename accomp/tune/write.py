"""A tune back in the form of its file.

Conventions: `parse_tune(tune_toml(tune)) == tune` for every tune that a file can say (places, file
name and notices aside). Bars stand four to a line, one under the other, each in as few tokens as
hold its chords.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import groupby, zip_longest

from accomp.files.toml import quoted, toml_key
from accomp.harmony import NO_CHORD
from accomp.time import Meter
from accomp.tune.grid import AGAIN, CARRY
from accomp.tune.model import Bar, Section, Tune
from accomp.tune.sections import ENDINGS, LAST
from accomp.tune.wishes import NO_NOTE

_BARS_A_LINE = 4
_FEW = 2  # so many times running a section's name is written out in the form


def tune_toml(tune: Tune) -> str:
    """The tune as the text of a tune file. Raises `ValueError` for a bar that no tokens can hold.

    Such a bar changes its chord where the meter has no token: after 1/3 of a bar of 4/4.
    """
    lines = [
        *_text("title", tune.title),
        *_text("composer", tune.composer or None),
        *_text("key", str(tune.key)),
        *_text("meter", str(tune.meter)),
        f"tempo = {_number(tune.tempo)}",
        *_text("style", tune.style),
        *_text("instrument", tune.instrument),
        *_text("vocabulary", tune.vocabulary),
        *([f"pickup = {_beats(tune.pickup / tune.meter.beat)}"] if tune.pickup else []),
        *_text("melody", tune.melody),
        *_road(tune),
        *_text("begin", tune.begin),
        *_text("end", tune.end),
        "",
        "[sections]",
    ]
    for section in tune.sections.values():
        lines += _section(tune, section)
    if tune.pins:
        lines += ["", "[shapes]"]
        lines += [f"{quoted(str(pin.chord))} = {quoted(pin.text)}" for pin in tune.pins]
    if tune.tops:
        lines += ["", "[top]"]
        lines += [
            f"{one.bar} = {quoted(' '.join(NO_NOTE if n is None else str(n) for n in one.notes))}"
            for one in tune.tops
        ]
    for chorus in tune.choruses:
        lines += ["", "[[chorus]]", *_text("position", chorus.position)]
        lines += _text("style", chorus.style)
    return "\n".join(lines) + "\n"


def _text(key: str, value: str | None) -> list[str]:
    """The line of a value that is a text; no line for None."""
    return [] if value is None else [f"{key} = {quoted(value)}"]


def _road(tune: Tune) -> list[str]:
    """The road map: what comes before the form, the form, how often, what comes after it.

    A form of one section that is played so many times says that itself: `3 x Chorus`.
    """
    lines = _text("intro", f"last {tune.intro}" if isinstance(tune.intro, int) else tune.intro)
    if len(tune.form) == 1 and (tune.times or 1) > 1 and tune.form[0] not in tune.verse:
        entries = [*tune.verse, f"{tune.times} x {tune.form[0]}"]
        lines.append(f"form = {_list(entries)}")
    else:
        lines += [f"verse = {_names(tune.verse)}"] if tune.verse else []
        lines.append(f"form = {_list(_entries(tune))}")
        lines += [] if tune.times is None else [f"choruses = {tune.times}"]
    return [*lines, f"coda = {_names(tune.coda)}"] if tune.coda else lines


def _names(names: Sequence[str]) -> str:
    return quoted(names[0]) if len(names) == 1 else _list(names)


def _list(names: Sequence[str]) -> str:
    return f"[{', '.join(map(quoted, names))}]"


def _entries(tune: Tune) -> list[str]:
    """The form, what comes several times running named once where that means the same."""
    runs = [(name, len(list(run))) for name, run in groupby(tune.form)]
    long = [name for name, times in runs if times > _FEW]
    if len(long) == 1 and tune.times is None and not tune.verse:
        return list(tune.form)  # a single one would be taken for the chorus
    return [
        entry
        for name, times in runs
        for entry in ([name] * times if times <= _FEW else [f"{times} x {name}"])
    ]


def bar_tokens(bar: Bar, meter: Meter) -> tuple[str, ...]:
    """The bar in as few tokens as hold its chords. Raises `ValueError` when none do."""
    if bar.again:
        return (AGAIN,)
    for count in meter.shares:
        share = meter.bar / count
        if all((span.span.start / share).denominator == 1 for span in bar.chords):
            tokens = [CARRY] * count
            for span in bar.chords:
                symbol = NO_CHORD if span.chord is None else span.chord.symbol
                tokens[int(span.span.start / share)] = symbol if span.written else CARRY
            return tuple(tokens)
    starts = ", ".join(str(span.span.start) for span in bar.chords)
    raise ValueError(f"a bar of {meter} has no tokens for chords at {starts} of a whole note")


def _section(tune: Tune, section: Section) -> list[str]:
    name = toml_key(section.name)
    own = [
        *_text(f"{name}.key", None if section.key == tune.key else str(section.key)),
        *_text(f"{name}.meter", None if section.meter == tune.meter else str(section.meter)),
        *_text(f"{name}.style", section.style),
        *([] if section.to_coda is None else [f"{name}.to_coda = {section.to_coda}"]),
    ]
    ends = [*zip(ENDINGS, section.endings, strict=False)]
    ends += [(LAST, section.last)] if section.last else []
    head = f"{name}.bars" if own or ends else name
    lines = [*own, f'{head} = """', *_rows(section.bars, section), '"""']
    for ending, bars in ends:
        rows = _rows(bars, replace(section, repeats=()))
        if len(rows) > 1:
            lines += [f'{name}.{ending} = """', *rows, '"""']
        else:
            lines.append(f'{name}.{ending} = "{rows[0]}"')
    return lines


def _rows(bars: Sequence[Bar], section: Section) -> list[str]:
    """Bars four to a line, each with the bar line after it."""
    starts = {one.first for one in section.repeats}
    ends = {one.last - 1: one.times for one in section.repeats}
    texts = [" ".join(bar_tokens(bar, section.meter)) for bar in bars]
    rows = [texts[at : at + _BARS_A_LINE] for at in range(0, len(texts), _BARS_A_LINE)]
    widths = [max(map(len, column)) for column in zip_longest(*rows, fillvalue="")]
    lines = []
    for number, row in enumerate(rows):
        line = ""
        for index, text in enumerate(row):
            at = number * _BARS_A_LINE + index
            line += f"|{':' * (at in starts)} {text:{widths[index]}} "
            if at in ends:
                line += ":" if ends[at] == 2 else f":| x {ends[at]} "
        lines.append(line + "|")
    return lines


def _number(value: float) -> str:
    """168 for 168.0, else all digits that the number has."""
    return str(int(value)) if value == int(value) else repr(float(value))


def _beats(beats: Fraction) -> str:
    """A plain number where a decimal says it exactly, else a quoted fraction."""
    if beats.denominator == 1:
        return str(beats)
    text = str(float(beats))
    return text if Fraction(text) == beats else f'"{beats}"'
