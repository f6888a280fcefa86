"""Reads the number back out of a limit's words, so that a figure can draw the limit where it is."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from thermokit.results.model import LimitCheck

_WORDS = re.compile(r"at (least|most) ([-+]?\d+(?:\.\d+)?(?:e[-+]?\d+)?) ?(\S+)")


def bounds(limit: LimitCheck) -> list[tuple[str, float]]:
    """Lower and upper bound of a limit, in the unit of the limit.

    Returns
    -------
    list of (str, float)
        ``("least", value)`` and ``("most", value)``, as many as the words hold; those in another unit are left out

    Examples
    --------
    >>> from thermokit.results.model import LimitCheck
    >>> bounds(LimitCheck("coldest_point", "at least 127 degC", 131.2, "degC", 4.2, True))
    [('least', 127.0)]

    """
    found = _WORDS.findall(limit.required)
    return [(which, float(value)) for which, value, unit in found if unit.rstrip(",;.") == limit.unit]
