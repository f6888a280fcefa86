"""How far inputs are usually off in a shop: what stands in for tolerances that nobody measured.

Common practice, no source: each is meant as two standard deviations, to be replaced by what was found at the machine.
`thermokit check` prints them with the case, so that they can be copied into it and changed.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from thermokit.case.walk import is_number

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from thermokit.case.common import Case
    from thermokit.case.walk import Leaf

TIMES_OR_BY_2 = {"factor": 2.0, "distribution": "lognormal"}

#: (what the path of an input looks like, after the kind of case where only that is meant; how far it is off; what errs
#: together: a name made of the groups, or "" for each by itself). The first that fits is taken.
RULES: tuple[tuple[str, Any, str], ...] = (
    # one thermocouple, one mains voltage: both panels of a station are off by the same
    (r"sheet: stations\.(.+)\.(?:upper|lower)\.(?:temperature|trim)", "± 15 K", "panels of {0}"),
    (r"sheet: stations\.(.+)\.(?:upper|lower)\.(?:power|installed)", "± 7 %", "power of {0}"),  # elements when new
    (r"stations\.(.+)\.(?:upper|lower)\.temperature", "± 4 K", "plates of {0}"),
    (r"(?:sheet|charge|part)\.thickness", "± 4 %", ""),  # micrometer at nine points
    (r"(?:sheet|charge|line|stations)\.(?:.+\.)?layers\.[^.]+\.thickness", "± 4 %", ""),
    (r"body\.layers\.[^.]+\.thickness", "± 4 %", ""),
    (r"(?:sheet|charge|body|line|shot|former)\.(?:.+\.)?start", "± 5 K", ""),  # stock, preheat, or melt from the die
    (r"part\.melt", "± 5 K", ""),
    (r"materials\.(.+)\.conductivity", "± 10 %", ""),
    (r"materials\.(.+)\.specific_heat", "± 7 %", ""),  # with the density: rho cp
    (r"circuits\.[^.]+\.flow", "± 10 %", "water flow"),  # one pump
    (r"circuits\.[^.]+\.temperature", "± 2 K", "water temperature"),
    (r"(?:.+\.)?(?:[a-z]+_)?contact(?:\.coefficient)?", TIMES_OR_BY_2, ""),
    (r"section\.contacts\..+\.coefficient", TIMES_OR_BY_2, ""),
    (r"charge\.rate", "± 30 %", ""),  # of cure, from lot to lot
    (r"(?!charge: ).+: kinetics\.[^.]+\.rate_[12]\.factor", "± 30 %", "rate of cure"),
    (r"mould\.(?:upper|lower)\.(?:temperature|platen\.temperature)", "± 4 K", "mould temperature"),
    (r"tools\.[^.]+\.temperature", "± 5 K", ""),
    (r"zones\.[^.]+\.temperature", "± 5 K", ""),  # of a barrel
    (r"(?:paste|ovens\.[^.]+)\.temperature", "± 3 K", ""),
    (r"(?:.+\.)?(?:air\.)?coefficient", "± 30 %", ""),  # of air over a face
    (r"stations\.(.+)\.(?:convection\.air|air\.temperature|surround|contact\.temperature)", "± 5 K", ""),
    (r"stations\.[^.]+\.temperature", "± 3 K", ""),  # oven, bath, roll
    (r"(?:line|rolls)\.speed", "± 2 %", ""),
    (r"shot\.mass", "± 2 %", ""),
)
_RULES = tuple((re.compile(pattern), entry, together) for pattern, entry, together in RULES)


def usual(case: Case, inputs: Sequence[Leaf]) -> Iterator[tuple[str, tuple[str, ...], Any]]:
    """(name, paths, entry as in a file) for the inputs of these that are usually off; one path under its own name alone.

    Limits, and what makes the part another one (lengths, draw ratios), have no usual tolerance. A value of nothing (a heater
    that is off) has none either.
    """
    found: dict[str, tuple[tuple[str, ...], Any]] = {}
    for leaf in inputs:
        if leaf.name.startswith("limits.") or ".limits." in leaf.name or not is_number(leaf.value) or leaf.value == 0.0:
            continue
        for pattern, entry, together in _RULES:
            match = pattern.fullmatch(f"{case.process}: {leaf.name}") or pattern.fullmatch(leaf.name)
            if match is None:
                continue
            if isinstance(entry, str) and entry.endswith(" K") and not _is_temperature(leaf):
                continue
            name = together.format(*match.groups()) if together else leaf.name
            paths, _ = found.get(name, ((), None))
            found[name] = (paths if leaf.name in paths else (*paths, leaf.name), entry)
            break
    for name, (paths, entry) in found.items():
        yield (name if len(paths) > 1 else paths[0]), paths, entry


def _is_temperature(leaf: Leaf) -> bool:
    from thermokit.case.paths import dimension_of

    return dimension_of(leaf.kind).startswith("temperature")
