"""Lead sheets from other programs (MusicXML, ABC) read into tune files.

Conventions: nothing is left out silently. A notice with its bar names each thing that a tune file
cannot express. An unreadable tune carries its problems, and the other tunes of the file are still
read. Names are file names without ending, no two alike.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

from accomp.errors import InputError, Problem
from accomp.files.kinds import BOOK_FILE
from accomp.files.plain import STDIN
from accomp.files.text import one_line
from accomp.files.toml import ENDING, LEADSHEET_ENDINGS, MELODY_ENDING
from accomp.intake.abc import read_abc
from accomp.intake.build import build_tune, lay_out
from accomp.intake.melody import MelodyError, MelodyMeasure, melody_measures, melody_musicxml
from accomp.intake.musicxml import read_musicxml
from accomp.intake.source import MOST_XML, parse_xml, read_bytes, read_text, read_xml
from accomp.intake.written import MOST_BARS_IN_ALL, WrittenTune, too_many
from accomp.time import Span
from accomp.tune.melody import MelodyNote
from accomp.tune.model import Tune
from accomp.tune.read import parse_tune
from accomp.tune.slug import unique_slugs
from accomp.tune.write import tune_toml

_LONGEST_TITLE = 200
_RESERVED = frozenset({Path(BOOK_FILE).stem})  # book.toml describes a band book and is no tune


@dataclass(frozen=True)
class ImportedTune:
    """One tune of a lead sheet.

    `name` is its file name without ending. `tune` is None when it could not be read; `problems`
    then say why. `melody` is the MusicXML to write as `melody_name` beside the tune file, None
    without notes. `notices` name what was not taken over, each with its bar.
    """

    title: str
    name: str
    tune: Tune | None
    melody: bytes | None = None
    notices: tuple[str, ...] = ()
    problems: tuple[Problem, ...] = ()

    @property
    def toml_name(self) -> str:
        """File name of the tune."""
        return f"{self.name}{ENDING}"

    @property
    def melody_name(self) -> str:
        """File name of the melody."""
        return f"{self.name}{MELODY_ENDING}"

    @property
    def toml(self) -> str:
        """The text of the tune file. Raises `InputError` for a tune that could not be read."""
        if self.tune is None:
            raise InputError(self.problems)
        return tune_toml(self.tune)


def read_leadsheet(path: Path) -> list[ImportedTune]:
    """The tunes of a lead sheet, in file order (one of MusicXML, one or more of ABC).

    Raises `InputError` when the file cannot be read or is no lead sheet, and when it holds a single
    tune that cannot be read. Of several tunes the bad ones carry their problems.
    """
    ending = path.suffix.lower()
    if ending not in LEADSHEET_ENDINGS and path != STDIN:
        read_bytes(path, MOST_XML)  # raises for a folder or a missing file
        ends = f"ends in {ending!r}" if ending else "has no ending"
        raise InputError(
            Problem(
                f"this is not a lead sheet by its name: it {ends}.",
                str(path),
                found=ending,
                expected=f"a name that ends in {', '.join(LEADSHEET_ENDINGS)}",
                hint="Lead sheets are read from MusicXML and ABC.",
            )
        )
    written = _written(path)
    for tune in written:
        tune.title = _title(tune.title) or _title(path.stem) or "Tune"
        tune.composer = _title(tune.composer)
    names = unique_slugs((tune.title for tune in written), _RESERVED)
    imported: list[ImportedTune] = []
    bars = 0
    for tune, name in zip(written, names, strict=True):
        imported.append(_imported(tune, name, path))
        bars += _played_bars(imported[-1].tune)
        if bars > MOST_BARS_IN_ALL:
            raise too_many(path, tune.line, f"{MOST_BARS_IN_ALL:,} bars in all its tunes, played")
    if len(imported) == 1 and imported[0].tune is None:
        raise InputError(imported[0].problems)
    return imported


def read_musicxml_data(data: bytes, called: str) -> ImportedTune:
    """The tune in the bytes of a MusicXML file. Problems name `called` as their file.

    Raises `InputError`, also for a tune that cannot be read.
    """
    path = Path(called)
    written = read_musicxml(parse_xml(data, path), path)
    written.title = _title(written.title) or "Tune"
    written.composer = _title(written.composer)
    (name,) = unique_slugs([written.title], _RESERVED)
    one = _imported(written, name, path)
    if one.tune is None:
        raise InputError(one.problems)
    return one


def read_melody(path: Path) -> tuple[MelodyNote, ...]:
    """The melody of a MusicXML or ABC file in the order played, repeats and endings followed.

    The file needs no chord symbols. Raises `InputError` when it cannot be read or has no notes.
    """
    written = _written(path)[0]
    played = lay_out(written)
    if played is None:
        raise InputError(replace(problem, file=str(path)) for problem in written.problems)
    try:
        measures = melody_measures(written, played)
    except MelodyError as error:
        raise InputError(Problem(f"{error}.", str(path), expected="a melody")) from None
    notes: list[MelodyNote] = []
    for measure in measures:
        for sound in measure.row:
            if sound.pitch is None:
                continue
            if sound.tied and notes and notes[-1].span.end == sound.start:
                notes[-1] = MelodyNote(Span(notes[-1].span.start, sound.end), notes[-1].pitch)
            else:
                notes.append(MelodyNote(Span(sound.start, sound.end), sound.pitch.midi))
    if not notes:
        raise InputError(Problem("there are no notes in it.", str(path), expected="a melody"))
    return tuple(notes)


def _written(path: Path) -> list[WrittenTune]:
    """The tunes of a file as written."""
    # Standard input has no file name that tells the format.
    if path.suffix.lower() == ".abc" or (path == STDIN and not _begins_as_musicxml(path)):
        return read_abc(read_text(path), path)
    return [read_musicxml(read_xml(path), path)]


def _begins_as_musicxml(path: Path) -> bool:
    begin = read_bytes(path, MOST_XML)[:100].lstrip(b"\xef\xbb\xbf \t\r\n")
    return begin.startswith((b"<", b"PK"))


def _imported(written: WrittenTune, name: str, path: Path) -> ImportedTune:
    built = build_tune(written)
    problems = tuple(replace(problem, file=str(path)) for problem in written.problems)
    measures: list[MelodyMeasure] = []
    if built is not None:
        try:
            measures = melody_measures(written, built.played)
        except MelodyError as error:
            written.say(f"{error}; it is not taken over")
    notices = tuple(f"{path}: {written.title!r}: {notice}" for notice in written.said)
    if built is None:
        return ImportedTune(written.title, name, None, None, notices, problems)
    result = ImportedTune(written.title, name, built.tune, notices=notices)
    if measures:
        melody = melody_musicxml(written.title, written.composer, measures)
        tune = replace(built.tune, melody=result.melody_name)
        result = replace(result, tune=tune, melody=melody)
    refused = _refused(result, written, path)
    return replace(result, tune=None, melody=None, problems=refused) if refused else result


def _played_bars(tune: Tune | None) -> int:
    return sum(len(tune.sections[name].bars) for name in tune.form) if tune else 0


def _refused(one: ImportedTune, written: WrittenTune, path: Path) -> tuple[Problem, ...]:
    """Problems that reading the tune file would find, with the lead sheet as their file."""
    try:
        parse_tune(one.toml, one.toml_name)
    except InputError as error:
        return tuple(
            replace(
                problem,
                message=f"{written.title!r}: its tune file would be refused: {problem.message}",
                file=str(path),
                line=written.line,
                column=0,
            )
            for problem in error.problems
        )
    return ()


def _title(text: str) -> str:
    """A text on one line, without unprintable characters, cut to the longest title."""
    line = " ".join(one_line(text).split())
    return line[:_LONGEST_TITLE].strip()


def all_problems(tunes: Iterable[ImportedTune]) -> tuple[Problem, ...]:
    """All problems of several tunes, in order."""
    return tuple(problem for tune in tunes for problem in tune.problems)
