"""examples/notebook.ipynb runs from its first cell to its last, and shows what it is kept with."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path
from typing import Any

import nbformat
import pytest

from docs.notebook import NOTEBOOK, code_cells, run

DOCUMENT = json.loads(NOTEBOOK.read_text(encoding="utf-8"))


def test_it_is_a_notebook() -> None:
    """Held against the schema of the notebook format, version 4.5, as nbformat carries it."""
    nbformat.validate(nbformat.reads(NOTEBOOK.read_text(encoding="utf-8"), as_version=4))
    assert (DOCUMENT["nbformat"], DOCUMENT["nbformat_minor"]) == (4, 5)


def _said(outputs: list[dict[str, Any]]) -> list[str]:
    """What a cell says in plain text; the size of a sound file is its encoder's business."""
    texts = [one.get("text") or one["data"]["text/plain"] for one in outputs]
    return [re.sub(r"[\d,]+ bytes", "n bytes", "".join(text)) for text in texts]


@pytest.mark.long
def test_its_cells_run_and_show_what_is_kept(tmp_path: Path) -> None:
    folder = tmp_path / "examples"
    shutil.copytree(NOTEBOOK.parent, folder)
    shown = run(DOCUMENT, folder)
    for cell, outputs in zip(code_cells(DOCUMENT), shown, strict=True):
        assert _said(outputs) == _said(cell["outputs"]), "".join(cell["source"])
        for output, kept in zip(outputs, cell["outputs"], strict=True):
            for kind in set(kept.get("data", {})) - {"text/plain"}:
                picture = "".join(kept["data"][kind])
                if "base64" not in picture:  # engraved music tells the engraver's version
                    assert "".join(output["data"][kind]) == picture, "".join(cell["source"])
    assert sorted(path.name for path in (folder / "out").iterdir()) == [
        "parade-without-me.ogg", "parade.mid", "parade.musicxml", "parade.pdf",
    ]  # fmt: skip


def test_every_drawing_is_kept() -> None:
    kinds = [set(one.get("data", {})) for cell in code_cells(DOCUMENT) for one in cell["outputs"]]
    assert sum("text/html" in kind for kind in kinds) >= 4
    assert sum("image/svg+xml" in kind for kind in kinds) >= 2
