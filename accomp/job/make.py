"""Make: one tune, in every asked key, position and tempo, into one folder with a manifest.

Conventions: all or nothing: files are made aside and moved into place together, the manifest last.
`progress` is told what is being made and how much of the whole is done, 0 to 1.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from accomp.errors import InputError, Problem
from accomp.files.aside import Batch, output_errors
from accomp.job.asked import Asked, understand
from accomp.job.manifest import NAME, MadeFile, MadeTrack, Manifest, sha256
from accomp.job.options import Options
from accomp.job.positions import plans_for
from accomp.neck import Plan
from accomp.score.arrange import arrange
from accomp.score.arrangement import Arrangement
from accomp.score.notate import notate
from accomp.score.perform import perform
from accomp.score.performance import Performance
from accomp.score.planning import tune_chords
from accomp.tune import Tune, key_slug, slug, transpose_tune
from accomp.write.midi import write_midi
from accomp.write.musicxml import write_musicxml

Progress = Callable[[str, float], None]


@dataclass(frozen=True)
class Version:
    """A tune in one key, position and tempo; `plans` holds one plan a chorus."""

    tune: Tune
    position: str
    plans: tuple[Plan, ...]
    arrangement: Arrangement

    @property
    def stem(self) -> str:
        """File name without role and ending."""
        tempo = f"{self.arrangement.tempo:g}".replace(".", "-")
        return f"{slug(self.tune.title)}_{key_slug(self.tune.key)}_{tempo}_{self.position}"


def versions(tune: Tune, asked: Asked, options: Options) -> Iterator[Version]:
    """Every version asked for, keys first, then positions, then tempi."""
    for key in asked.keys:
        moved = transpose_tune(tune, key)
        try:
            chords = tune_chords(moved)
        except ValueError as error:
            raise InputError(Problem(f"{error}.", tune.file, hint="Write a chord.")) from None
        for position, plans in plans_for(moved, chords, asked, options):
            for tempo in asked.tempos:
                arrangement = arrange(
                    moved,
                    chords,
                    plans,
                    asked.styles,
                    asked.instrument,
                    tempo=tempo,
                    seed=options.seed,
                )
                yield Version(moved, position, plans, arrangement)


def make_tune(
    tune: Tune, options: Options, folder: Path, progress: Progress | None = None
) -> Manifest:
    """Make everything for one tune. Raises `AccompError`s; then nothing has changed in `folder`."""
    tell = progress or (lambda what, share: None)
    asked = understand(tune, options)
    wanted = list(versions(tune, asked, options))
    files: list[MadeFile] = []
    notices = list(asked.notices)
    sound: tuple[str | None, str | None] = (None, None)
    tracks: tuple[MadeTrack, ...] = ()
    with Batch(folder) as batch:
        for index, version in enumerate(wanted):
            notices += version.arrangement.notices
            performance = perform(version.arrangement, count_in=options.count_in)
            tracks = tracks or _tracks(performance)
            if "midi" in options.only:
                path = batch.path(f"{version.stem}.mid")
                with output_errors(folder):
                    write_midi(performance, path)
                files.append(_made(version, path, "midi"))
            if "musicxml" in options.only:
                path = batch.path(f"{version.stem}.musicxml")
                with output_errors(folder):
                    write_musicxml(notate(version.arrangement), path)
                files.append(_made(version, path, "musicxml"))
            if "audio" in options.only:
                path = batch.path(f"{version.stem}.{options.audio_format}")
                sound = _audio(version, performance, path, options, notices, tell, index, wanted)
                files.append(_made(version, path, "audio"))
            tell(version.stem, (index + 1) / len(wanted))
        manifest = Manifest(tune.title, tuple(files), tracks, *sound, tuple(dict.fromkeys(notices)))
        with output_errors(folder):
            batch.path(NAME).write_bytes(manifest.json())
        batch.commit()
    return manifest


def _tracks(performance: Performance) -> tuple[MadeTrack, ...]:
    return tuple(MadeTrack(t.name, t.role, t.program + 1) for t in performance.tracks)


def _made(version: Version, path: Path, kind: str) -> MadeFile:
    """The manifest's line for a file that was just written."""
    styles = dict.fromkeys(bar.style.name for bar in version.arrangement.bars)
    return MadeFile(
        path=path.name,
        kind=kind,
        role="full",
        part=version.arrangement.instrument.name if kind == "musicxml" else None,
        key=str(version.tune.key),
        tempo=version.arrangement.tempo,
        position=version.position,
        style=", ".join(styles),
        sha256=sha256(path),
    )


def _audio(
    version: Version,
    performance: Performance,
    path: Path,
    options: Options,
    notices: list[str],
    tell: Progress,
    index: int,
    wanted: list[Version],
) -> tuple[str, str]:
    """Render one version; returns the names of SoundFont and synthesiser."""
    from accomp.write.audio import write_audio  # late: numpy and the synthesiser take a while

    with output_errors(path.parent.parent):
        report = write_audio(
            performance,
            path,
            soundfont=options.soundfont,
            format=options.audio_format,
            progress=lambda share: tell(version.stem, (index + share) / len(wanted)),
        )
    notices += report.notices
    return report.soundfont, report.synth
