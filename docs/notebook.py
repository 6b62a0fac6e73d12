"""Run the cells of examples/notebook.ipynb and keep what they show: `make notebook`.

A cell is run as a notebook runs it: its last expression is what it shows, by the value's own
picture where it has one. No kernel and no server are needed for that, so that the tests run the
same cells in their own process. Sound is not kept, only said: it would be megabytes.
"""

from __future__ import annotations

import ast
import contextlib
import io
import json
import os
import shutil
import tempfile
from pathlib import Path
from typing import Any

NOTEBOOK = Path(__file__).parent.parent / "examples" / "notebook.ipynb"
_PICTURES = {"_repr_html_": "text/html", "_repr_svg_": "image/svg+xml"}
_MOST_KEPT = 200_000  # characters of a picture


def main() -> None:
    """Run all cells in a copy of the examples and write the notebook with what they show."""
    document = json.loads(NOTEBOOK.read_text(encoding="utf-8"))
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "examples"
        shutil.copytree(NOTEBOOK.parent, folder)
        shown = run(document, folder)
    for number, (cell, outputs) in enumerate(zip(code_cells(document), shown, strict=True), 1):
        cell["execution_count"] = number
        cell["outputs"] = [_kept(one, number) for one in outputs]
    text = json.dumps(document, indent=1, ensure_ascii=False)
    NOTEBOOK.write_text(f"{text}\n", encoding="utf-8")


def code_cells(document: dict[str, Any]) -> list[dict[str, Any]]:
    """The cells that are run."""
    return [cell for cell in document["cells"] if cell["cell_type"] == "code"]


def run(document: dict[str, Any], folder: Path) -> list[list[dict[str, Any]]]:
    """What each code cell shows when they are run in order in a folder."""
    names: dict[str, Any] = {"__name__": "__main__"}
    before = Path.cwd()
    os.chdir(folder)
    try:
        return [_run_cell("".join(cell["source"]), names) for cell in code_cells(document)]
    finally:
        os.chdir(before)


def _run_cell(source: str, names: dict[str, Any]) -> list[dict[str, Any]]:
    """What one cell prints, and what its last expression shows."""
    tree = ast.parse(source)
    last = tree.body.pop() if tree.body and isinstance(tree.body[-1], ast.Expr) else None
    printed = io.StringIO()
    outputs: list[dict[str, Any]] = []
    value = None
    with contextlib.redirect_stdout(printed):
        exec(compile(tree, "cell", "exec"), names)
        if isinstance(last, ast.Expr):
            value = eval(compile(ast.Expression(last.value), "cell", "eval"), names)
    if printed.getvalue():
        outputs.append(
            {"output_type": "stream", "name": "stdout", "text": _lines(printed.getvalue())}
        )
    if value is not None:
        outputs.append({"output_type": "execute_result", "metadata": {}, "data": shown(value)})
    return outputs


def shown(value: object) -> dict[str, list[str]]:
    """The forms of a value that a notebook can choose from, by media type."""
    data = {"text/plain": _lines(repr(value))}
    for method, kind in _PICTURES.items():
        draw = getattr(value, method, None)
        if draw is not None:
            data[kind] = _lines(draw())
    return data


def _kept(output: dict[str, Any], number: int) -> dict[str, Any]:
    """An output without what is too large to keep."""
    if output["output_type"] != "execute_result":
        return output
    data = {k: v for k, v in output["data"].items() if sum(map(len, v)) <= _MOST_KEPT}
    return {**output, "data": data, "execution_count": number}


def _lines(text: str) -> list[str]:
    return text.splitlines(keepends=True)


if __name__ == "__main__":
    main()
