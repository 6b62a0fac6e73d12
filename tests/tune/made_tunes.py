"""Tunes made up by hypothesis, as text that this file writes itself."""

import json

from hypothesis import strategies as st

from accomp.tune.model import BEGINNINGS, FINISHES

# Token counts by meter, from the description of the tune file.
COUNTS = {
    "2/2": (1, 2, 4),
    "2/4": (1, 2, 4),
    "3/2": (1, 3, 6),
    "3/4": (1, 3, 6),
    "4/4": (1, 2, 4, 8),
    "5/4": (1, 5, 10),
    "6/4": (1, 2, 3, 6, 12),
    "3/8": (1, 3),
    "6/8": (1, 2, 6),
    "9/8": (1, 3, 9),
    "12/8": (1, 2, 4, 12),
}
PICKUPS = ["0.5", "0.25", '"1/3"', '"2/3"', "0"]  # beats, all shorter than a bar of any meter
SYMBOLS = "C F#m7 B♭°7 G7/B Am7b5 D+ Ebmaj7 C#dim7 Gb7 A♯m B7b9 Cm6 E/G# Abm7 N.C. / /".split()
KEYS = {
    False: "C G D A E B F# C# F Bb Eb Ab Db Gb Cb".split(),
    True: "Am Em Bm F#m C#m G#m D#m A#m Dm Gm Cm Fm Bbm Ebm Abm".split(),
}
NAMES = ["A", "B", "verse 2", "a.b", 'quo"te', "é♭", "x-y", "1", "back\\slash"]

# Anything that can be printed on one line, in TOML's basic string by way of JSON's.
texts = st.text(
    st.characters(exclude_categories=("Cs", "Cc", "Zl", "Zp")), min_size=1, max_size=20
).filter(str.strip)


def quoted(text):
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


@st.composite
def bars(draw, meter):
    rows = []
    for _ in range(draw(st.integers(1, 6))):
        count = draw(st.sampled_from(COUNTS[meter]))
        rows.append(draw(st.lists(st.sampled_from(SYMBOLS), min_size=count, max_size=count)))
    rows[0][0] = draw(st.sampled_from(SYMBOLS[:-2]))  # no section starts with a slash
    gap = st.sampled_from([" ", "  ", "\t"])
    return "|" + "|".join(draw(gap) + draw(gap).join(row) + draw(gap) for row in rows) + "|"


@st.composite
def tune_texts(draw):
    """A good tune file of any shape."""
    meter = draw(st.sampled_from(sorted(COUNTS)))
    minor = draw(st.booleans())
    names = draw(st.lists(st.sampled_from(NAMES), min_size=1, max_size=4, unique=True))
    form = [names[0], *draw(st.lists(st.sampled_from(names), max_size=5))]
    lines = [
        f"title = {quoted(draw(texts))}",
        f"key = {quoted(draw(st.sampled_from(KEYS[minor])))}",
        f"meter = {quoted(meter)}",
        f"tempo = {draw(st.integers(20, 400) | st.floats(20, 400))}",
        f"form = [{', '.join(map(quoted, form))}]",
    ]
    if draw(st.booleans()):
        lines.append(f"style = {quoted(draw(texts))}")
        lines.append(f"instrument = {quoted(draw(texts))}")
        lines.append(f"composer = {quoted(draw(texts))}")
    for name, words in (("begin", BEGINNINGS), ("end", FINISHES)):
        if draw(st.booleans()):
            lines.append(f"{name} = {quoted(draw(st.sampled_from(words)))}")
    choruses = draw(st.lists(st.sampled_from(["", "position", "style"]), max_size=3))
    tail = []
    for name in choruses:
        tail.append("[[chorus]]")
        if name:
            tail.append(f"{name} = {quoted(draw(texts))}")
    sections, meters = [], {}
    for name in names:
        own = meters[name] = draw(st.sampled_from([meter, *sorted(COUNTS)]))
        text = quoted(draw(bars(own)))
        key = draw(st.sampled_from(KEYS[draw(st.booleans())]))
        extra = f", key = {quoted(key)}" if draw(st.booleans()) else ""
        extra += f", style = {quoted(draw(texts))}" if draw(st.booleans()) else ""
        extra += f", meter = {quoted(own)}" if own != meter else ""
        sections.append(f"{quoted(name)} = {{ bars = {text}{extra} }}")
    if meters[form[0]] == meter and draw(st.booleans()):
        lines.append(f"pickup = {draw(st.sampled_from(PICKUPS))}")
    return "\n".join([*lines, "[sections]", *sections, *tail]) + "\n"
