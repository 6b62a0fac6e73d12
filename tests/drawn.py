"""How many random examples a test draws: all of them in the long run, a part of them every day."""

from hypothesis import settings

ALL = 100  # hypothesis' own default, which the profile of everyday runs makes smaller


def examples(count: int) -> int:
    """So many of `count` examples as the profile wants, ten at least."""
    return max(10, count * settings.default.max_examples // ALL)
