"""Man pages of `accomp` and its commands, from what `--help` knows.

`python -m docs.man_pages FOLDER` writes them. Conventions: one page a command, section 1, in the
macros of man(7). The pages carry no date, so that the same program makes the same bytes.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import click

from accomp import __version__
from accomp.cli.group import COMMANDS, cli


def pages() -> dict[str, str]:
    """Every page by its file name."""
    found = {"accomp.1": _page("accomp", cli, click.Context(cli, info_name="accomp"))}
    for name in COMMANDS:
        context = click.Context(cli, info_name="accomp")
        command = cli.get_command(context, name)
        assert command is not None, name
        inner = click.Context(command, info_name=name, parent=context)
        found[f"accomp-{name}.1"] = _page(f"accomp-{name}", command, inner)
    return found


def _page(title: str, command: click.Command, context: click.Context) -> str:
    short = command.get_short_help_str(200).rstrip(".")
    usage = " ".join(command.collect_usage_pieces(context))
    lines = [
        f'.TH "{title.upper()}" "1" "" "accomp {__version__}" "accomp"',
        ".SH NAME",
        f"{_text(title)} \\- {_text(short[:1].lower() + short[1:])}",
        ".SH SYNOPSIS",
        f".B {_text(context.command_path)}",
        _text(usage),
        ".SH DESCRIPTION",
        *_paragraphs(command.help or ""),
        ".SH OPTIONS",
        *_options(command, context),
    ]
    if isinstance(command, click.Group):
        lines.append(".SH COMMANDS")
        for name, (_, said) in COMMANDS.items():
            lines += [".TP", f".BR accomp\\-{_text(name)} (1)", _text(said)]
    lines += [
        ".SH EXIT STATUS",
        "0 done, 1 a file or what is in it was wrong, 2 wrong usage, 130 interrupted.",
    ]
    return "\n".join(lines) + "\n"


def _paragraphs(text: str) -> Iterator[str]:
    for at, paragraph in enumerate(text.strip().split("\n\n")):
        if at:
            yield ".PP"
        yield _text(" ".join(paragraph.split()))


def _options(command: click.Command, context: click.Context) -> Iterator[str]:
    for option in command.get_params(context):
        record = option.get_help_record(context)
        if isinstance(option, click.Option) and record is not None:
            yield ".TP"
            yield f".B {_text(record[0])}"
            yield _text(record[1])


def _text(text: str) -> str:
    """Text as data: no sign of it is a request or an escape of roff."""
    plain = text.replace("\\", "\\e").replace("-", "\\-")
    return f"\\&{plain}" if plain.startswith((".", "'")) else plain


def main(folder: Path) -> None:
    """Write all pages into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, page in pages().items():
        (folder / name).write_text(page, encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
