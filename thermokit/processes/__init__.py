"""What each kind of case means: body and stations for the solver, outcomes and limits for the user."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from thermokit.errors import CaseError, Mistake

if TYPE_CHECKING:
    from thermokit.processes.base import Direct, Process


def direct_of(case: Any) -> Direct | None:
    """The process of a case that solves itself (a section), None where it is one layered body: then see ``process_of``.

    A new kind of this sort is a module here and one line in this function.
    """
    if case.process == "section":
        from thermokit.processes.section import SectionProcess

        return SectionProcess(case)
    if case.process == "mould":
        from thermokit.processes.mould import MouldProcess

        return MouldProcess(case)
    return None


def process_of(case: Any, places: Any = None) -> Process:
    """The process of a case; ``places`` : which places of the part are solved, in the words of its kind (None: its own choice).

    A new kind is a module here and one line in this function. Raises CaseError for a case that is no layered body.
    """
    if direct_of(case) is not None:
        raise CaseError(
            case.source.file,
            [Mistake("process", f'"{case.process}" is no layered body', "a case of one layered body for this command")],
        )
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
    if case.process == "cylinder":
        from thermokit.processes.cylinder import CylinderProcess

        return CylinderProcess(case)
    if case.process == "line":
        from thermokit.processes.line import LineProcess

        return LineProcess(case)
    from thermokit.processes.body import BodyProcess

    return BodyProcess(case)
