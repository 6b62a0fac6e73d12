"""The road map on paper, whole: every sign, word and bar line of a page, form by form.

A page is written here as a line of its bars: `§` segno, `O` coda, `|:` and `:|` with the times,
`[1,2`, `]` and `>` (left open) the endings, `|` `||` `|||` the bar lines, words in quotes.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hand_made import arrangement

from accomp.harmony import Key
from accomp.score.arrangement import ArrangedBar, Arrangement
from accomp.score.notate import notate
from accomp.score.notate_chart import chart_measures, times_through
from accomp.score.notate_fold import Leaf
from accomp.score.notate_follow import followed
from accomp.score.notate_layout import ScoreLayout
from accomp.score.notate_rests import with_long_rests
from accomp.score.written import Barline, ChordMark, Event, Jump, Measure, NoteValue
from accomp.time import Meter
from accomp.tune import Spot, Stage

SHAPES = {"F": "0 2 3 3", "C": "0 0 2 3", "G": "2 0 0 2", "D": "2 2 3 0"}
LINES = {Barline.REGULAR: "|", Barline.DOUBLE: "||", Barline.FINAL: "|||"}
STAGES = {"i": Stage.INTRO, "z": Stage.CODA, "+": None}

LONG, OTHER = "A1:FCFCFCFG", "B1:GGCCGGCC"  # eight bars are worth a jump


def form(text: str, **more: object) -> Arrangement:
    """Sections as "A1:FCFC B1:GG": name, chorus, one letter a bar; `i` intro, `z` coda, `+` added
    before the name. Small letters are bars of the same section played a second time."""
    sections = []
    for word in text.split():
        head, chords = word.split(":")
        stage = STAGES.get(head[0], Stage.CHORUS)
        sections.append((head.lstrip("iz+")[0], int(head[-1]), stage, chords))
    letters = "".join(chords for *_, chords in sections).upper()
    plain = arrangement([(letter, SHAPES[letter]) for letter in letters], **more)
    bars: list[ArrangedBar] = []
    for name, chorus, stage, chords in sections:
        written = 0  # which bar of the section
        for nth, letter in enumerate(chords):
            time = 2 if letter.islower() else 1
            if time == 2 and chords[nth - 1].isupper():
                written -= len(chords[nth:]) - len(chords[nth:].lstrip("fcgd"))
            old = plain.bars[len(bars)]
            bar = replace(
                old.bar,
                section=name,
                chorus=chorus,
                section_bar=nth,
                opens=nth == 0,
                spot=Spot(stage=stage or Stage.CHORUS, section=name, bar=written, time=time),
            )
            bars.append(replace(old, bar=bar, added=stage is None))
            written += 1
    return replace(plain, bars=tuple(bars))


def line(measure: Measure) -> str:
    said = [f'"{measure.words}" '] if measure.words else []
    said += ["K"] * measure.new_key + ["M"] * measure.new_meter
    said += ["§"] * measure.segno + ["O"] * measure.coda
    edge = measure.ending_edge
    said += [f"[{','.join(map(str, measure.ending))} "] * edge.startswith("start")
    said += ["|:"] * measure.repeat_start
    said += [str(mark.chord) for mark in measure.chords]
    said += [" to coda"] * measure.to_coda + [" fine"] * measure.fine
    said += [f" {measure.jump}"] * (measure.jump is not None)
    said += [f":|{measure.repeat_end}"] * bool(measure.repeat_end)
    said += ["]"] * edge.endswith("stop") + [">"] * edge.endswith("discontinue")
    return "".join([*said, LINES[measure.barline]])


def page(made: Arrangement, **layout: object) -> str:
    measures = notate(made, ScoreLayout(player="slash", **layout)).parts[0].measures
    first = 0 if made.pickup else 1
    assert [m.number for m in measures] == list(range(first, first + len(measures)))
    return "".join(map(line, measures))


PAGES = """
A1:FC A1:FC => KM|:F|C:|2|||
A1:FCFC A1:FCFG B1:GG => KM|:F|C|F|[1 C:|2]||[2 G>||G|G|||
A1:FC A1:FC A1:FC B1:GG => "3 x" KM|:F|C:|3||G|G|||
A1:FCF A1:FGC => KMF|C|F||F|G|C|||
A1:FCFC A1:FCGG A1:FCGG => KM|:F|C|[1 F|C:|2]||[2 G|G>||F|C|G|G|||
A1:FCFCFC A1:FCFGDG => KM|:F|C|F|[1 C|F|C:|2]||[2 G|D|G>|||
A1:F A1:F => KM|:F:|2|||
A1:FC A1:FG => KM|:F|[1 C:|2]||[2 G>|||
A1:FC A1:GC => KMF|C||G|C|||
A1:FC A2:FC => "2 x through" KM|:F|C:|2|||
A1:FC A1:FC A2:FC A2:FC => "2 x through" KM|:F|C||F|C:|2|||
A1:FC B1:GG A2:FC B2:GG A3:FC B3:GG => "3 x through" KM|:F|C||G|G:|3|||
A1:FCFC A2:FCFG => "2 x through" KM|:F|C|F|[1 C:|2]||"last time" [2 G>|||
A1:FCFC A2:FCFG A3:FCFC A4:FCDD => "4 x through" KM|:F|C|[1,3 F|C:|4]||[2 F|G:|4]||"last time" [4 D|D>|||
A1:FCFC A2:FCGG A3:FCFC => "3 x through" KM|:F|C|[1 F|C:|3]||[2 G|G:|3]||"last time" [3 F|C>|||
A1:FCFC A2:FCFCD => KMF|C|F|C||"Chorus 2" F|C|F|C|D|||
A1:FCFCD A2:FCFC => KMF|C|F|C|D||"Chorus 2" F|C|F|C|||
A1:FCFC A2:FCFCDD A3:FCFC => KMF|C|F|C||"Chorus 2" F|C|F|C|D|D||"Chorus 3" F|C|F|C|||
A1:FCFC A2:FCFCDDD => KMF|C|F|C||"Chorus 2" F|C|F|C|D|D|D|||
A1:FCFC A2:FGDD A3:FGDD => KMF|C|F|C||"Choruses 2 to 3: 2 x through" |:F|G|D|D:|2|||
A1:FCFC A2:FCFC A3:FGDD => "Choruses 1 to 2: 2 x through" KM|:F|C|F|C:|2||"Chorus 3" F|G|D|D|||
A1:FCFC A2:FGDD A3:FGDD A4:FGDD => KMF|C|F|C||"Choruses 2 to 4: 3 x through" |:F|G|D|D:|3|||
A1:FCFC A2:FGDD A3:FDGG => KMF|C|F|C||"Chorus 2" F|G|D|D||"Chorus 3" F|D|G|G|||
A1:FCFC B1:GG A2:FCFC => KMF|C|F|C||G|G||"Chorus 2" F|C|F|C|||
L O L => KMF|C|F|C|F|C|F|G fine||G|G|C|C|G|G|C|C D.C. al Fine||
iI1:GG L O L => KMG|G||§F|C|F|C|F|C|F|G fine||G|G|C|C|G|G|C|C D.S. al Fine||
iI1:GG iI1:GG L O L => KM|:G|G:|2||§F|C|F|C|F|C|F|G fine||G|G|C|C|G|G|C|C D.S. al Fine||
L O L zZ1:GG => KMF|C|F|C|F|C|F|G to coda||G|G|C|C|G|G|C|C D.C. al Coda||OG|G|||
L O L +T1:GG => KMF|C|F|C|F|C|F|G||G|G|C|C|G|G|C|C||F|C|F|C|F|C|F|G||G|G|||
A1:FCFCFCF B1:GGGG A1:FCFCFCF => KMF|C|F|C|F|C|F||G|G|G|G||F|C|F|C|F|C|F|||
L L => KM|:F|C|F|C|F|C|F|G:|2|||
L A2:FCFCFCFG zZ2:GG => "2 x through" KM|:F|C|F|C|F|C|F|G:|2||G|G|||
L A2:FCFC zZ2:GG => "2 x through, the last time with coda" KMF|C|F|C to coda|F|C|F|G D.C. al Coda||OG|G|||
L A2:FCFCFCFG A3:FCFCFC zZ3:GG => "Choruses 1 to 2: 2 x through" KM|:F|C|F|C|F|C|F|G:|2||"Chorus 3" F|C|F|C|F|C||G|G|||
L A2:FCFCFCFC A3:FCFCFC zZ3:GG => KMF|C|F|C|F|C to coda|F|G||"Chorus 2" F|C|F|C|F|C|F|C D.C. al Coda||OG|G|||
iI1:FF L A2:FCFC zZ2:GG => KMF|F||"2 x through, the last time with coda" §F|C|F|C to coda|F|C|F|G D.S. al Coda||OG|G|||
iI1:FF L A2:FCFCFCFG A3:FCFCFC zZ3:GG => KMF|F||"3 x through, the last time with coda" §|:F|C|F|C|F|C to coda|F|G D.S. al Coda:|2||OG|G|||
L A2:FCFCFCFG A3:FCFC +T3:GG => "Choruses 1 to 2: 2 x through" KM|:F|C|F|C|F|C|F|G:|2||"Chorus 3" F|C|F|C||G|G|||
L A2:GGCCGGCC A3:FCFCFCFG zZ3:GG => KMF|C|F|C|F|C|F|G to coda||"Chorus 2" G|G|C|C|G|G|C|C D.C. al Coda||OG|G|||
L A2:GGCCGGCC A3:FCFCFCFG => KMF|C|F|C|F|C|F|G||"Chorus 2" G|G|C|C|G|G|C|C||"Chorus 3" F|C|F|C|F|C|F|G|||
L A2:GGCCGGCC A3:FCFCFCFG +T3:GG => KMF|C|F|C|F|C|F|G||"Chorus 2" G|G|C|C|G|G|C|C||"Chorus 3" F|C|F|C|F|C|F|G||G|G|||
L O A1:FCFCFCFC => KMF|C|F|C|F|C|F|G||G|G|C|C|G|G|C|C||F|C|F|C|F|C|F|C|||
L C1:DD O L C1:DD => KMF|C|F|C|F|C|F|G||D|D fine||G|G|C|C|G|G|C|C D.C. al Fine||
C1:DD L O L => KMD|D||§F|C|F|C|F|C|F|G fine||G|G|C|C|G|G|C|C D.S. al Fine||
L C1:DD L O L => KMF|C|F|C|F|C|F|G fine||D|D||F|C|F|C|F|C|F|G||G|G|C|C|G|G|C|C D.C. al Fine||
O L C1:DD L C1:DD C1:DD => KMG|G|C|C|G|G|C|C||F|C|F|C|F|C|F|G||D|D||F|C|F|C|F|C|F|G|||:D|D:|2|||
iI1:FF iI1:FF A1:GG A1:GG => KM|:F|F:|2|||:G|G:|2|||
A1:FF zZ1:GG zZ1:GG => KMF|F|||:G|G:|2|||
iI1:FFFF iI1:FFFD A1:GG => KM|:F|F|F|[1 F:|2]||[2 D>||G|G|||
+V1:FF A1:FCFC A2:FCFC A3:FCFG +T3:FG +E3:F => KMF|F||"3 x through" |:F|C|F|[1,2 C:|3]||"last time" [3 G>||F|G||F|||
L L O L => KM|:F|C|F|C|F|C|F|G fine:|2||G|G|C|C|G|G|C|C D.C. al Fine||
iI1:FFFF iI1:FFFD L O L => KMF|F|F|F||F|F|F|D||§F|C|F|C|F|C|F|G fine||G|G|C|C|G|G|C|C D.S. al Fine||
L O L zZ1:GGGG zZ1:GGGD => KMF|C|F|C|F|C|F|G to coda||G|G|C|C|G|G|C|C D.C. al Coda||OG|G|G|G||G|G|G|D|||
A1:FCfcGG => KM|:F|C:|2|G|G|||
A1:GFCfcGG => KMG||:F|C:|2|G|G|||
A1:GFCfc B1:DD => KMG||:F|C:|2||D|D|||
A1:FCfc A1:FCfc => "4 x" KM|:F|C:|4|||
A1:GFCfdGG => KMG||:F|[1 C:|2]|[2 D>|G|G|||
A1:FCFCfcfgDD => KM|:F|C|F|[1 C:|2]|[2 G>|D|D|||
A1:FCfc A2:FCfc => "2 x through" KM|:F|C|F|C:|2|||
"""  # noqa: E501


@pytest.mark.parametrize("row", PAGES.strip().splitlines())
def test_a_form_on_paper(row: str) -> None:
    played, expected = row.split(" => ")
    made = form(played.replace("L", LONG).replace("O", OTHER))
    assert page(made) == expected


def test_unfolded_every_bar_stands_on_paper() -> None:
    made = form("A1:FC A1:FC B1:GG A2:FC A2:FC B2:GG")
    assert page(made, fold=False) == "KMF|C||F|C||G|G||F|C||F|C||G|G|||"


def test_after_a_pickup_the_way_back_is_to_the_sign() -> None:
    made = form(f"{LONG} {OTHER} {LONG}", pickup=Fraction(1, 4))
    assert page(made) == ("KM|§F|C|F|C|F|C|F|G fine||G|G|C|C|G|G|C|C D.S. al Fine||")


def test_whoever_comes_back_to_the_start_is_told_the_key_and_the_style_again() -> None:
    rows = "A1:FC B1:GG A2:FC B2:GG"
    keys = ["F", "F", "G", "G"] * 2
    quarter = Fraction(1, 4)
    assert page(form(rows, keys=keys)) == '"2 x through" KM|:F|C||KG|G:|2|||'
    written = page(form(rows, keys=keys, pickup=quarter))
    assert written == 'KM|"2 x through" K|:F|C||KG|G:|2|||'
    assert page(form(rows, pickup=quarter)) == 'KM|"2 x through" |:F|C||G|G:|2|||'
    made = form(rows)
    other = replace(made.bars[0].style, title="Even two")
    bars = [replace(bar, style=other) if bar.bar.section == "B" else bar for bar in made.bars]
    written = page(replace(made, bars=tuple(bars)))
    assert written == '"Even four, 2 x through" KM|:F|C||"Even two" G|G:|2|||'


def tied(played: str, *bars: int) -> str:
    """A page of a form whose bass holds its note over the end of some bars (from 0)."""
    made = form(played, bass=[("1/2", "5/4", "F2")])
    kept = [bar if at in bars else replace(bar, bass=()) for at, bar in enumerate(made.bars)]
    return page(replace(made, bars=tuple(kept)))


def test_nobody_goes_back_to_where_a_sound_is_held_into() -> None:
    assert tied("A1:FC A1:FC", 0, 2) == "KM|:F|C:|2|||"  # inside, it is the same each time
    assert tied("A1:FC A1:FC", 1) == "KMF|C||F|C|||"
    assert tied("A1:FC A2:FC", 1) == 'KMF|C||"Chorus 2" F|C|||'
    assert tied("B1:GG A1:FC A1:FC", 1, 3) == "KMG|G||F|C||F|C|||"
    assert tied("B1:GG A1:FC A1:FC", 1) == "KMG|G||F|C||F|C|||"
    assert tied("A1:FCFC A1:FCFG", 0, 4) == "KM|:F|C|F|[1 C:|2]||[2 G>|||"
    assert tied("A1:FCFC A1:FCFG", 2, 6) == "KMF|C|F|C||F|C|F|G|||"


def chart(played: str, **how: bool) -> str:
    made = form(played.replace("L", LONG).replace("O", OTHER))
    measures = chart_measures(made, "concert", **how)
    assert times_through(made) == max(bar.bar.chorus for bar in made.bars)
    return "".join(map(line, measures)).replace("||", "|").replace("||", "|")


def test_a_chart_shows_the_form_once_where_all_times_have_the_same_chords() -> None:
    assert chart("A1:FC A1:FC B1:GG A2:FC A2:FC B2:GG") == "|:F|C:|2|G|G|"
    assert chart("A1:FC A1:FC B1:GG A2:FC A2:FC B2:GG", fold=False) == "F|C|F|C|G|G|"
    assert chart("iI1:D A1:FC A2:FC zZ2:G +E2:F") == "D|F|C|G|F|"
    assert chart("A1:FCFC A2:FCFG") == '"2 x through" |:F|C|F|[1 C:|2]|"last time" [2 G>|'
    assert chart("A1:FCFC A2:FCFG", fold=False) == "F|C|F|C|F|C|F|G|"
    assert chart("L A2:FCFC zZ2:GG") == (
        '"2 x through, the last time with coda" F|C|F|C to coda|F|C|F|G D.C. al Coda|OG|G|'
    )
    # How often it is played stands beside it, and no jump goes with that.
    assert chart("L O L A2:FCFCFCFG B2:GGCCGGCC A2:FCFCFCFG") == "|".join(
        [*"FCFCFCFG", *"GGCCGGCC", *"FCFCFCFG", ""]
    )
    assert chart("L O L") == ("F|C|F|C|F|C|F|G fine|G|G|C|C|G|G|C|C D.C. al Fine|")


def test_a_chart_has_boxes_and_notes_of_nobody_and_the_names_of_its_reader() -> None:
    made = form("+V1:F A1:FC")
    for reader, names, key in (("concert", "F F C", "F"), ("Bb", "G G D", "G")):
        measures = chart_measures(made, reader)
        marks = [mark for measure in measures for mark in measure.chords]
        assert " ".join(str(mark.chord) for mark in marks) == names
        assert {mark.shape for mark in marks} == {None}
        assert {(str(m.key), m.events, m.length) for m in measures} == {(key, (), 1)}
        assert [m.rehearsal for m in measures] == ["V", "A", ""]
        assert [m.added for m in measures] == [True, False, False]
        assert [m.number for m in measures] == [1, 2, 3]


SIGNS: dict[str, dict[str, object]] = {
    "|:": {"repeat_start": True},
    ":|": {"repeat_end": 2},
    ":|3": {"repeat_end": 3},
    "1": {"ending": (1,)},
    "2": {"ending": (2,)},
    "13": {"ending": (1, 3)},
    "$": {"segno": True},
    "O": {"coda": True},
    "to": {"to_coda": True},
    "fine": {"fine": True},
    "DCfine": {"jump": Jump.DA_CAPO_AL_FINE},
    "DCcoda": {"jump": Jump.DA_CAPO_AL_CODA},
    "DSfine": {"jump": Jump.DAL_SEGNO_AL_FINE},
    "DScoda": {"jump": Jump.DAL_SEGNO_AL_CODA},
}


C, FOUR = Key.parse("C"), Meter.parse("4/4")
REST = Event(Fraction(0), NoteValue(Fraction(1)), whole_measure=True)
SILENT = Measure(1, Fraction(1), FOUR, C, (REST,))


@pytest.mark.parametrize(
    ("bars", "order"),
    [
        ("- - -", "0 1 2"),
        ("- :| -", "0 1 0 1 2"),
        ("- |: :|3 -", "0 1 2 1 2 1 2 3"),
        ("|::| |::|3", "0 0 1 1 1"),
        ("|: 1:| 2 -", "0 1 0 2 3"),
        ("|: 13:|3 2:|3 -", "0 1 0 2 0 1 3"),
        ("fine DCfine -", "0 1 0"),
        ("- $ fine DSfine -", "0 1 2 3 1 2"),
        ("- to - DCcoda O", "0 1 2 3 0 1 4"),
        ("- $to - DScoda O -", "0 1 2 3 1 4 5"),
        ("- |: :| fine DCfine", "0 1 2 1 2 3 4 0 1 2 3"),  # once back, no repeat is taken again
        ("|: :| fine DCfine", "0 1 0 1 2 3 0 1 2"),
        ("|: :|DCfine", None),  # both ends together at the very start: readers differ
        ("- |: $ :|DSfine fine", "0 1 2 3 1 2 3 2 3 4"),
        ("1 2 DCfine", None),  # brackets and a jump on one page
        ("- :|3 - - - - - - - - -", None),  # longer than was played
    ],
)  # fmt: skip
def test_signs_are_followed_as_a_reader_does(bars: str, order: str | None) -> None:
    leaves = [Leaf((signed(bar),), at) for at, bar in enumerate(bars.split())]
    found = followed(leaves, 12)
    assert found == (None if order is None else [int(place) for place in order.split()])


def signed(bar: str) -> Measure:
    """A bar with its signs: the longest that fits is taken first."""
    what: dict[str, object] = {}
    while bar.strip("-"):
        sign = max((sign for sign in SIGNS if bar.startswith(sign)), key=len)
        what |= SIGNS[sign]
        bar = bar.removeprefix(sign)
    return replace(SILENT, **what)


SEEN_AFTER: list[dict[str, object]] = [
    {"barline": Barline.DOUBLE},
    *({**SIGNS[sign]} for sign in (":|", "to", "fine", "DCfine")),
    {"ending_edge": "stop"},
]
SEEN_BEFORE: list[dict[str, object]] = [
    *({**SIGNS[sign]} for sign in ("|:", "$", "O", "1")),
    {"rehearsal": "A"},
    {"words": "rit."},
    {"chords": (ChordMark(Fraction(0), None, None),)},
    {"new_key": True},
    {"new_meter": True},
]


@pytest.mark.parametrize("what", [*SEEN_AFTER, *SEEN_BEFORE], ids=str)
@pytest.mark.parametrize("part", [0, 1])
def test_no_sign_hides_in_a_long_rest(what: dict[str, object], part: int) -> None:
    """Four silent bars of two parts; what is said in one part at the third ends the rest there."""
    columns = [[SILENT, SILENT] for _ in range(4)]
    columns[2][part] = replace(SILENT, **what)
    rests = [[m.rests for m in column] for column in with_long_rests(list(map(tuple, columns)))]
    after = what in SEEN_AFTER
    if what in ({"ending": (1,)},):  # in a bracket of its own
        assert rests == [[2, 2], [0, 0], [0, 0], [0, 0]]
    elif after:
        assert rests == [[3, 3], [0, 0], [0, 0], [0, 0]]
    else:
        assert rests == [[2, 2], [0, 0], [2, 2], [0, 0]]


def test_a_long_rest_is_of_bars_where_all_are_silent() -> None:
    struck = replace(SILENT, events=(replace(REST, whole_measure=False),))
    empty, pickup = replace(SILENT, events=()), replace(SILENT, number=0)

    def rests(*columns: tuple[Measure, ...]) -> list[int]:
        return [column[0].rests for column in with_long_rests(columns)]

    both = (SILENT, SILENT)
    assert rests(both, both, (SILENT, struck), both, both, both) == [2, 0, 0, 3, 0, 0]
    assert rests(both, (struck, SILENT), both) == [0, 0, 0]
    assert rests(both, (empty, SILENT), both, both) == [0, 0, 2, 0]
    assert rests((pickup, pickup), both, both) == [0, 2, 0]
    assert rests() == []
    ended = replace(SILENT, ending=(1,))
    assert rests((ended, ended), (ended, ended)) == [2, 0]
