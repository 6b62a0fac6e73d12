"""The music of an ABC tune, symbol by symbol, as bars.

Conventions: ABC 2.1. Accidentals last to the bar line in all octaves. Text in quotes that begins
with ^ _ < > or @ is a remark, any other text in quotes a chord symbol. Lengths are fractions of a
whole note; a length after a note multiplies the unit: "3/2" is one and a half units, "/" half a
unit and "//" a quarter of it.
"""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from typing import cast

from accomp.harmony import Pitch, Spelling
from accomp.harmony.pitch import Letter
from accomp.intake.abc_bars import Bars
from accomp.intake.abc_fields import FINEST_NOTE, abc_symbol, read_key, read_meter, read_unit
from accomp.intake.numbers import WrongNumberError, read_whole, time_in_bar
from accomp.intake.signs import bar_length
from accomp.intake.written import SourceNote, WrittenTune, add_chord
from accomp.time import MOST_BARS

_LONGEST_NOTE = 9999  # in units


_LENGTH = r"([0-9]*)(/*)([0-9]*)"
_LENGTH_PARTS = re.compile(_LENGTH)
SYMBOLS = re.compile(
    "|".join(
        (
            r"\[(?P<field>[A-Za-z]):(?P<value>[^\]\[]*)\]",
            r'"(?P<text>[^"]*)"',
            r"!(?P<sign>[^!|]*)!",
            r"(?P<grace>\{[^}{]*\})",
            r"(?P<bar>\[\|[|:\]]*|[|:]+\]?[|:]*)(?P<after>[0-9][0-9,-]*)?",
            r"\[(?P<ending>[0-9][0-9,-]*)",
            r"\((?P<tuplet>[0-9])(?::(?P<q>[0-9]?)(?::(?P<r>[0-9]?))?)?",
            rf"\[(?P<chord>[^\]\[|]*)\](?P<chord_length>{_LENGTH})",
            rf"(?P<note>[_^=]{{0,2}}[A-Ga-g][,']*)(?P<note_length>{_LENGTH})",
            rf"(?P<rest>[zx])(?P<rest_length>{_LENGTH})",
            r"(?P<rest_bars>[ZX])(?P<count>[0-9]*)",
            r"(?P<broken>[<>]{1,3})",
            r"(?P<tie>-)",
            r"(?P<overlay>&)",
            r"(?P<letter>[OS])",
            r"(?:y[0-9]*|\s|[H-NP-RT-WYh-w~.)])++",
            r"(?P<other>.)",
        )
    ),
    re.DOTALL,
)
NOTE = re.compile(rf"([_^=]{{0,2}})([A-Ga-g])([,']*)({_LENGTH})")
_ALTERS = {"^": 1, "^^": 2, "_": -1, "__": -2, "=": 0, "==": 0}
_TIMES = {2: 3, 3: 2, 4: 3, 6: 2, 8: 3}
_COMPOUND = ("3/8", "6/8", "9/8", "12/8", "6/4")


class MusicReader:
    """Reads lines of music; `finish` gives the bars to the tune."""

    def __init__(self, tune: WrittenTune, meter: str, unit: Fraction, key: str) -> None:
        self.unit = unit
        self.bars = Bars(tune, meter)
        self.pitches = Pitches()
        self.tuplet: tuple[Fraction, int] = (Fraction(1), 0)  # factor, notes left
        self.next_factor = Fraction(1)  # by which > or < multiplies the next note
        self.last = Fraction(0)  # length of the note or rest before, 0 after a bar line
        self.last_was_note = False
        self.tied: int | None = None  # MIDI number of a note with a tie after it
        self.overlay = False  # after `&`, up to the bar line
        self.set_key(key)

    def set_key(self, text: str) -> None:
        """Take a `K:` field, in the header or later."""
        found = read_key(text)
        if found.notice:
            self.bars.say(found.notice)
        self.bars.key = found.key
        self.pitches.sign(found.fifths)

    def field(self, name: str, value: str) -> None:
        """Take a field between or within lines of music."""
        match name:
            case "K":
                self.set_key(value)
            case "M":
                self.bars.meter = read_meter(value)
            case "L":
                self.unit = read_unit(value) or self.unit
            case "P":
                self.bars.open.sees(mark=" ".join(value.split()))
                self.bars.endings = frozenset()
            case "Q":
                self.bars.say("a change of tempo is not taken over")
            case "w" | "W":
                self.bars.leave_out("lyrics")

    def line(self, text: str, line: int) -> None:
        """Take one line of music. Raises `WrongNumberError`."""
        for match in SYMBOLS.finditer(text):
            if self.full:
                return
            if not self.bars.open.line:
                self.bars.open.line = line
            try:
                self._symbol(match)
            except WrongNumberError as error:
                error.offset = match.start()
                raise

    @property
    def full(self) -> bool:
        """Whether there are more bars than a tune may have: it is then refused."""
        return len(self.bars.done) > MOST_BARS

    def _symbol(self, match: re.Match[str]) -> None:
        if match["field"]:
            self.field(match["field"], match["value"])
        elif match["text"] is not None:
            self._text(match["text"])
        elif match["sign"] is not None:
            self.bars.sign(match["sign"])
        elif match["grace"]:
            self.bars.leave_out("grace notes")
        elif match["bar"]:
            self.bars.bar_line(match["bar"])
            if match["after"]:
                self.bars.ending(match["after"])
            self._bar_ended()
        elif match["ending"]:
            self.bars.ending(match["ending"])
            self._bar_ended()
        elif match["tuplet"]:
            self.tuplet = tuplet_of(match, self.bars.meter)
        elif match["chord"] is not None:
            self._chord(match["chord"], match["chord_length"])
        elif match["note"]:
            note = NOTE.match(match[0])
            self._sound(
                note_length(match["note_length"], self.unit),
                self.pitches.pitch(note) if note else None,
            )
        elif match["rest"]:
            self._sound(note_length(match["rest_length"], self.unit), None)
        elif match["rest_bars"]:
            self._rest_bars(match["count"])
        elif match["broken"]:
            self._broken(match["broken"])
        elif match["tie"]:
            self.tied = self.bars.open.notes[-1].pitch.midi if self.bars.open.notes else self.tied
        elif match["overlay"]:
            self.bars.leave_out("a second voice in the same bar")
            self.overlay = True
        elif match["letter"]:
            self.bars.sign({"O": "coda", "S": "segno"}[match["letter"]])
        elif match["other"]:
            _check_digits(match["other"])

    def finish(self) -> None:
        """Close the last bar and add all bars to the tune."""
        self.bars.finish()

    def _bar_ended(self) -> None:
        self.pitches.bar_line()
        self.overlay = False
        self.last = Fraction(0)

    def _text(self, text: str) -> None:
        words = text.strip()
        if not words:
            return
        remark = words[0] in "^_<>@"
        words = words.lstrip("^_<>@").strip() if remark else words
        if self.bars.jump_words(words):
            return
        symbol, said = abc_symbol(words)
        if symbol == "":
            self.bars.tune.lose(words)
        if remark and symbol is not None:
            self.bars.leave_out("remarks")
            return
        if said:
            self.bars.say(said)
        if symbol != "":
            add_chord(self.bars.open.chords, self.bars.open.onset, symbol, self.bars.say)

    def _chord(self, inside: str, length: str) -> None:
        """Take notes that sound together; the highest counts as the melody."""
        pitches = []
        first = None
        for text in re.findall(r'"([^"]*)"', inside):
            self._text(text)
        inside = re.sub(r'"[^"]*"', "", inside)
        _check_digits(inside)
        for match in NOTE.finditer(inside):
            pitch = self.pitches.pitch(match)
            if first is None:
                first = note_length(match[4], self.unit)
            if pitch is not None:
                pitches.append(pitch)
        if first is None:
            return
        if len(pitches) > 1:
            self.bars.leave_out("the lower notes of chords in the melody")
        top = max(pitches, key=lambda pitch: pitch.midi, default=None)
        self._sound(first * note_length(length, Fraction(1)), top)

    def _sound(self, length: Fraction, pitch: Pitch | None) -> None:
        """Take a note or rest; tuplets and broken rhythm still change its `length`."""
        if self.overlay:
            return
        factor, left = self.tuplet
        if left:
            self.tuplet = (factor, left - 1)
            length *= factor
        plain = length
        length *= self.next_factor
        self.next_factor = Fraction(1)
        time_in_bar(self.bars.open.onset + length)
        if pitch is not None and length > 0:
            tied = self.tied == pitch.midi
            self.bars.open.notes.append(SourceNote(self.bars.open.onset, length, pitch, tied))
        self.tied = None
        self.bars.open.onset += length
        self.last, self.last_was_note = plain, pitch is not None and length > 0

    def _broken(self, marks: str) -> None:
        """Take `a>b`: the first note is a half longer, the second a half shorter; `>>`: 3/4."""
        share = Fraction(1, 2 ** len(marks))
        first, second = (2 - share, share) if marks[0] == ">" else (share, 2 - share)
        change = self.last * (first - 1)
        notes = self.bars.open.notes
        if not self.last or (self.last_was_note and notes[-1].length + change <= 0):
            return
        if self.last_was_note:
            notes[-1] = replace(notes[-1], length=notes[-1].length + change)
        self.bars.open.onset += change
        self.next_factor = second
        self.last = Fraction(0)

    def _rest_bars(self, count: str) -> None:
        number = read_whole(count or "1", "how many bars a rest lasts", 0, MOST_BARS)
        for at in range(number):
            self.bars.open.onset += bar_length(self.bars.meter)
            if at + 1 < number:
                self.bars.close()
        self._bar_ended()


def note_length(text: str, unit: Fraction) -> Fraction:
    """The unit multiplied by the length text after a note. Raises `WrongNumberError`."""
    match = _LENGTH_PARTS.fullmatch(text)
    if match is None:
        return unit
    upper = read_whole(match[1] or "1", "a note length", 1, _LONGEST_NOTE)
    if not match[2]:
        return unit * upper
    slashes = len(match[2])
    halved = str(2**slashes) if slashes < FINEST_NOTE else text  # each slash halves
    lower = read_whole(match[3] or halved, "what a note length is divided by", 1, FINEST_NOTE)
    return unit * Fraction(upper, lower)


def _check_digits(text: str) -> None:
    """Refuse superscripts and digits of other scripts, which only look like numbers."""
    odd = next((sign for sign in text if sign.isdigit() and not sign.isascii()), None)
    if odd is not None:
        read_whole(odd, "a number in the music", 0, _LONGEST_NOTE)


def tuplet_of(match: re.Match[str], meter: str) -> tuple[Fraction, int]:
    """The factor by which a tuplet sign multiplies lengths, and for how many notes."""
    count = int(match["tuplet"])
    usual = _TIMES.get(count, 3 if meter in _COMPOUND else 2)
    time_of = int(match["q"] or 0) or usual
    return Fraction(time_of, count or 1), int(match["r"] or 0) or count


class Pitches:
    """Pitches by the key signature and the accidentals since the bar line.

    An accidental counts in all octaves (ABC 2.1, propagate-accidentals).
    """

    def __init__(self) -> None:
        self.signature: dict[str, int] = {}
        self.accidentals: dict[str, int] = {}

    def sign(self, fifths: int) -> None:
        """Set the key signature."""
        sharps, flats = "FCGDAEB"[: max(0, fifths)], "BEADGCF"[: max(0, -fifths)]
        self.signature = dict.fromkeys(sharps, 1) | dict.fromkeys(flats, -1)

    def bar_line(self) -> None:
        """Forget the accidentals."""
        self.accidentals = {}

    def pitch(self, note: re.Match[str]) -> Pitch | None:
        """The pitch of a match of `NOTE`, None outside of MIDI's range."""
        step = note[2].upper()
        octave = (5 if note[2].islower() else 4) + note[3].count("'") - note[3].count(",")
        if note[1] in _ALTERS:
            self.accidentals[step] = _ALTERS[note[1]]
        alter = self.accidentals.get(step, self.signature.get(step, 0))
        pitch = Pitch(Spelling(cast(Letter, step), alter), octave)
        return pitch if 0 <= pitch.midi <= 127 else None
