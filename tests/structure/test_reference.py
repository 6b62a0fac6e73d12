"""The reference has every public name with what is said of it, and needs nothing from outside."""

from __future__ import annotations

import inspect
import re
from pathlib import Path

import pytest
from lxml import html

import accomp
from docs.reference import build


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("docs") / "site"
    front = dict(vars(accomp))
    build(folder)
    assert vars(accomp).keys() <= front.keys() | set(accomp.__all__) | set(dir(accomp))
    assert accomp.__all__ == front["__all__"]
    return folder


@pytest.mark.slow
def test_every_public_name_is_documented(site: Path) -> None:
    page = html.parse(str(site / "index.html")).getroot()
    for name in accomp.__all__:
        (entry,) = page.xpath(f'//section[@id="{name}"]')
        said = entry.text_content()
        thing = accomp.tune.coded.tune if name == "tune" else getattr(accomp, name)
        words = re.sub(r"\W+", " ", inspect.getdoc(thing) or "").split()[:4]
        assert words, f"{name} has no docstring"
        assert " ".join(words) in re.sub(r"\W+", " ", said), name


@pytest.mark.slow
def test_calls_come_first_and_errors_last(site: Path) -> None:
    page = html.parse(str(site / "index.html")).getroot()
    order = [one for one in page.xpath("//section/@id") if one in accomp.__all__]
    assert order == sorted(order, key=lambda n: (2 if n.endswith("Error") else n[0].isupper(), n))
    assert set(order) == set(accomp.__all__)


@pytest.mark.slow
def test_units_and_sources_are_on_the_second_page(site: Path) -> None:
    said = html.parse(str(site / "conventions.html")).getroot().text_content()
    assert "Standard MIDI Files 1.0" in said
    assert "score time in fractions of a whole note" in said
    heads = html.parse(str(site / "conventions.html")).getroot().xpath("//h2/text()")
    assert {"write/midi", "neck/hand", "errors"} <= set(heads)


@pytest.mark.slow
def test_nothing_is_fetched(site: Path) -> None:
    for path in site.iterdir():
        page = html.parse(str(path)).getroot()
        loaded = page.xpath("//script/@src | //link/@href | //img/@src | //iframe/@src")
        assert [one for one in loaded if not one.startswith("data:")] == []
        assert "@import" not in path.read_text(encoding="utf-8")


def test_public_calls_say_what_they_raise() -> None:
    for name in accomp.__all__:
        thing = getattr(accomp, name)
        if inspect.isfunction(thing):
            assert "Raises" in (inspect.getdoc(thing) or ""), name
