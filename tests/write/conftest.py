"""What tests of writers share: the MusicXML schema, and the arrangements written by hand."""

from __future__ import annotations

import importlib
import importlib.util
import sys
import warnings
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import pytest
from lxml import etree

TESTS = Path(__file__).parent.parent
sys.path.append(str(TESTS / "score"))  # hand_made.py serves both rooms


@pytest.fixture(scope="session")
def musicxml_schema_text() -> str:
    """The schema of MusicXML 4.0 with its explanations, from the `musicxml` package."""
    spec = importlib.util.find_spec("musicxml")
    assert spec is not None
    assert spec.origin is not None
    source = Path(spec.origin).parent / "generate_classes" / "musicxml_4_0.xsd"
    return source.read_text(encoding="utf-8")


@pytest.fixture(scope="session")
def musicxml_schema(musicxml_schema_text: str) -> etree.XMLSchema:
    """MusicXML 4.0; two imports go to small files beside the tests, because the package's own
    copies are not schemas of those namespaces."""
    text = musicxml_schema_text
    for name in ("xml", "xlink"):
        place = f'schemaLocation="http://www.musicxml.org/xsd/{name}.xsd"'
        assert place in text
        text = text.replace(place, f'schemaLocation="{(TESTS / "schema" / name).as_uri()}.xsd"')
    return etree.XMLSchema(etree.fromstring(text.encode()))


@pytest.fixture(scope="session")
def assert_valid(musicxml_schema: etree.XMLSchema) -> Callable[[bytes], None]:
    """Fails with the schema's own words where a file is not MusicXML 4.0."""

    def check(data: bytes) -> None:
        musicxml_schema.assertValid(etree.fromstring(data))

    return check


@pytest.fixture(scope="session")
def partitura() -> ModuleType:
    """partitura, imported as if FluidSynth were absent: with it, it fetches a SoundFont at once."""
    with pytest.MonkeyPatch.context() as patch, warnings.catch_warnings():
        patch.setitem(sys.modules, "fluidsynth", None)
        warnings.simplefilter("ignore", DeprecationWarning)  # of modules that it imports
        return importlib.import_module("partitura")
