"""One pack, made in a process of its own: TUNE OUT JOBS KEY..."""

from __future__ import annotations

import contextlib
import sys
from pathlib import Path

from accomp.job.build import Build, manifest_of
from accomp.job.make import begun_ahead, version_items
from accomp.job.options import Options
from accomp.job.request import resolve
from accomp.job.sound import sound_of
from accomp.job.versions import versions
from accomp.tune import read_tune

SPEEDS = (130.0, 150.0, 168.0)


def main(tune_file: str, out: str, jobs: str, *keys: str) -> None:
    """Make the audio of every key and speed for three roles."""
    options = Options(
        keys=keys, tempos=SPEEDS, choruses=1, only=("audio",), pack=True, jobs=int(jobs)
    )
    request = resolve(read_tune(Path(tune_file)), options)
    with contextlib.ExitStack() as stack:
        workers = begun_ahead(request, Path(out), stack)
        sound = sound_of(request, lambda what, share: None)
        items = [item for version in versions(request) for item in version_items(version, sound)]
        build = Build(Path(out), jobs=options.jobs)
        with build.opened():
            build.move(items, manifest_of("Pack", items, build.make(items, workers=workers)))


if __name__ == "__main__":
    main(*sys.argv[1:])
