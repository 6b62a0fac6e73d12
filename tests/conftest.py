"""What holds for every test: which data is seen, and how random examples are drawn.

Tests see the data that comes with the program, whatever styles whoever runs them has made.

Examples of hypothesis may take any time, because a busy machine is no fault of the program, and are
the same in every run, so that a red test is red again for whoever looks at it. Other examples are
drawn with `pytest --hypothesis-profile=fresh`, which prints how to repeat a failure.

There are three tiers. Everyday tests (`make test`, `-m 'not long and not slow'`) are to end before
one has lost the thread. What is marked `slow`, because it costs much, is run by .ci/run before
anything lands and by make test-all (`make test-slow` runs it alone). What is marked `long`, large
combinations, is run by make test-all only.

Of a test that goes over all styles or all examples, `many(n)` takes n cases spread over the list
every day and leaves the others to the long run; `many(n, m)` takes n every day and m (99: all)
before anything lands. Both tiers before the long run draw a fifth of the random examples.
"""

import gc
import os
import signal
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

# Read by platformdirs on Linux when a user's folder is asked for; styles are listed while tests are
# still being collected, so it is set before any is imported.
os.environ["XDG_DATA_HOME"] = str(Path(__file__).parent / "nobody's folder")

ANY_TIME = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow], print_blob=True)
settings.register_profile("same", ANY_TIME, derandomize=True)
settings.register_profile("fresh", ANY_TIME)
settings.register_profile("everyday", ANY_TIME, derandomize=True, max_examples=20)
settings.load_profile("same")

# Started in the background by a shell, a program has Ctrl-C turned off, and so have the programs
# that it starts; tests press it.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)


def pytest_configure(config: pytest.Config) -> None:
    """Before any test is imported, because it asks how many examples to draw."""
    chosen = config.getoption("--hypothesis-profile", default=None)
    if "not long" in config.option.markexpr and not chosen:
        settings.load_profile("everyday")


def spread(wanted: int, count: int) -> set[int]:
    """So many places (all, if there are fewer) spread over a list."""
    wanted = min(wanted, count)
    return {(2 * turn + 1) * count // (2 * wanted) for turn in range(wanted)}


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Of a test marked `many(n, m)` n cases are for every day, m not long."""
    cases: dict[str, list[pytest.Item]] = {}
    for item in items:
        if item.get_closest_marker("many"):
            cases.setdefault(item.nodeid.partition("[")[0], []).append(item)
    for some in cases.values():
        mark = some[0].get_closest_marker("many")
        assert mark is not None
        everyday = spread(mark.args[0], len(some))
        landing = spread(mark.args[-1], len(some))
        for place, item in enumerate(some):
            if place not in everyday:
                item.add_marker(pytest.mark.slow if place in landing else pytest.mark.long)


@pytest.hookimpl(trylast=True)
def pytest_collection_finish() -> None:
    """What is there when all tests are collected stays: it need not be searched for garbage."""
    gc.collect()
    gc.freeze()
