"""File names from titles.

Reserved names: Microsoft, "Naming Files, Paths, and Namespaces". Transliterations: common practice,
no source.
"""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from accomp.harmony import ALL_MAJOR, ALL_MINOR, Key
from accomp.tune import key_slug, slug, unique_slugs

RESERVED = {"con", "prn", "aux", "nul"}
RESERVED |= {f"{name}{digit}" for name in ("com", "lpt") for digit in range(10)}
# Titles that are hard on file names, and any text at all.
titles = st.text(max_size=80) | st.sampled_from(
    [
        "CON",
        "nul",
        "Com1",
        "lpt¹",
        "..",
        "a" * 300,
        "a " * 100,
        "-",
        "ß" * 200,
        "漢" * 100,
        "ﬃ" * 80,
    ]
)


@pytest.mark.parametrize(
    ("title", "name"),
    [
        ("Harbour Street Parade", "harbour-street-parade"),
        ("  Two  spaces ", "two-spaces"),
        ("Straßenfest", "strassenfest"),
        ("Été à l'Île", "ete-a-lile"),
        ("Fyr på Øya", "fyr-pa-oya"),
        ("Łódź Ægir Œuvre Þing Đà", "lodz-aegir-oeuvre-thing-da"),
        ("The Miller’s Wheel", "the-millers-wheel"),
        ("Salt & Tar", "salt-and-tar"),
        ("Waltz in B♭, F♯", "waltz-in-b-flat-f-sharp"),
        ("../../etc/passwd", "etc-passwd"),
        ("C:\\tunes\\x.toml", "c-tunes-x-toml"),
        ("No. 7 (fast)", "no-7-fast"),
        ("ＦＵＬＬ　ｗｉｄｔｈ ²", "full-width-2"),
        ("İstanbul ıssız", "istanbul-issiz"),
        ("e\u0301te\u0301", "ete"),
        ("a\x00b\nc", "a-b-c"),
        ("con", "tune-con"),
        ("COM1", "tune-com1"),
        ("com¹", "tune-com1"),
        ("console", "console"),
    ],
)
def test_titles_become_plain_words(title, name):
    assert slug(title) == name


@given(titles)
def test_a_slug_is_a_safe_name_whatever_the_title(title):
    name = slug(title)
    assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", name)
    assert len(name) <= 60
    assert name not in RESERVED
    assert slug(title) == name
    assert slug(name) == name


@given(st.lists(titles, max_size=12))
def test_slugs_of_many_titles_stay_apart(names):
    slugs = unique_slugs(names)
    assert len(set(slugs)) == len(slugs) == len(names)
    for title, name in zip(names, slugs, strict=True):
        assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", name)
        assert len(name) <= 60
        assert name not in RESERVED
        if slugs.count(name) == 1 and names.count(title) == 1:
            assert name == slug(title) or slug(title) in slugs


def test_the_second_of_a_name_is_numbered():
    assert unique_slugs(["Waltz", "waltz!", "Waltz 2", "WALTZ"]) == (
        "waltz",
        "waltz-3",
        "waltz-2",
        "waltz-4",
    )
    long = unique_slugs(["x" * 70, "x" * 80])
    assert long == ("x" * 60, "x" * 58 + "-2")


def test_titles_without_latin_letters_get_steady_names_of_their_own():
    names = [slug(title) for title in ("東京", "大阪", "Москва", "🎵", "!?", "...")]
    assert len(set(names)) == 6
    assert all(re.fullmatch(r"tune-[0-9a-f]{8}", name) for name in names)
    assert slug("東京 2") != slug("大阪 2")
    assert slug("東京 2").startswith("2-")
    # the first eight digits of SHA-256 of the UTF-8 text, by coreutils' sha256sum
    assert slug("!?") == "tune-8faf838e"


def test_composed_and_decomposed_letters_are_one_title():
    assert slug("が") == slug("か\u3099")


def test_long_titles_end_at_a_word():
    title = "a very long title that goes on and on about harbours and streets and parades"
    assert slug(title) == "a-very-long-title-that-goes-on-and-on-about-harbours-and"


@pytest.mark.parametrize(
    ("key", "name"), [("F", "F"), ("Bb", "Bb"), ("F#", "Fs"), ("C#m", "Csm"), ("Bbm", "Bbm")]
)
def test_keys_in_file_names(key, name):
    assert key_slug(Key.parse(key)) == name


def test_all_keys_have_names_of_their_own():
    names = {key_slug(Key.parse(key)) for key in (*ALL_MAJOR, *ALL_MINOR)}
    assert len(names) == 24
    assert all(re.fullmatch("[A-G][bs]?m?", name) for name in names)
