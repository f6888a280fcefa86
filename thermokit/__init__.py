"""thermokit: thermal modelling of moulds and ovens, from a case file to times and temperatures with their margins.

>>> import thermokit
>>> case = thermokit.load_case("cases/how_long_to_heat_a_4mm_abs_tray.toml")  # doctest: +SKIP
>>> thermokit.dwell(case).recommended  # doctest: +SKIP
"""

from __future__ import annotations

from typing import Any

__version__ = "0.1.0"

# what is public, and where it lives: loaded when it is asked for
_PUBLIC = {
    "load_case": "thermokit.case",
    "parse_case": "thermokit.case",
    "run": "thermokit.studies.run",
    "dwell": "thermokit.studies.dwell",
    "verify": "thermokit.studies.verify",
    "load_result": "thermokit.results.read",
    "CaseError": "thermokit.errors",
    "DataError": "thermokit.errors",
    "SolveError": "thermokit.errors",
}

__all__ = ["__version__", *_PUBLIC]


def __getattr__(name: str) -> Any:
    if name not in _PUBLIC:
        raise AttributeError(f"module 'thermokit' has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(_PUBLIC[name]), "read" if name == "load_result" else name)


def __dir__() -> list[str]:
    return sorted(__all__)
