"""What holds for every test: which data is seen, and how random examples are drawn.

Tests see the data that comes with the program, whatever styles whoever runs them has made.

Examples of hypothesis may take any time, because a busy machine is no fault of the program, and are
the same in every run, so that a red test is red again for whoever looks at it. Other examples are
drawn with `pytest --hypothesis-profile=fresh`, which prints how to repeat a failure.

Everyday runs (`-m 'not long'`) are to end before one has lost the thread: they draw a fifth of the
random examples, and of a test marked `many(n)`, which goes over all styles or all examples, they
take n cases spread over the list. The long run takes everything.
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
    if config.option.markexpr == "not long" and not chosen:
        settings.load_profile("everyday")


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Of a test marked `many(n)` all but n cases are long."""
    cases: dict[str, list[pytest.Item]] = {}
    for item in items:
        if item.get_closest_marker("many"):
            cases.setdefault(item.nodeid.partition("[")[0], []).append(item)
    for some in cases.values():
        mark = some[0].get_closest_marker("many")
        assert mark is not None
        wanted = min(mark.args[0], len(some))
        everyday = {(2 * turn + 1) * len(some) // (2 * wanted) for turn in range(wanted)}
        for place, item in enumerate(some):
            if place not in everyday:
                item.add_marker(pytest.mark.long)


@pytest.hookimpl(trylast=True)
def pytest_collection_finish() -> None:
    """What is there when all tests are collected stays: it need not be searched for garbage."""
    gc.collect()
    gc.freeze()
