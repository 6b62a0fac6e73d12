"""File names from titles and keys.

Conventions: a slug is made of ASCII lower-case letters, digits and single `-` between words, 1 to
60 characters, and is never a name that a system keeps for itself. The same title always gives the
same slug. Where letters are lost that have no counterpart in ASCII, the slug ends in a short hash
of the title, so that two such titles stay apart.
"""

from __future__ import annotations

import hashlib
import re
import unicodedata
from collections.abc import Collection, Iterable

from accomp.harmony import Key

MOST_CHARACTERS = 60

# Letters that Unicode does not take apart into an ASCII letter and a mark; after case folding.
_LETTERS = {
    "æ": "ae",
    "œ": "oe",
    "ø": "o",
    "đ": "d",
    "ð": "d",
    "þ": "th",
    "ł": "l",
    "ħ": "h",
    "ı": "i",
    "ŋ": "ng",
    "ŧ": "t",
    "ə": "e",
    "ſ": "s",
    "&": " and ",
    "♭": " flat ",
    "♯": " sharp ",
}
_APOSTROPHES = re.compile(r"['’‘ʼ`´]")
# Names of devices under Windows, whatever ending follows them (Microsoft, "Naming Files, Paths,
# and Namespaces").
_RESERVED = re.compile(r"con|prn|aux|nul|com\d|lpt\d")


def slug(title: str) -> str:
    """A title as a file name without ending: "Straßenfest im Hafen" is "strassenfest-im-hafen"."""
    plain = _APOSTROPHES.sub("", unicodedata.normalize("NFC", title))
    plain = "".join(_LETTERS.get(sign, sign) for sign in plain.casefold())
    plain = unicodedata.normalize("NFKD", plain).casefold()
    plain = "".join(sign for sign in plain if not unicodedata.combining(sign))
    lost = any(sign.isalnum() and not sign.isascii() for sign in plain)
    words = re.findall(r"[a-z0-9]+", plain)
    text = _cut("-".join(words), MOST_CHARACTERS - 9 if lost or not words else MOST_CHARACTERS)
    if lost or not words:
        name = unicodedata.normalize("NFC", title).encode("utf-8", "surrogatepass")
        text = f"{text or 'tune'}-{hashlib.sha256(name).hexdigest()[:8]}"
    return f"tune-{text}" if _RESERVED.fullmatch(text) else text


def unique_slugs(titles: Iterable[str], reserved: Collection[str] = ()) -> tuple[str, ...]:
    """A slug for each title, no two alike: the second "waltz" becomes "waltz-2".

    One of the `reserved` names is never given: "book" becomes "tune-book".
    """
    slugs = [slug(title) for title in titles]
    plain = [f"tune-{name}" if name in reserved else name for name in slugs]
    taken = set(plain)
    given: set[str] = set()
    result = []
    for name in plain:
        number = 1
        own = name
        while own in given or (number > 1 and own in taken):
            number += 1
            ending = f"-{number}"
            own = _cut(name, MOST_CHARACTERS - len(ending)) + ending
        given.add(own)
        result.append(own)
    return tuple(result)


def key_slug(key: Key) -> str:
    """A key in a file name, sharps as `s`: "F", "Bb", "Fs", "Csm"."""
    return str(key).replace("#", "s")


def _cut(text: str, most: int) -> str:
    """At most so many characters, ended at a word where there is one."""
    if len(text) <= most:
        return text
    head = text[: most + 1]
    return head[: head.rfind("-")] if "-" in head[1:] else text[:most]
