"""Whole bars as they are written: values, rests, ties, tuplets and beams, one line a bar.

A bar is given as its sounds `start end` in fractions of a whole note, with `s` for a short one, `<`
and `>` where it is tied in and on, `t1/16` for a tremolo. On paper a note is its value (`4.` a
dotted quarter), `r` a rest, `<` and `>` ties, `(3:2` and `)` the ends of a tuplet, and the beams of
each note `b`egin, `c`ontinue, `e`nd, `f`orward or `k` backward hook.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest

from accomp.harmony import Pitch
from accomp.score.notate_rhythm import Sounding, written_bar
from accomp.score.notate_values import note_pieces, plain_value, rest_pieces
from accomp.score.written import Event, Mark, NoteValue, WrittenNote
from accomp.time import Meter, Span

NOTE = (WrittenNote(Pitch.parse("C4")),)
BEAMS = {"begin": "b", "continue": "c", "end": "e", "forward hook": "f", "backward hook": "k"}


def sounding(text: str) -> Sounding:
    start, end, *more = text.split()
    flags = [word for word in more if word in {"s", "<", ">"}]
    tremolo = next((Fraction(word[1:]) for word in more if word.startswith("t")), None)
    return Sounding(
        Span(Fraction(start), Fraction(end)),
        NOTE,
        "down",
        frozenset({Mark.ACCENT, Mark.DEAD}),
        tied_from="<" in flags,
        tied_to=">" in flags,
        short="s" in flags,
        tremolo=tremolo,
    )


def paper(event: Event) -> str:
    value = event.value
    opens = "(" * event.bracket.startswith("start")
    said = opens + (f"{value.tuplet[0]}:{value.tuplet[1]}" if opens else "")
    said += " " * bool(opens) + "<" * event.tied_from
    said += "r" * (not event.notes) + str(1 / value.length) + "." * value.dots
    said += "=" * event.tremolo + "".join(BEAMS[beam] for beam in event.beams)
    said += ">" * event.tied_to + ")" * event.bracket.endswith("stop")
    return said + "whole" * event.whole_measure


def line(events: tuple[Event, ...]) -> str:
    for event in events:
        first = bool(event.notes) and not event.tied_from
        assert (event.direction == "down") == first or event.tied_from
        assert Mark.ACCENT not in event.marks or event.direction
    return " ".join(map(paper, events))


def bar(meter: str, sounds: str, cuts: str = "", pickup: str = "") -> str:
    made = Meter.parse(meter)
    start = made.bar - Fraction(pickup) if pickup else Fraction(0)
    rows = [sounding(row) for row in sounds.split(",") if row.strip()]
    places = [Fraction(cut) for cut in cuts.split()]
    events = written_bar(made, Span(start, made.bar), rows, places)
    if not any(event.whole_measure for event in events):
        assert sum(event.value.duration for event in events) == made.bar - start
        assert events[0].start == 0
        assert all(a.end == b.start for a, b in pairwise(events))
    return line(events)


# Common practice, no one source. First the meter and the sounds, then the places where something
# stands over a rest, then how long a pickup is.
BARS = """
4/4; => r1whole
4/4;;0 => r1whole
4/4;;1/2 => r2 r2
4/4;;0 1/8 3/4 => r8 r8 r4 r4 r4
3/4;;1/4 => r4 r4 r4
6/8;;3/8 => r4. r4.
4/4;1/2 3/4;1/8 => r8 r8 r4 4 r4
4/4;0 1 => 1
4/4;0 1 > => 1>
4/4;0 1 < => <1
4/4;0 5/8 < > => <2> <8> r8 r4
4/4;1/8 1 < => r8 <8> <4> <2
4/4;0 3/8, 3/8 1 => 4. 8> <2
4/4;1/8 1/4, 1/4 5/16 => r8 8 16 r16 r8 r2
4/4;0 1/8, 1/8 1/4, 1/4 3/8 => 8b 8e 8 r8 r2
4/4;0 1/16, 1/16 1/8, 1/8 1/4 => 16bb 16ce 8e r4 r2
4/4;0 1/16, 1/8 3/16, 3/16 1/4 => 16 r16 16bb 16ee r4 r2
4/4;0 1/32, 1/32 1/16, 1/16 3/16, 3/16 1/4 => 32bbb 32cee 8c 16ek r4 r2
4/4;0 1/16, 1/16 3/16, 3/16 1/4 => 16bf 8c 16ek r4 r2
4/4;0 3/16, 3/16 1/4, 1/4 5/16, 5/16 1/2 => 8.b 16ek 16bf 8.e r2
4/4;0 1/12, 1/12 1/6, 1/6 1/4 => (3:2 8b 8c 8e) r4 r2
4/4;1/12 1/6 => (3:2 r8 8 r8) r4 r2
4/4;0 1/6, 1/6 1/4 => (3:2 4 8) r4 r2
4/4;0 1/12, 1/12 1/4 => (3:2 8 4) r4 r2
4/4;0 1/6, 1/6 1/3, 1/3 1/2 => (3:2 4 4 4) r2
4/4;1/4 5/12, 5/12 7/12, 7/12 3/4 => r4 (3:2 4 4 4) r4
4/4;0 1/3, 1/3 2/3, 2/3 1 => (3:2 2 2 2)
4/4;1/3 2/3, 2/3 1 => (3:2 r2 2 2)
4/4;0 1/3, 1/3 2/3, 2/3 5/6, 5/6 1 => (3:2 2 2 4 4)
4/4;0 1/4, 1/4 1/2, 1/2 2/3, 2/3 5/6, 5/6 1 => 4 4 (3:2 4 4 4)
5/4;0 1/4, 1/4 7/12, 7/12 11/12, 11/12 5/4 => 4 (3:2 2 2 2)
6/4;0 1/3, 1/3 2/3, 2/3 1, 1 3/2 => (3:2 2 2 2) 2
4/4;0 1/12, 1/12 2/3, 2/3 3/4 => (3:2 8 4.> <2 8 r4.)
4/4;0 2/7, 2/7 4/7, 4/7 6/7, 6/7 1 => (7:4 2 2 2 4)
4/4;0 1/5, 1/5 2/5, 2/5 3/5, 3/5 4/5, 4/5 1 => (5:4 4 4 4 4 4)
4/4;0 1/24, 1/24 1/12, 1/12 1/8, 1/8 1/4 => (3:2 16bb 16cc 16ce) 8e r4 r2
4/4;0 1/24, 1/24 1/12, 1/12 1/8, 1/8 1/6, 1/6 5/24, 5/24 1/4 => (3:2 16bb 16cc 16cc) (3:2 16cc 16cc 16ee) r4 r2
4/4;0 1/20, 1/20 1/10, 1/10 3/20, 3/20 1/5, 1/5 1/4 => (5:4 16bb 16cc 16cc 16cc 16ee) r4 r2
4/4;0 1/28, 1/28 1/4 => (7:4 16 4.) r4 r2
4/4;0 1/12, 1/12 1/6, 1/6 1/4, 1/2 7/12, 7/12 3/4 => (3:2 8b 8c 8e) r4 (3:2 8 4) r4
4/4;0 5/12, 5/12 1/2 => 4> (3:2 <4 8) r2
4/4;1/8 1/6, 1/6 5/24, 5/24 1/4 => r8 (3:2 16bb 16cc 16ee) r4 r2
4/4;0 1/12, 1/12 1/10, 1/10 1/4 => (15:8 8b> <32cbb 32cce 16ce> <8c> <16.ek) r4 r2
4/4;0 1/100, 1/100 1/7, 1/7 1 => 8b> <32cbf 16.ee> <4> <2
4/4;0 1/6, 1/6 1/4 s => (3:2 4 8) r4 r2
4/4;0 1 s => 4 r4 r2
4/4;1/8 1 s => r8 8 r4 r2
4/4;3/32 1 s => r16 r32 32 r8 r4 r2
4/4;1/4 5/16 s => r4 16 r16 r8 r2
4/4;0 1/4 s > => 4 r4 r2
4/4;1/12 1 s => (3:2 r8 4) r4 r2
6/8;0 1/8, 1/8 1/4, 1/4 3/8, 3/8 3/4 => 8b 8c 8e 4.
6/8;0 1/4, 1/4 1/2, 1/2 3/4 => 4 8> <8 4
6/8;0 1 s => 4. r4.
6/8;0 1/12, 1/12 1/8, 1/8 1/4 => (3:2 8b 16ck) 8e r8 r4.
6/8;0 1/24, 1/24 1/12, 1/12 1/8 => (3:2 16bb 16cc 16ee) r8 r8 r4.
6/8;0 3/16, 3/16 3/8 => 8.b 8.e r4.
6/8;0 1/16, 1/16 1/8, 1/8 3/16 => 16bb 16cc 16ee r16 r8 r4.
12/8;0 3/2 => 1.
12/8;0 9/8 => 2.> <4. r4.
12/8;3/8 9/8 => r4. 4.> <4. r4.
12/8;1/8 3/8 => r8 4 r4. r2.
12/8;;0 3/8 => r4. r4. r2.
12/8;3/4 9/8 => r2. 4. r4.
9/8;0 3/8 => 4. r4. r4.
9/8;3/8 3/4, 3/4 9/8 => r4. 4. 4.
3/8;0 1/8 => 8 r8 r8
3/4;0 1/4 => 4 r4 r4
3/4;1/4 3/4 => r4 2
3/4;0 5/8 => 2> <8 r8
5/4;0 5/4 => 2.> <2
5/4;0 3/4 => 2. r4 r4
5/4;3/4 5/4 => r4 r4 r4 2
5/4;1/4 1 => r4 2> <4 r4
5/4;0 1/8 => 8 r8 r4 r4 r4 r4
5/4;1/2 1 => r4 r4 4> <4 r4
6/4;0 3/4 => 2. r2.
6/4;1/4 1/2 => r4 4 r4 r2.
6/4;3/4 7/8, 7/8 1, 1 9/8, 9/8 5/4 => r2. 8b 8c 8c 8e r4
2/2;0 1/8, 1/8 3/8, 3/8 1/2 => 8 4 8 r2
2/2;0 1/2 => 2 r2
2/2;1/4 3/4 => r4 4> <4 r4
2/2;0 1/6, 1/6 1/3, 1/3 1/2 => (3:2 4 4 4) r2
3/2;0 1 => 1 r2
3/2;1/2 3/2 => r2 1
3/2;0 1/2 => 2 r2 r2
4/4;0 1/4 t1/16 => 4== r4 r2
4/4;0 1/4 t1/8 => 4= r4 r2
4/4;0 1/8 t1/16 => 8= r8 r4 r2
4/4;0 1/16 t1/16 => 16= r16 r8 r4 r2
4/4;0 1 t1/32 => 1===
4/4;0 1/4 t1/4 => 4= r4 r2
4/4;;;1/4 => r4
4/4;;;3/8 => r8 r4
4/4;;;1/12 => (3:2 r8)
4/4;;;1/6 => (3:2 r4)
4/4;;;5/24 => (3:2 r8. r8)
6/8;;;1/8 => r8
6/8;;;1/4 => r8 r8
6/8;;;1/24 => (3:2 r16)
3/4;;;1/2 => r4 r4
12/8;;;3/4 => r2.
12/8;;;1/2 => r8 r4.
4/4;0 5/8, 3/4 1 => 2> <8 r8 4
4/4;0 7/8 => 2.> <8 r8
4/4;1/16 3/16 => r16 8 r16 r4 r2
4/4;0 7/32, 7/32 1/4 => 8b> <16.cb 32eek r4 r2
4/4;1/64 1/4 => r64 32.bff> <8.e r4 r2
4/4;1/128 1/4 => r128 64.bbff> <16.ce> <8e r4 r2
4/4;1/256 1/4 => 4 r4 r2
4/4;0 127/128 => 2.> <8b> <16cb> <32ccb> <64.eeek r128
"""  # noqa: E501


@pytest.mark.parametrize("row", BARS.strip().splitlines())
def test_a_bar_on_paper(row: str) -> None:
    given, expected = row.split(" => ")
    assert bar(*given.split(";")) == expected


def test_no_note_value_is_shorter_than_a_128th() -> None:
    assert plain_value(Fraction(1, 128)) == NoteValue(Fraction(1, 128))
    assert plain_value(Fraction(3, 128)) == NoteValue(Fraction(1, 64), dots=1)
    assert plain_value(Fraction(1, 256)) is None
    four, late = Meter.parse("4/4"), Fraction(1, 256)
    with pytest.raises(ValueError, match=r"^no rests show 1/256 of a whole note at 0$"):
        rest_pieces(four, Fraction(0), late)
    with pytest.raises(ValueError, match=r"^no note values show 1/256 of a whole note at 0$"):
        note_pieces(four, Fraction(0), late)
