"""The words of a PDF with their places, as poppler's pdftotext finds them."""

from __future__ import annotations

import itertools
import re
import shutil
import subprocess

import pytest

POPPLER = pytest.mark.skipif(shutil.which("pdftotext") is None, reason="poppler is not installed")


def words(path):
    """(word, left, top, right, bottom) in points, page by page."""
    done = subprocess.run(
        ["pdftotext", "-bbox", str(path), "-"], capture_output=True, text=True, check=True
    )
    pages = done.stdout.split("<page ")[1:]
    row = re.compile(
        r'xMin="([\d.]+)" yMin="([\d.]+)" xMax="([\d.]+)" yMax="([\d.]+)">(.*?)</word>'
    )
    return [[(m[5], *map(float, m.groups()[:4])) for m in row.finditer(page)] for page in pages]


def assert_no_words_overlap(path):
    for page in words(path):
        assert page
        for (one, l1, t1, r1, b1), (two, l2, t2, r2, b2) in itertools.combinations(page, 2):
            across = min(r1, r2) - max(l1, l2)
            # A line's box is higher than its letters; a quarter of it may stand in the other's.
            down = min(b1, b2) - max(t1, t2)
            assert across < 0.5 or down < 0.34 * min(b1 - t1, b2 - t2), (one, two)
