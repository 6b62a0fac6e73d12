"""One pack, made in a process of its own: TUNE OUT JOBS KEY..."""

from __future__ import annotations

import sys
from pathlib import Path

from accomp.job.asked import understand
from accomp.job.make import version_items
from accomp.job.options import Options
from accomp.job.sound import sound_of
from accomp.job.versions import in_keys, versions
from accomp.job.workshop import Workshop
from accomp.score.perform import perform
from accomp.tune import read_tune

SPEEDS = (130.0, 150.0, 168.0)


def main(tune_file: str, out: str, jobs: str, *keys: str) -> None:
    """Make the audio of every key and speed for three roles."""
    options = Options(
        keys=keys, tempos=SPEEDS, choruses=1, only=("audio",), pack=True, jobs=int(jobs)
    )
    tune = read_tune(Path(tune_file))
    asked = understand(tune, options)
    sound = sound_of(options, asked.instrument, [], lambda share: None)
    items = [
        item
        for moved, neck in in_keys(tune, asked)
        for version in versions(moved, neck, asked, options.seed)
        for item in version_items(version, perform(version.arrangement), options, sound)
    ]
    with Workshop(Path(out), keep=False).opened() as workshop:
        workshop.make(items, options.jobs, lambda what, share: None)
        workshop.move(items, b"{}")


if __name__ == "__main__":
    main(*sys.argv[1:])
