"""The command line: the only place that parses arguments, prints, draws progress bars or exits.

Conventions: exit codes are 0 for done, 1 for a wrong file, 2 for wrong usage (also of an option),
130 for interrupted. Results go to stdout, everything else to stderr; with --json the problems go
to stdout, too, as one document.
"""

from __future__ import annotations

import contextlib
import io
import sys
from typing import TYPE_CHECKING

from accomp.cli.group import cli
from accomp.cli.saying import own_verbosity, printable, tell
from accomp.errors import INTERRUPTED, AccompError, InputError, Problem, own_fault, reason

if TYPE_CHECKING:
    import click

__all__ = ["cli", "main", "printable", "run"]


def main(arguments: list[str] | None = None) -> None:
    """Run the command line and exit; no traceback reaches the user."""
    _stand_in_for_closed_streams()
    _tidy_up_when_told_to_end()
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):  # a ♭ becomes ? on a terminal that has no ♭
            stream.reconfigure(errors="replace")
    try:
        code = run(sys.argv[1:] if arguments is None else arguments)
    except KeyboardInterrupt:  # a second Ctrl-C, while the first was handled
        code = INTERRUPTED
    _let_go_of_stdout()
    sys.exit(code)


def run(arguments: list[str]) -> int:
    """Run the command line and return the exit code."""
    with own_verbosity():
        return _run(arguments)


def _run(arguments: list[str]) -> int:
    import click

    try:
        code = cli.main(args=arguments, prog_name="accomp", standalone_mode=False)
    except click.exceptions.Exit as stop:
        return stop.exit_code
    except click.ClickException as error:
        tell(_words_of(error))
        _say_problems(arguments, InputError(Problem(" ".join(error.format_message().split()))))
        return error.exit_code
    except (KeyboardInterrupt, click.Abort):
        tell("\nStopped. No half-made file was left.")
        return INTERRUPTED
    except AccompError as error:
        from accomp.cli.problems import error_text, wrong_usage

        tell(error_text(error))
        _say_problems(arguments, error)
        return 2 if wrong_usage(error) else error.exit_code
    except BrokenPipeError:  # the reader of our output has closed it, as `| head` does
        return 0
    except OSError as error:  # errors about files are reported above; this is about our output
        tell(f"The output cannot be written ({reason(error)}).")
        return 1
    except Exception as error:
        fault = own_fault(error)
        tell(str(fault))
        _say_problems(arguments, fault)
        return 1
    return code if isinstance(code, int) else 0


def _say_problems(arguments: list[str], error: AccompError) -> None:
    """Print the problems as JSON if the user asked for JSON, unless stdout itself fails."""
    from accomp.cli.problems import error_rows
    from accomp.cli.saying import UnsaidError, say_json

    if "--json" in arguments and not isinstance(error, UnsaidError):
        with contextlib.suppress(UnsaidError, BrokenPipeError):
            say_json(error_rows(error))


def _words_of(error: click.ClickException) -> str:
    """Click's message about wrong usage, or the whole help for a call without arguments."""
    import click

    if isinstance(error, getattr(click.exceptions, "NoArgsIsHelpError", ())):
        return error.format_message()  # the whole help
    said = f"Error: {' '.join(error.format_message().split())}"  # click writes lists with tabs
    if isinstance(error, click.UsageError) and error.ctx is not None:
        return f"{error.ctx.get_usage()}\nTry '{error.ctx.command_path} --help' for help.\n\n{said}"
    return said


def _stand_in_for_closed_streams() -> None:
    """Open standard streams that were closed before the start (`2>&-`). Else the next file opened
    would get their number, and libraries would write to it as to the terminal."""
    import os

    for number, name, mode in ((0, "stdin", "r"), (1, "stdout", "w"), (2, "stderr", "w")):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)  # gets the lowest free number: this one
        if getattr(sys, name) is None:
            setattr(sys, name, open(number, mode, closefd=False))  # noqa: SIM115  to the end


def _let_go_of_stdout() -> None:
    """Flush stdout; if that fails, replace it, so that Python does not try again at its end."""
    import os

    try:
        sys.stdout.flush()
    except (OSError, ValueError):
        with contextlib.suppress(OSError, ValueError):
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _tidy_up_when_told_to_end() -> None:
    """On SIGTERM and SIGHUP, exit through every `finally`, unless the signals are ignored."""
    import signal

    for name in ("SIGTERM", "SIGHUP"):
        number = getattr(signal, name, None)
        if number is not None and signal.getsignal(number) == signal.SIG_DFL:
            signal.signal(number, lambda which, frame: sys.exit(128 + which))
