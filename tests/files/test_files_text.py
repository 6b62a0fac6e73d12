"""Text from files: on one line, as a TOML string, as XML text."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st
from lxml import etree

from accomp.files.text import one_line, word_list, xml_text
from accomp.files.toml import quoted

# Half surrogate pairs cannot stand in a file at all.
TEXTS = st.text(st.characters(exclude_categories=("Cs",)))


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("Two\nLamps", "Two Lamps"),
        ("\x1b[31mred\x07", "[31mred"),
        ("a\u2028b\u2029c\ud800d", "a b c d"),
        ("naïve \u00a0♭ 👩\u200d🎤", "naïve \u00a0♭ 👩\u200d🎤"),
        (" \t ", ""),
    ],
)
def test_one_line_loses_what_is_no_text_and_keeps_the_rest(text: str, shown: str) -> None:
    assert one_line(text) == shown


def test_words_are_listed_as_one_says_them() -> None:
    lists = [words.split() for words in ("C", "C F", "C F G7")]
    assert [word_list(words) for words in lists] == ["C", "C and F", "C, F and G7"]
    assert [word_list(words, " or ") for words in lists] == ["C", "C or F", "C, F or G7"]
    assert [word_list(iter(words), ", and ") for words in lists] == [
        "C",
        "C, and F",
        "C, F, and G7",
    ]


@given(TEXTS)
def test_a_toml_string_reads_back(text: str) -> None:
    written = quoted(text)
    assert len(written.splitlines()) == 1 or any(sign in text for sign in "\x85\u2028\u2029")
    assert tomllib.loads(f"title = {written}") == {"title": text}


@given(st.text(st.characters()))
def test_any_text_can_stand_in_xml(text: str) -> None:
    element = etree.Element("title")
    element.text = xml_text(text)
    assert etree.fromstring(etree.tostring(element)).text in (
        xml_text(text).replace("\r\n", "\n").replace("\r", "\n") or None,
        xml_text(text) or None,
    )


def test_what_xml_forbids_becomes_a_mark() -> None:
    assert xml_text("a\x00b\ud800c\td") == "a\ufffdb\ufffdc\td"
