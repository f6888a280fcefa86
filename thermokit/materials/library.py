"""The material library: which materials there are, and one of them by its name. Only the file asked for is read.

A file ``data/<id>.toml`` holds, in its own order:

- ``id``, ``name``, ``family``, ``note``, ``cautions``, and ``references``, a list that ``sources = [1, 3]`` points to
  (counted from 1);
- tables (``conductivity``, ``specific_heat``, ``density``, for liquids and gases also ``viscosity``, ``prandtl``,
  ``expansion_coefficient``): ``unit``, ``temperature`` [degC], ``values``, ``uncertainty`` (two standard deviations),
  ``confidence``, ``sources``, ``note``; ``temperatures_read`` lists the nodes read in a source where not all were;
- ``glass_transition``, ``melting``, ``crystallising``, ``cold_crystallising``: temperatures with ``low`` below
  ``high``, heats, their spread;
- ``forming``, ``surface_limit``, ``moulding``, ``drying`` and other settings of the trade; ``radiation`` with its
  bands; ``checks``: values read elsewhere beside those of the tables.

Numbers are texts with their unit, bare only in tables (unit beside them) and where they are shares.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from difflib import get_close_matches
from pathlib import Path
from typing import Any

import numpy as np

from thermokit.errors import DataError
from thermokit.materials.material import GlassTransition, LatentHeat, Material, Property
from thermokit.units import UnitError, from_unit, parse

DATA = Path(__file__).parent / "data"

# table -> its dimension in the unit table ("" is a pure number)
TABLES: Mapping[str, str] = {
    "conductivity": "conductivity",
    "specific_heat": "specific_heat",
    "density": "density",
    "viscosity": "viscosity",
    "prandtl": "",
    "expansion_coefficient": "thermal_expansion",
}


def names() -> list[str]:
    """Names of all materials of the library, in alphabetical order."""
    return sorted(path.stem for path in DATA.glob("*.toml"))


def headings() -> list[tuple[str, str, str]]:
    """(id, name, family) of every material, without reading further than the head of each file."""
    found = []
    for name in names():
        with (DATA / f"{name}.toml").open(encoding="utf-8") as file:
            head = [next(file) for _ in range(4)]  # layout, id, name, family stand first in every file
        entries = tomllib.loads("".join(head))
        found.append((entries["id"], entries["name"], entries["family"]))
    return found


def load(name: str) -> Material:
    """One material by its name.

    Raises DataError where there is no such material; the message names the nearest ones.

    >>> steel = load("steel_mild")
    >>> round(steel.reference_density), round(float(steel.conductivity.at(293.15)), 2)  # EN 1993-1-2: 54 - 0.0333 T
    (7850, 53.33)
    """
    known = names()
    if name not in known:
        raise DataError(f"no material {name[:40]!r} in the library{_nearest(name, known)}")
    path = DATA / f"{name}.toml"
    try:
        record = tomllib.loads(path.read_text(encoding="utf-8"))
        return _material(record)
    except (tomllib.TOMLDecodeError, KeyError, UnitError, ValueError) as wrong:
        raise DataError(f"material record {path.name} cannot be used: {wrong}") from wrong


def _nearest(name: str, known: list[str]) -> str:
    """The end of the message for an unknown name."""
    near = get_close_matches(name.lower(), known, n=3, cutoff=0.5) or [k for k in known if name.lower() in k][:3]
    return f"; nearest: {', '.join(near)}" if near else f"; it holds {', '.join(known)}"


def _material(raw: dict[str, Any]) -> Material:
    """The record of a file as a Material."""
    record = _with_sources(raw, raw["references"])
    tables = {name: _table(name, record[name]) for name in TABLES if name in record}
    radiation = record.get("radiation", {})
    melting = _latent(record.get("melting"))
    return Material(
        id=record["id"],
        name=record["name"],
        family=record["family"],
        cautions=tuple(record.get("cautions", ())),
        note=record.get("note", ""),
        conductivity=tables["conductivity"],
        specific_heat=tables["specific_heat"],
        density=tables["density"],
        melting=melting,
        # the heat that was taken up in melting is given back, so the crystallising record holds no heat of its own
        crystallising=_latent(record.get("crystallising"), melting),
        cold_crystallising=_latent(record.get("cold_crystallising")),
        glass_transition=_glass(record.get("glass_transition")),
        forming=_limits(record.get("forming")),
        surface_limit=_limits(record.get("surface_limit")),
        emissivity=radiation.get("emissivity"),
        emissivity_confidence=radiation.get("emissivity_confidence", ""),
        emissivity_source=tuple(radiation.get("emissivity_sources", ())),
        kinetics=tuple(record.get("kinetics", {}).get("sets", ())),
        properties=tables,
        record=record,
    )


def _with_sources(entry: Any, references: list[str], key: str = "") -> Any:
    """A copy of a record with the numbers of its references replaced by their texts."""
    if key.endswith("source") and isinstance(entry, int):
        return references[entry - 1]
    if key.endswith("sources") and isinstance(entry, list):
        return [references[number - 1] for number in entry]
    if isinstance(entry, dict):
        return {k: _with_sources(v, references, k) for k, v in entry.items()}
    if isinstance(entry, list) and entry and isinstance(entry[0], dict):
        return [_with_sources(v, references) for v in entry]
    return entry


def _table(name: str, entry: Mapping[str, Any]) -> Property:
    """A table of a record as a Property in SI."""
    value = np.array(entry["values"], dtype=float)
    temperature = from_unit(np.array(entry["temperature"], dtype=float), "degC", "temperature")
    if value.shape != temperature.shape or np.any(np.diff(temperature) <= 0.0):
        raise ValueError(f"{name}: temperatures must ascend, one a value")
    dimension = TABLES[name]
    return Property(
        name=name,
        temperature=temperature,
        value=from_unit(value, entry["unit"], dimension) if dimension else value,
        unit=entry["unit"],
        confidence=entry["confidence"],
        source=tuple(entry["sources"]),
        uncertainty=parse(entry["uncertainty"], "fraction") if "uncertainty" in entry else None,
        note=entry.get("note", ""),
    )


def _latent(entry: Mapping[str, Any] | None, heat_of: LatentHeat | None = None) -> LatentHeat | None:
    """A transition of a record; ``heat_of`` lends its heat where the record has none."""
    if entry is None:
        return None

    def heat(key: str) -> float | None:
        if key in entry:
            return parse(entry[key], "heat_per_mass")
        lent: float | None = getattr(heat_of, key, None)
        return lent

    amount = heat("heat")
    if amount is None:
        raise KeyError("heat")
    return LatentHeat(
        heat=amount,
        low=parse(entry["low"], "temperature"),
        peak=parse(entry["peak"], "temperature") if "peak" in entry else None,
        high=parse(entry["high"], "temperature"),
        heat_low=heat("heat_low"),
        heat_high=heat("heat_high"),
        confidence=entry["confidence"],
        source=tuple(entry["sources"]),
        note=entry.get("note", ""),
    )


def _glass(entry: Mapping[str, Any] | None) -> GlassTransition | None:
    """The glass transition of a record."""
    if entry is None:
        return None
    return GlassTransition(
        temperature=parse(entry["temperature"], "temperature"),
        low=parse(entry["low"], "temperature"),
        high=parse(entry["high"], "temperature"),
        confidence=entry["confidence"],
        source=tuple(entry["sources"]),
        note=entry.get("note", ""),
    )


def _limits(entry: Mapping[str, Any] | None) -> dict[str, float] | None:
    """The temperatures [K] and times [s] of a section of limits, by name."""
    if entry is None:
        return None
    return {
        key: parse(text, "time" if key.startswith("longest") else "temperature")
        for key, text in entry.items()
        if isinstance(text, str) and key not in ("confidence", "note")
    }
