"""Run benchmarks, print them, write RESULTS.md; exit code 1 when a missed goal is unexplained."""

from __future__ import annotations

import sys
from importlib import import_module
from pathlib import Path

from rich.console import Console
from rich.table import Table

from benchmarks.measure import Measure
from benchmarks.results import figure, section, write_results

_HERE = Path(__file__).parent


def main(wanted: list[str]) -> int:
    """Run the named modules ("startup", "audio" ...), all without a name."""
    known = sorted(path.stem.removesuffix("_bench") for path in _HERE.glob("*_bench.py"))
    if unknown := [name for name in wanted if name not in known]:
        print(f"no benchmark {', '.join(unknown)}: there are {', '.join(known)}", file=sys.stderr)
        return 2
    console = Console()
    unexplained = 0
    for name in wanted or known:
        module = import_module(f"benchmarks.{name}_bench")
        explained: dict[str, str] = getattr(module, "EXPLAINED", {})
        with console.status(f"{name} ..."):
            measures: list[Measure] = module.run()
        console.print(_table(name, measures))
        write_results(_HERE / "RESULTS.md", {name: section(name, measures, explained)})
        for one in measures:
            if not one.ok:
                reason = explained.get(one.name)
                unexplained += reason is None
                console.print(f"{one.name}: goal missed. {reason or 'Not explained.'}")
    return 1 if unexplained else 0


def _table(title: str, measures: list[Measure]) -> Table:
    table = Table(title=title, title_justify="left")
    for column in ("what", "measured", "against", "reference", "ratio", "goal", "met"):
        table.add_column(column, justify="left" if column in {"what", "against"} else "right")
    for one in measures:
        reference = f"{figure(one.reference_value)} {one.unit}" if one.reference_value else ""
        met = "" if not one.goal else "yes" if one.ok else "NO"
        table.add_row(
            one.name,
            f"{figure(one.value)} {one.unit}",
            one.reference,
            reference,
            figure(one.ratio),
            one.goal,
            met,
        )
    return table


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
