"""Every study of the book of orders, on its first sizes; and that a study notices a scheme that is broken."""

from __future__ import annotations

import numpy as np
import pytest

from thermokit.conduction import rosenbrock, single
from thermokit.conduction.equations import Equations
from thermokit.conduction.section_step import Stepper
from validation.order import section_space, section_time, space_curved, space_modes, time_laws, time_layered
from validation.order.families import GROUPS, studies
from validation.order.study import Study, measure, order_of

ALL = studies()
# by what they cost: own meshes at several finenesses, laws with conduction (their conduction is that of all of them)
LONG = (
    "own mesh",
    "shape factor",
    "with conduction",
    "held above",
    "latent heat over 20 K",
    "change of law",
    "two curves",
    "k(T), contact",
    "cp(T) and radiation",
)
KEPT = ("channel with water, heat", "order 1, with", "slab: latent heat over 20 K, one")


def cases() -> list[object]:
    """All studies; those that take longer are left to the long run, but for one of a sort."""
    out = []
    for study in ALL:
        long = any(word in study.name for word in LONG) and not any(word in study.name for word in KEPT)
        out.append(pytest.param(study, id=study.key, marks=[pytest.mark.long] if long else []))
    return out


@pytest.mark.parametrize("study", cases())
def test_order(study: Study) -> None:
    row = measure(study, study.sizes[: study.few])
    assert row.passed, (row.order, row.errors)


def test_names_are_their_own_and_groups_are_known() -> None:
    assert len({study.key for study in ALL}) == len(ALL)
    assert {study.group for study in ALL} == set(GROUPS)


def test_slope_of_known_errors() -> None:
    sizes = (10, 20, 40)
    assert order_of(sizes, tuple(7.0 * n**-1.5 for n in sizes)) == pytest.approx(1.5)
    assert not np.isfinite(order_of(sizes, (1.0, 0.5, 0.0)))


# -- a study must be able to fail ----------------------------------------------------------------------------------------


def named(found: list[Study], words: str) -> Study:
    return next(study for study in found if words in study.name)


def lost(study: Study) -> bool:
    return not measure(study, study.sizes[:3]).passed


def test_half_cell_at_a_face_is_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without a third of the half cell's resistance at the faces the scheme is of order 1."""
    study = named(space_modes.studies(), "slab: inside insulated, outside held")
    assert not lost(study)
    right = Equations._half_cells

    def broken(self: Equations, k_first: float, k_last: float) -> None:
        right(self, 1.5 * k_first, 1.5 * k_last)

    monkeypatch.setattr(Equations, "_half_cells", broken)
    assert lost(study)


def test_derivative_by_time_is_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    study = named(time_layered.studies(), "slab: convection, all of it moving")
    assert not lost(study)
    monkeypatch.setattr(single, "_GAMMA_TIME", [0.0] * rosenbrock.STAGES)
    assert lost(study)


def test_wrong_slope_of_a_law_is_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    """A derivative by temperature that is 10 % off: results look right, the order does not."""
    study = named(time_laws.studies(), "order 1, alone")
    assert not lost(study)
    right = time_laws.NthOrder.linearise

    def broken(self, temperature, degrees):
        rate, by_temperature, by_degrees = right(self, temperature, degrees)
        return rate, 1.1 * by_temperature, by_degrees

    monkeypatch.setattr(time_laws.NthOrder, "linearise", broken)
    assert lost(study)


def test_wrong_resistance_of_an_axis_is_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    from thermokit.conduction import rod

    study = named(space_modes.studies(), "solid sphere: inside centre, outside held")
    monkeypatch.setattr(rod, "_at_axis", lambda *parts: None)
    assert lost(study)


def test_wrong_stage_of_the_section_solver_is_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    """What enters at a stage taken a little early, as of an earlier time."""
    study = named(section_time.studies(), "flux that grows")
    assert not lost(study)
    right = Stepper.entering
    monkeypatch.setattr(Stepper, "entering", lambda self, tau: right(self, 0.98 * tau))
    assert lost(study)


def test_wrong_share_of_a_drawn_layer_is_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    from dataclasses import replace

    study = named(space_curved.studies(), "drawn 1.8 times, mode 2")
    right = space_curved.follow

    def broken(course, times, tolerance):
        late = course.legs[1].with_(
            layers=tuple(replace(x, thickness=1.001 * x.thickness) for x in course.legs[1].layers)
        )
        return right(replace(course, legs=(course.legs[0], late)), times, tolerance)

    monkeypatch.setattr(space_curved, "follow", broken)
    assert lost(study)


def test_wrong_area_of_a_section_face_is_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    study = named(section_space.studies(), "plane, flux, skewed triangles")
    right = section_space.march

    def broken(problem, *rest):
        from dataclasses import replace

        from thermokit.conduction.problem import Face

        span = replace(problem.spans[0], faces={"right": Face(heating=1.01 * problem.spans[0].faces["right"].heating)})
        return right(replace(problem, spans=(span,)), *rest)

    monkeypatch.setattr(section_space, "march", broken)
    assert lost(study)
