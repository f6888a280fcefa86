"""What each kind of case means: body and stations for the solver, outcomes and limits for the user."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from thermokit.processes.base import Process


def process_of(case: Any, places: Any = None) -> Process:
    """The process of a case; ``places`` : which places of the part are solved, in the words of its kind (None: its own choice).

    A new kind is a module here and one line in this function.
    """
    if case.start_from is not None:
        from thermokit.processes.start import filled

        case = filled(case)
    if case.process == "sheet":
        from thermokit.processes.sheet import SheetProcess

        return SheetProcess(case, places)
    if case.process == "charge":
        from thermokit.processes.charge import ChargeProcess

        return ChargeProcess(case)
    if case.process == "dip":
        from thermokit.processes.dip import DipProcess

        return DipProcess(case, places)
    if case.process == "mill":
        from thermokit.processes.mill import MillProcess

        return MillProcess(case)
    from thermokit.processes.body import BodyProcess

    return BodyProcess(case)
