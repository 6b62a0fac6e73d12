"""Everything that comes out of the reference's inputs, to be looked at or to be kept.

    python tests/reference/reference_run.py --write FOLDER [NAME]...
    python tests/reference/reference_run.py --renew [GROUP]...

The first writes whole outputs into a folder, all of them or those of some inputs: done on two
commits, `diff -r` shows what has changed. The second keeps what comes out now, in
tests/reference/kept; the diff of a commit then says what it has changed, and is to be read.
"""

from __future__ import annotations

import argparse
import re
import sys
from pathlib import Path

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE), str(HERE.parents[1])]

import conftest  # noqa: E402, F401  the helpers of other tests, and nobody's own styles
from reference_groups import GROUPS  # noqa: E402


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--write", type=Path, metavar="FOLDER", help="write whole outputs there")
    parser.add_argument("--renew", action="store_true", help="keep what comes out now")
    parser.add_argument("names", nargs="*", help="inputs to write, or groups to renew; all without")
    asked = parser.parse_args()
    if asked.write is None and not asked.renew:
        parser.error("say --write FOLDER or --renew")
    for group in GROUPS:
        if asked.renew and (not asked.names or group.name in asked.names):
            group.renew()
        for name in group.names() if asked.write else ():
            if not asked.names or name in asked.names:
                write(asked.write / group.name, name, group.make(name))


def write(folder: Path, name: str, made: dict[str, bytes]) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    for kind, data in made.items():
        stem = re.sub(r"[^\w.-]+", "-", f"{name}.{kind}")
        (folder / stem).write_bytes(data)


if __name__ == "__main__":
    main()
