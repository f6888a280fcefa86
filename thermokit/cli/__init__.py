"""The command line: one group of commands, each loaded when it is called, so that nothing heavy is imported before."""

from __future__ import annotations

import errno
import os
import sys
from contextlib import suppress
from importlib import import_module
from typing import Any

import click

from thermokit.errors import ThermokitError, visible

# errors of standard output: a full disk, a full share, a file that is too large, a fault
FULL = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EIO)

# command -> (module, one line of help); a new command is one module with ``command`` in it and one line here
COMMANDS = {
    "run": ("thermokit.cli.run", "Run a case and write its result file."),
    "dwell": ("thermokit.cli.dwell", "How long: earliest, latest and recommended, and why."),
    "tolerance": (
        "thermokit.cli.tolerance",
        "How many parts come out right, why the others do not, and the best setting.",
    ),
    "window": ("thermokit.cli.window", "A map over two settings: where every limit is met, and the nearest edge."),
    "sensitivity": ("thermokit.cli.sensitivity", "Which input the answer hangs on: Sobol indices over the tolerances."),
    "zones": ("thermokit.cli.zones", "How to set the zones of the panels, so that the sheet is even."),
    "methods": ("thermokit.cli.methods", "Which method can make the part, side by side, and why the others cannot."),
    "compare": ("thermokit.cli.compare", "Designs side by side, or one with other values: what differs first."),
    "cost": ("thermokit.cli.cost", "Energy and cost of a part: heat into it, what is drawn, machine and hands."),
    "bottleneck": ("thermokit.cli.bottleneck", "Which station rules the cycle, and what a second is worth."),
    "thermocouple": ("thermokit.cli.thermocouple", "Where one thermocouple tells most, and when."),
    "scale": (
        "thermokit.cli.scale",
        "How the answer grows with the wall: exponent, regime, and what t ~ L^2 would say.",
    ),
    "sweep": ("thermokit.cli.sweep", "Many rows of a case in one table; goes on where it was stopped."),
    "fit": ("thermokit.cli.fit", "Fit a case to a logger's file and to trials by stopwatch."),
    "setting": ("thermokit.cli.setting", "A setting sheet for the shop floor, one page (HTML or PDF)."),
    "why": ("thermokit.cli.why", "Likely causes of a defect, and what the case's run says to each."),
    "chart": ("thermokit.cli.chart", "A chart for the wall: what is sought against an input."),
    "verify": ("thermokit.cli.verify", "Solve a case again, finer and with a second engine."),
    "check": ("thermokit.cli.check", "Read a case, report every mistake, print it resolved."),
    "new": ("thermokit.cli.new", "Write a commented starting case."),
    "explain": ("thermokit.cli.explain", "What a key of a case file means and may hold."),
    "materials": ("thermokit.cli.materials", "The material library, with sources and confidence."),
    "kinetics": ("thermokit.cli.kinetics", "Fit kinetics of cure to DSC runs; list the library's sets."),
    "schema": ("thermokit.cli.schema", "The JSON Schema of case files, for editors."),
    "show": ("thermokit.cli.show", "Print a result file, or export it as CSV."),
    "plot": ("thermokit.cli.plot", "Draw a result file."),
}


class _Lazy(click.Group):
    """A group that imports a command's module when the command is called."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        found: click.Command = import_module(COMMANDS[cmd_name][0]).command
        return found

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(name, words) for name, (_, words) in COMMANDS.items()])

    def resolve_command(self, ctx: click.Context, args: list[str]) -> Any:
        if args and args[0] not in COMMANDS and not args[0].startswith("-"):
            from difflib import get_close_matches

            near = get_close_matches(args[0], COMMANDS, n=1)
            hint = f"did you mean {near[0]!r}?" if near else f"commands: {', '.join(COMMANDS)}"
            raise click.UsageError(f"no command {args[0][:40]!r}; {hint}", ctx)
        return super().resolve_command(ctx, args)


def _version(ctx: click.Context, _: click.Parameter, value: bool) -> None:
    if value and not ctx.resilient_parsing:
        from thermokit import __version__

        click.echo(f"thermokit {__version__}")
        ctx.exit()


@click.group(cls=_Lazy, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.option(
    "--version", is_flag=True, is_eager=True, expose_value=False, callback=_version, help="Print the version."
)
def group() -> None:
    """Thermal settings of moulds and ovens: times and temperatures, with their margins.

    A case file (TOML) says what goes through which stations. Start with `thermokit new sheet`.
    """


def _give_up_output() -> None:
    """What standard output has not taken goes nowhere: the interpreter would try once more at its end, and complain."""
    with suppress(OSError, ValueError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
        os.close(nowhere)


def main(args: list[str] | None = None) -> None:
    """The command `thermokit`: exit status 0 done, 1 no answer or failed solve, 2 the user's mistake, 130 stopped."""
    for stream in (sys.stdout, sys.stderr):
        # a character that a terminal or pipe cannot hold must not stop an answer
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    try:
        status = group.main(args, prog_name="thermokit", standalone_mode=False)
    except ThermokitError as error:
        # names of files and headings of logs may hold what a terminal would obey
        click.echo("\n".join(map(visible, str(error).split("\n"))), err=True)
        sys.exit(error.exit_status)
    except OSError as error:
        if error.filename is not None or error.errno not in FULL:
            raise
        # only standard output has no name: files are written whole, with words of their own
        click.echo(f"cannot write the answer to where standard output goes: {error.strerror}", err=True)
        _give_up_output()
        sys.exit(2)
    except MemoryError:
        click.echo("not enough memory for this: ask for fewer rows, points or draws, or for less accuracy", err=True)
        sys.exit(1)
    except click.exceptions.Abort:
        click.echo("stopped", err=True)
        sys.exit(130)
    except click.ClickException as error:
        error.show()
        sys.exit(2)
    except SystemExit:
        # click does this when the reader of a pipe went away (`thermokit materials | head -1`): nothing is wrong
        sys.exit(0)
    sys.exit(status if isinstance(status, int) else 0)
