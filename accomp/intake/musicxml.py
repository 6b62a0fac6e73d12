"""MusicXML lead sheets read into bars as written.

Conventions: the part with the most chord symbols is the lead sheet. Key and chord symbols of a
transposing part are moved to concert pitch. The file is read directly, because a general reader
keeps no line numbers for errors and not every sign of the road map, and fails on a harmony without
a root.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

from lxml import etree

from accomp.harmony import Interval, Key, Spelling
from accomp.intake.musicxml_measure import MeasureContent, MeasureReader, Signs, read_signs
from accomp.intake.numbers import read_whole
from accomp.intake.signs import MODE_FIFTHS, bar_length, key_of_signature, mode_of
from accomp.intake.source import line_of
from accomp.intake.written import WrittenBar, WrittenTune
from accomp.time import MOST_BARS

SOFTWARE = "accomp"  # the <software> of our own files
_LONGEST_NAME = 60  # characters of a part's name in a notice


def read_musicxml(root: etree._Element, path: Path) -> WrittenTune:
    """The tune in a MusicXML document that `read_xml` gave."""
    tune = WrittenTune(_title(root, path), _composer(root), line=line_of(root))
    made_by = root.findall("identification/encoding/software")
    tune.ours = any((one.text or "").strip() == SOFTWARE for one in made_by)
    parts = _parts(root)
    if not parts:
        return tune
    names = {
        element.get("id"): (element.findtext("part-name") or "").strip()
        for element in root.iter("score-part")
    }
    counts = {name: sum(len(m.findall("harmony")) for m in parts[name]) for name in parts}
    chosen = max(parts, key=lambda name: counts[name])
    for name in parts:
        if name != chosen:
            what = "with its chord symbols is" if counts[name] else "is"
            shown = " ".join((names.get(name) or name).split())[:_LONGEST_NAME]
            tune.say(f"the part {shown!r} {what} not taken over")
    _PartReader(tune).read(parts[chosen])
    return tune


def _title(root: etree._Element, path: Path) -> str:
    for tag in ("movement-title", "work/work-title"):
        text = " ".join((root.findtext(tag) or "").split())
        if text:
            return text
    for credit in root.findall("credit"):
        if (credit.findtext("credit-type") or "").strip() == "title":
            text = " ".join((credit.findtext("credit-words") or "").split())
            if text:
                return text
    return path.stem


def _composer(root: etree._Element) -> str:
    creators = root.findall("identification/creator")
    for kind in ("composer", "music", None):
        for creator in creators:
            if creator.get("type") == kind and (creator.text or "").strip():
                return " ".join((creator.text or "").split())
    return ""


def _parts(root: etree._Element) -> dict[str, list[etree._Element]]:
    """Measures by part id, of a partwise or timewise file."""
    parts: dict[str, list[etree._Element]] = defaultdict(list)
    if root.tag == "score-partwise":
        for part in root.findall("part"):
            parts[str(part.get("id"))] += part.findall("measure")
    else:
        for measure in root.findall("measure"):
            for part in measure.findall("part"):
                inside = etree.Element("measure", dict(measure.attrib))
                inside.extend(list(part))
                parts[str(part.get("id"))].append(inside)
    return {name: measures for name, measures in parts.items() if measures}


class _PartReader:
    """Reads the measures of a part in order; keeps what lasts beyond one measure."""

    def __init__(self, tune: WrittenTune) -> None:
        self.tune = tune
        self.number = ""
        self.reader = MeasureReader(
            lambda text: tune.notice(self.number, text), tune.lose, ours=tune.ours
        )
        self.meter = ""
        self.key: Key | None = None
        self.endings: frozenset[int] = frozenset()
        self.beside = ""  # while reading a vamp or tag that is not part of the tune: its name

    def read(self, measures: list[etree._Element]) -> None:
        """Add a bar for each measure, and the notices."""
        for index, measure in enumerate(measures):
            self.number = " ".join((measure.get("number") or str(index + 1)).split())[:10]
            with self.tune.reading(line_of(measure)):
                self._measure(measure, index)
            if self.tune.hopeless or len(self.tune.bars) > MOST_BARS:
                return  # refused whatever follows
        self._find_codas()
        if self.key is None:
            self.tune.say("no key is given; C is taken")
        if self.reader.transposition.semitones % 12:
            self.tune.say("a transposing part: chords and melody are at concert pitch")

    def _measure(self, measure: etree._Element, index: int) -> None:
        self._attributes(measure)
        signs = read_signs(measure)
        content = self.reader.read(measure)
        if self.tune.ours and signs.road.mark:
            self.beside = signs.road.mark if signs.unboxed else ""
        if self.beside:
            self.tune.say(
                f"{self.beside!r} is what the band adds to the tune; it is not taken over"
            )
            if self.tune.tempo is None:  # a vamp at the beginning has the tempo mark
                self._tempo(signs, 0)
            return
        self.tune.bars.append(self._bar(measure, signs, content))
        self._tempo(signs, index)
        for what in content.left_out:
            self.tune.leave_out(self.number, what)

    def _bar(self, measure: etree._Element, signs: Signs, content: MeasureContent) -> WrittenBar:
        if signs.ending is not None:
            self.endings = signs.ending
        endings = self.endings
        if signs.ending_stops:
            self.endings = frozenset()
        length = content.length or bar_length(self.meter)
        return WrittenBar(
            number=self.number,
            length=length,
            meter=self.meter,
            key=self.key or Key(Spelling("C")),
            chords=tuple(
                replace(chord, onset=min(chord.onset, max(length - Fraction(1, 64), Fraction(0))))
                for chord in content.chords
            ),
            notes=tuple(content.notes),
            line=line_of(measure),
            endings=endings,
            signs=signs.road if self.tune.ours else replace(signs.road, chorus=0),
        )

    def _attributes(self, measure: etree._Element) -> None:
        for attributes in measure.findall("attributes"):
            self.reader.attributes(attributes)
            time = attributes.find("time")
            if time is not None:
                self.meter = _meter(time)
            key = attributes.find("key")
            if key is not None:
                self._key(key)

    def _key(self, element: etree._Element) -> None:
        text = (element.findtext("fifths") or "").strip()
        line = line_of(element)
        fifths = read_whole(text, "the fifths of <key>", -99, 99, line=line) if text else None
        mode = mode_of(element.findtext("mode") or "")
        key = None if fifths is None else key_of_signature(fifths, mode)
        if key is None:
            self.tune.notice(self.number, "its key signature is of no major or minor key; left out")
            return
        if mode in MODE_FIFTHS:
            self.tune.notice(self.number, f"its mode is {mode}; the key is taken as {key}")
        moved = self.reader.transposition
        if moved.semitones % 12:
            key = _key_in_concert(key, moved)
        self.key = key

    def _tempo(self, signs: Signs, index: int) -> None:
        if signs.tempo is None:
            return
        if self.tune.tempo is None:
            self.tune.tempo = signs.tempo
            if index:
                self.tune.notice(self.number, "the tempo given here is taken from the beginning")
        elif signs.tempo != self.tune.tempo:
            self.tune.notice(self.number, "a change of tempo is not taken over")

    def _find_codas(self) -> None:
        """Of two coda signs without words, take the first as the sign to go to the coda."""
        bars = self.tune.bars
        codas = [index for index, bar in enumerate(bars) if bar.signs.coda]
        if len(codas) > 1 and not any(bar.signs.to_coda for bar in bars):
            bars[codas[0]] = bars[codas[0]].with_signs(coda=False, to_coda=True)


def _meter(time: etree._Element) -> str:
    """A time signature as a text, "" for free time."""
    if time.find("senza-misura") is not None:
        return ""
    pairs = [
        f"{(beats.text or '').strip()}/{(kind.text or '').strip()}"
        for beats, kind in zip(time.findall("beats"), time.findall("beat-type"), strict=False)
    ]
    return "+".join(pairs)[:20]


def _key_in_concert(key: Key, moved: Interval) -> Key:
    tonic = key.tonic.up(moved).plain
    candidate = Key(tonic, key.minor)
    if abs(candidate.fifths) <= 7:
        return candidate
    other = tonic.up(Interval(1, 0)) if candidate.fifths > 0 else tonic.up(Interval(-1, 0))
    return Key(other, key.minor)
