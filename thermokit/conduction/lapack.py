"""LAPACK's tridiagonal routines without the rest of scipy.linalg, whose import takes longer than most runs."""

from __future__ import annotations

import sys
from typing import Any


def routines(*names: str) -> tuple[Any, ...]:
    """Routines of scipy's LAPACK by name: dgttrf, dgttrs (tridiagonal, pivoted), dpttrf, dpttrs (positive definite).

    When scipy.linalg is not loaded yet, only its compiled module is; where that cannot be found (another layout of
    scipy) the public import is taken.
    """
    if "scipy.linalg" not in sys.modules:
        module = _compiled()
        if module is not None:
            return tuple(getattr(module, name) for name in names)
    from scipy.linalg import lapack

    return tuple(getattr(lapack, name) for name in names)


def _compiled() -> Any:
    """scipy's compiled LAPACK module by itself, None where it does not load."""
    from importlib.machinery import EXTENSION_SUFFIXES, ExtensionFileLoader
    from importlib.util import find_spec, module_from_spec, spec_from_file_location
    from pathlib import Path

    name = "scipy.linalg._flapack"
    if name in sys.modules:
        return sys.modules[name]
    scipy = find_spec("scipy")
    for folder in (scipy.submodule_search_locations or []) if scipy else []:
        for suffix in EXTENSION_SUFFIXES:
            file = Path(folder) / "linalg" / f"_flapack{suffix}"
            if not file.is_file():
                continue
            try:
                spec = spec_from_file_location(name, file, loader=ExtensionFileLoader(name, str(file)))
                module = module_from_spec(spec) if spec is not None else None
                if module is None or spec is None or spec.loader is None:
                    return None
                sys.modules[name] = module  # scipy.linalg finds it here when it is imported later
                spec.loader.exec_module(module)
            except (ImportError, OSError):
                sys.modules.pop(name, None)
                return None
            return module if hasattr(module, "dgttrf") else None
    return None
