"""The road map on paper: times through, endings, D.C., D.S., Fine and coda.

Conventions: several ways of writing the whole are tried, and each is followed as a reader would
follow it (`notate_follow`); only a way that leads through the music as played is printed. Repeats
do not stand inside one another, since readers differ about them: where the form itself is repeated,
its sections are written out. No endings stand on a page with D.C. or D.S. (`notate_follow`). A coda
has its signs only where something leads to it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from accomp.score.notate_fold import (
    Block,
    Column,
    Leaf,
    PlayedColumns,
    numbered,
    repeated,
    with_endings,
    with_words,
)
from accomp.score.notate_follow import followed
from accomp.score.written import Jump
from accomp.tune import Stage

_WORTH_A_JUMP = 8  # bars that it saves; fewer are written out


def folded(
    columns: Sequence[Column], blocks: Sequence[Block], *, jumps: bool = True
) -> list[Column]:
    """The columns to write, numbered anew; a pickup before the first block stays as it is.

    Without `jumps` there is no D.C. and no D.S. in it.
    """
    if not blocks:
        return numbered(columns)
    played = PlayedColumns(columns, blocks)
    pickup = played.leaves(0, blocks[0].first)
    ways = [pickup + way for way in _ways(played, pickup=bool(pickup))]
    if not jumps:
        ways = [way for way in ways if not any(leaf.column[0].jump for leaf in way)]
    good = [way for way in ways if _leads_right(way, played)]
    return numbered([leaf.column for leaf in min(good, key=len)])


def _leads_right(leaves: Sequence[Leaf], played: PlayedColumns) -> bool:
    """Whether a reader who follows the leaves plays the music as it was played."""
    order = followed(leaves, len(played.columns))
    if order is None:
        return False
    return tuple(played.alike[leaves[at].source] for at in order) == played.alike


def _ways(played: PlayedColumns, *, pickup: bool) -> Iterator[list[Leaf]]:
    """Several ways of writing the whole; the last one is always right."""
    blocks = played.blocks
    of_form = [at for at, block in enumerate(blocks) if block.stage == Stage.CHORUS]
    start, end = of_form[0], of_form[-1] + 1
    choruses = [list(run) for _, run in groupby(blocks[start:end], key=lambda block: block.chorus)]
    head = played.folded(blocks[:start])
    tail = played.folded(blocks[end:])
    form = _Form(played, choruses)
    yield head + form.with_repeats() + tail
    if end == len(blocks) or blocks[end].stage == Stage.CODA:
        plain_head = played.folded(blocks[:start], endings=False)
        plain_tail = played.folded(blocks[end:], endings=False)
        plain = _Form(played, choruses, endings=False)
        yield from plain.jumping(plain_head, plain_tail, dal_segno=pickup or start > 0)
    yield head + form.written_out() + tail


class _Form:
    """The form, all times through, with endings or without."""

    def __init__(
        self, played: PlayedColumns, choruses: Sequence[Sequence[Block]], *, endings: bool = True
    ) -> None:
        self.played = played
        self.choruses = choruses
        self.endings = endings

    def with_repeats(self) -> list[Leaf]:
        """All times through, repeated where they are the same or differ only in their endings."""
        return self._repeats(self.choruses)

    def written_out(self) -> list[Leaf]:
        """All times through, one after the other."""
        return [
            leaf for chorus in self.choruses for leaf in self._said(chorus, self._folded(chorus))
        ]

    def jumping(
        self, head: list[Leaf], tail: list[Leaf], *, dal_segno: bool
    ) -> Iterator[list[Leaf]]:
        """Ways with D.C. or D.S., to a coda that follows or to the end."""
        if len(self.choruses) > 1 and tail:
            *earlier, last = self.choruses
            most = self.played.leaves(last[0].first, last[-1].last)
            body = self._repeats(earlier)
            if len(set(map(self._row, earlier))) == 1:  # else each time says which one it is
                body = with_words(
                    self._repeats(earlier, words=False), _through(len(self.choruses), coda=True)
                )
            yield from self._jump(head, body, (0, len(most)), tail, dal_segno=dal_segno)
            body = self._repeats(earlier[:-1]) + self._repeats(earlier[-1:]) if earlier[1:] else []
            yield from self._jump(head, body, (0, len(most)), tail, dal_segno=dal_segno)
        if len(self.choruses) == 1:
            blocks = self.choruses[0]
            for first, length in self._come_again(blocks):
                body = self._folded(blocks[:first])
                row = self._row(blocks[first:])
                for start in range(len(body) - length):  # something stands between
                    if self.played.alike[body[start].source] == row[0]:
                        span = (start, start + length)
                        back = dal_segno or start > 0
                        yield from self._jump(head, body, span, tail, dal_segno=back)

    def _come_again(self, blocks: Sequence[Block]) -> Iterator[tuple[int, int]]:
        """Indices of blocks from which on everything has come before under the same names, each
        with the number of columns from there to the end."""
        names = [block.name for block in blocks]
        for first in range(1, len(blocks)):
            length = blocks[-1].last - blocks[first].first
            run = names[first:]
            before = any(names[at : at + len(run)] == run for at in range(first - len(run) + 1))
            if before and length >= _WORTH_A_JUMP:
                yield first, length

    def _jump(
        self,
        head: list[Leaf],
        body: list[Leaf],
        span: tuple[int, int],
        tail: list[Leaf],
        *,
        dal_segno: bool,
    ) -> Iterator[list[Leaf]]:
        """A jump at the end of `body` that plays its leaves `span` once more; none where it has
        too few leaves."""
        first, last = span
        if last > len(body):
            return
        out = list(body)
        if dal_segno:
            out[first] = out[first].with_all(segno=True)
            jump = Jump.DAL_SEGNO_AL_CODA if tail else Jump.DAL_SEGNO_AL_FINE
        else:
            jump = Jump.DA_CAPO_AL_CODA if tail else Jump.DA_CAPO_AL_FINE
        if tail:
            out[last - 1] = out[last - 1].with_all(to_coda=True)
            tail = [tail[0].with_all(coda=True), *tail[1:]]
        else:
            out[last - 1] = out[last - 1].with_all(fine=True)
        out[-1] = out[-1].with_all(jump=jump)
        yield head + out + tail

    def _folded(self, blocks: Sequence[Block]) -> list[Leaf]:
        return self.played.folded(blocks, endings=self.endings)

    def _repeats(self, choruses: Sequence[Sequence[Block]], *, words: bool = True) -> list[Leaf]:
        """Times through, folded; with `words` the page says how many they are, and which."""
        rows = [self._row(chorus) for chorus in choruses]
        if len(rows) == 1:
            return self._said(choruses[0], self._folded(choruses[0]))
        if not all(map(self._can_return, choruses)):
            return [leaf for chorus in choruses for leaf in self._repeats([chorus])]
        all_of_them = len(rows) == len(self.choruses)
        first = None if all_of_them else choruses[0][0].chorus
        through = _through(len(rows), first) if words else ""
        if all(row == rows[0] for row in rows):
            body = repeated(self._opening(choruses), len(rows), through if words else None)
            return self._closed(body, choruses)
        common = _common(rows)
        longest = max(map(len, rows)) - common
        with_endings = self.endings and common and min(map(len, rows)) > common
        if with_endings and longest * 2 <= len(rows[0]):
            return with_words(self._with_endings(choruses, rows, common), through)
        runs = groupby(choruses, key=self._row)
        return [leaf for _, run in runs for leaf in self._repeats(list(run))]

    def _with_endings(
        self,
        choruses: Sequence[Sequence[Block]],
        rows: Sequence[tuple[int, ...]],
        common: int,
    ) -> list[Leaf]:
        """One body, and an ending for each tail; the last time has one of its own."""
        kinds: dict[tuple[int, ...], list[int]] = {}
        for time, row in enumerate(rows[:-1], 1):
            kinds.setdefault(row[common:], []).append(time)
        tails, numbers = [], []
        for times in kinds.values():
            chorus = choruses[times[0] - 1]
            tails.append(self.played.leaves(chorus[0].first + common, chorus[-1].last))
            numbers.append(tuple(times))
        last = choruses[-1]
        final = self.played.leaves(last[0].first + common, last[-1].last)
        if last[0].chorus == self.choruses[-1][0].chorus:
            final[0] = final[0].with_words("last time")
        body = self._opening(choruses)[:common]
        return with_endings(body, [*tails, final], [*numbers, (len(rows),)])

    def _row(self, chorus: Sequence[Block]) -> tuple[int, ...]:
        return self.played.alike[chorus[0].first : chorus[-1].last]

    def _can_return(self, chorus: Sequence[Block]) -> bool:
        return not self.played.carried(chorus[0].first)

    def _opening(self, choruses: Sequence[Sequence[Block]]) -> list[Leaf]:
        """The first time through; its start shows every key, meter and word that is new at the
        start of any time."""
        first = self.played.leaves(choruses[0][0].first, choruses[0][-1].last)
        for chorus in choruses[1:]:
            for name in ("new_key", "new_meter"):
                if any(getattr(m, name) for m in self.played.columns[chorus[0].first]):
                    first[0] = first[0].with_all(**{name: True})
            words = self.played.columns[chorus[0].first][0].words
            if words and not first[0].column[0].words:
                first[0] = first[0].with_words(words)
        return first

    def _closed(self, leaves: list[Leaf], choruses: Sequence[Sequence[Block]]) -> list[Leaf]:
        """The leaves with the bar line of the last time at their end."""
        barline = self.played.columns[choruses[-1][-1].last - 1][0].barline
        return [*leaves[:-1], leaves[-1].with_all(barline=barline)]

    def _said(self, chorus: Sequence[Block], leaves: list[Leaf]) -> list[Leaf]:
        """A time through that is written by itself; from the second on, words say which it is."""
        if not leaves or chorus[0].chorus == 1:
            return leaves
        return with_words(leaves, f"Chorus {chorus[0].chorus}")


def _through(times: int, first: int | None = None, *, coda: bool = False) -> str:
    """The words over a form that is played several times: the whole, or from chorus `first` on."""
    which = "" if first is None else f"Choruses {first} to {first + times - 1}: "
    return f"{which}{times} x through" + (", the last time with coda" if coda else "")


def _common(rows: Sequence[tuple[int, ...]]) -> int:
    """How many columns all rows begin with alike."""
    count = 0
    for column in zip(*rows, strict=False):
        if len(set(column)) > 1:
            break
        count += 1
    return count
