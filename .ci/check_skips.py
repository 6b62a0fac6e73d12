"""Fail when a test was skipped for a reason that is not listed.

Usage: check_skips.py TEST_LOG ALLOWED
"""

from __future__ import annotations

import re
import sys
from pathlib import Path


def main() -> int:
    """Compare the reasons of skipped tests with the list."""
    log, allowed = (Path(name).read_text(encoding="utf-8") for name in sys.argv[1:3])
    reasons = [line for line in allowed.splitlines() if line and not line.startswith("#")]
    bad = []
    for line in log.splitlines():
        match = re.match(r"SKIPPED \[\d+\] [^:]+:\d+: (.*)", line)
        if match and not match[1].startswith(tuple(reasons)):
            bad.append(line)
    for line in bad:
        print(f"not a listed reason to skip: {line}", file=sys.stderr)
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
