"""Hand-outs of the examples, on every instrument: no more words than were asked for."""

from __future__ import annotations

from pathlib import Path

import pytest

from accomp.errors import NoShapeError
from accomp.job.options import Options
from accomp.job.positions import tune_neck
from accomp.job.request import resolve
from accomp.neck import instrument_names, lesson
from accomp.neck.explain import handout_lines
from accomp.neck.handout import handouts
from accomp.tune import read_tune

MOST_WORDS = 250  # what was asked for
EXAMPLES = sorted((Path(__file__).parent.parent.parent / "examples").glob("*.toml"))
SOME = {("peg-and-thimble", "mandolin"), ("signal-box-stomp", "plectrum-banjo"),
        ("harbour-street-parade", "ukulele")}  # fmt: skip


def quick(path: Path, instrument: str) -> bool:
    return instrument == "tenor-banjo" or (path.stem, instrument) in SOME


@pytest.mark.many(4)
@pytest.mark.parametrize(
    ("path", "instrument"),
    [
        pytest.param(
            path,
            name,
            marks=() if quick(path, name) else pytest.mark.long,
            id=f"{path.stem}-{name}",
        )
        for path in EXAMPLES
        for name in instrument_names()
    ],
)
def test_no_position_of_an_example_takes_more_words(path: Path, instrument: str) -> None:
    tune = read_tune(path)
    neck = tune_neck(tune, resolve(tune, Options(instrument=instrument)))
    player = neck.neck.player
    try:
        plans = neck.every
    except NoShapeError:
        pytest.skip("the tune cannot be played there")
    taught = lesson(
        plans,
        neck.chords.chords,
        tune.key,
        player.cost_model(choked=neck.wish.choked),
        advice=lambda plan: neck.neck.learn_next(plan, neck.wish),
    )
    pages = handouts(taught, len(player.instrument.strings), player.hand.comfort_mm)
    assert len(pages) == len(plans)
    for page in pages:
        on_page = " ".join(page.texts(str)).split()
        on_screen = " ".join(handout_lines([page])).split()
        assert len(on_page) <= MOST_WORDS, page.plan.name
        assert len(on_screen) == len(on_page)
        # Not for want of what was asked for: every chord with its number, the changes to drill.
        shown = {chord for grip in page.grips for place in grip.places for chord in place.chords}
        assert shown == set(neck.chords.chords)
        assert page.changes
