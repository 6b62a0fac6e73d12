"""Which shapes may be taken in an area: known and comfortable, else wide, else ... else any."""

from accomp.harmony import parse_chord
from accomp.neck import Player, Repertoire, find_hand, find_instrument, find_repertoire
from accomp.neck.pools import BY_FEWEST_MOVES, BY_TABLE, NOT_KNOWN, Area, Pools, Slot

TENOR = find_instrument("tenor-banjo")
MEDIUM = find_hand("medium")
WHOLE = find_repertoire(TENOR)
TEACHER = Player(TENOR, MEDIUM, WHOLE)


def pools(chord, vocabulary="first", repertoire=WHOLE):
    player = Player(TENOR, MEDIUM, repertoire)
    return Pools(player, player.cost_model(), [chord], vocabulary=vocabulary)


def texts(pool):
    return [str(one.shape) for one in pool.candidates]


def test_comfortable_shapes_leave_no_room_for_wide_ones():
    # 7 9 10 12 spans 89 mm, beyond the comfort of 80; C6 has comfortable shapes beside it.
    chord = parse_chord("C6")
    every = [one.shape for one in TEACHER.vocabulary.shapes(chord)]
    wide = [str(shape) for shape in every if shape.stretch_mm > MEDIUM.comfort_mm]
    assert wide
    found = pools(chord).pool(Slot(chord), Area(7, 10, False))
    assert texts(found)
    assert not any(one.wide for one in found.candidates)
    assert "7 9 10 12" not in texts(found)


def test_a_wide_shape_gives_way_to_any_comfortable_one():
    # Of what is made, C13 has only 7 9 8 12 with the index at fret 6 or 7, closed: 89 mm.
    chord = parse_chord("C13")
    area = Area(6, 7, True)
    made = [one for one in TEACHER.vocabulary.shapes(chord) if area.holds(one.shape)]
    assert made
    assert all(one.shape.stretch_mm > MEDIUM.comfort_mm for one in made)
    assert pools(chord).pool(Slot(chord), area, most=BY_TABLE).candidates == ()
    found = pools(chord).pool(Slot(chord), area)
    assert found.candidates
    assert not any(one.wide for one in found.candidates)


def test_a_wide_shape_is_used_where_there_is_nothing_else():
    chord = parse_chord("C7#5#9")
    only_wide = 0
    for low in range(1, 15):
        area = Area(low, low, True)
        every = [one for one in pools(chord, "all").of_all(chord) if area.holds(one.shape)]
        if every and all(one.shape.stretch_mm > MEDIUM.comfort_mm for one in every):
            found = pools(chord).pool(Slot(chord), area)
            assert found.candidates
            assert all(one.wide for one in found.candidates)
            only_wide += 1
    assert only_wide


def test_five_frets_give_way_to_a_finger_a_fret_wherever_five_are_wide_at_the_nut():
    chord = parse_chord("C7")

    def spans(pool):
        return {one.shape.highest_fret - one.shape.lowest_fret for one in pool.candidates}

    for area in (Area(low, low + 3, True) for low in range(1, 13)):
        found = spans(pools(chord, "all").pool(Slot(chord), area))
        assert max(found) <= 3 or min(found) > 3
    mandolin = Player.on(find_instrument("mandolin"), MEDIUM)
    short = Pools(mandolin, mandolin.cost_model(), [chord], vocabulary="all")
    assert {2, 4} <= spans(short.pool(Slot(chord), Area(1, 4, True)))


def test_where_the_table_makes_nothing_fewest_moves_do():
    chord = parse_chord("A7b9")
    area = Area(5, 6, True)
    assert pools(chord).pool(Slot(chord), area, most=BY_TABLE).candidates == ()
    found = pools(chord).pool(Slot(chord), area)
    assert found.step == BY_FEWEST_MOVES
    assert all(one.known is not None for one in found.candidates)
    assert all(one.known.new for one in found.candidates)


def test_where_nothing_is_known_every_playable_shape_is_taken():
    only = Repertoire(WHOLE.title, WHOLE.strings, WHOLE.shapes[3:])  # the G7 alone
    chord = parse_chord("Eb")
    found = pools(chord, repertoire=only).pool(Slot(chord), Area(1, 4, False))
    assert found.step in (BY_FEWEST_MOVES, NOT_KNOWN)
    assert found.candidates
    assert all(one.family is not None for one in found.candidates)


def test_every_shape_on_request_others_to_be_learnt():
    chord = parse_chord("C7")
    found = pools(chord, "all")
    every = found.of_all(chord)
    assert len(every) == 77
    known = {str(one.shape) for one in every if one.known is not None}
    assert known == {str(one.shape) for one in TEACHER.vocabulary.shapes(chord)}
    costs = TEACHER.cost_model()
    for one in every:
        assert abs(one.cost - costs.shape(one.shape, chord)) < 1e-6
        made = one.known is not None and not one.known.new
        assert (one.family is None) == (made or one.shape.grip in found.free)


def test_the_same_frets_under_another_name_are_one_family():
    # Common practice: Am7 without its root is C; Cm7b5 is Ebm6; a diminished seventh is a seventh
    # with a flat nine and no root; Am7 is C6.
    for pair in ("C Am7", "Cm7b5 Ebm6", "Edim7 C7b9", "Am7 C6"):
        one, other = map(parse_chord, pair.split())
        grips = [
            {str(c.shape): c.shape.grip for c in pools(chord, "inversions").of_all(chord)}
            for chord in (one, other)
        ]
        same = grips[0].keys() & grips[1].keys()
        assert same, pair
        assert all(grips[0][frets] == grips[1][frets] for frets in same)


def test_an_area_holds_by_the_lowest_fretted_fret():
    shapes = {
        str(one.shape): one.shape for one in pools(parse_chord("C"), "all").of_all(parse_chord("C"))
    }
    assert Area(2, 5, False).holds(shapes["0 0 2 3"])
    assert not Area(2, 5, True).holds(shapes["0 0 2 3"])
    assert not Area(3, 6, False).holds(shapes["0 0 2 3"])
    assert Area(1, 4, True).holds(shapes["4 5 5 7"])
