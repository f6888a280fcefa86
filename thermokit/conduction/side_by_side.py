"""Problems of the same make put side by side as the cases of one batch: bodies of other sizes and other stuff together.

Every numeric leaf becomes an array over cases, those of the first problem first; property curves are brought to common nodes.
Layers, spans, reactions and cells must correspond.
"""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.problem import Curve, Layer, Problem

if TYPE_CHECKING:
    from collections.abc import Sequence


def side_by_side(problems: Sequence[Problem], cases: int = 1) -> Problem:
    """One problem of ``len(problems) x cases`` cases; each may hold arrays over ``cases`` itself.

    Raises ValueError where the problems do not correspond.
    """
    joined = _joined(list(problems), cases)
    assert isinstance(joined, Problem)
    return joined


def _joined(parts: list[Any], cases: int) -> Any:
    first = parts[0]
    if all(part is first for part in parts) and cases == 1:
        return first
    if any(isinstance(part, Curve) for part in parts):
        return _curves(parts, cases)
    if is_dataclass(first) and not isinstance(first, type):
        if any(type(part) is not type(first) for part in parts):
            raise ValueError(f"{type(first).__name__} beside {[type(p).__name__ for p in parts]}")
        changed = {}
        for entry in fields(first):
            values = [getattr(part, entry.name) for part in parts]
            if isinstance(first, Layer) and entry.name == "edges":
                if any(not np.array_equal(value, first.edges) for value in values):
                    raise ValueError("layers with other cells")
                continue
            changed[entry.name] = _joined(values, cases)
        return replace(first, **changed)
    if isinstance(first, tuple):
        if any(not isinstance(part, tuple) or len(part) != len(first) for part in parts):
            raise ValueError("parts of different number")
        return tuple(_joined(list(column), cases) for column in zip(*parts, strict=True))
    if isinstance(first, (bool, str)) or first is None:
        if any(part is not None and part != first for part in parts) or (
            first is None and any(p is not None for p in parts)
        ):
            raise ValueError(f"{first!r} beside {parts!r}")
        return first
    if any(part is None for part in parts):
        raise ValueError(f"a number beside none: {parts!r}")
    values = [np.broadcast_to(np.asarray(part, float), (cases,)) for part in parts]
    whole = np.concatenate(values)
    return float(whole[0]) if np.all(whole == whole[0]) else whole


def _curves(parts: list[Any], cases: int) -> Curve:
    """Curves (and numbers) on common nodes, (nodes, all cases)."""
    nodes = np.unique(np.concatenate([part.temperature for part in parts if isinstance(part, Curve)]))
    columns = []
    for part in parts:
        if not isinstance(part, Curve):
            columns.append(np.broadcast_to(np.asarray(part, float), (len(nodes), cases)))
        elif part.value.ndim == 1:
            columns.append(np.repeat(np.interp(nodes, part.temperature, part.value)[:, None], cases, axis=1))
        else:
            own = [np.interp(nodes, part.temperature, part.value[:, i]) for i in range(part.value.shape[1])]
            columns.append(np.stack(own, axis=1))
    return Curve(nodes, np.concatenate(columns, axis=1))
