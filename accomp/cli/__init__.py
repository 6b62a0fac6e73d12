"""The command line: the only place that parses arguments, prints, draws progress bars or exits.

Conventions: exit codes are 0 done, 1 a file was wrong, 2 wrong usage (an option or its value
included), 130 interrupted. Results go to stdout, everything else to stderr; with --json the
problems go to stdout, too, as one document.
"""

from __future__ import annotations

import contextlib
import io
import sys
from typing import TYPE_CHECKING

from accomp.cli.group import cli
from accomp.cli.saying import printable, talking, tell
from accomp.errors import INTERRUPTED, AccompError, InputError, Problem, own_fault, reason

if TYPE_CHECKING:
    import click

__all__ = ["cli", "main", "printable", "run"]


def main(arguments: list[str] | None = None) -> None:
    """Run the command line and exit; no traceback reaches the user."""
    _stand_in_for_closed_streams()
    _tidy_up_when_told_to_end()
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):  # a ♭ becomes ? where the terminal has none
            stream.reconfigure(errors="replace")
    try:
        code = run(sys.argv[1:] if arguments is None else arguments)
    except KeyboardInterrupt:  # once more, while the first was being answered
        code = INTERRUPTED
    _let_go_of_stdout()
    sys.exit(code)


def run(arguments: list[str]) -> int:
    """Run the command line and return the exit code."""
    with talking():
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
    except BrokenPipeError:  # the reader of our output has gone, as `| head` does
        return 0
    except OSError as error:  # what concerns a file was told above; this is our own output
        tell(f"The output cannot be written ({reason(error)}).")
        return 1
    except Exception as error:
        fault = own_fault(error)
        tell(str(fault))
        _say_problems(arguments, fault)
        return 1
    return code if isinstance(code, int) else 0


def _say_problems(arguments: list[str], error: AccompError) -> None:
    """Who reads JSON gets the problems as JSON, too, unless stdout is what is wrong."""
    from accomp.cli.problems import error_rows
    from accomp.cli.saying import UnsaidError, say_json

    if "--json" in arguments and not isinstance(error, UnsaidError):
        with contextlib.suppress(UnsaidError, BrokenPipeError):
            say_json(error_rows(error))


def _words_of(error: click.ClickException) -> str:
    """What click says of wrong usage; a word of somebody's may stand in it."""
    import click

    if isinstance(error, getattr(click.exceptions, "NoArgsIsHelpError", ())):
        return error.format_message()  # the whole help: whoever says nothing asks for it
    said = f"Error: {' '.join(error.format_message().split())}"  # click sets lists with tabs
    if isinstance(error, click.UsageError) and error.ctx is not None:
        return f"{error.ctx.get_usage()}\nTry '{error.ctx.command_path} --help' for help.\n\n{said}"
    return said


def _stand_in_for_closed_streams() -> None:
    """Open what was closed before the program began (`2>&-`): else the next file that is opened,
    somebody's music perhaps, becomes what libraries take for the terminal."""
    import os

    for number, name, mode in ((0, "stdin", "r"), (1, "stdout", "w"), (2, "stderr", "w")):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)  # gets the lowest number that is free: this one
        if getattr(sys, name) is None:
            setattr(sys, name, open(number, mode, closefd=False))  # noqa: SIM115  to the end


def _let_go_of_stdout() -> None:
    """What stdout did not take was told; Python is not to try again when it ends."""
    import os

    try:
        sys.stdout.flush()
    except (OSError, ValueError):
        with contextlib.suppress(OSError, ValueError):
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _tidy_up_when_told_to_end() -> None:
    """Leave through every `finally` on SIGTERM and SIGHUP too, unless somebody ignores them."""
    import signal

    for name in ("SIGTERM", "SIGHUP"):
        number = getattr(signal, name, None)
        if number is not None and signal.getsignal(number) == signal.SIG_DFL:
            signal.signal(number, lambda which, frame: sys.exit(128 + which))
