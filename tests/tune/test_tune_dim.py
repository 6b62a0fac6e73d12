from accomp.tune import parse_tune
from accomp.tune.write import tune_toml

CHART = """title = "Passing Through"
key = "F"
meter = "4/4"
tempo = 120
{more}
[sections]
A = "| F F#dim | Gm7 B\u00b0/D | F6 Bdim7 | F |"
"""


def symbols(tune):
    return [
        str(span.chord) for bar in tune.sections["A"].bars for span in bar.chords if span.written
    ]


def test_a_band_chart_reads_dim_as_the_seventh_and_says_so():
    tune = parse_tune(CHART.format(more='dim = "seventh"'))
    assert symbols(tune) == ["F", "F#dim7", "Gm7", "Bdim7/D", "F6", "Bdim7", "F"]
    (notice,) = tune.notices
    assert "F#dim is read as F#dim7" in notice
    assert parse_tune(tune_toml(tune)) == tune


def test_otherwise_dim_is_what_it_says():
    for more in ("", 'dim = "triad"'):
        tune = parse_tune(CHART.format(more=more))
        assert symbols(tune)[1] == "F#dim"
        assert not tune.notices
