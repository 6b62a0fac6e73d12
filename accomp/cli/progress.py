"""The progress of a job, as a bar or as lines."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator

from accomp.cli.saying import StatusLine, Verbosity, tell, verbosity

_BAR = 30  # signs


@contextlib.contextmanager
def progress(what: str, *, shown: bool) -> Iterator[Callable[[str, float], None] | None]:
    """Show a bar on stderr until the job is done.

    Yields the function to call with the progress, or None if nothing is shown. With `--verbose`
    there is a line for each thing that is made, and no bar.
    """
    if verbosity() is Verbosity.FULL:
        yield _Lines()
        return
    if not shown or verbosity() is Verbosity.QUIET:
        yield None
        return
    with StatusLine() as line:
        line.show(what, _bar(0.0))
        yield lambda what, share: line.show(what, _bar(share))


def _bar(share: float) -> str:
    share = min(max(share, 0.0), 1.0)
    done = round(share * _BAR)
    return f"{'━' * done}{'─' * (_BAR - done)} {share:4.0%}"


class _Lines:
    """Prints a line for each thing, when it begins."""

    def __init__(self) -> None:
        self._told = ""

    def __call__(self, what: str, share: float) -> None:
        if what != self._told:
            self._told = what
            tell(f"{share:4.0%} {what}")
