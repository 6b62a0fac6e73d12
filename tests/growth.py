"""How much work something is, in counted steps: the same on every machine, however busy it is.

What is linear takes about twice the steps for twice the text. Speed itself is for benchmarks.
"""

from __future__ import annotations

import math
import re
import sys
from collections.abc import Callable, Iterator, Sequence
from re import _constants as sre  # type: ignore[attr-defined]
from re import _parser as parser  # type: ignore[attr-defined]
from typing import Any

# At most so many times the steps for twice the size: four times where it grows as the square.
DOUBLE = 2.5
_FEW = 500  # steps beside those that grow
_MANY = 12  # signs of a pattern

Then = Callable[[int], bool]


class TooManyCalls(BaseException):
    """What is done takes more calls than it may; none of its own handlers takes it."""


def calls(work: Callable[[], object], most: float = math.inf) -> int:
    """How many functions are called while something is done, Python's and C's alike.

    Raises `TooManyCalls` as soon as there are more than `most`.
    """
    count = 0

    def note(frame: Any, event: str, argument: Any) -> None:
        nonlocal count
        count += event in {"call", "c_call"}
        if count > most:
            raise TooManyCalls(f"more than {most:,.0f} calls")

    before = sys.getprofile()
    sys.setprofile(note)
    try:
        work()
    finally:
        sys.setprofile(before)
    return count


def is_linear(small: int, twice: int) -> bool:
    """Whether so many steps for a text, and so many for one twice as long, grow with its length."""
    return twice <= DOUBLE * small + _FEW


def grows_linearly(work: Callable[[int], object], size: int) -> bool:
    """Whether twice the size takes about twice the calls. What is loaded or worked out once is so
    before anything is counted."""
    work(2)
    small = calls(lambda: work(size))
    try:
        calls(lambda: work(2 * size), DOUBLE * small + _FEW)
    except TooManyCalls:
        return False
    return True


def tries(pattern: re.Pattern[str], text: str, *, anywhere: bool = True) -> int:
    """How many signs a matcher that goes back looks at, to find a pattern in a text, or at its
    beginning."""
    matcher = _Matcher(text, pattern.flags)
    parsed = list(parser.parse(pattern.pattern, pattern.flags))
    ends = (matcher.end(parsed, start) for start in range(len(text) * anywhere + 1))
    found = next((end for end in ends if end is not None), None)
    known = pattern.search(text) if anywhere else pattern.match(text)
    assert found == (known.end() if known else None), (pattern, text)
    return matcher.tries


def pumped(pattern: re.Pattern[str], times: int) -> Iterator[str]:
    """Texts that begin as what the pattern finds, and repeat a sign that occurs in it; of patterns
    with few signs, two of them as well."""
    parsed = list(parser.parse(pattern.pattern, pattern.flags))
    signs = sorted({*_signs(parsed), " ", "a", "1"})
    starts = {""} | {one[:length] for one in _starts(parsed) for length in range(1, len(one) + 1)}
    pairs = [first + second for first in signs for second in signs if first != second]
    pumps = [*signs, *pairs] if len(signs) <= _MANY else signs
    for start in sorted(starts):
        for pump in pumps:
            yield start + pump * (times // len(pump))


def _inner(parsed: Sequence[tuple[Any, Any]]) -> Iterator[tuple[Any, list[Any]]]:
    """Each part of a pattern, with the patterns inside it."""
    for op, value in parsed:
        if op is sre.BRANCH:
            yield (op, value), [list(one) for one in value[1]]
        elif op in (sre.SUBPATTERN, sre.MAX_REPEAT, sre.MIN_REPEAT, sre.POSSESSIVE_REPEAT):
            yield (op, value), [list(value[-1])]
        elif op in (sre.ASSERT, sre.ASSERT_NOT):
            yield (op, value), [list(value[1])]
        elif op is sre.ATOMIC_GROUP:
            yield (op, value), [list(value)]
        else:
            yield (op, value), []


def _signs(parsed: Sequence[tuple[Any, Any]]) -> Iterator[str]:
    """The signs that a pattern names; of a range the first."""
    for (op, value), inner in _inner(parsed):
        for one in [(op, value)] if op is not sre.IN else value:
            if one[0] in (sre.LITERAL, sre.NOT_LITERAL):
                yield chr(one[1])
            elif one[0] is sre.RANGE:
                yield chr(one[1][0])
        for each in inner:
            yield from _signs(each)


def _starts(parsed: Sequence[tuple[Any, Any]]) -> Iterator[str]:
    """How what a pattern finds may begin, as far as it is written out."""
    text = ""
    for (op, value), inner in _inner(parsed):
        if op is sre.LITERAL:
            text += chr(value)
            continue
        if op in (sre.BRANCH, sre.SUBPATTERN):
            for each in inner:
                yield from (text + one for one in _starts(each))
        break
    yield text


class _Matcher:
    """A matcher that goes back as Python's does, and counts the signs that it looks at."""

    def __init__(self, text: str, flags: int) -> None:
        self.text, self.flags, self.tries = text, flags, 0

    def end(self, parsed: Sequence[Any], start: int) -> int | None:
        """Where a match that begins at a place ends, None without one."""
        ends: list[int] = []

        def done(at: int) -> bool:
            ends.append(at)
            return True

        return ends[0] if self._match(parsed, start, done) else None

    def _match(self, parsed: Sequence[Any], at: int, then: Then) -> bool:
        if not parsed:
            return then(at)
        (op, value), rest = parsed[0], parsed[1:]

        def go_on(after: int) -> bool:
            return self._match(rest, after, then)

        if op is sre.BRANCH:
            return any(self._match(list(one), at, go_on) for one in value[1])
        if op is sre.SUBPATTERN:
            return self._match(list(value[-1]), at, go_on)
        if op in (sre.MAX_REPEAT, sre.MIN_REPEAT):
            return self._repeat(value, op is sre.MAX_REPEAT, at, go_on)
        if op is sre.POSSESSIVE_REPEAT:
            return (after := self._all(value, at)) is not None and go_on(after)
        if op is sre.ATOMIC_GROUP:
            return (after := self.end(list(value), at)) is not None and go_on(after)
        if op in (sre.ASSERT, sre.ASSERT_NOT):
            return self._ahead(value, at) == (op is sre.ASSERT) and go_on(at)
        if op is sre.AT:
            return self._at(value, at) and go_on(at)
        self.tries += 1
        return at < len(self.text) and self._sign(op, value, self.text[at]) and go_on(at + 1)

    def _repeat(self, value: Any, greedy: bool, at: int, go_on: Then) -> bool:
        least, most, inner = value[0], value[1], list(value[2])

        def more(count: int, here: int) -> bool:
            def again(after: int) -> bool:
                return (after > here or count < least) and more(count + 1, after)

            if count < least:
                return self._match(inner, here, again)
            ways: list[Callable[[], bool]] = [lambda: go_on(here)]
            if count < most:
                ways.insert(0 if greedy else 1, lambda: self._match(inner, here, again))
            return any(way() for way in ways)

        return more(0, at)

    def _all(self, value: Any, at: int) -> int | None:
        """Where as many as there are end, of which none is given back."""
        count = 0
        while count < value[1]:
            after = self.end(list(value[2]), at)
            if after is None or (after == at and count >= value[0]):
                break
            at, count = after, count + 1
        return at if count >= value[0] else None

    def _ahead(self, value: Any, at: int) -> bool:
        direction, inner = value
        if direction > 0:
            return self.end(list(inner), at) is not None
        width = inner.getwidth()[0]
        return at >= width and self.end(list(inner), at - width) is not None

    def _at(self, value: Any, at: int) -> bool:
        if value in (sre.AT_BEGINNING, sre.AT_BEGINNING_STRING):
            return at == 0
        if value in (sre.AT_END, sre.AT_END_STRING):
            return at == len(self.text) or (value is sre.AT_END and self.text[at:] == "\n")
        sides = [bool(re.match(r"\w", sign)) for sign in (self.text[at - 1 : at], self.text[at:])]
        return (sides[0] != sides[1]) == (value is sre.AT_BOUNDARY)

    def _sign(self, op: Any, value: Any, sign: str) -> bool:
        """Whether a sign is one that a part of a pattern stands for."""
        signs = {sign, sign.lower(), sign.upper()} if self.flags & re.IGNORECASE else {sign}
        if op is sre.ANY:
            return bool(self.flags & re.DOTALL) or sign != "\n"
        if op is sre.LITERAL:
            return chr(value) in signs
        if op is sre.NOT_LITERAL:
            return chr(value) not in signs
        assert op is sre.IN, op
        negated = value[0][0] is sre.NEGATE
        return negated != any(self._within(one, each) for one in value for each in signs)

    def _within(self, one: Any, sign: str) -> bool:
        kind, value = one
        if kind is sre.LITERAL:
            return ord(sign) == value
        if kind is sre.RANGE:
            return bool(value[0] <= ord(sign) <= value[1])
        return kind is sre.CATEGORY and bool(re.match(_CATEGORIES[value], sign))


_CATEGORIES = {
    sre.CATEGORY_DIGIT: r"\d", sre.CATEGORY_NOT_DIGIT: r"\D", sre.CATEGORY_SPACE: r"\s",
    sre.CATEGORY_NOT_SPACE: r"\S", sre.CATEGORY_WORD: r"\w", sre.CATEGORY_NOT_WORD: r"\W",
}  # fmt: skip
