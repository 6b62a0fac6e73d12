"""A plugin of pytest: of what is collected, run the tests of a list, in its order."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """The list is in the file that MUTATION_TESTS names."""
    wanted = json.loads(Path(os.environ["MUTATION_TESTS"]).read_text(encoding="utf-8"))
    there = {item.nodeid: item for item in items}
    items[:] = [there[name] for name in wanted if name in there]
