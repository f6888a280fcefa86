"""How old is reground material? Shares and ages of a feed of which a part comes back, pass after pass.

Each pass the feed holds the share r of material that was moulded before, taken evenly from all that came out. In the steady
state the share (1 - r) r^(n-1) of what is moulded makes its n-th pass: a geometric series. Heat history adds up over passes.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from thermokit.conduction.problem import Array


def ages(share: Any, passes: int) -> Array:
    """Share of the mouldings in their n-th pass, n = 1 ... passes: (1 - r) r^(n - 1), (passes,) or (passes, cases).

    share : r, from 0 to below 1.

    >>> [round(float(x), 4) for x in ages(0.2, 3)]
    [0.8, 0.16, 0.032]
    """
    n = np.arange(passes)
    r = np.asarray(share, float)
    return np.asarray((1.0 - r) * r ** (n if r.ndim == 0 else n[:, None]))


def mean_passes(share: Any) -> Any:
    """Mean number of passes of what is moulded, in the steady state: 1/(1 - r).

    >>> round(mean_passes(0.2), 12)
    1.25
    """
    return 1.0 / (1.0 - share)


def mean_passes_after(share: Any, rounds: int) -> Any:
    """Mean number of passes after so many rounds, the first of new material alone: (1 - r^rounds)/(1 - r).

    >>> mean_passes_after(0.5, 3)  # 1 + 0.5 + 0.25
    1.75
    """
    return (1.0 - share**rounds) / (1.0 - share)


def oldest_pass(share: Any, older: Any) -> Any:
    """The least number of passes n with at most the share ``older`` of the material beyond it: r^n <= older.

    >>> int(oldest_pass(0.2, 0.01))  # 0.2^3 = 0.008
    3
    """
    r = np.asarray(share, float)
    with np.errstate(divide="ignore"):
        # log 0 = -inf: without regrind nothing is older than its first pass
        n = np.log(older) / np.log(r)
    # round-off must not add a pass where r^n is exactly the share
    found = np.maximum(np.ceil(n - 1e-9), 1.0)
    return float(found) if found.ndim == 0 else found


def share_beyond(share: Any, used: Any, limit: Any) -> Any:
    """Share of what is moulded whose heat life used up passes a limit: r^floor(limit/used per pass).

    >>> round(float(share_beyond(0.5, 0.1, 0.35)), 3)  # three passes use 0.3, the fourth is too much
    0.125
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        passes = np.floor(np.asarray(limit) / np.asarray(used, float) * (1.0 + 1e-12))
    r = np.asarray(share, float)
    found = np.where(np.isfinite(passes), r ** np.where(np.isfinite(passes), passes, 0.0), 0.0)
    return float(found) if found.ndim == 0 else found
