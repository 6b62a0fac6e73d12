"""Small MusicXML lead sheets for the tests, made from a line of text.

A measure is a text of words: "C" a chord symbol of kind major, "C:minor@2" one of another kind at
quarter 2, ":Q3" a length of 3 quarters, and the signs |: :| 1. 2. ] (end of bracket) DC DS Fine
ToCoda Segno Coda || [A] (rehearsal mark). Every measure is filled with one note on its beats.
"""

from __future__ import annotations

import re


def measure(words: str, number: int, first: str, quarters: int = 4) -> str:
    """The XML of one measure."""
    left, right, harmonies, directions, after = "", "", "", "", ""
    length = quarters
    implicit = ""
    for word in words.split():
        if match := re.fullmatch(r":Q(\d+)", word):
            length = int(match[1])
        elif word == "pickup":
            implicit = ' implicit="yes"'
        elif word == "|:":
            left += '<repeat direction="forward"/>'
        elif word == ":|":
            right += '<repeat direction="backward"/>'
        elif match := re.fullmatch(r"([\d,]+)\.", word):
            left = f'<ending number="{match[1]}" type="start"/>' + left
        elif match := re.fullmatch(r"([\d,]+)\]", word):
            right = f'<ending number="{match[1]}" type="stop"/>' + right
        elif word == "||":
            right = "<bar-style>light-light</bar-style>" + right
        elif match := re.fullmatch(r"\[(\w+)\]", word):
            directions += direction(f"<rehearsal>{match[1]}</rehearsal>")
        elif word in ("Segno", "Coda"):
            directions += direction(f"<{word.lower()}/>")
        elif word in ("DC", "DS", "Fine", "ToCoda", "DCFine", "DSCoda", "DCCoda"):
            text = {
                "DC": "D.C.",
                "DS": "D.S.",
                "Fine": "Fine",
                "ToCoda": "To Coda",
                "DCFine": "D.C. al Fine",
                "DSCoda": "D.S. al Coda",
                "DCCoda": "D.C. al Coda",
            }[word]
            after += direction(f"<words>{text}</words>")
        else:
            harmonies += harmony(word)
    note = (
        "<note><pitch><step>C</step><octave>4</octave></pitch><duration>1</duration>"
        "<voice>1</voice><type>quarter</type></note>"
    )
    lines = f'<barline location="left">{left}</barline>' if left else ""
    end = f'<barline location="right">{right}</barline>' if right else ""
    return (
        f'<measure number="{number}"{implicit}>{first}{lines}{directions}{harmonies}'
        f"{note * length}{after}{end}</measure>\n"
    )


def direction(inside: str) -> str:
    """A direction of one type."""
    return f"<direction><direction-type>{inside}</direction-type></direction>"


def harmony(word: str) -> str:
    """A chord symbol: "C", "Bb:minor@2" with an offset in quarters, "NC"."""
    match = re.fullmatch(r"([A-G])([b#]?)(?::([\w-]+))?(?:@(-?\d+))?", word)
    if word == "NC":
        return "<harmony><root><root-step>C</root-step></root><kind>none</kind></harmony>"
    assert match, word
    alter = {"": "", "b": "<root-alter>-1</root-alter>", "#": "<root-alter>1</root-alter>"}
    offset = f"<offset>{match[4]}</offset>" if match[4] else ""
    return (
        f"<harmony><root><root-step>{match[1]}</root-step>{alter[match[2]]}</root>"
        f"<kind>{match[3] or 'major'}</kind>{offset}</harmony>"
    )


def score(*measures: str, meter: str = "4/4", key: int = 0, more: str = "", head: str = "") -> str:
    """A whole file; `more` goes into the first attributes, `head` before the part list."""
    beats, beat_type = meter.split("/")
    quarters = int(beats) * 4 // int(beat_type)
    first = (
        f"<attributes><divisions>1</divisions><key><fifths>{key}</fifths><mode>major</mode></key>"
        f"<time><beats>{beats}</beats><beat-type>{beat_type}</beat-type></time>{more}</attributes>"
    )
    number = 0 if measures[0].startswith("pickup") else 1
    body = "".join(
        measure(words, number + at, first if at == 0 else "", quarters)
        for at, words in enumerate(measures)
    )
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n<score-partwise version="4.0">\n'
        f"<movement-title>Made Up</movement-title>{head}"
        '<part-list><score-part id="P1"><part-name>Lead</part-name></score-part></part-list>\n'
        f'<part id="P1">\n{body}</part>\n</score-partwise>\n'
    )
