"""Turns what a study or a result holds into what JSON can say: no NaN, no numpy, no tuples."""

from __future__ import annotations

import math
from typing import Any


def plain(value: Any) -> Any:
    """The same value in the words of JSON; a number that is not finite becomes None.

    >>> plain({"latest": float("nan"), "margins": (1.0, 2)})
    {'latest': None, 'margins': [1.0, 2]}
    """
    if hasattr(value, "tolist"):  # a numpy scalar or array
        value = value.tolist()
    if isinstance(value, dict):
        return {str(key): plain(entry) for key, entry in value.items()}
    if isinstance(value, list | tuple):
        return [plain(entry) for entry in value]
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if value is None or isinstance(value, bool | int | str):
        return value
    return str(value)
