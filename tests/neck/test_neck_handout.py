"""The hand-out: every sentence read back and applied to the shapes, and no more words than one page
of pictures has room for."""

import random
import re

import pytest
from neck_players import MEDIUM, TEACHER, TENOR, chords
from test_neck_laws import EVERYDAY, tune

from accomp.errors import NoShapeError
from accomp.harmony import Key, parse_chord
from accomp.neck import Neck, Player, Wish, find_instrument, instrument_names, lesson
from accomp.neck.explain import handout_lines
from accomp.neck.handout import MOST_WORDS, handouts
from accomp.neck.naming import spoken

FINGERS = {"index": 1, "middle": 2, "ring": 3, "little": 4}
ORDER = "first second third fourth fifth sixth".split()
NUMBERS = {word: n for n, word in enumerate("no one two three four five six seven eight nine ten "
                                            "eleven twelve".split())}  # fmt: skip
VERBS = ("stay", "stays", "slide along", "slides along", "slides", "takes over", "goes to",
         "lies across", "lift", "lifts")  # fmt: skip
C = Key.parse("C")


def made(sequence, player=TEACHER, wish=None, key=C):
    """Hand-outs of all positions of some chords."""
    wish = wish or Wish()
    neck = Neck(player, tuple(sequence), sequence[0])
    taught = lesson(
        neck.positions(wish),
        sequence,
        key,
        player.cost_model(),
        advice=lambda plan: neck.learn_next(plan, wish),
    )
    return handouts(taught, len(player.instrument.strings), player.hand.comfort_mm)


def frets_of(word, way):
    return NUMBERS[word] * (1 if way == "up" else -1)


def read_clause(clause, hand, here, there):
    """Check one clause against both shapes; returns the fingers that it speaks of."""
    strings = len(here.frets)
    alike = re.fullmatch(r"(\w+(?:, \w+)*(?: and \w+)?) (stays?|slides? along|lifts?)", clause)
    if alike:
        names = re.split(r", | and ", alike[1])
        assert alike[2].split()[0].endswith("s") == (len(names) == 1), clause
        for finger in (FINGERS[name] for name in names):
            before = [i for i, one in enumerate(here.fingers) if one == finger]
            after = [i for i, one in enumerate(there.fingers) if one == finger]
            assert before
            if alike[2].startswith("lift"):
                assert not after
            elif alike[2].startswith("stay"):
                assert set(after) <= set(before)
                assert all(here.frets[i] == there.frets[i] for i in after)
            else:
                both = set(before) & set(after)
                assert both
                assert all(there.frets[i] - here.frets[i] == hand for i in both)
        return [FINGERS[name] for name in names]
    takes = re.fullmatch(r"(\w+) takes over from ([\w, ]+)", clause)
    if takes:
        after = [i for i, one in enumerate(there.fingers) if one == FINGERS[takes[1]]]
        assert all(here.frets[i] == there.frets[i] for i in after)
        others = {FINGERS[name] for name in re.split(r", | and ", takes[2])}
        assert {here.fingers[i] for i in after} - {FINGERS[takes[1]]} == others
        return [FINGERS[takes[1]]]
    slides = re.fullmatch(r"(\w+) slides (\w+) frets? (up|down)", clause)
    if slides:
        finger = FINGERS[slides[1]]
        both = [i for i in range(strings) if here.fingers[i] == there.fingers[i] == finger]
        assert frets_of(slides[2], slides[3]) in {there.frets[i] - here.frets[i] for i in both}
        return [finger]
    lies = re.fullmatch(r"(\w+) lies across the ([\w, ]+) strings", clause)
    parts = [lies.groups()] if lies else []
    for number, part in enumerate(() if lies else clause.split(", ")):
        # Only the first is a whole clause: "ring goes to the third string, little to the second".
        whole = r"(\w+) goes to the (\w+) string"
        goes = re.fullmatch(r"(\w+) to the (\w+)" if number else whole, part)
        assert goes, clause
        parts.append(goes.groups())
    for name, on in parts:
        wanted = {strings - 1 - ORDER.index(word) for word in re.split(r", | and ", on)}
        assert wanted == {i for i, one in enumerate(there.fingers) if one == FINGERS[name]}
        assert any(here.frets[i] != there.frets[i] for i in wanted)
    return [FINGERS[name] for name, _ in parts]


def read_change(text, change):
    """Check a sentence about a change against its shapes."""
    here, there = change.from_shape, change.to_shape
    match = re.fullmatch(
        r"(\S+) to (\S+): the hand (?:(stays)|goes (\w+) frets? (up|down))(.*)\.", text
    )
    assert match, text
    assert (match[1], match[2]) == (str(change.from_chord), str(change.to_chord))
    hand = 0 if match[3] else frets_of(match[4], match[5])
    lowest = [min((fret for fret in shape.frets if fret), default=0) for shape in (here, there)]
    assert hand == (lowest[1] - lowest[0] if all(lowest) else 0)
    said = []
    for clause in match[6].split("; ")[1:]:
        said += read_clause(clause, hand, here, there)
    lifted = {
        finger
        for i, finger in enumerate(here.fingers)
        if finger and finger not in there.fingers and here.frets[i] != there.frets[i]
    }
    assert sorted(said) == sorted({*there.fingers} - {0} | lifted), text


def read_next(text, one, sequence):
    """Check a sentence about what to learn: what it names are chords of the tune, in one grip."""
    match = re.fullmatch(
        r"Learn (.*), and (?:the fingers have less to do|the hand travels (\w+) frets? less, in "
        r"(\d+) of (\d+) changes)\.",
        text,
    )
    assert match, text
    told = [
        (frets, symbol)
        for frets, symbols in re.findall(
            r"((?:\d+|x)(?: (?:\d+|x))*) for (.*?)(?:, (?=[\dx])|$)", match[1]
        )
        for symbol in re.split(r", | and ", symbols)
    ]
    assert sorted(told) == sorted((str(shape), str(chord)) for chord, shape in one.shapes)
    assert len(re.findall(" for ", match[1])) == len({frets for frets, _ in told})
    grips = set()
    for frets, symbol in told:
        chord = parse_chord(symbol)
        assert chord in sequence
        stopped = [int(fret) for fret in frets.split()]
        sounding = zip(TENOR.open_pitches, stopped, strict=True)
        assert {(pitch + fret) % 12 for pitch, fret in sounding} <= chord.by_pc.keys()
        grips.add(tuple(fret - min(stopped) for fret in stopped))
    assert len(grips) == 1
    if match[2]:
        less = NUMBERS[match[2]] if match[2] in NUMBERS else int(match[2])
        assert (less, int(match[3]), int(match[4])) == (one.frets, one.changes, len(sequence))
    else:
        assert one.frets < 1 or not one.changes


TUNES = [
    "C G7 C C7 F C G7 C",
    "F F7 Bb Bdim7 F/C D7 G7 C7 F A7 D7 C7 C+",
    "Bb F7 Bb Bb7 Eb Ebm6 Bb G7 C7 F7 Bb F7 Bb D7 G7 C7 F7",
    "Am Dm7 E7 Am Bm7b5 E7b9 Am G7 Cmaj7 F7",
]


@pytest.mark.parametrize("symbols", TUNES)
def test_every_sentence_read_back_is_true_of_the_shapes(symbols):
    sequence = chords(symbols)
    for page in made(sequence):
        shown = [place for grip in page.grips for place in grip.places]
        assert {chord for place in shown for chord in place.chords} == set(sequence)
        for grip in page.grips:
            assert len({place.shape.grip for place in grip.places}) == 1
            assert grip.to_learn == (grip.places[0].shape.grip in page.plan.new)
            told = re.fullmatch(r"(.*?)\.( To learn\.)?(?: This grip is (.*)\.)?", grip.words(str))
            assert bool(told[2]) == grip.to_learn
            chords_said = [str(chord) for place in grip.places for chord in place.chords]
            for part, symbol in zip(told[1].split(", "), chords_said, strict=True):
                assert part == f"{symbol}: {spoken(parse_chord(symbol), C)}"
        assert len(page.changes) == min(3, len(page.changes))
        for change in page.changes:
            read_change(page.change(change, str), change)
        for one in page.learn_next:
            read_next(one.words, one, sequence)


def test_the_brief_words_of_every_change_of_many_tunes_are_true():
    draw = random.Random(52)
    read = 0
    verbs = set()
    for number in range(24):
        one = find_instrument(instrument_names()[number % len(instrument_names())])
        player = Player.on(one, MEDIUM)
        sequence = tune(draw, 5, 8, EVERYDAY)
        neck = Neck(player, tuple(sequence), sequence[0])
        try:
            plans = neck.positions()
        except NoShapeError:
            continue
        taught = lesson(plans, sequence, C, player.cost_model())
        for position in taught.positions:
            for change in position.changes:
                words = change.brief(len(one.strings))
                read_change(f"{change.from_chord} to {change.to_chord}: {words}.", change)
                assert "mm" not in words + change.words(len(one.strings))
                verbs |= {verb for verb in VERBS if f" {verb} " in f"{words} ".replace(";", " ")}
                read += 1
    assert read > 300
    assert verbs == set(VERBS)


def test_the_same_frets_stand_once_and_a_grip_stands_together():
    (low, *_) = made(chords("Eb Cm7 F F/C Bb7 Eb Fm7 Cm7 F7"))
    places = [place.shape.frets for grip in low.grips for place in grip.places]
    assert len(places) == len(set(places))
    grips = [grip.places[0].shape.grip for grip in low.grips]
    assert len(grips) == len(set(grips))
    (f,) = (place for grip in low.grips for place in grip.places if "F" in map(str, place.chords))
    assert f.title(str) == "F, F/C"
    assert f.counted(str) == "F: four, F/C: four over one"


def test_the_screen_says_what_the_hand_out_holds():
    pages = made(chords(TUNES[1]))
    drawn = []
    lines = handout_lines(pages, lambda boxes: [drawn.append(boxes) or ""])
    text = "\n".join(lines)
    for page, boxes in zip(pages, drawn, strict=True):
        shown = [place for grip in page.grips for place in grip.places]
        assert [name for name, *_ in boxes] == [place.title(str) for place in shown]
        assert [frets for _, frets, _ in boxes] == [place.shape.frets for place in shown]
        for words in page.texts(str):
            assert words in text, words
    # All words of a position, those of the terminal counted as they stand there.
    for part in re.split(r"\n(?=\S+ position: )", text):
        assert len(part.split()) <= MOST_WORDS


def test_a_wide_position_says_the_chord_the_length_and_where_it_is_comfortable():
    from dataclasses import replace

    tight = replace(TEACHER, hand=replace(MEDIUM, comfort_mm=48.0))
    sequence = chords("C G7 C/E C7 F C/G G7 C")
    pages = made(sequence, tight)
    cautious = [page for page in pages if page.caution]
    assert cautious
    for page in cautious:
        text = "\n".join(page.texts(str))
        told = re.findall(
            r"(\S+(?:, \S+)*(?: and \S+)?) ([\dx]+(?: [\dx]+)+) is (\d+) mm wide", text
        )
        found = {
            (symbol, frets): int(length)
            for symbols, frets, length in told
            for symbol in re.split(r", | and ", symbols)
        }
        wide = {
            (str(chord), str(shape)): shape.stretch_mm
            for chord, shape in zip(sequence, page.plan.path, strict=True)
            if shape.stretch_mm > 48.0
        }
        assert found.keys() == wide.keys()
        assert all(48 < found[one] == pytest.approx(wide[one], abs=1) for one in wide)
        assert "stop when the hand hurts" in text
        where = re.search(r"Comfortable throughout: (.*?)\.", text)
        comfortable = {one.plan.name for one in pages if not any(one.plan.wide)}
        assert set(re.split(r", | and ", where[1])) == comfortable if comfortable else not where
    assert any(page.caution for page in pages) != all(page.caution for page in pages)


def test_names_are_left_out_where_words_are_too_many():
    from accomp.neck.handout import count_words

    sequence = chords(
        "C Am7 Dm7 G7 Em7 A7 Dm7b5 G7b9 Cmaj7 C6 F Fm6 Bb9 Em7b5 A7b9 D9 G13 C+ F#dim7 Gm7 C7 "
        "Fmaj7 B7 E7 Bdim7 Eb7 Abmaj7 Db7"
    )
    for page in made(sequence):
        assert count_words(page) <= MOST_WORDS or all(len(grip.names) == 1 for grip in page.grips)
        # At least its own name stays.
        assert all(grip.names for grip in page.grips)
