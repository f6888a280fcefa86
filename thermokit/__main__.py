"""``python -m thermokit`` and the command ``thermokit``: the command line, and Ctrl-C at any instant ends it with a word."""

from __future__ import annotations

import os

STOPPED = 130  # exit status after Ctrl-C


def main() -> None:
    """Load the command line and run it; Ctrl-C before it is loaded and after it is done is one word too."""
    try:
        from thermokit.cli import main as command

        command()
    except KeyboardInterrupt:
        # an interpreter that is interrupted again while it ends would print a traceback: it has nothing left to do
        os.write(2, b"stopped\n")
        os._exit(STOPPED)


if __name__ == "__main__":
    main()
