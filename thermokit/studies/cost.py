"""What a part costs in energy and money: heat into it, what heaters draw, pumps, the machine and hands while it is made.

    energy of a part = (heaters + chiller + pumps + idle)/n
    money of a part = energy x tariff + cycle/3600 (machine + labour)/n + mass x price

all over (1 - scrap). Heat into the part is that of the run's own heat balance, times the area (or length) of the parts.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from thermokit.case.cost import EFFICIENCY, PUMP, SIDE_BY_SIDE
from thermokit.errors import CaseError, Mistake
from thermokit.processes.run import run_case
from thermokit.studies.bottleneck import cost_of, lengths_of, settled_case, steps_of
from thermokit.studies.run import as_case

if TYPE_CHECKING:
    from collections.abc import Callable

    from thermokit.results.model import Result

KWH = 3.6e6  # J


@dataclass(frozen=True)
class Energy:
    """One amount of energy of a part [kWh]; drawn : counts in the bill; source : where it comes from, in words."""

    name: str
    kwh: float
    drawn: bool
    source: str


@dataclass(frozen=True)
class Money:
    """One amount of money of a part, in the currency."""

    name: str
    amount: float
    words: str


@dataclass(frozen=True)
class PartCost:
    """The answer, of one good part.

    cycle [s] gives ``parts``; mass [kg] of a part, None where it is not known; missing : what has no price or is not known.
    """

    case: Any
    cycle: float
    parts: int
    mass: float | None
    energies: tuple[Energy, ...]
    money: tuple[Money, ...]
    currency: str
    scrap: float
    result: Result
    missing: tuple[str, ...]
    notes: tuple[str, ...]

    @property
    def drawn(self) -> float:
        """Energy in the bill [kWh]."""
        return sum(e.kwh for e in self.energies if e.drawn)

    @property
    def total(self) -> float | None:
        """Money of a part, None where nothing has a price."""
        return sum(m.amount for m in self.money) if self.money else None

    def kwh(self, name: str) -> float | None:
        """One of the energies [kWh]."""
        return next((e.kwh for e in self.energies if e.name == name), None)


def cost(case: Any, progress: Callable[[float], None] | None = None) -> PartCost:
    """Energy and cost of a part of a case, with its ``[cost]`` where there is one.

    Raises CaseError where neither the case nor ``[cost]`` says how large the part is.
    """
    case = as_case(case)
    told = progress or (lambda share: None)
    filled, notes = settled_case(case)
    told(0.4)
    own = cost_of(filled)
    result = run_case(filled)
    told(0.9)
    known = {o.name: o.value for o in result.outcomes if o.value is not None}
    missing: list[str] = []
    parts, scrap = int(own.parts), float(own.scrap)
    cycle = _cycle(filled)
    each = 1.0 / parts / (1.0 - scrap)
    energies = [*_heat(filled, result, known, missing), *_others(filled, known, cycle, missing)]
    energies = [Energy(e.name, e.kwh * each, e.drawn, e.source) for e in energies]
    mass = _mass(filled, result, known)
    mass_each = None if mass is None else mass / parts
    drawn = sum(e.kwh for e in energies if e.drawn)
    money = []
    if own.energy is not None:
        money.append(Money("energy", drawn * float(own.energy), f"{drawn:.4g} kWh at {float(own.energy):g} a kWh"))
    for name, rate in (("machine", own.machine), ("labour", own.labour)):
        if rate is not None:
            words = f"{cycle / parts:.4g} s at {float(rate):g} an hour"
            money.append(Money(name, cycle / 3600.0 * float(rate) * each, words))
    if own.material is not None and mass_each is not None:
        price = float(own.material)
        money.append(Money("material", mass_each * price / (1.0 - scrap), f"{mass_each:.4g} kg at {price:g} a kg"))
    elif own.material is not None:
        missing.append("mass of the part: its material is not in the sum")
    if not money:
        missing.append("[cost]: tariff and rates (energy, machine, labour, material) give money beside energy")
    return PartCost(
        case=filled,
        cycle=cycle,
        parts=parts,
        mass=mass_each,
        energies=tuple(energies),
        money=tuple(money),
        currency=own.currency,
        scrap=scrap,
        result=result,
        missing=tuple(missing),
        notes=tuple(notes),
    )


def _cycle(case: Any) -> float:
    """Cycle of a case [s]; a piece of a line takes its length over the speed."""
    own = cost_of(case)
    if case.process == "line":
        if own.length is None:
            raise CaseError(case.source.file, [Mistake("cost.length", "missing", "the length of a part, such as 2 m")])
        return float(own.length) / float(case.line.speed) + float(own.between)
    steps = steps_of(case)
    lengths = lengths_of(steps).values()
    return (max(lengths) if own.stations == SIDE_BY_SIDE else sum(lengths)) + float(own.between)


def size_of(case: Any, unit: str) -> float | None:
    """What a heat balance in that unit is multiplied with for the parts of one cycle: m2, m or 1; None where it is not known."""
    own = cost_of(case)
    if unit == "J":
        return 1.0
    if unit == "J/m":
        return None if own.length is None else float(own.length)
    if own.area is not None:
        return float(own.area)
    sheet = getattr(case, "sheet", None)
    if sheet is not None and sheet.length is not None and sheet.width is not None:
        return float(sheet.length) * float(sheet.width)
    area = getattr(getattr(case, "charge", None), "area", None)
    if area is not None:
        return float(area)
    line = getattr(case, "line", None)
    if line is not None and getattr(line, "width", None) is not None and own.length is not None:
        return float(line.width) * float(own.length)
    return None


def _heat(case: Any, result: Result, known: dict[str, float], missing: list[str]) -> list[Energy]:
    """Heat into the parts of one cycle, what heaters draw for it and what is lost on the way."""
    own = cost_of(case)
    if case.process == "mould":
        return _mould_heat(case, known)
    heat = result.history.heat
    size = size_of(case, heat.unit)
    if size is None:
        what = "cost.length" if heat.unit == "J/m" else "cost.area"
        words = "how large the part is" if what == "cost.area" else "how long the part is"
        raise CaseError(
            case.source.file, [Mistake(what, f"missing: nothing says {words}", "its size, under [cost]")]
        )  # fmt: skip
    into, out = heat.entered * size / KWH, heat.left * size / KWH
    found = [Energy("heat into the part", into, False, "heat balance of the run")]
    if out > 0.0:
        found.append(Energy("heat out of the part", out, False, "heat balance of the run"))
    if heat.released > 0.0:
        found.append(Energy("heat of reaction", heat.released * size / KWH, False, "heat balance of the run"))
    panels = known.get("heater_energy")
    if own.efficiency is not None:
        draw, source = into / float(own.efficiency), f"heat into the part over {float(own.efficiency):g}, as given"
    elif panels is not None:
        draw, source = panels, "model of the panels"
    else:
        draw, source = into / EFFICIENCY, f"heat into the part over {EFFICIENCY:g}: assumed"
        missing.append(f"efficiency of the heaters: {EFFICIENCY:g} is assumed (common practice, no source)")
    found.append(Energy("heaters", draw, True, source))
    found.append(Energy("losses of the heaters", draw - into, False, "heaters less heat into the part"))
    return found


def _mould_heat(case: Any, known: dict[str, float]) -> list[Energy]:
    """A moulding brings its heat as melt; the coolant takes it out."""
    heat = known.get("heat_per_shot", 0.0) * 1e3 / KWH
    cooling = float(cost_of(case).cooling)
    return [
        Energy("heat into the coolant", heat, False, "the run"),
        Energy("chiller", heat / cooling, True, f"heat into the coolant over {cooling:g}"),
    ]


def _others(case: Any, known: dict[str, float], cycle: float, missing: list[str]) -> list[Energy]:
    """Pumps and what is drawn all the time, over one cycle."""
    own, found = cost_of(case), []
    if own.pump is not None:
        found.append(Energy("pumps", float(own.pump) * cycle / KWH, True, "as given"))
    else:
        hydraulic = sum(v for name, v in known.items() if name.endswith("_pump_power"))
        if hydraulic > 0.0:
            found.append(
                Energy("pumps", hydraulic / PUMP * cycle / KWH, True, f"hydraulic power over {PUMP:g}: assumed")
            )
    if float(own.idle) > 0.0:
        found.append(Energy("idle", float(own.idle) * cycle / KWH, True, "as given"))
    elif own.energy is not None:
        missing.append("idle power (fans, drives, controls): none is given")
    if case.process == "mould":
        missing.append("heat and drive of the machine that melts: not in the sum")
    return found


def _mass(case: Any, result: Result, known: dict[str, float]) -> float | None:
    """Mass of the parts of one cycle [kg], None where it is not known."""
    if "blank_mass" in known:
        return known["blank_mass"]
    if "charge_mass" in known:
        return known["charge_mass"] / 1e3
    from thermokit.processes import direct_of, process_of

    if direct_of(case) is not None or case.process not in ("body", "sheet", "charge"):
        return None
    size = size_of(case, result.history.heat.unit)
    if size is None or result.shape != "plane":
        return None
    layers = process_of(case).layers()
    return size * sum(float(thickness) * float(medium.density) for _, thickness, medium, _ in layers)
