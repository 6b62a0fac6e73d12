"""Build the reference of the public API, static pages from docstrings: `make docs`.

What is documented is what the package's front lists in `__all__`, calls first; a second page has
what every module says of itself: its conventions, units and sources. The pages are pdoc's. They lie
in docs/site, need no server and fetch nothing.
"""

from __future__ import annotations

import ast
import shutil
import sys
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import ModuleType

import accomp

HERE = Path(__file__).parent
SITE = HERE / "site"
PACKAGE = Path(accomp.__file__).parent


def build(folder: Path) -> list[Path]:
    """Write the pages into a folder, whatever was in it before; returns them."""
    import pdoc
    import pdoc.render

    pdoc.render.configure(
        docformat="markdown",
        show_source=False,
        footer_text=f"accomp {accomp.__version__}",
        template_directory=HERE / "template",
    )
    with warnings.catch_warnings(), _whole_front():
        # The keys of a mapping's type are in no module's variables.
        warnings.filterwarnings("ignore", message="Cannot determine where")
        front = pdoc.render.html_module(pdoc.doc.Module(accomp), {})
    rooms = ModuleType("conventions_and_sources", conventions())
    second = pdoc.render.html_module(pdoc.doc.Module(rooms), {})
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    pages = {"index.html": front, "conventions.html": second}
    for name, text in pages.items():
        (folder / name).write_text(text, encoding="utf-8")
    return [folder / name for name in pages]


@contextmanager
def _whole_front() -> Iterator[None]:
    """The front with all that it lists: pdoc looks into the module itself, and the front imports a
    name when it is first asked for. The room `tune` stands there for what its call does."""
    from accomp.tune import coded

    found = {name: getattr(accomp, name) for name in accomp.__all__}
    before = dict(vars(accomp))
    more = "\n\nConventions, units and sources, module by module: [conventions](conventions.html)."
    vars(accomp).update(
        {
            **found,
            "tune": coded.tune,
            "__all__": sorted(accomp.__all__, key=_calls_first),
            "__doc__": f"{accomp.__doc__}{more}",
        }
    )
    try:
        yield
    finally:
        for name in set(vars(accomp)) - set(before):
            del vars(accomp)[name]
        vars(accomp).update(before)


def _calls_first(name: str) -> tuple[int, str]:
    """Calls, then types, then errors."""
    return (2 if name.endswith("Error") else int(name[0].isupper()), name)


def conventions() -> str:
    """What every module of the package says of itself, as one text."""
    parts = ["What every module says of itself; the package is `accomp`.", ""]
    for path in sorted(PACKAGE.rglob("*.py")):
        said = ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))
        name = path.relative_to(PACKAGE).with_suffix("").as_posix().removesuffix("/__init__")
        if said and name != "__init__":
            parts += [f"## {name}", "", said, ""]
    return "\n".join(parts)


def main() -> int:
    """Build the site and say where it is."""
    for page in build(SITE):
        print(page)
    return 0


if __name__ == "__main__":
    sys.exit(main())
