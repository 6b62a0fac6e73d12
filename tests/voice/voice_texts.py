"""Parameter files of voices as text, for tests that change them."""

from __future__ import annotations

import re

from accomp.files.data import find

ROOTS = (0, 3)


def parameters(name: str = "tenor-banjo") -> str:
    path = find("soundfonts", name)
    assert path is not None
    return path.read_text(encoding="utf-8")


def changed(text: str, **values: str) -> str:
    """The file with the first line of each key changed."""
    for key, value in values.items():
        text, count = re.subn(rf"(?m)^{key} = .*$", f"{key} = {value}", text, count=1)
        assert count == 1, key
    return text
