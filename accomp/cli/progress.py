"""How far a job is."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator

from accomp.cli.saying import Talk, printable, talk, tell


@contextlib.contextmanager
def progress(what: str, *, shown: bool) -> Iterator[Callable[[str, float], None] | None]:
    """A bar on stderr; yields what to tell it, None when nobody is to see one.

    Where every note is wanted, a line for each thing that is made instead.
    """
    if talk() is Talk.FULL:
        yield _Lines()
        return
    if not shown or talk() is Talk.QUIET:
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TaskProgressColumn, TextColumn

    words = TextColumn("{task.description}", markup=False)  # a title may hold "[/b]"
    columns = (words, BarColumn(), TaskProgressColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(printable(what), total=1.0)
        yield lambda what, share: bar.update(task, completed=share, description=printable(what))


class _Lines:
    """Tells each thing once, as it begins."""

    def __init__(self) -> None:
        self._told = ""

    def __call__(self, what: str, share: float) -> None:
        if what != self._told:
            self._told = what
            tell(f"{share:4.0%} {what}")
