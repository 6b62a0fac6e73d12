"""Bridges to libraries that people already use: their objects made of our values, ours of theirs.

Conventions: each library is imported when it is asked for, and what it gets is the file that we
write, read as it reads any other: so there is one writer for each format, and what a bridge brings
over is what the file says. The extra `accomp[bridges]` installs them all. Their types are told by
the methods that lead here.
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

# How music21 calls what has no title of its own.
_NO_TITLE = frozenset({"Music21", "Music21 Fragment", "Tune"})
_NO_COMPOSER = "Music21"


def to_mido(performance: Performance) -> Any:
    """The MIDI file of a performance as mido's object, its texts as UTF-8."""
    return _library("mido").MidiFile(file=io.BytesIO(performance.to_midi()), charset="utf-8")


def to_pretty_midi(performance: Performance) -> Any:
    """The MIDI file of a performance as pretty_midi's object."""
    library = _library("pretty_midi")
    return library.PrettyMIDI(io.BytesIO(performance.to_midi()))


def to_music21(score: Score) -> Any:
    """A score as music21 reads its MusicXML."""
    converter = _library("music21.converter")
    return converter.parse(score.to_musicxml().decode(), format="musicxml")


def tune_of_music21(stream: object) -> Tune:
    """A tune of the chord symbols of a music21 stream, by the lead sheet that music21 writes."""
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
        # Lines are those of a text that nobody has seen.
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
            raise  # it is there, and lacks something itself
        raise NotInstalledError(
            f"{library} is not installed, and is needed for this. Install it with "
            f"pip install 'accomp[bridges]'."
        ) from None
