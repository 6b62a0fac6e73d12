"""Lead sheets are read, chords and shapes found, wrong values told of as it is kept."""

import pytest
from reference_groups import NECK, SHEETS, SWEEPS
from reference_store import Group

BUNDLE = 12


def bundles(group: Group) -> list[tuple[Group, list[str]]]:
    names = list(group.kept())
    return [(group, names[at : at + BUNDLE]) for at in range(0, len(names), BUNDLE)]


def called(value: object) -> str:
    return value.name if isinstance(value, Group) else f"{value[0]} ..."  # type: ignore[index]


@pytest.mark.many(1, 99)
@pytest.mark.parametrize(
    ("group", "names"), [*bundles(SHEETS), *bundles(NECK), *bundles(SWEEPS)], ids=called
)
def test_what_is_read_and_found_is_as_it_was(group: Group, names: list[str]) -> None:
    group.judge(names)


@pytest.mark.parametrize("group", [SHEETS, NECK, SWEEPS], ids=called)
def test_every_input_is_kept(group: Group) -> None:
    assert list(group.names()) == list(group.kept())
