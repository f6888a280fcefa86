"""Every check of the registry, one test each: the same that ``python -m validation`` runs."""

from __future__ import annotations

from functools import cache

import pytest

from validation.checks import Check, judge, registry


def _cases() -> list:
    return [
        pytest.param(check, id=f"{check.id} {check.title}", marks=pytest.mark.long if check.long else ())
        for check in registry()
    ]


@cache
def outcome(check: Check):
    """The check's run, shared by its quantities."""
    return check.run()


@pytest.mark.parametrize("check", _cases())
def test_check(check: Check) -> None:
    rows = [judge(check, quantity, outcome(check)) for quantity in check.quantities]
    missed = [f"{r.name}: found {r.found:.7g}, exact {r.exact}, allowed {r.tolerance}" for r in rows if not r.passed]
    assert not missed, "\n".join(missed)
