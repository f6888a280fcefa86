"""Dependencies stand in tested ranges: each has an oldest version that is tested, an end, and what runs now lies between."""

from __future__ import annotations

import tomllib
from importlib import metadata
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.version import Version

ROOT = Path(__file__).parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
EXTRAS = PROJECT["optional-dependencies"]
RANGES = [Requirement(text) for text in [*PROJECT["dependencies"], *EXTRAS["test"], *EXTRAS["dxf"], *EXTRAS["cluster"]]]
OLDEST = {
    own.name.lower(): Version(next(iter(own.specifier)).version)
    for own in map(Requirement, (ROOT / "tests" / "oldest.txt").read_text(encoding="utf-8").splitlines()[3:])
}


def ends(needed: Requirement) -> dict[str, Version]:
    """The ends of a range by their signs."""
    return {one.operator: Version(one.version) for one in needed.specifier}


@pytest.mark.parametrize("needed", RANGES, ids=str)
def test_range_begins_with_the_oldest_tested_and_ends(needed: Requirement) -> None:
    found = ends(needed)
    assert sorted(found) == ["<", ">="]
    assert found[">="] == OLDEST[needed.name.lower()]


@pytest.mark.parametrize("needed", RANGES, ids=str)
def test_what_runs_now_lies_inside(needed: Requirement) -> None:
    assert Version(metadata.version(needed.name)) in needed.specifier


def test_no_version_stands_in_vain() -> None:
    assert set(OLDEST) == {needed.name.lower() for needed in RANGES}
