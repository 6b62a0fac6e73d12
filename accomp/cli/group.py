"""The group of commands; the module of a command is imported only when it is called."""

from __future__ import annotations

import importlib

import click

from accomp import __version__
from accomp.cli.saying import Verbosity, set_verbosity

# name: (module, one line for `accomp --help`); in the order of a working day
COMMANDS = {
    "desk": ("desk", "Do the whole job in the browser, on this machine."),
    "make": ("make", "Make a play-along of a tune: MIDI, MusicXML, audio, pages."),
    "shapes": ("neck", "Show every playable shape of a chord, best first."),
    "positions": ("neck", "Show the areas of the neck in which a tune lies well."),
    "keys": ("neck", "Show which keys suit which positions on an instrument."),
    "read": ("read", "Turn a MusicXML or ABC lead sheet into a tune file."),
    "check": ("check", "Check tune, style, instrument and other files: all errors at once."),
    "practice": ("practice", "Make a practice page of a tune: one file for any browser."),
    "book": ("book", "Make a band book: many tunes, one PDF a player."),
    "styles": ("lists", "List the styles, or show one in detail."),
    "instruments": ("lists", "List the instruments, or show one in detail."),
    "new": ("new", "Write a file to begin with: a tune, a style, an instrument ..."),
    "config": ("config", "Show what holds where you say nothing, and where to say it."),
    "completion": ("completion", "Print what makes your shell complete commands and names."),
}


def _heed(ctx: click.Context, param: click.Parameter, value: bool) -> None:
    if value:
        set_verbosity(Verbosity.QUIET if param.name == "quiet" else Verbosity.FULL)


# Every command has these.
TALK = (
    click.Option(
        ["-q", "--quiet"],
        is_flag=True,
        expose_value=False,
        callback=_heed,
        help="Say what was asked for and what went wrong, nothing else.",
    ),
    click.Option(
        ["-v", "--verbose"],
        is_flag=True,
        expose_value=False,
        callback=_heed,
        help="Say every note, and what is being made.",
    ),
)


class LateGroup(click.Group):
    """A group that has name and one line of each command, so that `--help` imports none of them."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names of all commands, in the order of the table."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import and return the command of a name, None without one."""
        if cmd_name not in COMMANDS:
            return None
        module = importlib.import_module(f"accomp.cli.{COMMANDS[cmd_name][0]}")
        command: click.Command = getattr(module, cmd_name)
        command.params += [option for option in TALK if option not in command.params]
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """The command that the first word names; an unknown word fails with a similar one."""
        word = args[0]
        if word not in COMMANDS and not word.startswith("-") and not ctx.resilient_parsing:
            from accomp.files.values import did_you_mean

            ctx.fail(f"There is no command {word!r}. {did_you_mean(word, COMMANDS)}".rstrip())
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the list of commands from the table alone."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, line) for name, (_, line) in COMMANDS.items()])


@click.group(cls=LateGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="accomp")
def cli() -> None:
    """Turn a tune's chords into shapes, written parts and play-along tracks.

    Start with `accomp make TUNE` on a tune file (.toml), or `accomp read` on a lead sheet.
    """
