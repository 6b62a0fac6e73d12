"""Tunes: the model, the tune file, transposition, names of files."""

from accomp.tune.model import Bar, Beginning, ChordSpan, Chorus, Finish, Repeat, Section, Tune
from accomp.tune.read import parse_tune, read_tune
from accomp.tune.road import Stage
from accomp.tune.slug import key_slug, slug, unique_slugs
from accomp.tune.transpose import transpose_tune
from accomp.tune.unfold import PlayedBar, Spot, planned_bars, unfold
from accomp.tune.write import tune_toml

__all__ = [
    "Bar",
    "Beginning",
    "ChordSpan",
    "Chorus",
    "Finish",
    "PlayedBar",
    "Repeat",
    "Section",
    "Spot",
    "Stage",
    "Tune",
    "key_slug",
    "parse_tune",
    "planned_bars",
    "read_tune",
    "slug",
    "transpose_tune",
    "tune_toml",
    "unfold",
    "unique_slugs",
]
