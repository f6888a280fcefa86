"""Which kinds of case there are. A new kind is one file in this room and one line here."""

from __future__ import annotations

from collections.abc import Mapping
from importlib import import_module
from typing import TYPE_CHECKING

from thermokit.case.mistakes import nearest, shown
from thermokit.errors import CaseError, Mistake

if TYPE_CHECKING:
    from thermokit.case.common import Case

#: process -> (module, class); the module also holds the kind's TEMPLATE
KINDS: Mapping[str, tuple[str, str]] = {
    "body": ("thermokit.case.body", "BodyCase"),
    "sheet": ("thermokit.case.sheet", "SheetCase"),
    "charge": ("thermokit.case.charge", "ChargeCase"),
    "dip": ("thermokit.case.dip", "DipCase"),
    "mill": ("thermokit.case.mill", "MillCase"),
    "cylinder": ("thermokit.case.cylinder", "CylinderCase"),
    "section": ("thermokit.case.section", "SectionCase"),
    "mould": ("thermokit.case.mould", "MouldCase"),
    "line": ("thermokit.case.line", "LineCase"),
}


def case_class(kind: str) -> type[Case]:
    """The class of a kind of case; CaseError with the nearest kinds where there is none of that name."""
    _check(kind)
    module, name = KINDS[kind]
    found: type[Case] = getattr(import_module(module), name)
    return found


def template(kind: str) -> str:
    """A commented starting case of a kind; it loads as it stands."""
    _check(kind)
    text: str = import_module(KINDS[kind][0]).TEMPLATE
    return text


def _check(kind: str) -> None:
    if kind not in KINDS:
        allowed = " or ".join(KINDS)
        raise CaseError("", [Mistake("kind", f"{shown(kind)} is no kind of case", allowed, nearest(kind, KINDS))])
