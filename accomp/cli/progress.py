"""How far a job is."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator

from accomp.cli.saying import Passing, Talk, talk, tell

_BAR = 30  # signs


@contextlib.contextmanager
def progress(what: str, *, shown: bool) -> Iterator[Callable[[str, float], None] | None]:
    """A bar on stderr that is gone when the job is done; yields what to tell it, None when nobody
    is to see one.

    Where every note is wanted, a line for each thing that is made instead.
    """
    if talk() is Talk.FULL:
        yield _Lines()
        return
    if not shown or talk() is Talk.QUIET:
        yield None
        return
    with Passing() as line:
        line.show(what, _bar(0.0))
        yield lambda what, share: line.show(what, _bar(share))


def _bar(share: float) -> str:
    share = min(max(share, 0.0), 1.0)
    done = round(share * _BAR)
    return f"{'━' * done}{'─' * (_BAR - done)} {share:4.0%}"


class _Lines:
    """Tells each thing once, as it begins."""

    def __init__(self) -> None:
        self._told = ""

    def __call__(self, what: str, share: float) -> None:
        if what != self._told:
            self._told = what
            tell(f"{share:4.0%} {what}")
