"""Run a case; one with something to find is found first and then run at the recommended value."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable

    from thermokit.results.model import Result


def as_case(case: Any) -> Any:
    """A case, or the case in a file of that name."""
    if isinstance(case, (str, Path)):
        from thermokit.case import load_case

        return load_case(case)
    return case


def run(case: Any, progress: Callable[[float], None] | None = None) -> Result:
    """The result of a case, or of the case file of that name.

    Raises CaseError where the case is wrong, SolveError where what it seeks does not exist. A run that stops early returns
    what it has, with a ``status`` that says why.
    """
    from thermokit.case import sought_path
    from thermokit.processes.run import run_case

    case = as_case(case)
    if sought_path(case) is None:
        return run_case(case, progress)
    from thermokit.studies.dwell import dwell, run_at

    return run_at(case, dwell(case), progress)
