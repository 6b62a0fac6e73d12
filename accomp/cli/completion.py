"""`accomp completion`: what makes a shell complete commands, options and names."""

from __future__ import annotations

import click
from click.shell_completion import get_completion_class

SHELLS = ("bash", "zsh", "fish")


@click.command(short_help="Print what makes your shell complete commands and names.")
@click.argument("shell", type=click.Choice(SHELLS))
def completion(shell: str) -> None:
    """Print a script for SHELL that completes commands, options, styles, instruments, hands, keys,
    positions of the tune, and chords of the tunes in this folder.

    \b
    bash: accomp completion bash > ~/.local/share/bash-completion/completions/accomp
    zsh:  accomp completion zsh > a folder of your $fpath, as the file _accomp
    fish: accomp completion fish > ~/.config/fish/completions/accomp.fish
    """
    from accomp.cli.group import cli
    from accomp.cli.saying import hand_over

    found = get_completion_class(shell)
    assert found is not None, "every shell of the list has one"
    script = found(cli, {}, "accomp", "_ACCOMP_COMPLETE").source()
    hand_over(script.encode())
