"""The hand-out: every sentence read back and applied to the shapes, and no more words than one page
of pictures has room for."""

import random
import re
from dataclasses import replace
from itertools import pairwise

import pytest
from neck_players import MEDIUM, TEACHER, TENOR, chords
from test_neck_laws import EVERYDAY, tune

from accomp.errors import NoShapeError
from accomp.harmony import Key, parse_chord
from accomp.neck import Neck, Player, Wish, find_instrument, instrument_names, lesson, shape_at
from accomp.neck.cost import finger_counts
from accomp.neck.explain import handout_lines
from accomp.neck.fingers import brief_moves, finger_moves
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
    # Another finger takes over where all its strings sound on; else the one that was there lifts.
    moved = {f for f, a, b in zip(there.fingers, here.frets, there.frets, strict=True) if a != b}
    lifted = {
        finger
        for i, finger in enumerate(here.fingers)
        if finger and finger not in there.fingers and there.fingers[i] in {0, *moved}
    }
    assert sorted(said) == sorted({*there.fingers} - {0} | lifted), text


def read_next(text, one, sequence):
    """Check a sentence about what to learn: what it names are chords of the tune, in one grip."""
    match = re.fullmatch(
        r"Learn (.*), and (?:the hand travels (\w+) frets? less, in (\d+) of the (\d+) changes|"
        + rf"{re.escape(one.gain)})\.",
        text,
    )
    assert match, text
    told = [
        (frets, symbol)
        for frets, symbols in re.findall(
            r"((?:\d+|x)(?: (?:\d+|x))*) for (.*?)(?:, (?:and )?(?=[\dx])|$)", match[1]
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
        assert (less, int(match[3]), int(match[4])) == (one.frets, one.changes, one.of)
        assert one.of < len(sequence)  # from the first chord to the last
    else:
        assert one.frets < 1 or not one.changes


def read_bass(text, grip):
    """Check what the bass is said to have: a slash chord's bass that is not lowest in the grip, and
    a root that it has not at all."""
    said = re.findall(r"the ([A-G][b#]?) of (\S+?)(?:,| and|$)", text or "")
    wanted = set()
    for place in grip.places:
        sounding = [one for one in place.shape.pitches if one is not None]
        for chord in place.chords:
            if chord.bass is not None and min(sounding) % 12 != chord.bass.pc:
                wanted.add((str(chord.bass), str(chord)))
            if chord.bass is None and chord.root.pc not in {pitch % 12 for pitch in sounding}:
                wanted.add((str(chord.root), str(chord)))
    assert set(said) == wanted
    assert len(said) == len(wanted)


TUNES = [
    "C G7 C C7 F C G7 C",
    "F F7 Bb Bdim7 F/C D7 G7 C7 F A7 D7 C7 C+",
    "Bb F7 Bb Bb7 Eb Ebm6 Bb G7 C7 F7 Bb F7 Bb D7 G7 C7 F7",
    "Am Dm7 E7 Am Bm7b5 E7b9 Am G7 Cmaj7 F7",
]


@pytest.mark.many(1, 99)
@pytest.mark.parametrize("symbols", TUNES)
def test_every_sentence_read_back_is_true_of_the_shapes(symbols):
    sequence = chords(symbols)
    for page in made(sequence):
        shown = [place for grip in page.grips for place in grip.places]
        assert {chord for place in shown for chord in place.chords} == set(sequence)
        for grip in page.grips:
            assert len({place.shape.grip for place in grip.places}) == 1
            assert grip.to_learn == (grip.places[0].shape.grip in page.plan.new)
            told = re.fullmatch(
                r"(.*?)\.( New to learn\.)?(?: The bass has (.*?)\.)?(?: This grip is (.*)\.)?",
                grip.words(str),
            )
            assert bool(told[2]) == grip.to_learn
            assert ("“new to learn”: not a first shape" in page.grips_head) >= grip.to_learn
            read_bass(told[3], grip)
            chords_said = [str(chord) for place in grip.places for chord in place.chords]
            for part, symbol in zip(told[1].split(", "), chords_said, strict=True):
                assert part == f"{symbol}: {spoken(parse_chord(symbol), C)}"
        assert len(page.changes) == min(3, len(page.changes))
        for change in page.changes:
            read_change(page.change(change, str), change)
        for one in page.learn_next:
            read_next(one.words, one, sequence)


@pytest.mark.slow
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


@pytest.mark.slow
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


def word_count(page):
    """All words on a page, those over its pictures, too, and some for the heading of a tune."""
    over = [place.title(str) for grip in page.grips for place in grip.places]
    over += [f"{one.from_chord} {one.to_chord}" for one in page.changes]
    over += [str(chord) for one in page.learn_next for _, its in one.by_shape for chord in its]
    return len(" ".join([*page.texts(str), *over]).split()) + 10


@pytest.mark.slow
@pytest.mark.parametrize(
    ("tunes", "most", "seed"),
    [
        (3, 12, 250),
        *(pytest.param(30, 60, 251 + part, marks=pytest.mark.long) for part in range(10)),
    ],
)
def test_a_hand_out_never_has_more_words_and_never_teaches_what_it_shows(tunes, most, seed):
    """In all on 300 random tunes, long ones among them."""
    draw = random.Random(seed)
    kinds = [*EVERYDAY, "9", "13", "7b9", "m6", "m(maj7)", "maj9"]
    pages = advised = 0
    for number in range(tunes):
        one = find_instrument(instrument_names()[number % len(instrument_names())])
        sequence = tune(draw, draw.randint(2, most), 14, kinds)
        key = Key.parse(draw.choice("C F Bb Eb G D Am Dm Gm Em".split()))
        try:
            found = made(sequence, Player.on(one, MEDIUM), key=key)
        except NoShapeError:
            continue
        for page in found:
            assert word_count(page) <= 250, (one.name, sequence, page.title)
            assert len(
                {frozenset((c.from_shape.frets, c.to_shape.frets)) for c in page.changes}
            ) == (len(page.changes))
            shown = {place.shape.frets for grip in page.grips for place in grip.places}
            for better in page.learn_next:
                assert better.shapes
                assert not shown & {shape.frets for _, shape in better.shapes}
                hand = [a.frets != b.frets for a, b in pairwise(page.plan.path)]
                assert better.of == sum(hand) >= better.changes
                advised += 1
            pages += 1
    assert pages > tunes
    assert advised or tunes < 20


@pytest.mark.slow
def test_a_tune_with_more_chords_than_anybody_writes_has_no_more_words():
    sequence = tune(random.Random(7), 70, 70, EVERYDAY)
    hand = replace(MEDIUM, comfort_mm=48.0)
    player = replace(TEACHER, hand=hand)
    neck = Neck(player, tuple(sequence), sequence[0])
    taught = lesson(neck.positions(), sequence, C, player.cost_model())
    for page in handouts(taught, 4, hand.comfort_mm):
        assert word_count(page) <= 250
        shown = {chord for grip in page.grips for place in grip.places for chord in place.chords}
        assert shown == set(sequence)


@pytest.mark.slow
def test_a_shape_that_the_page_has_is_not_to_be_learnt_next():
    # D7 2 0 3 2 is known in its own place only, and would save more where it has moved to.
    mandolin = Player.on(find_instrument("mandolin"), MEDIUM)
    seen = 0
    for page in made(chords("C A7 D7 G7 C E7 A7 D7 G7 C"), mandolin):
        shown = {place.shape.frets for grip in page.grips for place in grip.places}
        seen += (2, 0, 3, 2) in shown
        for one in page.learn_next:
            assert not shown & {shape.frets for _, shape in one.shapes}, page.title
    assert seen


def other_names(sequence, key):
    """The other names of all grips, in words."""
    return [
        name.words(str(name.chord))
        for page in made(sequence, key=key)
        for grip in page.grips
        for name in grip.names
    ]


@pytest.mark.slow
def test_other_names_are_told_where_they_teach_something():
    flat = Key.parse("Bb")
    told = other_names(chords("Bb7 Eb7 Bb7 Eb Edim7 Bb7 G7 Cm7 F7 Bb7"), flat)
    assert "Cm7 without root" in told  # the tune has it
    # As the tune spells it, which has Eb7.
    assert not any(name.startswith("D#") for name in told)
    assert not any("top of" in name or "maj9" in name for name in told)
    assert "the top of Abmaj9" in other_names(chords("Bb Eb Abmaj9 F7 Bb"), flat)


def test_a_finger_whose_string_a_barre_takes_lifts():
    guitar = find_instrument("guitar")
    here, there = (
        shape_at(frets, parse_chord(symbol), guitar, MEDIUM)
        for symbol, frets in (("Bb7", (None, 1, 3, 1, 3, 1)), ("G7", (3, 5, 3, 4, 3, 3)))
    )
    assert here.fingers[4] == 4 not in there.fingers
    words = brief_moves(finger_moves(here, there), 2, 6)
    assert "little lifts" in words
    assert finger_counts(here, there)[1] == 1


@pytest.mark.slow
def test_names_are_left_out_where_words_are_too_many():
    from accomp.neck.handout import count_words

    sequence = chords(
        "C Am7 Dm7 G7 Em7 A7 Dm7b5 G7b9 Cmaj7 C6 F Fm6 Bb9 Em7b5 A7b9 D9 G13 C+ F#dim7 Gm7 C7 "
        "Fmaj7 B7 E7 Bdim7 Eb7 Abmaj7 Db7"
    )
    for page in made(sequence):
        assert count_words(page) <= MOST_WORDS
        # At least its own name stays.
        assert all(grip.names for grip in page.grips)
