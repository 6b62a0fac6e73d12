"""Lead sheets as others write them, drawn by a seed: MusicXML and ABC with all that there is.

Beside them two sheets of which each text and each field is replaced by wrong ones, one at a time,
and what programs write that the standards do not know.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

from fuzz_targets import ABC, MUSICXML
from leadsheet_made import score
from lxml import etree
from reference_dice import Dice
from reference_outputs import Made, folder_of_its_own

from accomp.errors import AccompError
from accomp.intake import read_leadsheet, read_melody

DRAWN = 110
KINDS = (
    "major minor augmented diminished dominant major-seventh minor-seventh diminished-seventh "
    "augmented-seventh half-diminished major-minor major-sixth minor-sixth dominant-ninth "
    "major-ninth minor-ninth dominant-11th major-11th minor-11th dominant-13th major-13th "
    "minor-13th suspended-second suspended-fourth power none other Neapolitan pedal Tristan "
    "min7 maj69 7 sus47 dominant-seventh half-diminished-seventh m7b5 minMaj7 strange"
).split()
TEXTS = ("", "7alt", "7sus4", "m7", "maj9", "°7", "ø", "6/9", "7(b9)", "-7", "Δ", "x" * 61, "N.C.")
MODES = "major minor dorian mixolydian lydian phrygian locrian none".split()
WORDS = (
    "D.C.", "D.S. al Coda", "Fine", "To Coda", "D.C. al Fine", "dal segno", "Da Capo al Coda",
    "3 x through", "Chorus 2", "Choruses 2 to 3", "swing", "N.C.", "Coda", "to the coda", "fine.",
    "100 x through", "Chorus 0",
)  # fmt: skip
WRONG = ("x", "-1", "0", "1", "3.5", "8", "20", "100")


def every_sheet() -> dict[str, tuple[str, str]]:
    """All sheets by name, each with the name of its file and its text."""
    made = {f"xml {n:02}": ("sheet.musicxml", drawn_xml(n)) for n in range(DRAWN)}
    made |= {f"signs {n:02}": ("sheet.xml", drawn_signs(n)) for n in range(DRAWN // 2)}
    made |= {f"abc {n:02}": ("sheet.abc", drawn_abc(n)) for n in range(DRAWN)}
    return made


# MusicXML


def tag(name: str, inside: object, **attributes: object) -> str:
    more = "".join(f' {key.replace("_", "-")}="{one}"' for key, one in attributes.items())
    return f"<{name}{more}>{inside}</{name}>"


def drawn_xml(number: int) -> str:
    """A sheet of a few measures with many harmonies and odd notes."""
    dice = Dice(f"xml {number}")
    divisions = dice.one((1, 2, 3, 4, 12, 480, 7))
    beats, unit = dice.one(((4, 4), (3, 4), (6, 8), (2, 2), (12, 8), (5, 4), (7, 8), (2, 4)))
    key = tag("fifths", dice.whole(-8, 8)) + tag("mode", dice.one(MODES))
    moved = ""
    if dice.falls(0.25):
        steps = tag("diatonic", dice.whole(-8, 8)) if dice.falls(0.5) else ""
        octaves = tag("octave-change", dice.whole(-1, 1)) if dice.falls(0.4) else ""
        moved = tag("transpose", f"{steps}{tag('chromatic', dice.whole(-14, 14))}{octaves}")
    time = tag("time", tag("beats", beats) + tag("beat-type", unit))
    first = tag("divisions", divisions) + tag("key", key) + time + moved
    measures = []
    for index in range(dice.whole(2, 7)):
        inside = tag("attributes", first) if index == 0 else ""
        if index and dice.falls(0.1):
            inside += tag("attributes", tag("key", tag("fifths", dice.whole(-7, 7))))
        length = beats * 4 * divisions // unit
        if (index == 0 and dice.falls(0.3)) or dice.falls(0.06):
            length = max(1, length // dice.one((2, 4)))
        inside += _filled(dice, length, divisions)
        measures.append(tag("measure", inside, number=index + dice.one((0, 1))))
    head = tag("movement-title", "Odd Sheet") if dice.falls(0.7) else ""
    if dice.falls(0.4):
        creator = tag("creator", "N. Obody", type=dice.one(("composer", "music", "lyricist")))
        head += tag("identification", creator)
    parts = tag("part-list", tag("score-part", tag("part-name", "Lead"), id="P1"))
    body = tag("part", "\n".join(measures), id="P1")
    return '<?xml version="1.0"?>\n' + tag("score-partwise", f"{head}{parts}\n{body}") + "\n"


def _filled(dice: Dice, length: int, divisions: int) -> str:
    """The inside of a measure of so many divisions."""
    inside, at = "", 0
    if dice.falls(0.15):
        words = dice.one(WORDS)
        inside += tag("direction", tag("direction-type", tag("words", words)))
    if dice.falls(0.12):
        inside += _tempo(dice)
    while at < length:
        if dice.falls(0.6):
            inside += drawn_harmony(dice, divisions)
        step = min(length - at, max(1, dice.one((divisions, 2 * divisions, divisions // 2))))
        inside += _note(dice, step)
        at += step
    if dice.falls(0.1):
        inside += tag("backup", tag("duration", length)) + _note(dice, length, voice=2)
    if dice.falls(0.05):
        inside += tag("forward", tag("duration", divisions))
    return inside


def _tempo(dice: Dice) -> str:
    if dice.falls(0.4):
        return tag("sound", "", tempo=dice.one((120, 60.5, 19, 401, 0, 100000)))
    dots = "<beat-unit-dot/>" * dice.one((0, 0, 1, 2, 5))
    unit = tag("beat-unit", dice.one(("quarter", "half", "eighth", "whole", "breve")))
    mark = tag("per-minute", dice.one((120, "c. 90", 66.6, 20, 400)))
    return tag("direction", tag("direction-type", tag("metronome", f"{unit}{dots}{mark}")))


def _note(dice: Dice, length: int, voice: int = 1) -> str:
    pitch = tag("step", dice.one("CDEFGAB"))
    if dice.falls(0.3):
        pitch += tag("alter", dice.one((-2, -1, 0, 1, 2)))
    pitch = tag("pitch", pitch + tag("octave", dice.one((4, 4, 5, 5, 3, 0, 9))))
    if dice.falls(0.12):
        pitch = dice.one(("<rest/>", "<unpitched/>", f"<grace/>{pitch}", f"<cue/>{pitch}"))
    tie = f'<tie type="{dice.one(("start", "stop"))}"/>' if dice.falls(0.2) else ""
    more = tag("voice", voice) + (tag("staff", dice.one((1, 2))) if dice.falls(0.1) else "")
    more += tag("lyric", tag("text", "la")) if dice.falls(0.05) else ""
    duration = "" if "<grace" in pitch else tag("duration", length)
    found = tag("note", f"{pitch}{duration}{tie}{more}")
    if dice.falls(0.08):
        found += tag("note", f"<chord/>{pitch}{duration}{more}")
    return found


def drawn_harmony(dice: Dice, divisions: int) -> str:
    """A chord symbol, most of them as the standard has them."""
    alter = dice.one(("", "", tag("root-alter", dice.one((-1, 1, -2, 2)))))
    inside = tag("root", tag("root-step", dice.one("CDEFGAB")) + alter)
    if dice.falls(0.06):
        inside = dice.one((tag("function", "V"), "", tag("numeral", tag("numeral-root", 5))))
    text = {"text": dice.one(TEXTS)} if dice.falls(0.3) else {}
    inside += tag("kind", dice.one(KINDS), **text)
    inside += tag("inversion", dice.whole(0, 5)) if dice.falls(0.15) else ""
    if dice.falls(0.25):
        bass = tag("bass-alter", dice.one((-1, 1))) if dice.falls(0.3) else ""
        inside += tag("bass", tag("bass-step", dice.one("CDEFGAB")) + bass)
    for _ in range(dice.one((0, 0, 0, 1, 2))):
        value = tag("degree-value", dice.one((2, 4, 5, 6, 7, 9, 11, 13, 3)))
        value += tag("degree-alter", dice.one((-1, 0, 1)))
        value += tag("degree-type", dice.one(("add", "alter", "subtract")))
        hidden = {"print_object": "no"} if text and dice.falls(0.7) else {}
        inside += tag("degree", value, **hidden)
    if dice.falls(0.3):
        inside += tag("offset", dice.one((-1, 1, divisions, 2 * divisions, 5 * divisions)))
    kind = {"type": "alternate"} if dice.falls(0.04) else {}
    return tag("harmony", inside, **kind)


SIGNS = ("|:", ":|", "1.", "1]", "2.", "2]", "1,2.", "3.", "DC", "DS", "Fine", "ToCoda", "Segno",
         "Coda", "||", "[A]", "[B]", "[Intro]", "DCFine", "DSCoda", "DCCoda", "[Coda]")  # fmt: skip


def drawn_signs(number: int) -> str:
    """A sheet of plain measures with many repeats, endings and jumps, in order or not."""
    dice = Dice(f"signs {number}")
    rows = []
    for index in range(dice.whole(4, 12)):
        words = [dice.one(("C", "F", "G", "A:minor", "NC", "D:dominant"))]
        words += ["G:dominant@2"] if dice.falls(0.25) else []
        words += dice.some(SIGNS, dice.one((0, 0, 1, 1, 2)))
        rows.append(" ".join(["pickup :Q1", *words] if not index and number % 5 == 0 else words))
    if number % 3 == 0:  # one that makes sense: repeated with two endings, then back
        rows[:4] = ["|: C", "F", "1. G 1] :|", "2. C 2] ||"]
        rows[-1] += dice.one((" DC", " DCFine", " DS", ""))
    return score(*rows)


# ABC

FIELDS = {
    "M": ("4/4", "3/4", "6/8", "C", "C|", "2/4", "none", "7/8", "12/8", "5/4", "9/8", "3/2", ""),
    "L": ("1/8", "1/4", "1/16", "1", "3/8", "", "1/512", "0", "1/0", "1/513"),
    "Q": ("1/4=120", "120", "3/8=90", "1/8 1/8=100", "Lively", '"Fast" 1/4=200', "C=99", "C3=7",
          "1/4=100001", "", "1/2=10"),
    "K": ("C", "G", "Dm", "Ador", "Emix", "F lyd", "Bb", "F#m", "HP", "", "Gphr", "Bloc",
          "D exp _b", "Cb", "G#", "Am clef=bass", "Xy", "C ^f"),
    "P": ("AB", "A2B", "(AB)2", "A(BA)3B", "ABx", ")", "A99", "A.B.A"),
}  # fmt: skip
CHORDS = ("C", "Am", "G7", "F/A", "D7/f#", "Bb/d-", "N.C.", "Em (G)", "(Dm)", "F;Dm", "^slow",
          "D.C.", "Fine", "To Coda", "rubbish", "A7sus4", "E+", "Bdim", "x" * 81, "D.S. al coda",
          "@1,2 word", "G#m7b5", "C/g+")  # fmt: skip
NOTES = ("C2", "D", "E/", "F//", "G3/2", "^A2", "_B", "=c", "d'2", "e,", "f>g", "a<b", "A>>B",
         "c-c", "(3abc", "(5:4:5abcde", "(2ab", "(3:2a", "z2",
         "x", "[CEG]2", "{g}a2", "y2", "&ab",
         "~G2", "!segno!", "!coda!", "!D.C.!", "!fine!", "!dacoda!", "S", "O", "[K:G]", "[M:3/4]",
         "[L:1/4]", "C9999", "Z", "Z2", "[V:2] c2", "a2-", "^^F", "__E")  # fmt: skip
BARS = ("|", "|", "|", "|", "||", "|:", ":|", "::", "|1", ":|2", "[1", "|]", "[|", ":||:", "|3,4",
        ":::|", "|1-2")  # fmt: skip


def drawn_abc(number: int) -> str:
    """A tune, or two, of ABC."""
    dice = Dice(f"abc {number}")
    text = "C:Shared\n" if dice.falls(0.1) else ""
    for tune in range(dice.one((1, 1, 1, 2))):
        text += f"X:{tune + 1}\nT:Odd {number}\n" if dice.falls(0.95) else "X:9\n"
        text += dice.one(("C:A. Nyone\n", "T:Other\n", "N:a note\n", ""))
        for name, share in (("M", 0.9), ("L", 0.7), ("Q", 0.5), ("P", 0.2), ("K", 1)):
            usual = dice.falls(0.8)
            text += f"{name}:{FIELDS[name][0] if usual else dice.one(FIELDS[name])}\n"[
                : None if dice.falls(share) or name == "K" else 0
            ]
        for row in range(dice.whole(1, 4)):
            if dice.falls(0.15):
                text += dice.one(("P:A\n", "P:B\n", "w:la la\n", "Q:1/4=90\n", "M:3/4\n", "V:1\n"))
            text += _abc_row(dice, odd=number % 3 != 0) + ("\n" if row or tune else " % so\n")
        text += "\n"
    return text


def _abc_row(dice: Dice, *, odd: bool) -> str:
    row = dice.one(("", "|:", "[1"))[: None if odd else 2]
    for _ in range(dice.whole(1, 5)):
        if not odd or dice.falls(0.4):  # a full bar of 4/4
            row += f'"{dice.one(CHORDS[:7])}"C2E2 "{dice.one(CHORDS)}"G2c2'
        for _ in range(dice.whole(0, 4) if odd else 0):
            row += f'"{dice.one(CHORDS)}"' if dice.falls(0.4) else ""
            row += dice.one(NOTES)
        row += f" {dice.one(BARS)} " if odd else dice.one((" | ", " | ", " :| ", " |1 ", " |] "))
    return row


# What comes out


def read_all(file: str, text: str) -> str:
    """Everything that is read of a sheet."""
    lines: list[str] = []
    with folder_of_its_own():
        Path(file).write_text(text, encoding="utf-8")
        try:
            for one in read_leadsheet(Path(file)):
                lines += [f"{one.title!r} {one.name}", *one.notices, *map(repr, one.problems)]
                lines += [one.toml, (one.melody or b"").decode()] if one.tune else []
        except AccompError as error:
            lines += map(repr, error.problems_in(file))
        try:
            lines += [f"{n.span.start}-{n.span.end} {n.pitch}" for n in read_melody(Path(file))]
        except AccompError as error:
            lines += map(repr, error.problems_in(file))
    return "\n".join(lines)


def every() -> dict[str, Callable[[], Made]]:
    sheets = {name: lambda one=one: _sheet(*one) for name, one in every_sheet().items()}
    return sheets | faults()


def _sheet(file: str, text: str) -> Made:
    return {"read": read_all(file, text).encode()}


def faults() -> dict[str, Callable[[], Made]]:
    """What is said of each wrong text in a MusicXML sheet, and of each wrong field of ABC."""
    base = MUSICXML[0].decode()
    count = len(list(etree.fromstring(MUSICXML[0]).iter()))
    found: dict[str, Callable[[], Made]] = {
        f"xml fault {n:02}": lambda n=n: _xml_faults(base, n) for n in range(1, count)
    }
    for at, tune in enumerate(ABC):
        for name in sorted(set(re.findall(r"^([A-Z]):", tune.decode(), re.MULTILINE))):
            text = tune.decode()
            found[f"abc fault {at}{name}"] = lambda t=text, n=name: _abc_faults(t, n)
    return found


def _xml_faults(base: str, number: int) -> Made:
    """Each wrong text, each wrong attribute in one element, and the sheet without it."""
    made: Made = {}
    element = _nth(base, number)
    if not len(element) and (element.text or "").strip():
        for at, wrong in enumerate(WRONG):
            other = _nth(base, number)
            other.text = wrong
            made[f"text{at}"] = _read(other)
    for name in element.attrib:
        for at, wrong in enumerate(WRONG[::2]):
            other = _nth(base, number)
            other.set(name, wrong)
            made[f"{name}{at}"] = _read(other)
    other = _nth(base, number)
    parent = other.getparent()
    if parent is not None:
        root = parent.getroottree().getroot()
        parent.remove(other)
        made["without"] = read_all("sheet.musicxml", etree.tostring(root).decode()).encode()
    return made


def _nth(base: str, number: int) -> etree._Element:
    root = etree.fromstring(base.encode())
    return list(root.iter())[number]


def _read(element: etree._Element) -> bytes:
    root = element.getroottree().getroot()
    return read_all("sheet.musicxml", etree.tostring(root).decode()).encode()


def _abc_faults(text: str, name: str) -> Made:
    made: Made = {}
    for at, value in enumerate((*FIELDS.get(name, ()), *WRONG[::3])):
        changed = re.sub(rf"^{name}:.*$", f"{name}:{value}", text, count=1, flags=re.MULTILINE)
        made[f"{at}"] = read_all("sheet.abc", changed).encode()
    return made
