"""Chords and complaints about chords as whole lines, so that nothing in them changes unseen."""

from __future__ import annotations

import pytest

from accomp.errors import ChordError
from accomp.harmony import parse_chord
from accomp.harmony.degree import Degree
from accomp.harmony.kind import tones_of_kind

# Symbol; MusicXML kind; tones, essential ones with "!"; drop order; degrees beside the kind. By the
# rules of the chord table and MusicXML 4.0, `degree-alter`.
CHORDS = """
C ; major ; 1! 3! 5! ;  ;
Cm ; minor ; 1! b3! 5! ;  ;
C7 ; dominant ; 1 3! 5 b7! ; 5 1 ;
Cmaj7 ; major-seventh ; 1 3! 5 7! ; 5 1 ;
Cm7 ; minor-seventh ; 1 b3! 5 b7! ; 5 1 ;
C6 ; major-sixth ; 1 3! 5 6! ; 5 1 ;
Cm6 ; minor-sixth ; 1 b3! 5 6! ; 5 1 ;
Cm7b5 ; half-diminished ; 1 b3! b5! b7! ; 1 ;
Cdim7 ; diminished-seventh ; 1! b3! b5! bb7! ;  ;
C+ ; augmented ; 1! 3! #5! ;  ;
C9 ; dominant-ninth ; 1 3! 5 b7! 9! ; 5 1 ;
C11 ; dominant-11th ; 1 3! 5 b7! 9 11! ; 5 1 9 ;
C13 ; dominant-13th ; 1 3! 5 b7! 9 13! ; 5 1 9 ;
Cm9 ; minor-ninth ; 1 b3! 5 b7! 9! ; 5 1 ;
Cmaj9 ; major-ninth ; 1 3! 5 7! 9! ; 5 1 ;
Cmaj13 ; major-13th ; 1 3! 5 7! 9 13! ; 5 1 9 ;
Csus2 ; suspended-second ; 1! 2! 5! ;  ;
Csus4 ; suspended-fourth ; 1! 4! 5! ;  ;
C7sus4 ; suspended-fourth ; 1 4! 5 b7! ; 5 1 ; add 7 +0
C9sus4 ; suspended-fourth ; 1 4! 5 b7! 9! ; 5 1 ; add 7 +0 add 9 +0
C5 ; power ; 1! 5! ;  ;
Cadd9 ; major ; 1! 3! 5 9! ; 5 ; add 9 +0
Cm(add9) ; minor ; 1! b3! 5 9! ; 5 ; add 9 +0
C6/9 ; major-sixth ; 1 3! 5 6! 9! ; 5 1 ; add 9 +0
C7b9 ; dominant ; 1 3! 5 b7! b9! ; 5 1 ; add 9 -1
C7#9 ; dominant ; 1 3! 5 b7! #9! ; 5 1 ; add 9 +1
C7b5 ; dominant ; 1 3! b5! b7! ; 1 ; alter 5 -1
C7#5 ; augmented-seventh ; 1 3! #5! b7! ; 1 ;
C7b9#11 ; dominant ; 1 3! 5 b7! b9! #11! ; 5 1 ; add 9 -1 add 11 +1
C7b5b9 ; dominant ; 1 3! b5! b7! b9! ; 1 ; alter 5 -1 add 9 -1
C7#9b13 ; dominant ; 1 3! 5 b7! #9! b13! ; 5 1 ; add 9 +1 add 13 -1
Cmaj7#11 ; major-seventh ; 1 3! 5 7! #11! ; 5 1 ; add 11 +1
Cm(maj7) ; major-minor ; 1 b3! 5 7! ; 5 1 ;
C13b9 ; dominant-13th ; 1 3! 5 b7! b9! 13! ; 5 1 ; alter 9 -1
C13b9#9 ; dominant-13th ; 1 3! 5 b7! b9! #9 13! ; 5 1 #9 ; alter 9 -1 add 9 +1
C9b9#9 ; dominant-ninth ; 1 3! 5 b7! b9! #9! ; 5 1 ; alter 9 -1 add 9 +1
C13#11 ; dominant-13th ; 1 3! 5 b7! 9 #11! 13! ; 5 1 9 ; alter 11 +1
C9#5 ; augmented-seventh ; 1 3! #5! b7! 9! ; 1 ; add 9 +0
Cno3 ; power ; 1! 5! ;  ;
C7no5 ; dominant ; 1! 3! b7! ;  ; subtract 5 +0
C7no1 ; dominant ; 3! 5! b7! ; ; subtract 1 +0
C6no1 ; major-sixth ; 3! 5! 6! ; ; subtract 1 +0
C7no3 ; dominant ; 1! 5! b7! ;  ; subtract 3 +0
C9no5 ; dominant-ninth ; 1! 3! b7! 9! ;  ; subtract 5 +0
Cm7no5 ; minor-seventh ; 1! b3! b7! ;  ; subtract 5 +0
C6no5 ; major-sixth ; 1! 3! 6! ;  ; subtract 5 +0
C13no5 ; dominant-13th ; 1! 3! b7! 9 13! ; 9 ; subtract 5 +0
Cmaj7no3 ; major-seventh ; 1! 5! 7! ;  ; subtract 3 +0
Cadd4 ; major ; 1! 3! 4! 5 ; 5 ; add 4 +0
Cadd11 ; major ; 1! 3! 5 11! ; 5 ; add 11 +0
Caddb9 ; major ; 1! 3! 5 b9! ; 5 ; add 9 -1
C7add13 ; dominant ; 1 3! 5 b7! 13! ; 5 1 ; add 13 +0
Cm7add11 ; minor-seventh ; 1 b3! 5 b7! 11! ; 5 1 ; add 11 +0
C(b5) ; major ; 1! 3! b5! ;  ; alter 5 -1
C(#5) ; augmented ; 1! 3! #5! ;  ;
C7b9#9b13 ; dominant ; 1 3! 5 b7! b9! #9! b13 ; 5 1 b13 ; add 9 -1 add 9 +1 add 13 -1
C7alt ; augmented-seventh ; 1 3! #5! b7! #9! ; 1 ; add 9 +1
Cm7add13 ; minor-seventh ; 1 b3! 5 b7! 13! ; 5 1 ; add 13 +0
C11b9 ; dominant-11th ; 1 3! 5 b7! b9! 11! ; 5 1 ; alter 9 -1
Cmaj9#11 ; major-ninth ; 1 3! 5 7! 9! #11! ; 5 1 ; add 11 +1
C7sus2 ; suspended-second ; 1 2! 5 b7! ; 5 1 ; add 7 +0
"""


@pytest.mark.parametrize("row", CHORDS.strip().splitlines(), ids=lambda row: row.split(" ; ")[0])
def test_a_chord_whole(row: str) -> None:
    symbol, kind, tones, drop, changes = (part.strip() for part in row.split(" ;"))
    chord = parse_chord(symbol)
    assert chord.kind == kind
    assert " ".join(tone.degree + "!" * tone.essential for tone in chord.tones) == tones
    assert " ".join(chord.drop_order) == drop
    told = [f"{one.action} {one.degree} {one.alter:+d}" for one in chord.alterations]
    assert " ".join(told) == changes


SHORT = {
    "@A": "m, +, dim, 7, maj7, m7, dim7 or '/'.",
    "@7": "#5, sus4, #5#9, b5, b6, b9 or '/'.",
    "@ROOT": "expected a root, A to G, then b, # or nothing at its start.",
    "@BASS": "expected a bass note after '/', as C7/E.",
}
# Symbol; column; what is said of it after "is not a chord symbol: "; what was probably meant.
WRONG = """
c ; 1 ; @ROOT ; C
h7 ; 1 ; @ROOT ; B7
Hb7 ; 1 ; @ROOT ; Bb7
C( ; 3 ; after 'C(' expected b5, #5, b6, b9, #9, #11, b13 or ')'. ; C
C() ; 3 ; after 'C(' expected b5, #5, b6, b9, #9, #11, b13 or ')'. ;
C(b5 ; 5 ; after 'C(b5' expected #5, b6, b9, #9, b13, maj7, add2 or ')'. ; C(b5)
C(b5, ; 6 ; after 'C(b5,' expected #5, b6, b9, #9, b13, maj7, add2 or ')'. ;
C(b5x) ; 5 ; after 'C(b5' expected #5, b6, b9, #9, b13, maj7, add2 or ')'. ; C(b5)
Cx ; 2 ; after 'C' expected @A ; C
Cm7x ; 4 ; after 'Cm7' expected b5, #5, b6, b9, #11, b13 or '/'. ; Cm7
C7sus5 ; 6 ; after 'C7sus' expected 4, b5, #5, b6, b9, #9, #11 or '/'. ; C7sus
C7sus4sus4 ; 7 ; at 'sus4', the chord has no third for it to stand in for. ;
Cadd11sus4 ; 7 ; at 'sus4', 4 is the same sound as the 11 already there. ;
Cadd9sus2 ; 6 ; at 'sus2', 2 is the same sound as the 9 already there. ;
Cadd2sus2 ; 6 ; at 'sus2', the chord has a 2 already. ;
Csus4sus2 ; 6 ; at 'sus2', the chord has no third for it to stand in for. ;
C7add7 ; 3 ; after 'C7' expected @7 ; C7add9
C9b9b9 ; 5 ; at 'b9', the chord has a b9 already. ;
C7b5b5 ; 5 ; at 'b5', the chord has a b5 already. ;
Cm7#9 ; 4 ; at '#9', #9 is the same sound as the b3 already there. ;
C7no9 ; 3 ; at 'no9', the chord has no 9 to leave out. ;
C5no1 ; 3 ; at 'no1', a single tone is no chord. ;
Cno1no5 ; 5 ; at 'no5', a single tone is no chord. ;
C5no5 ; 3 ; at 'no5', a single tone is no chord. ;
C7/ ; 3 ; after 'C7' @BASS ; C7
C7/H ; 3 ; after 'C7' @BASS ; C7/B
C7/Bbb ; 3 ; after 'C7' @BASS ;
C7//E ; 3 ; after 'C7' @BASS ; C7/E
C/E/G ; 2 ; after 'C' @BASS ;
C7/e ; 3 ; after 'C7' @BASS ; C7/E
Cmaj7/ ; 6 ; after 'Cmaj7' @BASS ; Cmaj7
C#b7 ; 3 ; after 'C#' expected @A ; C#7
Cbb ; 3 ; after 'Cb' expected @A ; Bb
C##m7 ; 3 ; after 'C#' expected @A ; Dm7
Abb7 ; 3 ; after 'Ab' expected @A ; G7
C7b9x ; 5 ; after 'C7b9' expected b5, #5, b6, #9, #11, b13, add2 or '/'. ; C7b9
C7b9(x ; 6 ; after 'C7b9(' expected b5, #5, b6, #9, #11, b13, add2 or ')'. ; C7b9
C7(b9)x ; 7 ; after 'C7(b9)' expected b5, #5, b6, #9, #11, b13, add2 or '/'. ; C7(b9)
Cdim7x ; 6 ; after 'Cdim7' expected #5, b6, b9, b13, add2, add4, addb6 or '/'. ; Cdim7
C69/x ; 4 ; after 'C69' @BASS ; C69
C6/8 ; 3 ; after 'C6' @BASS ; C6/9
Cm14 ; 3 ; after 'Cm' expected 7, 7b5, (maj7), 6, 9, 11, 13 or '/'. ; Cm13
C3 ; 2 ; after 'C' expected @A ; C
C4 ; 2 ; after 'C' expected @A ; C
C10 ; 2 ; after 'C' expected @A ;
C12 ; 2 ; after 'C' expected @A ; C2
Cadd ; 2 ; after 'C' expected @A ; Cadd2
Cno2 ; 2 ; after 'C' expected @A ;
C7b ; 3 ; after 'C7' expected @7 ; C7
C7# ; 3 ; after 'C7' expected @7 ; C7
C7b10 ; 3 ; after 'C7' expected @7 ; C7b13
C7b13b6 ; 6 ; at 'b6', b6 is the same sound as the b13 already there. ;
C(maj7 ; 7 ; after 'C(maj7' expected b5, #5, b6, b9, #9, #11, b13 or ')'. ; C(maj7)
C[b5] ; 2 ; after 'C' expected @A ;
C {b5} ; 2 ; after 'C' expected @A ;
C 7 ; 2 ; after 'C' expected @A ; C7
C7 b9 ; 3 ; after 'C7' expected @7 ; C7b9
C.7 ; 2 ; after 'C' expected @A ; C7
C7-5x ; 5 ; after 'C7-5' expected #5, b6, b9, #9, b13, add2, add4 or '/'. ; C7-5
Cmin7b5b5 ; 8 ; at 'b5', the chord has a b5 already. ;
C7#5#5 ; 5 ; at '#5', the chord has a #5 already. ;
Ebm7b5(b5)/A ; 8 ; at 'b5)/A', the chord has a b5 already. ;
C+♯5 ; 3 ; at '♯5', the chord has a #5 already. ;
Cdim7(b5) ; 7 ; at 'b5)', the chord has a b5 already. ;
Cø-5 ; 3 ; at '-5', the chord has a b5 already. ;
C7#5#9(b9, #9) ; 12 ; at '#9)', the chord has a #9 already. ;
Calt(#9)(#9) ; 10 ; at '#9)', the chord has a #9 already. ;
Cmi7b ; 5 ; after 'Cmi7' expected b5, #5, b6, b9, #11, b13, add2 or '/'. ; Cmi7
Cm7B5 ; 4 ; after 'Cm7' expected b5, #5, b6, b9, #11, b13 or '/'. ; Cm7b5
cM7 ; 1 ; @ROOT ; CM7
G7B9 ; 3 ; after 'G7' expected @7 ; G7b9
Xm7 ; 1 ; @ROOT ;
1 ; 1 ; @ROOT ;
7C ; 1 ; @ROOT ; C
Am7/9 ; 4 ; after 'Am7' @BASS ; Am7b9
Bbm7b5b ; 7 ; after 'Bbm7b5' expected #5, b6, b9, b13, add2, add4, add6 or '/'. ; Bbm7b5
Dbmaj7#5x ; 9 ; after 'Dbmaj7#5' expected b5, b9, #9, #11, add2, add4, add6 or '/'. ; Dbmaj7#5
"""


@pytest.mark.parametrize("row", WRONG.strip("\n").splitlines(), ids=lambda row: row.split(" ; ")[0])
def test_a_complaint_whole(row: str) -> None:
    symbol, column, said, meant = (part.strip() for part in row.split(" ;"))
    for short, words in SHORT.items():
        said = said.replace(short, words)
    with pytest.raises(ChordError) as caught:
        parse_chord(symbol)
    (problem,) = caught.value.problems
    assert problem.message == f"{symbol!r} is not a chord symbol: {said}"
    assert problem.hint == (f"Did you mean {meant!r}?" if meant else "")
    assert (problem.column, problem.found) == (int(column), symbol)
    assert problem.expected in said


def test_of_a_text_longer_than_forty_signs_nothing_is_guessed() -> None:
    for length, hint in ((40, "Did you mean 'C7'?"), (41, "")):
        with pytest.raises(ChordError) as caught:
            parse_chord("C7".ljust(length))
        assert caught.value.problems[0].hint == hint


def test_what_is_no_kind_of_a_chord() -> None:
    with pytest.raises(ValueError, match=r"^'Neapolitan' is not the kind of a chord$"):
        tones_of_kind("Neapolitan", ())
    assert tones_of_kind("other", ()) == (Degree(1),)
