"""What is said, of wrong files and by every command, word by word as it is kept."""

import pytest
from reference_groups import COMMANDS, GRAMMAR, WORDS
from reference_store import Group

COSTLY = ("--pack", "accomp book", "accomp keys", "accomp desk")


def costs_much(name: str) -> bool:
    return any(one in name for one in COSTLY)


def sort(name: str) -> str:
    """What inputs that are looked at together have in common."""
    words = name.split()
    return words[0] if words[0] != "accomp" else " ".join(words[:2])


def cases() -> list[object]:
    found: dict[tuple[Group, str, bool], list[str]] = {}
    for group in (WORDS, GRAMMAR, COMMANDS):
        for name in group.kept():
            found.setdefault((group, sort(name), costs_much(name)), []).append(name)
    return [
        pytest.param(
            group, names, id=f"{group.name}: {what}", marks=[pytest.mark.slow] if costly else []
        )
        for (group, what, costly), names in found.items()
    ]


@pytest.mark.many(12, 99)
@pytest.mark.parametrize(("group", "names"), cases())
def test_what_is_said_is_as_it_was(group: Group, names: list[str]) -> None:
    group.judge(names)


@pytest.mark.parametrize("group", [WORDS, GRAMMAR, COMMANDS], ids=lambda group: group.name)
def test_every_input_is_kept(group: Group) -> None:
    assert list(group.names()) == list(group.kept())
