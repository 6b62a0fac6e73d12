"""Make: one tune, in every asked key, position and tempo, into one folder with a manifest.

Conventions: all or nothing: files are made aside and moved into place together, the manifest last.
`progress` is told what is being made and how much of the whole is done, 0 to 1.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from accomp.errors import NoShapeError, OutputError
from accomp.job.asked import Asked, understand
from accomp.job.cue import cue_sheet
from accomp.job.items import BytesItem, Item, Label, Sound, SoundItem, midi_item
from accomp.job.manifest import MadeFile, MadeTrack, Manifest
from accomp.job.options import Options
from accomp.job.pack import Take, audition, takes, tuning
from accomp.job.paper import score_items, sheet_item
from accomp.job.positions import in_its_place
from accomp.job.sound import sound_of
from accomp.job.versions import Version, in_keys, versions
from accomp.job.workshop import Done, Workshop
from accomp.score.join import Cue
from accomp.score.perform import perform
from accomp.score.performance import Performance
from accomp.tune import Tune
from accomp.write.formats import SILENCE_S, MixGroup

Progress = Callable[[str, float], None]
GROUPS = tuple(group.value for group in MixGroup)


def make_tune(
    tune: Tune, options: Options, folder: Path, progress: Progress | None = None
) -> Manifest:
    """Make everything for one tune.

    Raises `AccompError`s; then nothing has changed in `folder`, but that a stopped pack keeps its
    finished work in a hidden folder there and goes on from it the next time.
    """
    tell = progress or (lambda what, share: None)
    asked = understand(tune, options)
    notices = list(asked.notices)
    sound = Sound()
    if "audio" in options.only:
        voice = f"the voice of the {asked.instrument.title.lower()}, once and for all"
        sound = sound_of(
            options, asked.instrument, notices, lambda share: tell(f"Building {voice}", share)
        )
    items, tracks = _items(tune, asked, options, sound, notices)
    _no_two_alike(items)
    with Workshop(folder, keep=options.pack, again=options.again).opened() as workshop:
        records = workshop.make(items, options.jobs, tell)
        manifest = _manifest(tune, items, records, tracks, notices)
        workshop.move(items, manifest.json())
    return manifest


def _items(
    tune: Tune, asked: Asked, options: Options, sound: Sound, notices: list[str]
) -> tuple[list[Item], tuple[MadeTrack, ...]]:
    """Everything to write, and the tracks of the first version.

    What has slower steps of its own (ladder, drills) or compares (audition) is made once, at the
    fastest tempo asked for.
    """
    fastest = max(asked.tempos)
    items: list[Item] = []
    tracks: tuple[MadeTrack, ...] = ()
    tuned = False
    for moved, neck in in_keys(tune, asked):
        try:
            found = list(versions(moved, neck, asked, options.seed))
        except NoShapeError as error:
            raise in_its_place(error, moved, asked.player, asked.wish) from None
        for version in found:
            notices += version.arrangement.notices
            performance = perform(version.arrangement, count_in=options.count_in)
            tracks = tracks or tuple(
                MadeTrack(track.name, track.role, track.program + 1) for track in performance.tracks
            )
            items += version_items(version, performance, options, sound)
            if "pdf" in options.only:
                items.append(sheet_item(version, neck, options))
            if version.tempo == fastest:
                for take in takes(version, neck, asked, options):
                    items += _take_items(take, options, sound)
        if options.pack:
            same = [version for version in found if version.tempo == fastest]
            compared = audition(same, neck, asked, options)
            if compared is not None:
                items += _take_items(compared, options, sound)
            if not tuned:
                items += _take_items(tuning(found[0], asked), options, sound)
                tuned = True
    return items, tracks


def version_items(
    version: Version, performance: Performance, options: Options, sound: Sound
) -> list[Item]:
    """The files of one version: notation, and MIDI and audio for each group of players."""
    items: list[Item] = []
    groups = GROUPS if options.pack else GROUPS[:1]
    stems = {
        group: version.stem if group == "full" else f"{version.stem}_{group}" for group in groups
    }
    labels = {group: version.label(group) for group in groups}
    if "midi" in options.only:
        items += [
            midi_item(f"{stems[group]}.mid", labels[group], _only(performance, group))
            for group in groups
        ]
    if "musicxml" in options.only:
        items += score_items(version, options)
    if "audio" in options.only:
        items.append(_sound_item(stems, labels, performance, sound))
    return items


def _take_items(take: Take, options: Options, sound: Sound) -> list[Item]:
    """The files of one more performance: MIDI, audio and, where it has parts, a cue sheet."""
    items: list[Item] = []
    if "midi" in options.only:
        items.append(midi_item(f"{take.stem}.mid", take.label, take.performance))
    if "audio" in options.only:
        items.append(
            _sound_item({"full": take.stem}, {"full": take.label}, take.performance, sound)
        )
        if take.cues:
            items.append(_cue_item(take, take.cues, sound))
    return items


def _sound_item(
    stems: dict[str, str], labels: dict[str, Label], performance: Performance, sound: Sound
) -> Item:
    names = {group: f"{stem}.{sound.format}" for group, stem in stems.items()}
    tags = {
        group: {
            name: value
            for name, value in (
                ("key", labels[group].key),
                ("tempo", f"{labels[group].tempo:g}" if labels[group].tempo else ""),
                ("position", labels[group].position),
            )
            if value
        }
        for group in stems
    }
    return SoundItem(
        labels={names[group]: replace(labels[group], kind="audio") for group in stems},
        performance=performance,
        groups=names,
        tags=tags,
        sound=sound,
    )


def _cue_item(take: Take, cues: tuple[Cue, ...], sound: Sound) -> Item:
    text = cue_sheet(take.performance.title, f"{take.stem}.{sound.format}", cues, SILENCE_S)
    return BytesItem({f"{take.stem}.cue": replace(take.label, kind="cue")}, text.encode())


def _only(performance: Performance, group: str) -> Performance:
    """The tracks of one group; the count-in belongs to all."""
    if group == "full":
        return performance
    wanted = {"player", "click"} if group == "player" else {"band", "click", "melody"}
    kept = tuple(track for track in performance.tracks if track.role in wanted)
    return replace(performance, tracks=kept)


def _no_two_alike(items: list[Item]) -> None:
    names: set[str] = set()
    for item in items:
        for name in item.labels:
            if name in names:
                raise OutputError(f"{name}: two results of this run would have the same name.")
            names.add(name)


def _manifest(
    tune: Tune,
    items: list[Item],
    records: list[Done],
    tracks: tuple[MadeTrack, ...],
    notices: list[str],
) -> Manifest:
    files = tuple(
        MadeFile(
            path=name,
            kind=label.kind,
            role=label.role,
            part=label.part,
            key=label.key,
            tempo=label.tempo,
            position=label.position,
            style=label.style,
            sha256=record.sha256[name],
            inputs=item.inputs,
            notices=record.said.notices,
            soundfont=record.said.soundfont,
            synth=record.said.synth,
        )
        for item, record in zip(items, records, strict=True)
        for name, label in item.labels.items()
    )
    said = [record.said for record in records]
    return Manifest(
        tune=tune.title,
        files=files,
        tracks=tracks,
        soundfont=next((one.soundfont for one in said if one.soundfont), None),
        synth=next((one.synth for one in said if one.synth), None),
        notices=tuple(dict.fromkeys([*notices, *(n for one in said for n in one.notices)])),
    )
