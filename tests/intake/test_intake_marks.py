"""What the signs of a MusicXML measure say, each by itself and several together.

Meanings: MusicXML 4.0 (barline, direction, sound, metronome); of several the first counts (ours).
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest
from lxml import etree

from accomp.intake.musicxml_measure import Signs, read_signs
from accomp.intake.numbers import WrongNumberError
from accomp.intake.written import NO_SIGNS
from accomp.time import MOST_CHORUSES


def signs_of(xml: str) -> Signs:
    return read_signs(etree.fromstring(f"<measure>\n{xml}\n</measure>"))


def words(*texts: str) -> str:
    inside = "".join(f"<words>{text}</words>" for text in texts)
    return f"<direction><direction-type>{inside}</direction-type></direction>"


def typed(inside: str) -> str:
    return f"<direction><direction-type>{inside}</direction-type></direction>"


def metronome(unit: str = "quarter", per_minute: str = "80", dots: int = 0, more: str = "") -> str:
    dotted = "<beat-unit-dot/>" * dots
    return typed(
        f"<metronome><beat-unit>{unit}</beat-unit>{dotted}{more}"
        f"<per-minute>{per_minute}</per-minute></metronome>"
    )


SAID: list[tuple[str, dict[str, Any]]] = [
    # bar lines
    *(
        (f"<barline {at}><bar-style>{style}</bar-style></barline>", {"double": True})
        for style in ("light-light", "light-heavy", "heavy-heavy", "heavy")
        for at in ("", 'location="right"')
    ),
    *(
        (f"<barline><bar-style>{style}</bar-style></barline>", {})
        for style in ("regular", "dashed", "heavy-light", "none", "tick")
    ),
    ('<barline location="left"><bar-style>light-light</bar-style></barline>', {}),
    ('<barline><repeat direction="forward"/></barline>', {"repeat_start": True}),
    *(
        (f'<barline><repeat direction="backward" {times}/></barline>', {"repeat_end": end})
        for times, end in (("", 2), ('times="0"', 2), ('times="2"', 2), ('times="3"', 3))
    ),
    ('<barline><repeat direction="backward" times="99"/></barline>', {"repeat_end": 99}),
    *(
        (f'<barline><ending type="start" {number}/></barline>', {"ending": frozenset(times)})
        for number, times in (
            ("", {1}), ('number=""', {1}), ('number="2"', {2}), ('number="1, 3"', {1, 3}),
            ('number="2-4"', {2, 3, 4}), ('number="4-2"', {1}), ('number="0"', {1}),
            ('number="99"', {99}), ('number="0,2"', {2}),
        )
    ),
    ('<barline><ending type="stop" number="1"/></barline>', {"ending_stops": True}),
    ('<barline><ending type="discontinue" number="1"/></barline>', {"ending_stops": True}),
    ("<barline><segno/></barline>", {"segno": True}),
    ("<barline><coda/></barline>", {"coda": True}),
    # directions
    (typed("<segno/>"), {"segno": True}),
    (typed("<coda/>"), {"coda": True}),
    ("<direction><segno/></direction>", {}),  # of no type
    (typed("<rehearsal> B </rehearsal>"), {"mark": "B"}),
    (typed("<rehearsal>B</rehearsal><rehearsal>C</rehearsal>"), {"mark": "B"}),
    (typed("<rehearsal/><rehearsal>C</rehearsal>"), {"mark": "C"}),
    (typed('<rehearsal enclosure="none">V</rehearsal>'), {"mark": "V", "unboxed": True}),
    (typed('<rehearsal enclosure="square">V</rehearsal>'), {"mark": "V"}),
    (words("dolce"), {}),
    (words(" "), {}),
    (words("D.C.", " al Fine "), {"jump": "D.C."}),
    (words("Fine"), {"fine": True}),
    (words("D.S.") + words("D.C."), {"jump": "D.S."}),
    (words("To Coda") + words("solo"), {"to_coda": True}),
    (typed("<coda/><words>To Coda</words>"), {"to_coda": True}),
    (typed("<coda/><words>Coda</words>"), {"coda": True}),
    (words("4 x through"), {"through": 4}),
    (
        words("4 x through") + words("5 x through"),
        {"through": 4},
    ),
    (words("Chorus 2"), {"chorus": 2}),
    (words("Choruses 2 to 4"), {"chorus": 4}),
    (words("Chorus 2") + words("Chorus 3"), {"chorus": 2}),
    (words("Chorus 2, 3 x through"), {"chorus": 2}),
    # playback: what a sound says, beside a direction or in it
    ('<sound dacapo="yes"/>', {"jump": "D.C."}),
    ('<sound dacapo="no"/>', {}),
    ('<sound dalsegno="segno"/>', {"jump": "D.S."}),
    ('<sound dacapo="yes" dalsegno="segno"/>', {"jump": "D.S."}),
    ('<sound dalsegno="segno"/><sound dacapo="yes"/>', {"jump": "D.S."}),
    ('<sound fine="yes"/>', {"fine": True}),
    ('<sound segno="segno"/>', {"segno": True}),
    ('<sound coda="coda"/>', {"coda": True}),
    ('<sound tocoda="coda"/>', {"to_coda": True}),
    ('<barline><coda/></barline><sound tocoda="coda"/>', {"to_coda": True}),
    ('<direction><sound fine="yes"/></direction>', {"fine": True}),
    ('<note><sound fine="yes"/></note>', {}),
    ('<sound tempo="90"/>', {"tempo": Fraction(90, 4)}),
    ('<sound tempo=" 90.5 "/>', {"tempo": Fraction(181, 8)}),
    ('<sound tempo="90"/><sound tempo="70"/>', {"tempo": Fraction(90, 4)}),
    ('<sound tempo="0"/>', {}),
    ('<sound tempo=""/>', {}),
    ('<sound tempo="100000"/>', {"tempo": Fraction(25000)}),
    # metronome marks
    *(
        (metronome(unit), {"tempo": Fraction(80, parts)})
        for unit, parts in (
            ("whole", 1), ("half", 2), ("quarter", 4), ("eighth", 8), ("16th", 16),
        )
    ),
    *(
        (metronome("half", dots=dots), {"tempo": Fraction(40) * share})
        for dots, share in enumerate((1, *map(Fraction, ("3/2", "7/4", "15/8", "31/16"))))
    ),
    (metronome("32nd"), {}),
    (metronome(" quarter "), {"tempo": Fraction(20)}),
    (metronome(per_minute="ca. 72-80"), {"tempo": Fraction(18)}),
    (metronome(per_minute="fast"), {}),
    (metronome(more="<beat-unit>half</beat-unit>"), {}),  # one value is as long as another
    (metronome() + metronome(per_minute="99"), {"tempo": Fraction(20)}),
    ('<sound tempo="60"/>' + metronome(), {"tempo": Fraction(15)}),
    (metronome() + '<sound tempo="60"/>', {"tempo": Fraction(20)}),
]  # fmt: skip


OWN = {"ending", "ending_stops", "unboxed", "tempo"}  # what is no sign of the road


@pytest.mark.parametrize(("xml", "said"), SAID)
def test_a_sign_says_this_and_nothing_else(xml: str, said: dict[str, Any]) -> None:
    own = {name: value for name, value in said.items() if name in OWN}
    road = {name: value for name, value in said.items() if name not in OWN}
    road |= {"opens_ending": True} if "ending" in said else {}
    assert signs_of(xml) == Signs(road=replace(NO_SIGNS, **road), **own)


def refused(xml: str) -> tuple[str, int]:
    with pytest.raises(WrongNumberError) as caught:
        signs_of(xml)
    return str(caught.value), caught.value.line


WHOLE = "must be a whole number from"
REFUSED = [
    *(
        (f'<barline>\n<repeat direction="backward" times="{wrong}"/></barline>',
         f"the times of a repeat {WHOLE} 0 to 99, and this is '{wrong}'.", 3)
        for wrong in ("-1", "100", "1.5")
    ),
    *(
        (f'<barline>\n\n<ending type="start" number="{wrong}"/></barline>',
         f"an ending {WHOLE} 0 to 99, and this is '{found}'.", 4)
        for wrong, found in (("100", "100"), ("1-100", "100"), ("100-101", "100"))
    ),
    *(
        (words(text.format(times)), f"{what} {WHOLE} 1 to {MOST_CHORUSES}, and this is '{times}'.",
         2)
        for text, what in (("{} x through", "the times through"), ("Chorus {}", "the chorus"))
        for times in (0, MOST_CHORUSES + 1)
    ),
    *(
        (f'<sound tempo="{wrong}"/>',
         f"the tempo must be a number from 0 to 100,000, and this is '{wrong}'.", 2)
        for wrong in ("-1", "100001", "100000.5")
    ),
    (metronome(per_minute="100001"),
     "the tempo must be a number from 0 to 100,000, and this is '100001'.", 2),
    (metronome(dots=5), "the dots of a metronome mark must be at most 4, and this is 5.", 2),
]  # fmt: skip


@pytest.mark.parametrize(("xml", "message", "line"), REFUSED)
def test_a_number_beyond_its_bounds_is_told_with_its_line(
    xml: str, message: str, line: int
) -> None:
    assert refused(xml) == (message, line)


def test_the_highest_number_of_times_is_read() -> None:
    assert signs_of(words(f"{MOST_CHORUSES} x through")).road.through == MOST_CHORUSES
    assert signs_of(words(f"Chorus {MOST_CHORUSES}")).road.chorus == MOST_CHORUSES
    assert (
        signs_of(words("1 x through")).road.through == signs_of(words("Chorus 1")).road.chorus == 1
    )
