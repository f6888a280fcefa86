"""``python -m validation.siege [fuzz ...]``: each subcommand is a module; without one the book is written."""

from __future__ import annotations

import argparse
import sys
from importlib import import_module

#: subcommand -> (module, one line of help); a new one is one module and one line here
SUBCOMMANDS = {
    "book": ("validation.siege.book", "write README.md from what was measured (also without any subcommand)"),
    "fuzz": ("validation.siege.fuzz", "case and logger files made wrong in every way, each read and judged"),
    "kills": ("validation.siege.kills", "commands killed at random instants; what they leave is judged"),
}


def main(arguments: list[str] | None = None) -> int:
    """Run the subcommand; its exit status is 1 where something was found."""
    parser = argparse.ArgumentParser(prog="python -m validation.siege", description=__doc__)
    below = parser.add_subparsers(dest="subcommand")
    for name, (module, words) in SUBCOMMANDS.items():
        import_module(module).add_arguments(below.add_parser(name, help=words))
    options = parser.parse_args(arguments)
    status: int = import_module(SUBCOMMANDS[options.subcommand or "book"][0]).main(options)
    return status


if __name__ == "__main__":
    sys.exit(main())
