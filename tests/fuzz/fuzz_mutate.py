"""Changing good inputs into odd ones, with an eye on what their grammars say.

Conventions: everything is drawn from the `random.Random` that is handed in, so that a number draws
the same input on every machine. Texts are bytes: half of what goes wrong is no UTF-8.
"""

from __future__ import annotations

import io
import random
import re
import struct
import zipfile
from collections.abc import Sequence

NUMBERS = (
    "0", "-0", "-1", "1e999999999", "1e-999999999", "1E400", "9" * 5000, "-" + "9" * 40,
    "0.1e1", "1_000", "0x7fffffff", "0b1", "1.", ".5", "NaN", "nan", "inf", "-inf", "²", "1²",
    "١٢", "½", "1/3", "1/0", "0/0", "7/64", "1/" + "9" * 400, "2147483648", "9223372036854775808",
    "1e5", "65536", "256", "127.5", "3,5", " 4", "4 ", "+4", "true", "1e3999999999999999999",
    "00", "0.000000000000000000000000001", "16", "33", "100000",
)  # fmt: skip
TEXTS = (
    "", " ", "\x00", "\x1b[31m", "\u202e", "\ufeff", "\ud7ff", "é", "e\u0301", "♭", "♯♯", "𝄫",
    "[/foo]", "{0}", "%s%n", "../../x", "/dev/stdin", "CON", "a" * 300, "a" * 5000, "\n", "\r",
    "\t", '"', "'''", '"""', "\\", "\\u0000", "&lt;", "&#0;", "&#x110000;", "&amp;" * 500, "<b>",
    "]]>", "$(id)", "`id`", "N.C.", "| |", "||", "|:", ":|", "/ / /", "C" * 200, "F#maj13#11b9/B#",
    "(" * 200, "[" * 200, "{" * 200, "." * 300, "a." * 200, "#", "=", "\u2028", "\x85", "\x7f",
)  # fmt: skip
CHORDS = (
    "C H Bb#5 B#b9 F#m7b5 Gsus Caug7 N.C. C/ C// C/H Cmaj7#11/F# Bbb Cx C## E#dim7 C7(b9,#9) C(no1)"
    " C(no1,no3,no5) C13sus4 C°Δ ø - + Cm(maj7) C6/9 C7b9b13#9#11b5 C5 C5(#5) C²"
).split()
_NUMBER = re.compile(rb"(?<![\w.])-?\d+(?:[./]\d+)?")
_WORD = re.compile(rb"[A-Za-z][A-Za-z0-9_-]*")
_QUOTED = re.compile(rb'"[^"\n]*"|>[^<>\n]+<')
_CHORD = re.compile(rb"(?<=[ |\"])[A-G][#b]?[a-z0-9+#/]*(?=[ |\"])")
MOST_BYTES = 300_000


def mutated(draw: random.Random, seeds: Sequence[bytes]) -> bytes:
    """One of the seeds with one to six changes."""
    data = draw.choice(seeds)
    for _ in range(draw.choice((1, 1, 1, 2, 2, 3, 6))):
        data = draw.choice(_CHANGES)(draw, data, seeds)[:MOST_BYTES]
    return data


def _text(text: str) -> bytes:
    return text.encode("utf-8", "surrogatepass")


def _replaced(draw: random.Random, data: bytes, pattern: re.Pattern[bytes], new: bytes) -> bytes:
    """One match, or now and then all of them, replaced."""
    found = list(pattern.finditer(data))
    if not found:
        return data
    if draw.random() < 0.1:
        return pattern.sub(lambda _: new, data)
    one = draw.choice(found)
    return data[: one.start()] + new + data[one.end() :]


def _number(draw: random.Random, data: bytes, seeds: Sequence[bytes]) -> bytes:
    return _replaced(draw, data, _NUMBER, _text(draw.choice(NUMBERS)))


def _quoted(draw: random.Random, data: bytes, seeds: Sequence[bytes]) -> bytes:
    text = _text(draw.choice((*TEXTS, *NUMBERS, *CHORDS)))
    found = list(_QUOTED.finditer(data))
    if not found:
        return data
    one = draw.choice(found)
    return data[: one.start() + 1] + text + data[one.end() - 1 :]


def _chord(draw: random.Random, data: bytes, seeds: Sequence[bytes]) -> bytes:
    return _replaced(draw, data, _CHORD, _text(draw.choice(CHORDS)))


def _word(draw: random.Random, data: bytes, seeds: Sequence[bytes]) -> bytes:
    words = _WORD.findall(draw.choice(seeds))
    return _replaced(draw, data, _WORD, draw.choice(words)) if words else data


def _value(draw: random.Random, data: bytes, seeds: Sequence[bytes]) -> bytes:
    """The value of a TOML key, whole."""
    new = draw.choice(
        ("[]", "{}", "[[]]", "true", "1979-05-27", "nan", "-inf", '""', "[1, 'a']", "{a = 1}",
         '["C", "C"]', "[" * 100 + "]" * 100, *NUMBERS)
    )  # fmt: skip
    return _replaced(draw, data, re.compile(rb"(?m)(?<== ).+$"), _text(new))


def _line(draw: random.Random, data: bytes, seeds: Sequence[bytes]) -> bytes:
    """A line taken away, doubled, moved, or taken over from another seed."""
    lines = data.split(b"\n")
    at = draw.randrange(len(lines))
    match draw.randrange(4):
        case 0:
            del lines[at]
        case 1:
            lines[at:at] = [lines[at]] * draw.choice((1, 1, 2, 50))
        case 2:
            lines.insert(draw.randrange(len(lines)), lines.pop(at))
        case _:
            lines.insert(at, draw.choice(draw.choice(seeds).split(b"\n")))
    return b"\n".join(lines)


def _element(draw: random.Random, data: bytes, seeds: Sequence[bytes]) -> bytes:
    """An XML element taken away or doubled, with all that is in it."""
    found = list(re.finditer(rb"<([a-z-]+)[^<>]*>", data))
    if not found:
        return data
    one = draw.choice(found)
    end = data.find(b"</" + one[1] + b">", one.end())
    if end < 0:
        return data
    end += len(one[1]) + 3
    whole = data[one.start() : end]
    return data[: one.start()] + whole * draw.choice((0, 0, 2, 3, 200)) + data[end:]


def _bytes(draw: random.Random, data: bytes, seeds: Sequence[bytes]) -> bytes:
    at = draw.randrange(len(data) + 1)
    match draw.randrange(4):
        case 0:
            return data[:at]
        case 1:
            return data[:at] + draw.randbytes(draw.choice((1, 1, 3))) + data[at + 1 :]
        case 2:
            return data[:at] + _text(draw.choice(TEXTS)) + data[at:]
        case _:
            end = min(len(data), at + draw.choice((1, 5, 40)))
            return data[:at] + data[end:]


_CHANGES = (_number, _number, _quoted, _quoted, _chord, _word, _value, _line, _element, _bytes)


def archive(draw: random.Random, score: bytes) -> bytes:
    """A compressed MusicXML file around a score, by any method, whole or damaged."""
    stream = io.BytesIO()
    methods = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED, zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA)
    name = draw.choice(("score.xml", "a/score.musicxml", "../score.xml", "é.xml", "score.xml\x1b"))
    rootfile = draw.choice((name, name, name, "absent.xml", "", "META-INF/container.xml"))
    container = (
        f'<container><rootfiles><rootfile full-path="{rootfile}"/></rootfiles></container>'.encode()
    )
    with zipfile.ZipFile(stream, "w") as made:
        made.writestr("META-INF/container.xml", container, draw.choice((*methods[:2], *methods)))
        made.writestr(name, score, draw.choice((*methods[:2], *methods)))
        if draw.random() < 0.1:
            made.writestr("more.xml", bytes(5_000_000), zipfile.ZIP_DEFLATED)
    data = bytearray(stream.getvalue())
    if draw.random() < 0.5:
        return bytes(data)
    for _ in range(draw.choice((1, 1, 2, 8))):
        at = draw.randrange(len(data))
        match draw.randrange(3):
            case 0:
                data[at] = draw.randrange(256)
            case 1:  # the method, the flags or a size in one of the heads
                heads = [m.start() for m in re.finditer(rb"PK\x01\x02|PK\x03\x04", bytes(data))]
                if heads:
                    head = draw.choice(heads) + draw.randrange(6, 30)
                    number = draw.choice((0, 1, 9, 12, 14, 93, 95, 99, 0xFFFF))
                    data[head : head + 2] = struct.pack("<H", number)
            case _:
                del data[at : at + draw.choice((1, 4, 100))]
        if not data:
            return b""
    return bytes(data)


def symbol(draw: random.Random, pieces: Sequence[str]) -> str:
    """A chord symbol put together from pieces of symbols, digits and signs."""
    count = draw.choice((1, 2, 2, 3, 3, 4, 8, 60))
    return draw.choice("ABCDEFG") * (draw.random() < 0.9) + "".join(
        draw.choice(draw.choice((pieces, CHORDS, TEXTS, NUMBERS))) for _ in range(count)
    )
