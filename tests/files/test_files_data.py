"""Where data files are found: the user's folder first, then the package, then the checkout."""

import tomllib
from pathlib import Path
from typing import get_args

import pytest

from accomp.files import data


@pytest.fixture
def places(tmp_path, monkeypatch):
    user, package, checkout = (tmp_path / name for name in ("user", "package", "checkout"))
    monkeypatch.setattr(data, "data_folder", lambda: user)
    monkeypatch.setattr(data, "_PACKAGE", package)
    monkeypatch.setattr(data, "_CHECKOUT", checkout)
    for place, names in ((user, "a b"), (package, "b c"), (checkout, "c d")):
        (place / "styles").mkdir(parents=True)
        for name in names.split():
            (place / "styles" / f"{name}.toml").write_text(f'from = "{place.name}"')
    (package / "styles" / "readme.txt").write_text("")
    return tmp_path


@pytest.mark.parametrize(
    ("name", "place"), [("a", "user"), ("b", "user"), ("c", "package"), ("d", "checkout")]
)
def test_the_users_file_wins_then_the_package(places, name, place):
    assert data.find("styles", name) == places / place / "styles" / f"{name}.toml"
    assert tomllib.loads(data.find("styles", name).read_text()) == {"from": place}


def test_names_are_listed_once_and_in_order(places):
    assert data.names("styles") == ("a", "b", "c", "d")
    assert data.names("hands") == ()
    assert data.folders("hands") == ()
    assert len(data.folders("styles")) == 3


@pytest.mark.parametrize(
    "name", ["", "z", "..", "../styles/a", "styles/a", "a\0", "a/", "\\a", "C:a", ".a", "a.toml"]
)
def test_a_name_never_leads_elsewhere(places, name):
    assert data.find("styles", name) is None


def test_a_folder_named_like_a_file_is_no_file(places):
    (places / "user" / "styles" / "e.toml").mkdir()
    assert data.find("styles", "e") is None


def test_the_users_folder_is_named_after_the_program():
    assert "accomp" in data.data_folder().parts


def test_every_kind_has_a_folder_and_a_thing_is_looked_up_in_its_own():
    assert [kind for kind in get_args(data.DataKind) if not data.folders(kind)] == []
    assert set(data.FOLDERS) == set(get_args(data.Thing))
    assert set(data.FOLDERS.values()) <= set(get_args(data.DataKind))


def test_the_package_and_the_checkout_have_what_is_shipped():
    assert "tenor-banjo" in data.names("instruments")
    assert "medium" in data.names("hands")
    assert "four-light-heavy" in data.names("styles")
    assert isinstance(data.package_file("chords.toml"), Path)
    assert data.package_file("chords.toml").is_file()
