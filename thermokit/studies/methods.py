"""Which method? Every way to shape the case's part, run through the model, side by side; and why the others cannot.

What the part asks (shape, depth, undercut, clear face, detail, tooling) sorts out what cannot be; what is left is heated as
the case says, drawn, held until it may be let go, and its figures are those of any run.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from thermokit.case.shaping import METHODS
from thermokit.errors import CaseError, Mistake, ThermokitError
from thermokit.studies.methods_cases import by_method
from thermokit.studies.run import as_case

if TYPE_CHECKING:
    from collections.abc import Callable

    from thermokit.case.sheet import SheetCase
    from thermokit.results.model import Result

#: depth over the smaller width (height over ring of a dome) that a method draws; common practice, no source
DEEPEST = {
    "free_blowing": 0.75, "blow_into_mould": 0.75, "drape": 0.4, "skeleton_press": 0.4, "matched_press": 0.5,
    "rubber_nose": 0.4, "snap_back": 0.6, "vacuum_female": 0.6, "vacuum_male": 1.0, "vacuum_plug": 1.5, "vacuum_bubble": 1.5,
}  # fmt: skip
NO_DETAIL = ("free_blowing", "drape", "skeleton_press", "snap_back")
BOTH_FACES = ("matched_press", "rubber_nose")
#: tools over which the sheet is drawn in one piece: an undercut locks it on
LOCKED = ("drape", "skeleton_press", "matched_press", "snap_back", "vacuum_male", "vacuum_plug")
NEEDS = {
    "free_blowing": ("ring",), "blow_into_mould": ("mould",), "drape": ("former",), "skeleton_press": ("skeleton",),
    "matched_press": ("matched",), "rubber_nose": ("rubber_nose",), "snap_back": ("skeleton", "vacuum_box"),
    "vacuum_female": ("mould", "vacuum_box"), "vacuum_male": ("former", "vacuum_box"),
    "vacuum_plug": ("mould", "plug", "vacuum_box"), "vacuum_bubble": ("former", "vacuum_box"),
}  # fmt: skip
#: parts from which the tool of a method usually pays; common practice, no source
PAYS = {
    "free_blowing": 1, "blow_into_mould": 50, "drape": 1, "skeleton_press": 5, "matched_press": 1000, "rubber_nose": 100,
    "snap_back": 5, "vacuum_female": 50, "vacuum_male": 20, "vacuum_plug": 200, "vacuum_bubble": 50,
}  # fmt: skip
#: parts up to which a method of much handwork is usual; common practice, no source
FEW = {"free_blowing": 2000, "drape": 200, "skeleton_press": 500, "snap_back": 200}
FIGURES = (
    "working_time", "holding_time", "cycle_time", "shaping_pressure", "detail_pressure", "bursting_pressure", "clamp_force",
    "clamp_share", "stored_energy", "thinnest_place", "mean_thickness", "contraction", "crown_difference", "blank_diameter",
    "blank_length", "blank_width", "cold_diameter", "cold_length", "cold_width",
)  # fmt: skip


@dataclass(frozen=True)
class Method:
    """One method: its figures by name (value, unit) and where, why it cannot, what else to know; result : the run, if any."""

    name: str
    can: bool
    reasons: tuple[str, ...]
    figures: dict[str, tuple[float, str]] = field(default_factory=dict)
    thinnest_in: str = ""
    marks: dict[str, str] = field(default_factory=dict)
    tools: dict[str, float] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    own: bool = False
    result: Result | None = None


@dataclass(frozen=True)
class Methods:
    """All methods for a part; hold : how each was held."""

    case: SheetCase
    rows: tuple[Method, ...]

    def as_json(self) -> dict[str, Any]:
        """The JSON object of ``thermokit methods --json``."""
        part = self.case.part
        assert part is not None
        sizes = {
            name: getattr(part, name) for name in ("ring", "height", "length", "width", "depth", "corner", "detail")
        }
        return {
            "title": self.case.title,
            "case_sha256": self.case.source.sha256,
            "part": {
                "shape": part.shape,
                **{name: {"value": 1e3 * value, "unit": "mm"} for name, value in sizes.items() if value is not None},
                "undercut": part.undercut,
                "clear_face": part.clear_face,
                "quantity": part.quantity,
                "tooling": list(part.tooling),
            },
            "methods": [
                {
                    "name": row.name,
                    "can": row.can,
                    "reasons": list(row.reasons),
                    "figures": {name: {"value": value, "unit": unit} for name, (value, unit) in row.figures.items()},
                    "thinnest_in": row.thinnest_in or None,
                    "marks": row.marks,
                    "tools": {name: {"value": value, "unit": "degC"} for name, value in row.tools.items()},
                    "notes": list(row.notes),
                    "as_in_case": row.own,
                }
                for row in self.rows
            ],
        }


def methods(case: Any, progress: Callable[[float], None] | None = None) -> Methods:
    """Every method for the part of a case (or case file) with [shaping] and [part].

    Raises CaseError where it has none.
    """
    case = part_of(case)
    rows = []
    for i, name in enumerate(METHODS):
        reasons = cannot(case, name)
        rows.append(Method(name, False, reasons, own=name == case.shaping.method) if reasons else tried(case, name))
        if progress is not None:
            progress((i + 1) / len(METHODS))
    return Methods(case, tuple(rows))


def part_of(case: Any) -> SheetCase:
    """A case (or case file) of a part, its heating found; CaseError where it has no part."""
    case = as_case(case)
    if getattr(case, "shaping", None) is None or case.part is None:
        raise CaseError(
            case.source.file,
            [Mistake("part", "missing: methods are compared for a part", "[part] and [shaping] in a case of a sheet")],
        )
    return heated(case)


def heated(case: SheetCase) -> SheetCase:
    """The case with its heating found, where that is what it leaves to be found."""
    from thermokit.case import sought_path
    from thermokit.case.shaping_checks import shaped_at
    from thermokit.studies.dwell import window_of

    path = sought_path(case)
    if path is None or path not in {f"stations.{s.name}.duration" for s in case.stations[: shaped_at(case)]}:
        return case
    window = window_of(replace(case, tolerances={}))
    value = window.middle if window.middle is not None else window.nearest_miss()[0]
    found: SheetCase = case.with_values({path: value})
    return found


def cannot(case: SheetCase, method: str) -> tuple[str, ...]:
    """Why a method cannot make the part, as far as it is seen without a run; empty where nothing speaks against it."""
    part = case.part
    assert part is not None
    found = []
    if method == "free_blowing" and part.shape != "dome":
        found.append(f"blows domes only, not a {part.shape}")
    if part.shape == "panel" and method in ("free_blowing", "snap_back", "vacuum_plug", "vacuum_bubble"):
        found.append("nothing is drawn in a panel")
    deep = depth_ratio(case)
    if deep is not None and deep > DEEPEST[method]:
        found.append(f"depth over width {deep:.2g}, usual up to {DEEPEST[method]:g}")
    if part.undercut and method in LOCKED:
        found.append("the undercut locks it on its tool")
    if part.detail is not None and method in NO_DETAIL:
        found.append(f"brings out no detail of {1e3 * part.detail:.3g} mm")
    if part.clear_face != "none" and method in BOTH_FACES:
        found.append("tools touch both faces hot, also the one that must stay clear")
    elif part.clear_face == "both" and method != "free_blowing":
        found.append("a tool touches a face, and both must stay clear")
    missing = [tool for tool in NEEDS[method] if tool not in part.tooling]
    if part.tooling and missing:
        found.append(f"no {' and no '.join(missing)} at hand".replace("_", " "))
    return tuple(found)


def depth_ratio(case: SheetCase) -> float | None:
    """Depth over the smaller width of the opening, height over ring; None for a panel."""
    part = case.part
    assert part is not None
    if part.shape == "dome":
        return part.height / part.ring  # type: ignore[operator]
    if part.shape == "tray":
        return part.depth / min(part.length, part.width)  # type: ignore[operator, type-var]
    return None


def tried(case: SheetCase, method: str) -> Method:
    """A method run through the model: held just long enough, with a tenth to spare."""
    from thermokit.case import sought_path
    from thermokit.processes import process_of
    from thermokit.processes.run import judged, settled
    from thermokit.studies.dwell import window_of

    assert case.shaping is not None
    own = method == case.shaping.method
    other = by_method(case, method)
    path = sought_path(other)
    assert path is not None
    try:
        window = window_of(other)
        hold = window.middle if window.middle is not None else window.nearest_miss()[0]
        other = other.with_values({path: hold})
        process = process_of(other)
        result = judged(other, process, settled(other, process), {})
    except ThermokitError as wrong:
        return Method(method, False, (str(wrong).splitlines()[0],), own=own)
    reasons = []
    if "stop" in result.study:
        reasons.append(result.study["stop"]["why"].removeprefix("STOP: ").rstrip("."))
    for check in result.limits:
        if not check.met and check.margin is not None:
            unit = "" if check.unit == "1" else f" {check.unit}"
            reasons.append(f"{check.name} {check.found:.3g}{unit}, {check.required}")
    if window.middle is None and not reasons:
        reasons.append("no hold keeps all limits")
    if any("does NOT draw it" in text for text in result.remarks):
        reasons.append("by its own weight it bends, but is not drawn so far")
    cold = too_little_pressure(result, method)
    doubt = doubt_of_modulus(other)
    if cold is not None and cold[0] > doubt * cold[1]:
        reasons.append(f"the detail takes {cold[0]:.2g} bar, the vacuum gives {cold[1]:.2g}")
    row = _row(method, own, reasons, result, process)
    if cold is None or cold[0] > doubt * cold[1]:
        return row
    words = (
        f"detail in doubt: it takes {cold[0]:.2g} bar (the modulus of hot sheet is known to a factor of {doubt:g}), "
    )
    return replace(row, notes=(*row.notes, f"{words}the vacuum gives {cold[1]:.2g}"))


def too_little_pressure(result: Result, method: str) -> tuple[float, float] | None:
    """(wanted, there is) [bar] where the vacuum is less than what the detail takes, else None."""
    values = {o.name: o.value for o in result.outcomes}
    wanted, own = values.get("detail_pressure"), values.get("shaping_pressure")
    if wanted is None or own is None or wanted <= own or not method.startswith("vacuum"):
        return None
    return wanted, own


def doubt_of_modulus(case: SheetCase) -> float:
    """Factor by which the modulus of the hot sheet may be wrong; 1 where the case gives its own."""
    from thermokit.shaping.modulus import hot_modulus

    assert case.shaping is not None
    if case.shaping.modulus is not None:
        return 1.0
    try:
        return hot_modulus(case.sheet.material).factor
    except ThermokitError:
        return 1.0


def _row(name: str, own: bool, reasons: list[str], result: Result, process: Any) -> Method:
    outcomes = {o.name: o for o in result.outcomes}
    figures = {n: (o.value, o.unit) for n, o in outcomes.items() if n in FIGURES and o.value is not None}
    figures["cycle_time"] = (float(outcomes["release_time"].value), "s")  # type: ignore[arg-type]
    part = process.case.part
    notes = []
    if part.quantity is not None and part.quantity < PAYS[name]:
        notes.append(f"its tool usually pays from {PAYS[name]} parts on (assumed)")
    if part.quantity is not None and part.quantity > FEW.get(name, part.quantity):
        notes.append(f"much handwork: usual up to {FEW[name]} parts (assumed)")
    if part.undercut:
        notes.append("undercut: the tool must come apart")
    notes += [text for text in result.warnings if "however long" in text]
    marks = {
        side: outcomes[f"{side}_face_at_touch"].meaning.partition(": ")[2]
        for side in ("upper", "lower")
        if f"{side}_face_at_touch" in outcomes
    }
    tools = {}
    for tool, entry in process.case.tools.items():
        settled = outcomes.get(f"settled_{tool}_temperature")
        if settled is not None and settled.value is not None:
            tools[tool] = settled.value
        elif not entry.has_body:
            value = entry.temperature
            tools[tool] = float(value.value[-1] if hasattr(value, "value") else value) - 273.15
    return Method(
        name=name,
        can=not reasons,
        reasons=tuple(reasons),
        figures=figures,
        thinnest_in=outcomes["thinnest_place"].meaning.removeprefix("thickness left in the ").partition(" ")[0],
        marks=marks,
        tools=tools,
        notes=tuple(notes),
        own=own,
        result=result,
    )
