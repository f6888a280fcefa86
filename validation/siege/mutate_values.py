"""Case files whose every value is allowed, or just not: the ends of each range, combinations of them, other words and names."""

from __future__ import annotations

import copy
import math
from functools import cache
from random import Random
from typing import Any

from thermokit import units
from thermokit.case.tolerances import Tolerances  # noqa: F401 -- declares the kinds that the walk meets
from thermokit.case.values import Choice, Flag, LibraryName, Number, Quantity, Text, Whole
from thermokit.case.walk import Leaf, scalar_kind
from validation.siege.mutate_tables import HOSTILE, text_of
from validation.siege.seeds import Seed


def mutated_values(seed: Seed, random: Random, *, few: bool = False) -> bytes:
    """The seed with extreme or other values at some of its keys; few : only one or two, so that most stay valid."""
    raw = copy.deepcopy(seed.raw)
    count = random.choice((1, 1, 2)) if few else random.choice((1, 2, 3, 6, 15))
    for leaf in random.sample(seed.leaves, min(count, len(seed.leaves))):
        value = _value(leaf, random)
        if value is not None:
            _put(raw, leaf.path, value)
    return text_of(raw).encode("utf-8", "surrogatepass")


def _value(leaf: Leaf, random: Random) -> Any:
    """Something else that may stand at a leaf, None where nothing is known that may."""
    kind: Any = scalar_kind(leaf.kind) or leaf.kind
    if isinstance(kind, (Quantity, Number)):
        number = _number(kind, leaf.value, random)
        if isinstance(kind, Number) or kind.bare:
            return number
        return units.format_(number, kind.dimension, random.choice((None, units.DIMENSIONS[kind.dimension].si)))
    if isinstance(kind, Whole):
        return random.choice((kind.low, kind.high, kind.low + 1, (kind.low + min(kind.high, 200)) // 2, kind.high + 1))
    if isinstance(kind, Choice):
        return random.choice(kind.options)
    if isinstance(kind, Flag):
        return random.random() < 0.5
    if isinstance(kind, LibraryName):
        return random.choice(_names(kind.room))
    if isinstance(kind, Text):
        return random.choice(HOSTILE)
    return None


@cache
def _names(room: str) -> list[str]:
    return LibraryName(room).names()


def _number(kind: Quantity | Number, present: Any, random: Random) -> float:
    """An end of the range, a value close to it or beyond it, or a multiple of what stands there."""
    own = float(present) if isinstance(present, (int, float)) and not isinstance(present, bool) else 1.0
    low = kind.low if kind.low is not None else kind.above if kind.above is not None else -1e12
    high = kind.high if kind.high is not None else 1e12
    which = random.randrange(10)
    if which == 0:
        return low if kind.above is None else math.nextafter(kind.above, math.inf)
    if which == 1:
        return high
    if which == 2:
        return math.nextafter(low, -math.inf) if random.random() < 0.5 else math.nextafter(high, math.inf)
    if which == 3:
        return low + (high - low) * random.choice((1e-12, 1e-6, 1e-3, 0.5, 1 - 1e-12))
    if which == 4 and high > 0.0:
        return math.exp(random.uniform(math.log(max(low, high * 1e-15, 1e-300)), math.log(high)))
    return own * random.choice((1 + 1e-9, 0.5, 0.9, 1.1, 2.0, 0.1, 10.0, 1e-3, 1e3, -1.0))


def _put(raw: dict[str, Any], path: tuple[str, ...], value: Any) -> None:
    """Put a value at a path, with tables made on the way where the file leaves them out."""
    holder: Any = raw
    for step in path[:-1]:
        if isinstance(holder, list):
            if not step.isdecimal() or int(step) >= len(holder):
                return
            holder = holder[int(step)]
        elif isinstance(holder, dict):
            holder = holder.setdefault(step, {})
        else:
            return
    if isinstance(holder, dict):
        holder[path[-1]] = value
    elif isinstance(holder, list) and path[-1].isdecimal() and int(path[-1]) < len(holder):
        holder[int(path[-1])] = value
