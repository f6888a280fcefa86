"""Every check of the registry, one test each: within its tolerance, and as the book prints it (``python -m validation``)."""

from __future__ import annotations

import math
from functools import cache

import pytest

from validation.book import pages, reading
from validation.checks import Check, perform, registry
from validation.references import convective_series
from validation.references.layered_cylinder import CoatedRod

STALE = 0.02  # share of a tolerance by which a number may differ from the one in the book


@cache
def book() -> dict[tuple[str, str], reading.Printed]:
    return {(entry.id, entry.title): entry for entry in reading.printed(pages.README.read_text(encoding="utf-8"))}


@pytest.mark.parametrize("check", [pytest.param(check, id=f"{check.id} {check.title}") for check in registry()])
def test_check(check: Check) -> None:
    outcome = perform(check)
    missed = [
        f"{r.name}: found {r.found:.7g}, exact {r.exact}, allowed {r.tolerance}" for r in outcome.rows if not r.passed
    ]
    assert not missed, "\n".join(missed)

    entry = book()[check.id, check.title]
    assert entry.cases == outcome.cases, "the book names other cases: run python -m validation"
    for row, cells in zip(outcome.rows, entry.rows, strict=True):
        assert row.found == pytest.approx(float(cells[3]), rel=0, abs=STALE * row.allowed + row.step), (
            f"{row.name}: the book prints {cells[3]}: run python -m validation"
        )
        assert cells[6] == "yes", row.name


@pytest.mark.parametrize("time", [1.0, 10.0, 100.0])
@pytest.mark.parametrize("share", [0.0, 0.5, 1.0])
def test_a_rod_coated_with_its_own_stuff_is_a_cylinder(time: float, share: float) -> None:
    """The Laplace inversion against the eigenvalue series, wherever the joint lies."""
    radius, k, rho_c, h = 0.01, 0.5, 2e6, 80.0
    for joint in (0.3, 0.8):
        rod = CoatedRod(joint * radius, radius, (k, rho_c), (k, rho_c), 20.0, h, 120.0)
        series = convective_series.ratio("cylinder", h * radius / k, k / rho_c * time / radius**2, share)
        assert rod.temperature(max(share, 1e-6) * radius, time) == pytest.approx(120.0 - 100.0 * series, abs=1e-8)


def test_a_number_outside_its_tolerance_fails() -> None:
    """The check itself can fail: every quantity that has a tolerance refuses a number three times as far off."""
    for check in registry():
        for quantity in check.quantities:
            low, high = getattr(quantity, "low", None), getattr(quantity, "high", None)
            if low is not None and high is not None:
                assert low <= high and math.isfinite(high - low), quantity.name
            else:
                assert (quantity.tolerance.absolute is None) != (quantity.tolerance.share is None), quantity.name  # type: ignore[union-attr]
