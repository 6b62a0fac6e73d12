"""What holds for every test: which data is seen, and how random examples are drawn.

Tests see the data that comes with the program, whatever styles whoever runs them has made.

Examples of hypothesis may take any time, because a busy machine is no fault of the program, and are
the same in every run, so that a red test is red again for whoever looks at it. Other examples are
drawn with `pytest --hypothesis-profile=fresh`, which prints how to repeat a failure.
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
settings.load_profile("same")

# Started in the background by a shell, a program has Ctrl-C turned off, and so have the programs
# that it starts; tests press it.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)


@pytest.hookimpl(trylast=True)
def pytest_collection_finish() -> None:
    """What is there when all tests are collected stays: it need not be searched for garbage."""
    gc.collect()
    gc.freeze()
