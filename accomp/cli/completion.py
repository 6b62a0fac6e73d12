"""`accomp completion`: a script with which a shell completes commands, options and names."""

from __future__ import annotations

from typing import Literal, get_args

import click
from click.shell_completion import get_completion_class

Shell = Literal["bash", "zsh", "fish"]
SHELLS: tuple[Shell, ...] = get_args(Shell)


@click.command(short_help="Print what makes your shell complete commands and names.")
@click.argument("shell", type=click.Choice(SHELLS))
def completion(shell: Shell) -> None:
    """Print a script for SHELL that completes commands, options, styles, instruments, hands, keys,
    positions of the tune, and chords of the tunes in this folder.

    For bash: accomp completion bash > ~/.local/share/bash-completion/completions/accomp

    For zsh, into a folder of its $fpath: accomp completion zsh > FOLDER/_accomp

    For fish: accomp completion fish > ~/.config/fish/completions/accomp.fish
    """
    from accomp.cli.group import cli
    from accomp.cli.saying import hand_over

    found = get_completion_class(shell)
    assert found is not None, "every shell of the list has one"
    script = found(cli, {}, "accomp", "_ACCOMP_COMPLETE").source()
    hand_over(script.encode())
