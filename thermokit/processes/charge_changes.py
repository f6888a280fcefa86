"""Changes that the setter of a press can make, as values by path: charge colder or warmer, mould, thickness.

Each takes the change as a number or as one number a case, and gives what ``case.with_values`` takes.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from thermokit.conduction.problem import Series

if TYPE_CHECKING:
    from thermokit.case.charge import ChargeCase


def starting_at(case: ChargeCase, temperature: Any) -> dict[str, Any]:
    """The charge loaded at a temperature [K]; inserts and layers with a start of their own likewise."""
    found = {} if case.charge.start is None else {"charge.start": temperature}
    for layer in case.charge.layers:
        if layer.start is not None:
            found[f"charge.layers.{layer.name}.start"] = temperature
    return found


def mould_paths(case: ChargeCase) -> dict[str, Any]:
    """What sets the temperature of the mould while the charge is in it: path -> number or table [K]."""
    found: dict[str, Any] = {}
    for side in ("upper", "lower"):
        half = getattr(case.mould, side)
        if half.platen is None:
            found[f"mould.{side}.temperature"] = half.temperature
        else:
            found[f"mould.{side}.platen.temperature"] = half.platen.temperature
            found[f"mould.{side}.start"] = half.start
    for station in case.stations:
        if station.kind in ("cool", "post_bake"):
            continue
        for side in station.touches:
            own = getattr(station, side).temperature
            if own is not None:
                found[f"stations.{station.name}.{side}.temperature"] = own
    return found


def warmer_mould(case: ChargeCase, by: Any) -> dict[str, Any]:
    """Everything that heats the mould, warmer by some kelvin."""
    return {path: raised(value, by) for path, value in mould_paths(case).items()}


def raised(value: Any, by: Any) -> Any:
    """A temperature or a table of such, raised by some kelvin."""
    if isinstance(value, Series):
        return Series(value.time, tuple(entry + by for entry in value.value))
    return value + by


def times_as_thick(case: ChargeCase, factor: Any) -> dict[str, Any]:
    """The charge thinner or thicker by a factor; inserts that do not react keep their thickness."""
    from thermokit.case.charge_checks import kinetics_of

    charge = case.charge
    if not charge.layers:
        word = "thickness" if charge.thickness is not None else "mass"
        found = {f"charge.{word}": getattr(charge, word) * factor}
        if charge.loose is not None:
            found["charge.loose.thickness"] = charge.loose.thickness * factor
        return found
    found = {}
    for layer in charge.layers:
        if kinetics_of(case, layer):
            word = "thickness" if layer.thickness is not None else "mass"
            found[f"charge.layers.{layer.name}.{word}"] = getattr(layer, word) * factor
    return found


def stepped_mould(case: ChargeCase, station: str, lower: Any, hold: float, ramp: float) -> dict[str, Any] | None:
    """A step-cure: everything cooler by ``lower`` [K], and in one station back to what it was after ``hold`` + ``ramp`` [s].

    None where a temperature is a table already.
    """
    before = mould_paths(case)
    if any(isinstance(value, Series) for value in before.values()):
        return None
    found = {path: value - lower for path, value in before.items()}
    entry = next(s for s in case.stations if s.name == station)
    for side in entry.touches:
        own = getattr(entry, side).temperature
        half = getattr(case.mould, side)
        warm = own if own is not None else half.temperature if half.platen is None else half.platen.temperature
        found[f"stations.{station}.{side}.temperature"] = Series(
            (0.0, hold, hold + ramp), (warm - lower, warm - lower, warm)
        )
    return found
