"""What decides a file's bytes is spelt out whole, however short the values are for people."""

from __future__ import annotations

from dataclasses import replace

from accomp.job.items import spelt
from accomp.job.named import find_player
from accomp.job.options import Options
from accomp.rhythm import find_style


def test_values_that_look_alike_are_spelt_apart() -> None:
    style = find_style("two-beat")
    looser = replace(style, jitter_ms=style.jitter_ms + 1)
    player = find_player(Options())
    further = replace(player, hand=replace(player.hand, greatest_mm=player.hand.greatest_mm + 1))
    for mine, yours in ((style, looser), (player, further)):
        assert repr(mine) == repr(yours)
        assert spelt(mine) != spelt(yours)
    assert spelt({"a": (style,)}) != spelt({"a": (looser,)})


def test_equal_values_are_spelt_alike_in_every_process() -> None:
    """Sets have no order of their own: that of texts changes from process to process."""
    words = ["one", "two", "three", "four", "five"]
    assert spelt(frozenset(words)) == spelt(frozenset(reversed(words)))
    assert spelt(frozenset(words)) == "{'five', 'four', 'one', 'three', 'two'}"
    assert spelt(find_player(Options())) == spelt(find_player(Options(hand="medium")))
