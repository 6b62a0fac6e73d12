"""The command line from its first moment on: Ctrl-C while it is being imported ends it quietly."""

from __future__ import annotations

import sys

from accomp.errors import INTERRUPTED


def main() -> None:
    """Run the command line and exit."""
    try:
        from accomp.cli import main as command_line

        command_line()
    except KeyboardInterrupt:
        sys.exit(INTERRUPTED)


if __name__ == "__main__":
    main()
