"""Small bodies that change on their way, 10 to 20 cells: a sheet drawn onto a tool, a charge taken out of its mould."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from cross_bodies import PLASTIC, STEEL, K, air, curing_charge, even, melt_and_crystallise

from thermokit.conduction.course import Course, thinned
from thermokit.conduction.problem import Face, Layer, Problem, Radiation, Series, Span

ALUMINIUM = replace(STEEL, density=2700.0, conductivity=150.0, specific_heat=900.0)


def drawn_onto_a_tool() -> Course:
    """A sheet between panels, over to the tool, drawn to 1.8 times its area with the tool beneath, lifted off."""
    sheet = Layer(PLASTIC, 3e-3, even(12), 20.0 + K, name="sheet")
    drawn = thinned(sheet, 1.8)
    tool = Layer(ALUMINIUM, 12e-3, even(4), np.linspace(50.0, 60.0, 4) + K, name="tool", counts=False)
    panel = Face(exchange=(air(8.0, 60.0).exchange[0],), radiation=(Radiation(0.6, 400.0 + K),))
    still = air(12.0, 25.0)
    legs = (
        Problem((sheet,), (Span(60.0, panel, panel), Span(6.0, still, still))),
        Problem((replace(drawn, contact=350.0), tool), (Span(25.0, still, air(800.0, 15.0)),)),
        Problem((drawn,), (Span(10.0, still, still),)),
    )
    return Course(legs, ("sheet",), (1.0, 1.8, 1.8))


def melted_and_pressed() -> Course:
    """Melted in part and chilled, then it crystallises on a tool: the share at the touch cannot be told from temperature."""
    sheet = replace(melt_and_crystallise().layers[0], name="sheet")
    tool = Layer(ALUMINIUM, 8e-3, even(4), 60.0 + K, contact=900.0, name="tool", counts=False)
    hot, blown, still = air(500.0, 190.0), air(150.0, 25.0), air(10.0, 25.0)
    legs = (
        Problem((sheet,), (Span(11.0, hot, hot), Span(3.0, blown, blown))),
        Problem((tool, thinned(sheet, 1.3)), (Span(12.0, air(300.0, 40.0), still),)),
    )
    return Course(legs, ("sheet",), (1.0, 1.3))


def out_of_the_mould() -> Course:
    """A rod that cures in a shell, which is pulled off it while it is hot."""
    rod = replace(curing_charge().layers[0], thickness=5e-3, edges=even(8), contact=1200.0, name="charge")
    rod = replace(rod, heat=Series((0.0, 150.0, 150.0), (0.0, 0.0, 2e5)))  # on the clock of the whole way
    shell = Layer(STEEL, 6e-3, even(4), 150.0 + K, name="shell", counts=False)
    legs = (
        Problem((rod, shell), (Span(120.0, outer=air(2000.0, 155.0)),), "cylinder"),
        Problem((replace(rod, contact=None),), (Span(60.0, outer=air(15.0, 25.0)),), "cylinder"),
    )
    return Course(legs, ("charge",))


COURSES = {
    "drawn onto a tool": drawn_onto_a_tool,
    "melted and pressed": melted_and_pressed,
    "out of the mould": out_of_the_mould,
}
