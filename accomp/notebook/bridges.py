"""Bridges to mido, pretty_midi and music21: their objects from our values, and ours from theirs.

Conventions: a library is imported when it is used, and reads the bytes of the file that we write.
So each format has one writer, and the object has everything that the file has. The extra
`accomp[bridges]` installs all three. The methods that call these functions state the types.
"""

from __future__ import annotations

import importlib
import io
from dataclasses import replace
from typing import Any

from accomp.errors import InputError, NotInstalledError, Problem, needed
from accomp.score.performance import Performance
from accomp.score.written import Score
from accomp.tune import Tune

# Titles that music21 writes for a stream without a title.
_NO_TITLE = frozenset({"Music21", "Music21 Fragment", "Tune"})
_NO_COMPOSER = "Music21"


def to_mido(performance: Performance) -> Any:
    """The MIDI file of a performance as a `mido.MidiFile`, its texts as UTF-8."""
    return _library("mido").MidiFile(file=io.BytesIO(performance.to_midi()), charset="utf-8")


def to_pretty_midi(performance: Performance) -> Any:
    """The MIDI file of a performance as a `pretty_midi.PrettyMIDI`."""
    library = _library("pretty_midi")
    return library.PrettyMIDI(io.BytesIO(performance.to_midi()))


def to_music21(score: Score) -> Any:
    """A score as a music21 stream, read from its MusicXML."""
    converter = _library("music21.converter")
    return converter.parse(score.to_musicxml().decode(), format="musicxml")


def tune_of_music21(stream: object) -> Tune:
    """The tune of a music21 stream with chord symbols, read from the MusicXML that music21 writes.

    Raises `InputError`.
    """
    library = _library("music21")
    exporter = _library("music21.musicxml.m21ToXml")
    if not isinstance(stream, library.stream.Stream):
        hint = (
            "Read a file with music21.converter.parse, or a lead sheet with "
            "accomp.intake.read_leadsheet."
        )
        expected = "a score or a part with chord symbols"
        raise needed("a music21 stream is", stream, hint, expected)
    try:
        data = exporter.GeneralObjectExporter(stream).parse()
    except library.exceptions21.Music21Exception as error:
        message = f"music21 cannot write this stream as a lead sheet: {error}."
        raise InputError(
            Problem(message, hint="Put it into measures with makeMeasures().")
        ) from None
    from accomp.intake import read_musicxml_data  # late: lxml

    try:
        read = read_musicxml_data(data, "the stream")
    except InputError as error:
        # The line numbers are of a text that the user never sees.
        raise InputError(replace(one, line=0, column=0) for one in error.problems) from None
    assert read.tune is not None
    notices = list(read.notices)
    if read.melody is not None:
        notices.append("The melody is not taken over: a tune names a file for it.")
    title = "Untitled" if read.title in _NO_TITLE else read.title
    composer = "" if read.tune.composer == _NO_COMPOSER else read.tune.composer
    return replace(read.tune, title=title, composer=composer, melody=None, notices=tuple(notices))


def _library(name: str) -> Any:
    """A library, or a module of one. Raises `NotInstalledError`."""
    try:
        return importlib.import_module(name)
    except ModuleNotFoundError as error:
        library = name.partition(".")[0]
        if error.name is None or error.name.partition(".")[0] != library:
            raise  # the library is there, but a module that it needs is not
        raise NotInstalledError(
            f"{library} is not installed, and is needed for this. Install it with "
            f"pip install 'accomp[bridges]'."
        ) from None
