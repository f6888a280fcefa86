"""The inflated sheet: identities that hold whatever the law, exact caps, and what dome() refuses."""

from __future__ import annotations

import numpy as np
import pytest

from thermokit.errors import DataError, SolveError
from thermokit.shaping.dome import dome, vacuum_draw
from thermokit.shaping.membrane import at_height, inflate, inflation, limit_point
from thermokit.shaping.rubber import Rubber, Slopes, mooney_rivlin, neo_hookean, ogden
from validation.references import membranes

OGDEN, OGDEN_MODULUS = ogden((0.63e6, 0.0012e6, -0.01e6), (1.3, 5.0, -2.0))  # Ogden (1972), vulcanised rubber
LAWS = [neo_hookean(), mooney_rivlin(0.1), mooney_rivlin(1.0), OGDEN]


class NoThickness:
    """W = G/2 (l1^2 + l2^2): the sheet becomes an exact spherical cap."""

    def slopes(self, first: float, second: float) -> Slopes:
        return Slopes(first, second, 1.0, 0.0, 1.0)


@pytest.mark.parametrize("law", LAWS, ids=lambda law: law.name)
def test_slopes_are_those_of_the_energy(law: Rubber) -> None:
    """Against central differences of W = sum m/a (l1^a + l2^a + l3^a - 3), written here again."""

    def energy(one: float, two: float) -> float:
        return sum(m / a * (one**a + two**a + (one * two) ** -a - 3.0) for m, a in law.terms)

    one, two, d = 1.7, 1.2, 1e-4
    found = law.slopes(one, two)
    assert found.first == pytest.approx((energy(one + d, two) - energy(one - d, two)) / (2 * d), rel=1e-6)
    assert found.second == pytest.approx((energy(one, two + d) - energy(one, two - d)) / (2 * d), rel=1e-6)
    here, up, down = law.slopes(one, two), law.slopes(one + d, two), law.slopes(one - d, two)
    assert here.first_first == pytest.approx((up.first - down.first) / (2 * d), rel=1e-6)
    assert here.first_second == pytest.approx((up.second - down.second) / (2 * d), rel=1e-6)
    up, down = law.slopes(one, two + d), law.slopes(one, two - d)
    assert here.second_second == pytest.approx((up.second - down.second) / (2 * d), rel=1e-6)
    assert law.stress(one, two) == pytest.approx(one * here.first, rel=1e-12)


@pytest.mark.parametrize("law", LAWS, ids=lambda law: law.name)
def test_every_law_has_the_shear_modulus_one(law: Rubber) -> None:
    """Small stretch in one direction, held across: s1 = 4 G e."""
    assert law.stress(1.0 + 1e-6, 1.0) == pytest.approx(4e-6, rel=1e-4)


@pytest.mark.parametrize("law", LAWS, ids=lambda law: law.name)
@pytest.mark.parametrize("stretch", [1.01, 1.5, 2.5])
def test_balance_of_forces_up_to_every_ring_and_volume(law: Rubber, stretch: float) -> None:
    """Pressure on the circle inside r is carried by the tension along the meridian; the sheet keeps its volume."""
    shape = inflate(law, stretch, 4001)
    slope = np.arctan2(-np.gradient(shape.z, shape.place), np.gradient(shape.r, shape.place))[1:-1]
    tension = law.stress(shape.along, shape.hoop) * shape.thickness
    carried = 2.0 * np.pi * shape.r[1:-1] * tension[1:-1] * np.sin(slope)
    assert carried[40:] == pytest.approx(np.pi * shape.r[41:-1] ** 2 * shape.pressure, rel=2e-5)
    metres = 2.0 * np.pi * shape.r * shape.along * shape.thickness
    assert np.trapezoid(metres, shape.place) == pytest.approx(np.pi, rel=1e-6)
    assert np.trapezoid(2.0 * np.pi * shape.r * shape.along, shape.place) == pytest.approx(shape.area, rel=1e-6)
    assert -np.trapezoid(np.pi * shape.r**2, shape.z) == pytest.approx(shape.volume, rel=1e-6)


@pytest.mark.parametrize("law", LAWS, ids=lambda law: law.name)
def test_thin_wall_at_the_pole(law: Rubber) -> None:
    """p = 2 sigma t/R with R the radius of curvature of the profile at the pole, equal stretch all round."""
    shape = inflate(law, 1.6, 2001)
    near = slice(1, 40)
    radius = np.polyfit(shape.r[near] ** 2, (shape.r[near] ** 2 + (shape.height - shape.z[near]) ** 2)
                        / (2.0 * (shape.height - shape.z[near])), 1)[1]  # fmt: skip
    assert shape.pressure == pytest.approx(2.0 * float(law.stress(1.6, 1.6)) * 1.6**-2 / radius, rel=1e-6)


@pytest.mark.parametrize("stretch", [1.0001, 1.2, 2.0, 7.0])
def test_a_sheet_without_thickness_is_an_exact_cap(stretch: float) -> None:
    shape = inflate(NoThickness(), stretch)
    assert shape.pressure == pytest.approx(membranes.cap_pressure(stretch), rel=1e-9)
    assert shape.height == pytest.approx(membranes.cap_height(stretch), rel=1e-9)
    exact = [membranes.cap_stretch(stretch, float(s)) for s in shape.place]
    assert shape.along == pytest.approx(exact, rel=1e-8)
    assert shape.hoop == pytest.approx(exact, rel=1e-8)
    assert shape.r**2 + shape.z**2 + shape.z * (1 - shape.height**2) / shape.height == pytest.approx(1.0, abs=1e-8)


def test_limit_point_of_the_exact_cap_is_the_hemisphere() -> None:
    """4 sqrt(l - 1)/l is greatest at l = 2: 2, and the height is the radius."""
    limit = limit_point(NoThickness())
    assert limit is not None
    assert (limit.pressure, limit.height) == (pytest.approx(2.0, rel=1e-9), pytest.approx(1.0, rel=1e-4))


@pytest.mark.parametrize(("poisson", "printed"), [(0.2, 1.6827), (0.3, 1.7244), (0.4, 1.7769)])
def test_the_reference_gives_the_printed_hencky_coefficients(poisson: float, printed: float) -> None:
    assert membranes.hencky_first_coefficient(poisson) == pytest.approx(printed, abs=5e-5)  # Fichter, NASA TP-3658


@pytest.mark.parametrize("law", LAWS, ids=lambda law: law.name)
def test_a_flat_sheet_follows_hencky(law: Rubber) -> None:
    """All laws are the same for small strain; the difference falls with the square of the height."""
    far, near = (at_height(law, h, 2).pressure / membranes.small_strain_pressure(h) - 1.0 for h in (0.02, 0.01))
    assert abs(near) < 4e-4
    assert far / near == pytest.approx(4.0, rel=0.05)


def test_least_energy_gives_the_same_dome() -> None:
    pressure, stretch = membranes.energy_pressure(0.5, 0.1)
    shape = at_height(mooney_rivlin(0.1), 0.5, 2)
    assert shape.pressure == pytest.approx(pressure, rel=1e-4)
    assert shape.pole_stretch == pytest.approx(stretch, rel=1e-4)


def test_the_table_reads_like_the_solution() -> None:
    curve = inflation(neo_hookean())
    heights = np.array([[0.04, 0.31], [0.77, 1.1]])
    shapes = [at_height(neo_hookean(), float(h), 2) for h in heights.flat]
    pressures = np.reshape([s.pressure for s in shapes], heights.shape)
    assert curve.pressure_at(heights) == pytest.approx(pressures, rel=1e-5)
    assert curve.pole_stretch_at(heights).ravel() == pytest.approx([s.pole_stretch for s in shapes], rel=1e-5)
    assert curve.volume_at(heights).ravel() == pytest.approx([s.volume for s in shapes], rel=1e-4)
    assert curve.height_at(pressures) == pytest.approx(heights, rel=2e-5)
    assert np.isnan(curve.height_at(1.9)) and np.isnan(curve.pressure_at(2.1)) and np.isnan(curve.pressure_at(-0.1))
    assert curve.height_at(0.0) == 0.0
    assert np.isfinite(inflation(mooney_rivlin(0.5), 21).height_at(4.0))


def test_dome_by_pressure_height_and_pole_agree() -> None:
    by_height = dome(0.15, 4e-3, 0.4e6, height=0.09)
    by_pressure = dome(0.15, 4e-3, 0.4e6, pressure=by_height.pressure)
    by_pole = dome(0.15, 4e-3, 0.4e6, pole_thickness=float(by_height.thickness[0]))
    for other in (by_pressure, by_pole):
        assert other.height == pytest.approx(0.09, rel=1e-8)
        assert other.thickness == pytest.approx(by_height.thickness, rel=1e-7)
    assert by_height.stable
    assert by_height.thickness[0] == by_height.thickness.min() and by_height.thickness[-1] == by_height.thickness.max()
    assert by_height.mean_thickness * by_height.area == pytest.approx(np.pi * 0.15**2 * 4e-3, rel=1e-12)


def test_pressure_past_the_limit_point_bursts_and_says_so() -> None:
    good = dome(0.1, 4e-3, 0.4e6, height=0.1)
    with pytest.raises(SolveError, match="bursts") as said:
        dome(0.1, 4e-3, 0.4e6, pressure=1.01 * good.limit_pressure)
    assert "stop by height" in said.value.advice
    past = dome(0.1, 4e-3, 0.4e6, height=0.15)
    assert not past.stable and past.pressure < past.limit_pressure
    assert good.limit_height == pytest.approx(past.limit_height)


def test_a_law_that_stiffens_has_no_limit() -> None:
    found = dome(0.1, 4e-3, 0.4e6, height=0.15, law=mooney_rivlin(0.5))
    assert found.stable and np.isnan(found.limit_pressure) and np.isnan(found.limit_height)


@pytest.mark.parametrize(
    "asked",
    [
        {},
        {"height": 0.05, "pressure": 1e3},
        {"height": -0.05},
        {"height": 0.3},
        {"pole_thickness": 5e-3},
        {"pole_thickness": 1e-5},
        {"pressure": float("nan")},
        {"pressure": 1e-9},
    ],
)
def test_what_cannot_be_asked_is_said(asked: dict[str, float]) -> None:
    with pytest.raises(DataError, match="dome"):
        dome(0.1, 4e-3, 0.4e6, **asked)


def test_vacuum_draws_what_it_can() -> None:
    drawn = vacuum_draw(0.1, 4e-3, 0.4e6, 0.09)
    assert drawn.height == pytest.approx(0.09)
    with pytest.raises(SolveError, match="vacuum gives"):
        vacuum_draw(0.1, 4e-3, 8e6, 0.09)
    # past the limit point the greatest pressure on the way counts, which is more than the last
    deep = dome(0.1, 4e-3, 0.4e6, height=0.19)
    with pytest.raises(SolveError, match="deep"):
        vacuum_draw(0.1, 4e-3, 0.4e6, 0.19, vacuum=0.5 * (deep.pressure + deep.limit_pressure))
    with pytest.raises(DataError, match="vacuum"):
        vacuum_draw(0.1, 4e-3, 0.4e6, 0.09, vacuum=2e5)


def test_rubber_laws_refuse_nonsense() -> None:
    for wrong in (lambda: mooney_rivlin(-0.1), lambda: ogden((1e5,), (2.0, 3.0)), lambda: ogden((-1e5,), (2.0,)),
                  lambda: Rubber("odd", ((1.0, 1.0),)), lambda: inflate(neo_hookean(), 0.9)):  # fmt: skip
        with pytest.raises(DataError):
            wrong()


def test_the_dome_is_drawn_alike_twice() -> None:
    from thermokit.figures.dome import draw_dome
    from thermokit.figures.style import drawn

    for found in (dome(0.1, 4e-3, 0.4e6, height=0.17), dome(0.1, 4e-3, 0.4e6, height=0.05, law=mooney_rivlin(0.5))):
        picture = drawn(draw_dome(found), "svg")
        assert picture == drawn(draw_dome(found), "svg")
        assert ("PAST ITS LIMIT POINT" in picture.decode()) is not found.stable
