"""The kinetics library: which sets there are, and one of them by its name. Only the file asked for is read.

A file ``data/<id>.toml`` holds ``id``, ``name``, ``state`` (which degree it governs), ``needs`` (states it reads, which
must stand before it in the layer), ``status`` (``recommended`` for work, ``reference`` for comparison), ``confidence``,
``sources`` (numbers into ``references``, counted from 1), ``flags`` (where it misleads), then ``[rate]`` with its law
and parameters, ``[valid]`` (range of temperature; ``nonphysical_above`` where the set means nothing), ``[heat]``, where
known ``[gel]`` and ``[glass]``, where the rate is limited ``[limit]``, and what was computed or read beside it.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING, Any

from thermokit.errors import DataError
from thermokit.kinetics.branches import ByTemperature, SumOfRates
from thermokit.kinetics.guards import falls_below_zero
from thermokit.kinetics.limited import DiffusionLimited, Vitrified
from thermokit.kinetics.network import GlassTransition
from thermokit.kinetics.pvc import Fusion, Gelation, HeatDose
from thermokit.kinetics.rates import EpoxyAmine, NthOrder, TwoRate
from thermokit.units import UnitError, parse

if TYPE_CHECKING:
    from thermokit.kinetics.rates import Law

DATA = Path(__file__).parent / "data"
ZERO_CELSIUS = 273.15  # K


@dataclass(frozen=True, eq=False)
class KineticsSet:
    """A rate law with its parameters, and what is known about them.

    state : ``cure_degree``, ``gel_degree``, ``fusion_degree`` or ``heat_dose``; needs : states that it reads, in the
    order in which they stand just before it; rate : the law, SI; heat : released at full degree [J/kg of the layer],
    heat_low and heat_high its spread as reported; start : degree at the beginning; valid_low, valid_high [K]; status :
    ``recommended`` or ``reference``; flags : where it misleads; record : the file as it stands, sources resolved.
    nonphysical_above : temperature beyond which its rates mean nothing [K]; gel_degree : degree at which it gels; glass :
    its glass transition; None where not known.
    """

    id: str
    name: str
    state: str
    rate: Law
    heat: float
    start: float
    valid_low: float
    valid_high: float
    status: str
    confidence: str
    source: tuple[str, ...]
    flags: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()
    heat_low: float | None = None
    heat_high: float | None = None
    nonphysical_above: float | None = None
    gel_degree: float | None = None
    glass: GlassTransition | None = None
    record: Mapping[str, Any] = field(default_factory=dict)

    def warnings_outside(self, high: float, low: float | None = None) -> list[str]:
        """In words, whether a run went where the set must not be used; empty where it did not.

        high, low : hottest and coldest temperature of the run [K]. Below its range a set hardly reacts, and every part is
        cold at first: that alone is no cause for a warning, but a rate below zero is.
        """
        found = []
        if high > self.valid_high + 0.5:
            words = (
                f"kinetics {self.id}: valid {self.valid_low - ZERO_CELSIUS:.0f} to {self.valid_high - ZERO_CELSIUS:.0f} "
                f"degC, the run reached {high - ZERO_CELSIUS:.0f} degC"
            )
            if self.nonphysical_above is not None and high > self.nonphysical_above:
                words += (
                    f"; above {self.nonphysical_above - ZERO_CELSIUS:.0f} degC its rates mean nothing: do not use this "
                    "answer, take another set"
                )
            found.append(words)
        if self.state == "cure_degree" and low is not None:
            falling = falls_below_zero(self.rate, low, high, len(self.needs))
            if falling is not None:
                found.append(
                    f"kinetics {self.id}: its rate is below zero up to {falling[0] - ZERO_CELSIUS:.0f} degC (at degrees "
                    f"near {falling[1]:.2g}), and the run was at {low - ZERO_CELSIUS:.0f} degC: there cure would be "
                    "undone, which nothing does; take another set, or keep the charge warmer"
                )
        return found


def names() -> list[str]:
    """Names of all kinetics sets of the library, in alphabetical order."""
    return sorted(path.stem for path in DATA.glob("*.toml"))


def headings() -> list[tuple[str, str, str, str]]:
    """(id, name, state, status) of every set, without reading further than the head of each file."""
    found = []
    for name in names():
        with (DATA / f"{name}.toml").open(encoding="utf-8") as file:
            head = [line for line in (next(file) for _ in range(6)) if not line.startswith("needs")]
        entries = tomllib.loads("".join(head))
        found.append((entries["id"], entries["name"], entries["state"], entries["status"]))
    return found


def load(name: str) -> KineticsSet:
    """One kinetics set by its name.

    Raises DataError where there is no such set; the message names the nearest ones.

    >>> glass = load("polyester_glass_1991")  # 3.7e22 1/min, 167.4 kJ/mol
    >>> glass.rate.factor_2, glass.rate.energy_2, glass.start
    (6.167e+20, 167400.0, 0.001)
    """
    known = names()
    if name not in known:
        near = get_close_matches(name.lower(), known, n=3, cutoff=0.4)
        hint = f"nearest: {', '.join(near)}" if near else f"it holds {', '.join(known)}"
        raise DataError(f"no kinetics set {name[:40]!r} in the library; {hint}")
    path = DATA / f"{name}.toml"
    try:
        record = tomllib.loads(path.read_text(encoding="utf-8"))
        return _set(record)
    except (tomllib.TOMLDecodeError, KeyError, UnitError, ValueError) as wrong:
        raise DataError(f"kinetics record {path.name} cannot be used: {wrong}") from wrong


def _set(raw: dict[str, Any]) -> KineticsSet:
    """The record of a file as a KineticsSet."""
    references = raw["references"]
    record = _with_sources(raw, references)
    rate, valid, heat = record["rate"], record["valid"], record["heat"]
    glass = _glass(record["glass"]) if "glass" in record else None
    return KineticsSet(
        id=record["id"],
        name=record["name"],
        state=record["state"],
        rate=_limited(_LAWS[rate["law"]](rate), record.get("limit"), glass),
        heat=parse(heat["value"], "heat_per_mass"),
        start=float(rate.get("start", 0.0)),
        valid_low=parse(valid["low"], "temperature"),
        valid_high=parse(valid["high"], "temperature"),
        status=record["status"],
        confidence=record["confidence"],
        source=tuple(record["sources"]),
        flags=tuple(record.get("flags", ())),
        needs=tuple(record.get("needs", ())),
        heat_low=parse(heat["low"], "heat_per_mass") if "low" in heat else None,
        heat_high=parse(heat["high"], "heat_per_mass") if "high" in heat else None,
        nonphysical_above=parse(valid["nonphysical_above"], "temperature") if "nonphysical_above" in valid else None,
        gel_degree=float(record["gel"]["degree"]) if "gel" in record else None,
        glass=glass,
        record=record,
    )


def _with_sources(entry: Any, references: list[str], key: str = "") -> Any:
    """A copy of a record with the numbers of its references replaced by their texts."""
    if key.endswith("sources") and isinstance(entry, list):
        return [references[number - 1] for number in entry]
    if isinstance(entry, dict):
        return {k: _with_sources(v, references, k) for k, v in entry.items()}
    return entry


def _arrhenius(entry: Mapping[str, Any]) -> tuple[float, float]:
    """(factor [1/s], energy [J/mol]) of a rate constant."""
    return parse(entry["factor"], "rate"), parse(entry["energy"], "molar_energy")


def _two_rate(entry: Mapping[str, Any]) -> Law:
    return TwoRate(*_arrhenius(entry["rate_1"]), *_arrhenius(entry["rate_2"]), float(entry["m"]), float(entry["n"]))


def _nth_order(entry: Mapping[str, Any]) -> Law:
    return NthOrder(*_arrhenius(entry["rate"]), float(entry["n"]))


def _epoxy_amine(entry: Mapping[str, Any]) -> Law:
    first, second, third = (_arrhenius(entry[f"rate_{i}"]) for i in (1, 2, 3))
    return EpoxyAmine(*first, *second, *third, float(entry["limit"]))


def _gelation(entry: Mapping[str, Any]) -> Law:
    return Gelation(
        parse(entry["rate"], "rate"),
        parse(entry["energy"], "molar_energy"),
        parse(entry["reference_temperature"], "temperature"),
    )


def _fusion(entry: Mapping[str, Any]) -> Law:
    return Fusion(
        parse(entry["rate"], "rate"),
        parse(entry["energy"], "molar_energy"),
        parse(entry["reference_temperature"], "temperature"),
        parse(entry["half_temperature"], "temperature"),
        parse(entry["width"], "temperature_difference"),
    )


def _heat_dose(entry: Mapping[str, Any]) -> Law:
    return HeatDose(
        parse(entry["life"], "time"),
        parse(entry["energy"], "molar_energy"),
        parse(entry["reference_temperature"], "temperature"),
    )


def _sum(entry: Mapping[str, Any]) -> Law:
    return SumOfRates(*(_LAWS[part["law"]](part) for part in (entry["first"], entry["second"])))


def _by_temperature(entry: Mapping[str, Any]) -> Law:
    cold, hot = (_LAWS[part["law"]](part) for part in (entry["cold"], entry["hot"]))
    return ByTemperature(
        cold, hot, parse(entry["middle"], "temperature"), parse(entry["width"], "temperature_difference")
    )


def _glass(entry: Mapping[str, Any]) -> GlassTransition:
    return GlassTransition(
        parse(entry["start"], "temperature"), parse(entry["full"], "temperature"), float(entry["lambda"])
    )


def _limited(law: Law, entry: Mapping[str, Any] | None, glass: GlassTransition | None) -> Law:
    """The law with the limit of its record, if there is one: by the glass transition, or a fitted diffusion factor."""
    if entry is None:
        return law
    if entry["by"] == "diffusion":
        return DiffusionLimited(
            law,
            float(entry["sharpness"]),
            float(entry["critical"]),
            parse(entry["slope"], "inverse_temperature"),
            parse(entry["at"], "temperature"),
        )
    if glass is None:
        raise ValueError("a limit by vitrification needs [glass]")
    return Vitrified(law, glass, parse(entry["rate"], "rate"))


_LAWS: Mapping[str, Callable[[Mapping[str, Any]], Law]] = {
    "two_rate": _two_rate,
    "nth_order": _nth_order,
    "epoxy_amine": _epoxy_amine,
    "sum": _sum,
    "by_temperature": _by_temperature,
    "gelation": _gelation,
    "fusion": _fusion,
    "heat_dose": _heat_dose,
}
