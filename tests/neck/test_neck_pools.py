"""Which shapes may be taken in an area: known and comfortable, else wide, else ... else any."""

from accomp.harmony import parse_chord
from accomp.neck import Player, Repertoire, find_hand, find_instrument, find_repertoire
from accomp.neck.pools import BY_FEWEST_MOVES, BY_TABLE, NOT_KNOWN, Area, Pools

TENOR = find_instrument("tenor-banjo")
MEDIUM = find_hand("medium")
WHOLE = find_repertoire(TENOR)
TEACHER = Player(TENOR, MEDIUM, WHOLE)


def pools(every=False, repertoire=WHOLE):
    player = Player(TENOR, MEDIUM, repertoire)
    return Pools(player, player.cost_model(), every=every)


def texts(pool):
    return [str(one.shape) for one in pool.candidates]


def test_comfortable_shapes_leave_no_room_for_wide_ones():
    # 7 9 10 12 spans 89 mm, beyond the comfort of 80; C6 has comfortable shapes beside it.
    chord = parse_chord("C6")
    wide = [str(one.shape) for one in TEACHER.vocabulary.shapes(chord) if one.wide]
    assert "7 9 10 12" in wide
    found = pools().pool(chord, Area(7, 10, False))
    assert "7 9 7 10" in texts(found)
    assert "7 9 10 12" not in texts(found)


def test_a_wide_shape_is_used_where_there_is_nothing_else():
    # C9 7 9 8 5 is the only made shape with the index at fret 5: 82 mm.
    found = pools().pool(parse_chord("C9"), Area(5, 6, True))
    assert texts(found) == ["7 9 8 5"]
    assert found.candidates[0].known.wide
    assert found.step == BY_TABLE


def test_where_the_table_makes_nothing_fewest_moves_do():
    chord = parse_chord("A7b9")
    area = Area(5, 8, True)
    assert pools().pool(chord, area, most=BY_TABLE).candidates == ()
    found = pools().pool(chord, area)
    assert found.step == BY_FEWEST_MOVES
    assert "7 6 8 7" in texts(found)
    assert all(one.known is not None for one in found.candidates)


def test_where_nothing_is_known_every_playable_shape_is_taken():
    only = Repertoire(WHOLE.title, WHOLE.strings, WHOLE.shapes[3:])  # the open G7 alone
    found = pools(repertoire=only).pool(parse_chord("Eb"), Area(1, 4, False))
    assert found.step == NOT_KNOWN
    assert found.candidates
    assert all(one.known is None for one in found.candidates)


def test_every_shape_on_request_unfamiliar_ones_dearer():
    chord = parse_chord("C7")
    found = pools(every=True).pool(chord, Area(1, 17, False))
    assert len(found.candidates) == 77
    known = {str(one.shape) for one in found.candidates if one.known is not None}
    assert known == {str(one.shape) for one in TEACHER.vocabulary.shapes(chord)}
    costs = TEACHER.cost_model()
    for one in found.candidates:
        extra = costs.shape(one.shape, chord, False) - costs.shape(one.shape, chord, True)
        assert extra > 0
        assert abs(one.cost - costs.shape(one.shape, chord, one.known is not None)) < 1e-6


def test_an_area_holds_by_the_lowest_fretted_fret():
    shapes = {str(one.shape): one.shape for one in pools(every=True).home(parse_chord("C"))}
    assert Area(2, 5, False).holds(shapes["0 0 2 3"])
    assert not Area(2, 5, True).holds(shapes["0 0 2 3"])
    assert not Area(3, 6, False).holds(shapes["0 0 2 3"])
    assert Area(1, 4, True).holds(shapes["4 5 5 7"])
