"""What each kind of case means: body and stations for the solver, outcomes and limits for the user."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from thermokit.processes.base import Process


def process_of(case: Any) -> Process:
    """The process of a case. A new kind is a module here and one line in this function."""
    if case.process == "sheet":
        from thermokit.processes.sheet import SheetProcess

        return SheetProcess(case)
    from thermokit.processes.body import BodyProcess

    return BodyProcess(case)
