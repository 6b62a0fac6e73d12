"""A style file made into a `Style`; every problem is collected with its place.

Conventions: see `accomp.rhythm.rows` for the count and the rows under it. A problem's place is the
word that is wrong.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import replace
from fractions import Fraction
from typing import Any

from accomp.errors import InputError, Problem
from accomp.files.toml import Document, nearest, unknown_keys
from accomp.rhythm.bass import ROLES
from accomp.rhythm.force import FORCES
from accomp.rhythm.general_midi import percussion_words, program_words
from accomp.rhythm.pattern import Pattern
from accomp.rhythm.rows import NOTHING, Count, RowError, Word, read_count, under
from accomp.rhythm.stroke import SOUNDS, Stroke
from accomp.rhythm.strum import CHOICES, is_choice
from accomp.rhythm.style import BandNote, BandPattern, Style
from accomp.time import METERS, Meter, Span

TomlPath = tuple[str | int, ...]

LEAST_TEMPO, MOST_TEMPO = 20.0, 400.0
MOST_COUNTS = 256

# word in the stroke row: direction, manner, value of a measured tremolo
STROKE_WORDS: dict[str, tuple[str, str, Fraction | None]] = {
    "down": ("down", "stroke", None),
    "up": ("up", "stroke", None),
    "split": ("down", "split", None),
    "triplet": ("down", "triplet", None),
    "roll": ("down", "roll", None),
    "roll-up": ("up", "roll", None),
    "tremolo": ("down", "tremolo", None),
    "tremolo8": ("down", "tremolo", Fraction(1, 8)),
    "tremolo12": ("down", "tremolo", Fraction(1, 12)),
    "tremolo16": ("down", "tremolo", Fraction(1, 16)),
    "tremolo32": ("down", "tremolo", Fraction(1, 32)),
    "rest": ("down", "rest", None),
}
DRUM_WORDS = {"x": "plain", "X": "accent", **{force: force for force in FORCES}}
LENGTHS = ("long", "short")


class StyleReader:
    """Reads one document; `style()` raises `InputError` when anything in it is wrong."""

    def __init__(self, document: Document, name: str) -> None:
        self.document = document
        self.name = name
        self.problems: list[Problem] = []

    def style(self) -> Style:
        """The style. Raises `InputError` with every problem, in file order."""
        known = ("title", "meter", "tempo", "swing", "mood", "right_hand", "strum", "bass", "drums")
        self.problems += unknown_keys(self.document, (), known)
        title = self.text("title") or self.name
        meter = self.meter()
        tempo = self.tempo()
        swing, by_tempo = self.swing()
        mood = self.text("mood", needed=False)
        right_hand = self.text("right_hand", needed=False)
        strum = bass = drums = None
        spread = taper = 1.0
        if meter is not None:
            table = self.table(("strum",), needed=True)
            if table is not None:
                strum = self.strum(("strum",), meter)
                spread = self.number(("strum", "spread"), 0.0, 8.0, 1.0)
                taper = self.number(("strum", "taper"), 0.0, 8.0, 1.0)
            if self.table(("bass",)) is not None:
                bass = self.bass(("bass",), meter)
            if self.table(("drums",)) is not None:
                drums = self.drums(("drums",), meter)
        if self.problems or meter is None or strum is None:
            raise InputError(sorted(self.problems, key=lambda found: (found.line, found.column)))
        return Style(
            name=self.name,
            title=title,
            meter=meter,
            tempo=tempo,
            strum=strum,
            bass=bass,
            drums=drums,
            swing=swing,
            swing_by_tempo=by_tempo,
            mood=mood,
            right_hand=right_hand,
            file=self.document.file,
            spread=spread,
            taper=taper,
        )

    # Plain values

    def value(self, path: TomlPath) -> Any:
        """What stands at a path, None where nothing does."""
        found: Any = self.document.data
        for part in path:
            if not isinstance(found, dict) or part not in found:
                return None
            found = found[part]
        return found

    def wrong(self, message: str, *path: str | int, **more: Any) -> None:
        """Note a problem."""
        self.problems.append(self.document.problem(message, *path, **more))

    def table(self, path: TomlPath, *, needed: bool = False) -> dict[str, Any] | None:
        """The table at a path, None (and a problem where it is needed) when it is not one."""
        found = self.value(path)
        if isinstance(found, dict):
            return found
        name = ".".join(str(part) for part in path)
        if found is not None:
            self.wrong(f"[{name}] is a table of rows.", *path, expected=f"[{name}]")
        elif needed:
            self.wrong(
                f"[{name}] is missing.",
                expected=f"[{name}]",
                hint='It needs at least a count: count = "1 2 3 4".',
            )
        return None

    def text(self, *path: str | int, needed: bool = True) -> str:
        """A text of one line, empty (and a problem where it is needed) when there is none."""
        found = self.value(path)
        if found is None:
            if needed:
                self.wrong(f"{path[-1]!r} is missing.", *path, expected=f'{path[-1]} = "..."')
            return ""
        if not isinstance(found, str) or not found.strip():
            self.wrong(f"{path[-1]!r} is a text in quotes.", *path, found=str(found)[:40])
            return ""
        return " ".join(found.split())

    def number(self, path: TomlPath, least: float, most: float, default: float) -> float:
        """A number from `least` to `most`."""
        found = self.value(path)
        if found is None:
            return default
        if (
            isinstance(found, bool)
            or not isinstance(found, (int, float))
            or not least <= found <= most
        ):
            self.wrong(
                f"{path[-1]} = {found!r} cannot be used.",
                *path,
                found=str(found)[:40],
                expected=f"a number from {least:g} to {most:g}",
                hint=f"It is a number from {least:g} to {most:g}.",
            )
            return default
        return float(found)

    def meter(self) -> Meter | None:
        """The meter."""
        text = self.text("meter")
        if not text:
            return None
        if text not in METERS:
            self.wrong(
                f"{text!r} is not a meter known here.",
                "meter",
                found=text,
                expected=", ".join(METERS),
                hint=f"Known are {', '.join(METERS)}.",
            )
            return None
        return Meter.parse(text)

    def tempo(self) -> tuple[float, float]:
        """The range of tempo, beats a minute."""
        found = self.value(("tempo",))
        expected = f"two numbers from {LEAST_TEMPO:g} to {MOST_TEMPO:g}: tempo = [100, 240]"
        if found is None:
            self.wrong("'tempo' is missing.", expected=expected, hint="Write tempo = [100, 240].")
            return LEAST_TEMPO, MOST_TEMPO
        if not isinstance(found, list) or len(found) != 2:
            self.wrong(
                "'tempo' is the slowest and the fastest tempo of the style.",
                "tempo",
                found=str(found)[:40],
                expected=expected,
                hint="Write tempo = [100, 240].",
            )
            return LEAST_TEMPO, MOST_TEMPO
        for index, tempo in enumerate(found):
            sound = isinstance(tempo, (int, float)) and not isinstance(tempo, bool)
            if not sound or not math.isfinite(tempo) or not LEAST_TEMPO <= tempo <= MOST_TEMPO:
                self.wrong(
                    f"a tempo of {tempo} cannot be played.",
                    "tempo",
                    index,
                    found=str(tempo)[:40],
                    expected=expected,
                    hint=f"Take beats a minute, from {LEAST_TEMPO:g} to {MOST_TEMPO:g}.",
                )
                return LEAST_TEMPO, MOST_TEMPO
        if found[0] > found[1]:
            self.wrong(
                f"the slowest tempo {found[0]} is above the fastest {found[1]}.",
                "tempo",
                found=str(found),
                expected=expected,
                hint=f"Write tempo = [{found[1]}, {found[0]}].",
            )
            return LEAST_TEMPO, MOST_TEMPO
        return float(found[0]), float(found[1])

    def swing(self) -> tuple[float, bool]:
        """The swing ratio, and whether it is taken from the tempo instead."""
        found = self.value(("swing",))
        if isinstance(found, str):
            if found == "by tempo":
                return 1.0, True
            self.wrong(
                f"swing = {found!r} is not known.",
                "swing",
                found=found[:40],
                expected='"by tempo" or a number from 1 to 4',
                hint='Write swing = "by tempo", or a ratio as swing = 2.0.',
            )
            return 1.0, False
        return self.number(("swing",), 1.0, 4.0, 1.0), False

    # Rows under a count

    def count(self, path: TomlPath, meter: Meter) -> Count | None:
        """The count of the table at a path, None (and a problem) when it cannot be read."""
        text = self.value((*path, "count"))
        if not isinstance(text, str):
            name = ".".join(str(part) for part in path)
            self.wrong(
                f"[{name}] needs a count.",
                *path,
                *(("count",) if text is not None else ()),
                key=text is None,
                found="" if text is None else str(text)[:40],
                expected='count = "1 2 3 4"',
                hint='Write what a player says: count = "1 & 2 &".',
            )
            return None
        length = self.value((*path, "length"))
        counts = None
        if length is not None:
            number = isinstance(length, (int, float)) and not isinstance(length, bool)
            if not number or not 0 < length <= MOST_COUNTS:
                self.wrong(
                    f"a pattern of {length} counts cannot be played.",
                    *path,
                    "length",
                    found=str(length)[:40],
                    expected=f"a number of counts above 0, at most {MOST_COUNTS}",
                    hint="Leave `length` out: the pattern is then as long as the bars written.",
                )
                return None
            counts = Fraction(str(length))
        try:
            return read_count(text, meter, counts)
        except RowError as error:
            self.row_problem(error, *path, "count")
            return None

    def row_problem(self, error: RowError, *path: str | int) -> None:
        """Note a problem inside a row."""
        self.wrong(
            error.message,
            *path,
            offset=error.offset,
            found=error.found,
            expected=error.expected,
            hint=error.hint,
        )

    def row(
        self,
        path: TomlPath,
        count: Count,
        default: str,
        known: Callable[[str], bool],
        words: Iterable[str],
    ) -> list[str]:
        """The words of one row; unknown ones are noted, and the default stands for them."""
        text = self.value(path)
        if text is None:
            return [default] * len(count.row)
        if not isinstance(text, str):
            self.wrong(f"{path[-1]!r} is a row of words in quotes.", *path, found=str(text)[:40])
            return [default] * len(count.row)
        try:
            found = under(text, count)
        except RowError as error:
            self.row_problem(error, *path)
            return [default] * len(count.row)
        bad: set[Word] = {word for word in found if word.text != NOTHING and not known(word.text)}
        listed = tuple(words)
        for word in sorted(bad, key=lambda word: word.offset):
            close = nearest(word.text, listed)
            self.wrong(
                f"{word.text!r} is not a word of the row {path[-1]!r}.",
                *path,
                offset=word.offset,
                found=word.text,
                expected=", ".join(listed) or "a known word",
                hint=f"Did you mean {close!r}?" if close else f"Known are: {', '.join(listed)}.",
            )
        return [default if word in bad else word.text for word in found]

    def strum(self, path: TomlPath, meter: Meter) -> Pattern | None:
        """A pattern of strokes."""
        keys = ("count", "length", "stroke", "strings", "force", "sound", "spread", "taper")
        self.problems += unknown_keys(self.document, path, keys)
        count = self.count(path, meter)
        if count is None:
            return None
        strokes = self.row(
            (*path, "stroke"), count, "down", STROKE_WORDS.__contains__, STROKE_WORDS
        )
        strings = self.row((*path, "strings"), count, "all", is_choice, CHOICES)
        forces = self.row((*path, "force"), count, "plain", FORCES.__contains__, FORCES)
        sounds = self.row((*path, "sound"), count, "ring", SOUNDS.__contains__, SOUNDS)
        struck = [index for index, word in enumerate(strokes) if word != NOTHING]
        made = []
        for place, index in enumerate(struck):
            start = count.places[index]
            last = place + 1 == len(struck)
            end = count.length if last else count.places[struck[place + 1]]
            direction, manner, value = STROKE_WORDS[strokes[index]]
            made.append(
                Stroke(
                    span=Span(start, end),
                    direction=direction,
                    strings=_or(strings[index], "all"),
                    force=_or(forces[index], "plain"),
                    sound=_or(sounds[index], "ring"),
                    manner=manner,
                    value=value,
                )
            )
        return Pattern(count.length, tuple(made))

    def bass(self, path: TomlPath, meter: Meter) -> BandPattern | None:
        """The bass's pattern."""
        keys = ("count", "length", "note", "force", "sound", "player", "first")
        self.problems += unknown_keys(self.document, path, keys)
        count = self.count(path, meter)
        if count is None:
            return None
        notes = self.row((*path, "note"), count, "root", ROLES.__contains__, ROLES)
        first = self.value((*path, "first"))
        if first not in (None, "root", "as written"):
            self.wrong(
                f"first = {first!r} is not known.",
                *path,
                "first",
                found=str(first)[:40],
                expected='"root" or "as written"',
                hint='Write first = "as written" when a chord need not begin on its root.',
            )
        pattern = self.band(path, count, notes, self.player(path, "acoustic-bass"))
        return replace(pattern, free=first == "as written")

    def band(self, path: TomlPath, count: Count, notes: list[str], player: str) -> BandPattern:
        """A pitched player's pattern, from the words of its note row."""
        forces = self.row((*path, "force"), count, "plain", FORCES.__contains__, FORCES)
        sounds = self.row((*path, "sound"), count, "long", LENGTHS.__contains__, LENGTHS)
        return BandPattern(
            count.length,
            tuple(
                BandNote(start, note, _or(force, "plain"), _or(sound, "long"))
                for start, note, force, sound in zip(
                    count.places, notes, forces, sounds, strict=True
                )
                if note != NOTHING
            ),
            player,
        )

    def player(self, path: TomlPath, default: str) -> str:
        """The General MIDI word of a player's sound."""
        text = self.value((*path, "player"))
        if text is None:
            return default
        words = program_words()
        if isinstance(text, str) and text in words:
            return text
        close = nearest(str(text), words)
        self.wrong(
            f"{text!r} is not a General MIDI sound.",
            *path,
            "player",
            found=str(text)[:40],
            expected="a General MIDI sound as 'acoustic-bass', 'tuba', 'piano'",
            hint=f"Did you mean {close!r}?" if close else "",
        )
        return default

    def drums(self, path: TomlPath, meter: Meter) -> BandPattern | None:
        """The drummer's pattern: one row a sound."""
        words = percussion_words()
        self.problems += unknown_keys(self.document, path, ("count", "length", *words))
        count = self.count(path, meter)
        if count is None:
            return None
        notes = []
        for sound in self.value(path):
            if sound not in words:
                continue
            row = self.row((*path, sound), count, NOTHING, DRUM_WORDS.__contains__, DRUM_WORDS)
            for start, word in zip(count.places, row, strict=True):
                if word != NOTHING:
                    notes.append(BandNote(start, sound, DRUM_WORDS[word]))
        notes.sort(key=lambda note: note.start)
        return BandPattern(count.length, tuple(notes))


def _or(word: str, default: str) -> str:
    return default if word == NOTHING else word
