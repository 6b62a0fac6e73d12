"""The command line: the only place that parses arguments, prints, draws progress bars or exits.

Conventions: exit codes are 0 done, 1 the input was wrong, 2 wrong usage, 130 interrupted. Results
go to stdout, everything else to stderr.
"""

from __future__ import annotations

import io
import sys

from accomp.cli.group import cli
from accomp.errors import AccompError

__all__ = ["cli", "main"]


def main(arguments: list[str] | None = None) -> None:
    """Run the command line and exit; no traceback reaches the user."""
    _tidy_up_when_told_to_end()
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):  # a ♭ becomes ? where the terminal has none
            stream.reconfigure(errors="replace")
    sys.exit(run(sys.argv[1:] if arguments is None else arguments))


def run(arguments: list[str]) -> int:
    """Run the command line and return the exit code."""
    import click

    try:
        code = cli.main(args=arguments, prog_name="accomp", standalone_mode=False)
    except click.exceptions.Exit as stop:
        return stop.exit_code
    except click.UsageError as error:
        error.show()
        return 2
    except click.ClickException as error:
        error.show()
        return error.exit_code
    except (KeyboardInterrupt, click.Abort):
        click.echo("\nStopped. No half-made file was left.", err=True)
        return 130
    except AccompError as error:
        from accomp.cli.options import error_text

        click.echo(printable(error_text(error)), err=True)
        return error.exit_code
    except BrokenPipeError:  # the reader of our output has gone, as `| head` does
        sys.stderr.close()
        return 0
    except OSError as error:  # what concerns a file was told above; this is our own output
        reason = printable((error.strerror or str(error)).lower())
        click.echo(f"The output cannot be written ({reason}).", err=True)
        return 1
    except Exception as error:
        import os

        if os.environ.get("ACCOMP_DEBUG"):
            raise
        reason = printable(f"{type(error).__name__}: {error}")
        click.echo(
            f"accomp itself failed ({reason}). This is a fault of the program, not of "
            "yours: please report it, with what ACCOMP_DEBUG=1 prints.",
            err=True,
        )
        return 1
    return code if isinstance(code, int) else 0


def _tidy_up_when_told_to_end() -> None:
    """Leave through every `finally` on SIGTERM and SIGHUP too, unless somebody ignores them."""
    import signal

    for name in ("SIGTERM", "SIGHUP"):
        number = getattr(signal, name, None)
        if number is not None and signal.getsignal(number) == signal.SIG_DFL:
            signal.signal(number, lambda which, frame: sys.exit(128 + which))


def printable(text: str) -> str:
    """Text from files as a terminal may safely show it: control characters become visible."""
    signs = (sign if sign == "\n" or sign.isprintable() else repr(sign)[1:-1] for sign in text)
    return "".join(signs)
