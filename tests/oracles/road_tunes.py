"""Fourteen tunes of our own invention that use the whole road map, and what a band plays from them.

Each has the bars in the order played, worked out by hand from its text, as roots of the chords that
are written in each bar: "Bb_F" for two, "." for a bar that only goes on, "-" for N.C. `page` are
words and signs that have to stand on paper.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class RoadTune:
    name: str
    text: str
    played: str
    page: tuple[str, ...]
    options: tuple[str, ...] = ()

    @property
    def bars(self) -> list[tuple[str, ...]]:
        return [tuple(bar.split("_")) if bar != "." else () for bar in self.played.split()]


HEAD = 'title = "{}"\nkey = "{}"\nmeter = "{}"\ntempo = {}\nstyle = "{}"\n'


def tune(name, head, rest, played, page, *options):
    return RoadTune(name, HEAD.format(*head) + rest, played, page, options)


VERSE = "G C F Bb " * 2 + "Eb . F . "
CHORUS = "Bb Bb Eb E Bb/F G "
OUT = "Bb Bb Eb E Bb/F G Eb Bb Eb E "
WALTZ = "D D G G D/A B "
ROADS = (
    tune(
        "verse and choruses",
        ("Late Tram to the Foundry", "Bb", "4/4", 160, "four-light-heavy"),
        """intro = "last 4"
form = ["Verse", "3 x Chorus"]
coda = "Coda"
[sections]
Verse = "|: Gm | Cm7 | F7 | Bb :| Eb | % | F7 | % |"
Chorus.bars = "| Bb | Bb7 | Eb | Edim7 | Bb/F | G7 |"
Chorus.first = "| Cm7 | F7 |"
Chorus.second = "| C7 | F7 |"
Chorus.last = "| Cm7 F7 | Bb |"
Coda = "| Eb | Ebm6 | Bb | / |"
""",
        "Bb/F G C F "
        + VERSE
        + CHORUS + "C F " + CHORUS + "C F " + CHORUS + "C_F Bb " + "Eb Eb Bb .",
        ("3 x through", "last time", "Verse", "Coda", 'number="1"', 'number="2"', 'number="3"'),
    ),
    tune(
        "five choruses asked for",
        ("Late Tram to the Foundry", "Bb", "4/4", 160, "four-light-heavy"),
        """begin = "vamp"
form = ["Verse", "3 x Chorus"]
[sections]
Verse = "| Gm | Cm7 | F7 | Bb |"
Chorus.bars = "| Bb | Bb7 | Eb | Edim7 | Bb/F | G7 |"
Chorus.first = "| Cm7 | F7 |"
Chorus.last = "| Cm7 F7 | Bb |"
""",
        "Bb Bb Bb Bb " + "G C F Bb " + (CHORUS + "C F ") * 4 + CHORUS + "C_F Bb",
        ("Vamp", "5 x through", 'number="1,2,3,4"', 'number="5"', "last time"),
        "--choruses", "5",
    ),
    tune(
        "da capo al coda",
        ("Copper Kettle Row", "G", "4/4", 120, "plain-four-four"),
        """form = ["A", "B", "A"]
coda = "Coda"
[sections]
A.bars = "| G | C | G | D7 | G | C | D7 | G | G | C | G | D7 |"
A.to_coda = 10
B = "| Em | % | A7 | % | D7 | % | G D7 | % |"
Coda = "| C | D7 | G | / |"
""",
        "G C G D G C D G G C G D E . A . D . G_D G_D G C G D G C D G G C C D G .",
        ("D.C. al Coda", "To Coda", "<coda/>"),
        "--choruses", "1", "--part", "notation",
    ),
    tune(
        "dal segno al coda after an intro",
        ("Copper Kettle Row", "G", "4/4", 120, "plain-four-four"),
        """intro = "Intro"
form = ["A", "B"]
choruses = 3
coda = "Coda"
[sections]
Intro = "| D7 | % |"
A = "| G | C | G | D7 | G | C | D7 | G |"
B.bars = "| Em | A7 | D7 | / | Em | A7 | D7 | % |"
B.to_coda = 6
Coda = "| D7 | G | / |"
""",
        "D . " + "G C G D G C D G E A D . E A D . " * 2 + "G C G D G C D G E A D . E A " + "D G .",
        ("D.S. al Coda", "To Coda", "<segno/>", "3 x through, the last time with coda"),
    ),
    tune(
        "a last ending in AABA",
        ("Gate at Number Nine", "F", "4/4", 168, "plain-four-four"),
        """form = ["2 x A", "B", "A"]
choruses = 5
[sections]
A.bars = "| F | F7 | Bb | Bdim7 | F/C | D7 |"
A.first = "| G7 / C7 / | F |"
A.last = "| G7 / C7 / | F F6 |"
B = "| A7 | % | D7 | % | G7 | % | C7 | C7 C+ |"
""",
        ("F F Bb B F/C D G_C F " * 2 + "A . D . G . C C_C F F Bb B F/C D G_C F ") * 4
        + "F F Bb B F/C D G_C F " * 2 + "A . D . G . C C_C F F Bb B F/C D G_C F_F",
        ("5 x through", "last time"),
    ),
    tune(
        "three times inside a waltz",
        ("Damp Slate Waltz", "Am", "3/4", 132, "plain-three-four"),
        """form = ["A", "B"]
[sections]
A = "|: Am | E7 | Am | % :| x 3 | Dm | Am | E7 | Am |"
B = { bars = "|: C | G7 :| C | E7 |", key = "C" }
""",
        ("A E A . " * 3 + "D A E A " + "C G " * 2 + "C E ") * 2 + "A",
        ("2 x through",),
    ),
    tune(
        "da capo al fine",
        ("Long Bench", "D", "6/8", 100, "plain-six-eight"),
        """form = ["A", "B", "A"]
[sections]
A = "| D | A7 | D | G | D | A7 | G A7 | D |"
B = { bars = "| G | D7 | G | C | G | D7 | C D7 | G |", key = "G" }
""",
        "D A D G D A G_A D G D G C G D C_D G D A D G D A G_A D",
        ("D.C. al Fine", ">Fine<"),
        "--choruses", "1", "--part", "notation",
    ),
    tune(
        "verses before a chorus with a pickup",
        ("Wet Rope Polka", "A", "2/4", 112, "plain-two-four"),
        """pickup = 0.5
verse = ["V1", "V2"]
form = ["A", "A"]
choruses = 2
[sections]
V1 = "| F#m | C#7 | F#m | E7 |"
V2 = "| F#m | C#7 | B7 | E7 |"
A.bars = "| A | D | A |"
A.first = "| E7 |"
A.second = "| A |"
""",
        "F# C# F# E F# C# B E " + "A D A E A D A A " * 2,
        ("2 x through", "V1", "V2"),
    ),
    tune(
        "a tag that comes home",
        ("Blue Shed", "Bb", "4/4", 150, "shuffle"),
        """form = ["3 x Blues"]
[sections]
Blues = \"\"\"
| Bb7 | Eb7 | Bb7 | Fm7 Bb7 |
| Eb7 | Edim7 | Bb7 | G7 |
| Cm7 | F7 | Bb7 G7 | Cm7 F13 |
\"\"\"
""",
        "Bb Eb Bb F_Bb Eb E Bb G C F Bb_G C_F " * 3 + "C F Bb Bb",
        ("3 x through", '<rehearsal enclosure="none">Tag<'),
    ),
    tune(
        "a tag before the coda, stops and another meter",
        ("Nine Rungs", "Eb", "4/4", 140, "plain-four-four"),
        """end = "tag"
form = ["Stop", "2 x Main", "Walk"]
choruses = 2
coda = ["Bridge", "Coda"]
[sections]
Stop = "| Eb N.C. / / | N.C. | Bb7 N.C. / / | N.C. |"
Main = "| Eb | Ab | Eb Bb7 | Eb |"
Walk = { bars = "| Cm | F7 | Bb | Eb |", meter = "3/4", style = "plain-three-four" }
Bridge = "|: Ab | Abm :|"
Coda = "| Eb | Bb7 | Eb |"
""",
        ("Eb_- - Bb_- - " + "Eb Ab Eb_Bb Eb " * 2 + "C F Bb Eb ") * 2
        + "C F Bb Eb " + "Ab Ab Ab Ab Eb Bb Eb",
        ("2 x through", "Tag"),
    ),
    tune(
        "dal segno where the times before it differ",
        ("Rope Walk Late", "Bb", "4/4", 160, "four-light-heavy"),
        """intro = "last 4"
end = "tag"
form = ["Verse", "4 x Chorus"]
coda = "Coda"
[sections]
Verse = "| Gm | Cm7 | F7 | Bb | Eb | % | F7 | % |"
Chorus.bars = "| Bb | Bb7 | Eb | Edim7 | Bb/F | G7 | Eb | Bb | Eb | Edim7 |"
Chorus.first = "| Cm7 | F7 |"
Chorus.second = "| C7 | F7 |"
Chorus.to_coda = 8
Coda = "| Eb | Ebm6 | Bb | / |"
""",
        "Eb E C F " + "G C F Bb Eb . F . " + OUT + "C F " + (OUT + "C F ") * 2
        + "Bb Bb Eb E Bb/F G Eb Bb " + "Eb Eb Bb . " * 2,
        ("D.S. al Coda", "To Coda", "<coda/>", "Choruses 2 to 3: 2 x through"),
    ),
    tune(
        "first and second ending, then da capo",
        ("Elder Fen", "G", "4/4", 150, "plain-four-four"),
        """form = ["A", "A", "B", "A"]
coda = "Coda"
[sections]
A.bars = "| G | C | G | D7 | G | C |"
A.first = "| D7 | G |"
A.second = "| A7 D7 | G |"
A.to_coda = 4
B = "| Em | % | A7 | % | D7 | % | G D7 | % |"
Coda = "| C | D7 | G | / |"
""",
        "G C G D G C D G G C G D G C A_D G " + "E . A . D . G_D G_D " + "G C G D C D G .",
        (),
        "--choruses", "1",
    ),
    tune(
        "to the coda from a form at the very start",
        ("Cold Quay", "G", "4/4", 150, "four-light-heavy"),
        """form = ["A", "B"]
coda = "Coda"
choruses = 3
[sections]
A = "| G | C | G | D7 | G | C | G | D7 |"
B.bars = "| Em | % | A7 | % | D7 | % | G D7 | % |"
B.to_coda = 6
Coda = "| C | D7 | G | / |"
""",
        "G C G D G C G D E . A . D . G_D G_D " * 2 + "G C G D G C G D E . A . D . C D G .",
        ("Choruses 1 to 2: 2 x through", "Chorus 3"),
    ),
    tune(
        "a repeat at whose end the bass leads on",
        ("Wicket Lane Waltz", "D", "3/4", 132, "plain-three-four"),
        """intro = "last 4"
end = "tag"
form = ["Verse", "3 x Chorus"]
coda = ["Bridge", "Coda"]
[sections]
Verse = "|: D | A7 | D | % :| x 3 | G | % | Em7 | A7 |"
Chorus.bars = "| D | D7 | G | Gm6 | D/A | B7 |"
Chorus.first = "| Em7 | A7 |"
Chorus.second = "| E7 | A7 |"
Chorus.last = "| Em7 A7 / | D |"
Bridge = "|: G | Gm6 :| D | B7 |"
Coda = "| Em7 | A7 | D | / |"
""",
        "D/A B E A " + "D A D . " * 3 + "G . E A " + (WALTZ + "E A ") * 2 + WALTZ + "E_A D "
        + "D/A B E_A D " + "G G G G D B " + "E A D .",
        ('times="3"', "3 x through", '>Tag<'),
    ),
)  # fmt: skip
