"""`accomp desk`: a server on this machine, to do the whole job in a browser."""

from __future__ import annotations

from pathlib import Path

import click

from accomp.cli.options import PATH, Whole


@click.command(short_help="Do the whole job in the browser, on this machine.")
@click.argument("folder", metavar="[FOLDER]", default=Path(), type=PATH)
@click.option("--port", type=Whole(0, 65535), metavar="N", help="Port; default: 8417.")
@click.option("--no-browser", is_flag=True, help="Do not open a browser; print the address only.")
@click.option("--read-only", is_flag=True, help="Show everything, change and make nothing.")
def desk(folder: Path, port: int | None, no_browser: bool, read_only: bool) -> None:
    """Open the desk of FOLDER (default: here), where your tune files lie, in the browser.

    It listens on this machine only; the address that is printed lets in who has it. Ctrl-C closes
    it.
    """
    import webbrowser

    from accomp import _maker
    from accomp.cli.saying import say, tell

    def opened(address: str) -> None:
        say(address)
        tell("The desk is open as long as this runs. Ctrl-C closes it. Start quietly.")
        if not no_browser:
            webbrowser.open(address)

    serve = _maker("desk")
    serve(folder, port, read_only=read_only, opened=opened)  # type: ignore[operator]
