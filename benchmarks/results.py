"""RESULTS.md: one section a benchmark module, each with its date, machine and versions.

Conventions: a run of some modules replaces their sections and leaves the others as they were.
"""

from __future__ import annotations

import datetime
import os
import platform
import re
from collections.abc import Mapping, Sequence
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from benchmarks.measure import Measure

_HEAD = """# Measured

Written by `make bench`. Each figure is held against a reference in the same run, the two taking
turns; a ratio is the median of the turns' ratios. A goal that is missed is explained under its
table.
"""
_PACKAGES = (
    "click lxml mido music21 numpy pretty_midi pyfluidsynth pygame-ce soundfile typst verovio"
).split()


def machine() -> str:
    """Processor, cores, memory, system and Python of this machine, in one line."""
    processor = platform.processor() or platform.machine()
    if (cpuinfo := Path("/proc/cpuinfo")).exists():
        found = re.search(r"model name\s*:\s*(.+)", cpuinfo.read_text(encoding="utf-8"))
        processor = found[1].strip() if found else processor
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    memory = ""
    if hasattr(os, "sysconf") and "SC_PHYS_PAGES" in os.sysconf_names:
        total = os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")
        memory = f", {total / 2**30:.0f} GB"
    system = f"{platform.system()} {platform.release()}"
    return f"{processor}, {cores} cores{memory}, {system}, Python {platform.python_version()}"


def versions() -> str:
    """The libraries that the figures depend on."""
    found = []
    for package in _PACKAGES:
        try:
            found.append(f"{package} {version(package)}")
        except PackageNotFoundError:
            found.append(f"{package} missing")
    return ", ".join(found)


def figure(value: float | None) -> str:
    """Three figures that count."""
    return "" if value is None else f"{value:.3g}" if abs(value) < 1000 else f"{value:,.0f}"


def section(title: str, measures: Sequence[Measure], explained: Mapping[str, str]) -> str:
    """One module's section."""
    lines = [
        f"## {title}",
        "",
        f"{datetime.date.today().isoformat()}; {machine()}; {versions()}.",
        "",
        "| what | measured | against | reference | ratio | goal | met | note |",
        "|---|---:|---|---:|---:|---|---|---|",
    ]
    for one in measures:
        met = "" if not one.goal else "yes" if one.ok else "**no**"
        reference = f"{figure(one.reference_value)} {one.unit}" if one.reference_value else ""
        cells = (
            one.name,
            f"{figure(one.value)} {one.unit}",
            one.reference,
            reference,
            figure(one.ratio),
            one.goal,
            met,
            one.note,
        )
        lines.append("| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |")
    missed = [one for one in measures if not one.ok]
    if missed:
        lines.append("")
    for one in missed:
        lines.append(f"- {one.name}: {explained.get(one.name, 'missed, and not explained.')}")
    return "\n".join(lines) + "\n"


def write_results(path: Path, sections: Mapping[str, str]) -> None:
    """Put `sections` (title: text) into the file, in place of those of the same title."""
    old = path.read_text(encoding="utf-8") if path.exists() else ""
    kept = {
        part.split("\n", 1)[0].removeprefix("## ").strip(): part.rstrip() + "\n"
        for part in re.split(r"^(?=## )", old, flags=re.MULTILINE)
        if part.startswith("## ")
    }
    everything = kept | dict(sections)
    text = "\n".join([_HEAD, *(everything[title] for title in sorted(everything))])
    path.write_text(text, encoding="utf-8")
