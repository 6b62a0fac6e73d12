"""ABC lead sheets: fields, symbols, endings, parts, voices, against ABC 2.1 and music21.

Source of the rules: the ABC standard 2.1, abcnotation.com/wiki/abc:standard:v2.1 (from memory).
"""

from __future__ import annotations

import re
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import music21
import pytest

from accomp.errors import InputError
from accomp.harmony import Spelling
from accomp.intake import ImportedTune, read_leadsheet
from accomp.intake.abc import read_abc
from accomp.intake.abc_fields import (
    abc_symbol,
    read_key,
    read_meter,
    read_parts,
    read_tempo,
    read_unit,
    usual_unit,
)
from accomp.intake.written import WrittenTune
from accomp.tune.unfold import unfold

Make = Callable[..., ImportedTune]
HEAD = "X:1\nT:Made Up\nM:4/4\nL:1/4\nQ:1/4=100\nK:C\n"


@pytest.fixture
def make(tmp_path: Path) -> Make:
    def read(text: str) -> ImportedTune:
        path = tmp_path / "made-up.abc"
        path.write_text(text, encoding="utf-8")
        (tune,) = read_leadsheet(path)
        return tune

    return read


def written(text: str) -> WrittenTune:
    (tune,) = read_abc(text, Path("made-up.abc"))
    return tune


def bars(tune: ImportedTune) -> list[str]:
    assert tune.tune is not None
    return [
        " ".join(f"{span.chord or 'N.C.'}@{4 * span.span.start}" for span in bar.chords)
        for bar in unfold(tune.tune)
    ]


def said(tune: ImportedTune, words: str) -> bool:
    return any(words in notice for notice in tune.notices)


def melody(text: str) -> list[tuple[int, Fraction]]:
    return [(n.pitch.midi, 4 * n.length) for bar in written(text).bars for n in bar.notes]


def by_music21(text: str) -> list[tuple[int, Fraction]]:
    score = music21.converter.parseData("%abc-2.1\n" + text, format="abc")
    return [
        (max(pitch.midi for pitch in n.pitches), Fraction(n.quarterLength))
        for n in score.flatten().notes
        if not isinstance(n, music21.harmony.Harmony) and not n.duration.isGrace
    ]


@pytest.mark.parametrize(
    "music",
    [
        "CDEF|GABc|",
        "C2D/E/F|G3/2A/B//c//d//e//z|",
        "C,D'E,,F''|",
        "^C_D=EF|^^C__D2E|",
        "^FFfF|F4|",
        "(3CDEF2G|(3:2:4CDE/F/G2|",
        "C>DE<F|G>>AB<<c|",
        "C-CD-|D2E2|",
        "[CEG]2[EGc]2|[CE]4|",
        "{d}C2{cd}D2|",
        "z2C2|z4|",
        '"C"C2"F"F2|"G7"G4|',
        "C2 D2 | E2 F2 |]",
    ],
)
def test_notes_as_music21_reads_them(music: str) -> None:
    text = HEAD + music + "\n"
    assert melody(text) == by_music21(text)


@pytest.mark.parametrize("key", ["C", "D", "Bb", "F#m", "Ador", "Gmix", "Em", "Eb", "E minor"])
def test_signatures_as_music21_reads_them(key: str) -> None:
    text = HEAD.replace("K:C", f"K:{key}") + "CDEF|GABc|\n"
    assert melody(text) == by_music21(text)


# music21 loses a > that a decoration follows, and the length of a rest after the tune's start, so
# only tunes without these are asked; every tune of the book that is left must agree note by note.
@pytest.mark.long
def test_a_whole_book_as_music21_reads_it() -> None:
    book = Path(music21.__file__).parent / "corpus" / "oneills1850" / "0001-0050.abc"
    texts = re.split(r"(?m)^(?=X:)", book.read_text(encoding="latin-1"))[1:]
    plain = [text for text in texts if not re.search(r"[<>^_=~!{]|\(\d|V:", text.split("K:")[1])]
    assert len(plain) >= 5
    for text in plain:
        assert melody(text) == by_music21(text), text.split("\n")[1]


def test_an_accidental_lasts_to_the_bar_line_in_all_octaves() -> None:
    pitches = [midi for midi, _ in melody(HEAD + "^Ff=FF|F4|\n")]
    assert pitches == [66, 78, 65, 65, 65]


def test_chords_and_their_places(make: Make) -> None:
    tune = make(HEAD + '"C"C2"Am7"D2|EFGA|"F"F"G7/b"GAB|"C"c4|\n')
    assert bars(tune) == ["C@0 Am7@2", "Am7@0", "F@0 G7/B@1", "C@0"]


def test_head(make: Make) -> None:
    text = 'X:7\nT:The Lane\nT:Another Name\nC:A. Hand\nM:6/8\nQ:"Lively" 3/8=90\nK:Em\n"Em"E6|\n'
    tune = make(text)
    assert tune.tune is not None
    assert (tune.title, tune.tune.composer) == ("The Lane", "A. Hand")
    assert (str(tune.tune.key), str(tune.tune.meter), tune.tune.tempo) == ("Em", "6/8", 90)


def test_chord_written_before_a_bar_line_belongs_to_the_note_after_it(make: Make) -> None:
    tune = make(HEAD + '"C"CDEF"G"|GABc|\n')
    assert bars(tune) == ["C@0", "G@0"]


# What abc files have between quotes. Common practice, no source.
@pytest.mark.parametrize(
    ("text", "symbol", "words"),
    [
        ("Am/c", "Am/C", ""),
        ("D/f+", "D/F#", ""),
        ("E/g#", "E/G#", ""),
        ("B7/d+", "B7/D#", ""),
        ("(Dm)", "Dm", ""),
        ("G7 ", "G7", ""),
        ("N.C.", None, ""),
        ("No Chord", None, ""),
        ("C(Am)", "C", "Am is only an alternative to C and is left out"),
        ("Slowly", "", "'Slowly' is no chord symbol and is left out; the chord before it goes on"),
        ("h7", "", "'h7' is no chord symbol"),
    ],
)
def test_symbols_of_abc(text: str, symbol: str | None, words: str) -> None:
    found, said = abc_symbol(text)
    assert found == symbol
    assert said.startswith(words) if words else said == ""


def test_text_that_is_no_chord(make: Make) -> None:
    tune = make(HEAD + '"C"C4|"Slow"D4|"^louder"E4|"^N.C."F4|\n')
    assert bars(tune) == ["C@0", "C@0", "C@0", "N.C.@0"]
    assert said(tune, "bar 2: 'Slow' is no chord symbol and is left out")
    assert said(tune, "bar 3: remarks not taken over")


def test_pickups_and_repeats(make: Make) -> None:
    tune = make(HEAD + '|:G|"C"C4|"F"F3:||:A|"G"G4|"C"C3:|\n')
    assert tune.tune is not None
    assert tune.tune.pickup == Fraction(1, 4)
    assert tune.tune.form == ("A", "A", "B", "B")
    assert bars(tune) == ["C@0", "F@0", "C@0", "F@0", "G@0", "C@0", "G@0", "C@0"]


@pytest.mark.parametrize(
    ("music", "expected"),
    [
        ('|:"C"C4|[1"F"F4:|[2"G"G4||"A"A4|', "C F C G A"),
        ('|:"C"C4|1"F"F4:|2"G"G4|]', "C F C G"),
        ('"C"C4|1"F"F4:|2"G"G4|"A"A4|"D"D4:|', "C F C G A D A D"),
        ('|:"C"C4|[1,2"F"F4:|[3"G"G4|]', "C F C F C G"),
        ('|:"C"C4|[1-3"F"F4:|[4"G"G4|]', "C F C F C F C G"),
        ('"C"C4::"F"F4:|', "C C F F"),
        ('|::"C"C4::|', "C C C"),
        ('"C"C4!fine!|"F"F4!D.C.!|', "C F C"),
        ('"C"C4|!segno!"F"F4|"G"G4"_D.S."|', "C F G F G"),
        ('"C"C4|"F"F4 "_To Coda"|"G"G4"_D.C. al Coda"|!coda!"A"A4|]', "C F G C F A"),
    ],
)
def test_road(make: Make, music: str, expected: str) -> None:
    assert " ".join(bar.removesuffix("@0") for bar in bars(make(HEAD + music + "\n"))) == expected


def test_parts_in_order(make: Make) -> None:
    text = HEAD.replace("Q:", "P:A2(BA)2\nQ:") + 'P:A\n"C"C4|\nP:B\n"F"F4|\n'
    tune = make(text)
    assert tune.tune is not None
    assert tune.tune.form == ("A", "A", "B", "A", "B", "A")


def test_inline_fields_and_changes(make: Make) -> None:
    tune = make(HEAD + '"C"C4|[M:3/4][K:G]"G"G3|"D"F3|[L:1/8]"G"G6|\n')
    assert tune.tune is not None
    first, second = tune.tune.sections.values()
    assert (str(first.meter), str(second.meter), str(second.key)) == ("4/4", "3/4", "G")
    assert bars(tune) == ["C@0", "G@0", "D@0", "G@0"]


def test_voices(make: Make) -> None:
    text = HEAD + 'V:1\n"C"C4|"F"F4|\nV:2\nE4|A4|\n[V:1]"G"G4|\n'
    tune = make(text)
    assert bars(tune) == ["C@0", "F@0", "G@0"]
    assert said(tune, "the voice '2' is not taken over")


def test_overlays_lyrics_and_rests_of_several_bars(make: Make) -> None:
    tune = make(HEAD + '"C"C4&E4|"F"Z2|"G"G4|\nw:la la\n')
    assert bars(tune) == ["C@0", "F@0", "F@0", "G@0"]
    assert said(tune, "bar 1: a second voice in the same bar not taken over")
    assert said(tune, "lyrics not taken over")


def test_comments_continuations_and_empty_lines(make: Make) -> None:
    text = HEAD + '"C"C4|% a remark "D" |\n%%space\n"F"F4|\\\n"G"G4|\n\n"A"A4|\n'
    tune = make(text)
    assert bars(tune) == ["C@0", "F@0", "G@0"]
    assert said(tune, "music after the empty line is no longer part of the tune")


def test_head_of_the_file_counts_for_all(tmp_path: Path) -> None:
    path = tmp_path / "book.abc"
    tune = 'X:{0}\nT:Tune\nK:C\n"C"C4|\n\n'
    path.write_text("M:4/4\nL:1/4\n\n" + tune.format(1) + tune.format(2), encoding="latin-1")
    first, second = read_leadsheet(path)
    assert (first.name, second.name) == ("tune", "tune-2")
    for one in (first, second):
        assert one.tune is not None
        assert bars(one) == ["C@0"]


def test_one_bad_tune_leaves_the_others(tmp_path: Path) -> None:
    path = tmp_path / "book.abc"
    bad = HEAD.replace("Made Up", "Odd").replace("4/4", "7/8") + '"C"C4|\n\n'
    bare = HEAD.replace("Made Up", "Bare") + "C4|\n\n"
    path.write_text(HEAD + '"C"C4|\n\n' + bad + bare, encoding="utf-8")
    good, odd, without = read_leadsheet(path)
    assert good.tune is not None
    assert odd.tune is None
    (problem,) = odd.problems
    assert "'Odd': bar 1: 7/8 cannot be played here" in problem.message
    assert (problem.file, problem.line) == (str(path), 15)
    (problem,) = without.problems
    assert "'Bare': it has no chord symbols" in problem.message
    assert problem.line == 17
    with pytest.raises(InputError, match="Bare"):
        _ = without.toml


def test_older_files_are_latin_1(tmp_path: Path) -> None:
    path = tmp_path / "old.abc"
    path.write_bytes(HEAD.replace("Made Up", "Caf\xe9").encode("latin-1") + b'"C"C4|\n')
    (tune,) = read_leadsheet(path)
    assert tune.title == "Café"


def test_no_tune(tmp_path: Path) -> None:
    path = tmp_path / "letter.abc"
    path.write_text("Dear reader,\nthis is a letter.\n", encoding="utf-8")
    with pytest.raises(InputError, match="there is no tune in it") as caught:
        read_leadsheet(path)
    assert (caught.value.problems[0].line, caught.value.problems[0].column) == (1, 1)


# --- single fields -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "text", ["D", "Dm", "F#m", "Bb", "Ador", "Amix", "Cmaj", "Glydian", "Ephr"]
)
def test_key_signature_as_music21_reads_it(text: str) -> None:
    field = music21.abcFormat.ABCMetadata(f"K:{text}")
    field.preParse()
    sharps, _ = field.getKeySignatureParameters()
    assert read_key(text).fifths == sharps


def test_keys_otherwise() -> None:
    assert read_key("Hp").fifths == 2
    assert read_key("G clef=bass").key.tonic == Spelling("G")
    assert "no key is given" in read_key("none").notice
    assert "signs of its own" in read_key("D exp _b ^c").notice
    assert "no key signature" in read_key("G#").notice


@pytest.mark.parametrize(
    ("text", "beat", "per_minute"),
    [
        ("1/4=120", Fraction(1, 4), Fraction(30)),
        ("120", Fraction(3, 8), Fraction(45)),
        ('"Allegro" 3/8=80', Fraction(1, 4), Fraction(30)),
        ("1/4 1/8=80", Fraction(1, 4), Fraction(30)),
        ("C=60", Fraction(1, 4), Fraction(15)),
    ],
)
def test_tempo(text: str, beat: Fraction, per_minute: Fraction) -> None:
    assert read_tempo(text, beat) == per_minute


@pytest.mark.parametrize("text", ['"Allegro"', "0", "1/4=", "fast", "100-120"])
def test_no_tempo(text: str) -> None:
    assert read_tempo(text, Fraction(1, 4)) is None


def test_meters_units_and_parts() -> None:
    assert [read_meter(text) for text in ("C", "C|", "6/8", "none", " 3 / 4")] == [
        "4/4",
        "2/2",
        "6/8",
        "",
        "3/4",
    ]
    assert read_unit("1/8") == Fraction(1, 8)
    assert read_unit("1") == 1
    assert read_unit(" ") is None
    # The standard: a sixteenth when the meter is below 0.75, else an eighth.
    assert [usual_unit(meter) for meter in ("2/4", "3/4", "6/8", "")] == [
        Fraction(1, 16),
        Fraction(1, 8),
        Fraction(1, 8),
        Fraction(1, 8),
    ]
    assert read_parts("A2(BC)2") == tuple("AABCBC")
    assert read_parts("A.B") == ("A", "B")
    assert read_parts("verse") is None
    assert read_parts("(A") is None
    assert read_parts("(((A99)99)99)99") is None
