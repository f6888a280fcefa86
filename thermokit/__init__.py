"""thermokit: thermal modelling of moulds and ovens, from a case file to times and temperatures with their margins.

>>> import thermokit
>>> case = thermokit.load_case("cases/how_long_to_heat_a_4mm_abs_tray.toml")  # doctest: +SKIP
>>> thermokit.dwell(case).recommended  # doctest: +SKIP

Every command has its function; all take a case or the name of its file (``thermokit.studies.interface``).
"""

from __future__ import annotations

from typing import Any

__version__ = "0.1.0"

# what is public: module where it lives and, where it is another one, its name there; loaded when it is asked for
_PUBLIC = {
    "load_case": "thermokit.case",
    "parse_case": "thermokit.case",
    "resolved_text": "thermokit.case",
    "template": "thermokit.case",
    "explain": "thermokit.case",
    "run": "thermokit.studies.run",
    "dwell": "thermokit.studies.interface",
    "tolerance": "thermokit.studies.interface",
    "window": "thermokit.studies.interface",
    "sensitivity": "thermokit.studies.interface",
    "zones": "thermokit.studies.interface",
    "methods": "thermokit.studies.interface",
    "compare": "thermokit.studies.interface",
    "changed": "thermokit.studies.interface",
    "scale": "thermokit.studies.interface",
    "chart": "thermokit.studies.interface",
    "why": "thermokit.studies.why",
    "setting_sheet": "thermokit.sheets.content:sheet_of",
    "json_schema": "thermokit.case",
    "thermocouple": "thermokit.studies.interface",
    "cost": "thermokit.studies.interface",
    "bottleneck": "thermokit.studies.interface",
    "sweep": "thermokit.studies.interface",
    "fit": "thermokit.studies.interface",
    "verify": "thermokit.studies.interface",
    "fit_kinetics": "thermokit.studies.kinetics_fit",
    "load_material": "thermokit.materials.library:load",
    "load_kinetics": "thermokit.kinetics.library:load",
    "load_result": "thermokit.results.read:read",
    "write_result": "thermokit.results.write:write",
    "draw": "thermokit.figures.drawings",
    "CaseError": "thermokit.errors",
    "DataError": "thermokit.errors",
    "SolveError": "thermokit.errors",
}

__all__ = ["__version__", *_PUBLIC]


def __getattr__(name: str) -> Any:
    if name not in _PUBLIC:
        raise AttributeError(f"module 'thermokit' has no attribute {name!r}")
    from importlib import import_module

    module, _, own = _PUBLIC[name].partition(":")
    return getattr(import_module(module), own or name)


def __dir__() -> list[str]:
    return sorted(__all__)
