"""A tune from its text through the whole pipeline, for laws about all of it together."""

from collections import defaultdict
from pathlib import Path

from accomp.job.options import Options
from accomp.job.request import resolve
from accomp.job.versions import Version, versions
from accomp.score.perform import perform
from accomp.score.performance import Note, Performance
from accomp.tune import Tune, parse_tune

TEXT = """title = "Two Doors Down"
key = "F"
meter = "4/4"
tempo = 160
style = "STYLE"
form = ["A", "B", "A"]

[sections]
A = "| F | F / C7 / | Gm7 C7 | F |"
B = "| Bb | Bbm6 | F / D7 / | G7 / C7 / |"
"""


def tune_of(text: str = TEXT, style: str = "four-light-heavy") -> Tune:
    return parse_tune(text.replace("STYLE", style), "law.toml")


def made(tune: Tune, **wanted: object) -> list[Version]:
    """Every version that a job with these options makes of the tune."""
    return versions(resolve(tune, Options(**wanted)))


def played(tune: Tune, **wanted: object) -> Performance:
    """The first version, performed without count-in."""
    return perform(made(tune, **wanted)[0].arrangement, count_in=0)


def by_bar(version: Version, name: str) -> dict[tuple[int, str, int], list[tuple]]:
    """What a player does in each bar, by chorus, turn of the section, bar of the section.

    Starts are in ms from 30 ms before the bar line, rounded to 0.01 ms; the ends are left out,
    because what rings into a bar that is added must end there.
    """
    performance = perform(version.arrangement, count_in=1)
    first_s = performance.markers[1].start_s  # after "Count-in"
    whole_s = 60 / version.arrangement.tempo / float(version.arrangement.beat)
    notes: list[Note] = next(t.notes for t in performance.tracks if t.name == name)
    bars = version.arrangement.bars
    turns: dict[tuple[int, str], int] = defaultdict(int)
    found = {}
    for bar in bars:
        place = bar.bar
        turns[place.chorus, place.section] += place.opens
        turn = turns[place.chorus, place.section]
        start_s, end_s = (
            first_s + float(t) * whole_s - 0.03 for t in (bar.span.start, bar.span.end)
        )
        found[place.chorus, f"{place.section}{turn}", place.section_bar] = sorted(
            (
                round((note.start_s - start_s) * 1000, 2),
                note.pitch,
                note.velocity,
                note.channel,
                note.bank,
            )
            for note in notes
            if start_s <= note.start_s < end_s
        )
    return found


def names(version: Version) -> list[str]:
    """The players of a version."""
    tracks = perform(version.arrangement, count_in=0).tracks
    return [track.name for track in tracks]


def contents(folder: Path) -> dict[str, bytes]:
    """Every file of a folder."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }
