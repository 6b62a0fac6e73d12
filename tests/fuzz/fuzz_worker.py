"""Trying inputs one after another, within what one of them may take; run as a program of its own.

    python fuzz_worker.py FOLDER KIND FIRST COUNT     draws number FIRST and those after it
    python fuzz_worker.py FOLDER KIND FILE            tries the input in a file

One line of JSON on stdout for each input: {"number", "wrong", "seconds"}; `wrong` is empty where
the program did right. The input under trial lies in FOLDER, for whoever finds the worker dead.
"""

from __future__ import annotations

import faulthandler
import json
import os
import random
import resource
import shutil
import signal
import sys
import time
import traceback
from pathlib import Path

MOST_SECONDS, MOST_BYTES = 5.0, 1_000_000_000
HANGS_SECONDS = 120.0  # by the clock: a busy machine takes long over five seconds of work


class TooLong(BaseException):
    """Raised through everything when an input has taken its time."""


def main(folder: Path, kind: str, what: list[str]) -> None:
    os.environ["ACCOMP_DEBUG"] = "1"  # a fault of the program is raised as it is
    from fuzz_targets import TARGETS

    target = next(one for one in TARGETS if one.name == kind)
    hold_memory()
    signal.signal(signal.SIGPROF, too_long)
    if len(what) == 1:
        report(-1, folder, target, Path(what[0]).read_bytes())
        return
    for number in range(int(what[0]), int(what[0]) + int(what[1])):
        report(number, folder, target, target.draw(random.Random(f"{kind} {number}")))


def report(number, folder, target, data) -> None:
    began = time.process_time()
    wrong = tried(folder, target, data)
    line = {"number": number, "wrong": wrong, "seconds": time.process_time() - began}
    print(json.dumps(line), flush=True)


def hold_memory() -> None:
    """At most so much more than what the program takes before it has read anything."""
    pages = int(Path("/proc/self/statm").read_text().split()[0])
    most = pages * os.sysconf("SC_PAGE_SIZE") + MOST_BYTES
    resource.setrlimit(resource.RLIMIT_AS, (most, most))


def too_long(number, frame) -> None:
    raise TooLong


def tried(folder: Path, target, data: bytes) -> str:
    """What is wrong, empty where nothing is. Processor time counts: machines are busy."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    path = folder / target.file
    path.write_bytes(data)
    signal.setitimer(signal.ITIMER_PROF, MOST_SECONDS)
    faulthandler.dump_traceback_later(HANGS_SECONDS, exit=True)  # where no signal reaches it
    try:
        return target.try_(path)
    except TooLong:
        return f"takes more than {MOST_SECONDS:g} s"
    except MemoryError:
        return f"takes more than {MOST_BYTES / 1e9:g} GB"
    except BaseException:
        return traceback.format_exc(limit=-4)
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        faulthandler.cancel_dump_traceback_later()


if __name__ == "__main__":
    main(Path(sys.argv[1]).resolve(), sys.argv[2], sys.argv[3:])
