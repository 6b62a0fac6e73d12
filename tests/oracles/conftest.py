"""Readers that need care when they are imported."""

import importlib
import sys
import warnings

import pytest


@pytest.fixture(scope="session")
def partitura():
    """partitura, imported as if FluidSynth were absent: with it, it fetches a SoundFont at once."""
    with pytest.MonkeyPatch.context() as patch, warnings.catch_warnings():
        patch.setitem(sys.modules, "fluidsynth", None)
        warnings.simplefilter("ignore", DeprecationWarning)  # of modules that it imports
        return importlib.import_module("partitura")
