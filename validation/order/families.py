"""All studies, by group: data that the book and ``tests/order`` share."""

from __future__ import annotations

from validation.order import (
    section_meshes,
    section_space,
    section_time,
    space_curved,
    space_modes,
    time_laws,
    time_layered,
)
from validation.order.study import Study

#: groups in the order of the book, with what they are about
GROUPS = {
    "geometry and faces": "Layered bodies in space: every geometry with every linear face, held, insulated, in exchange, under "
    "a flux, rising with a series, on a lumped body.",
    "layers, meshes, batch": "Layered bodies in space: several layers with and without contact resistance, graded meshes, the "
    "batch kernel.",
    "sources and media": "Layered bodies in space: sources in the volume and in depth, radiation, heat of cure, conductivity and "
    "heat capacity that vary, latent heat on one curve and on two.",
    "courses and cycles": "What is built on the solvers: a body that is drawn or laid on a tool, states carried from mesh to mesh, "
    "settled cycles.",
    "layered solver in time": "Rodas4P, declared to be of order 4, with equal steps; dense output, crossings, step control; the "
    "backward steps of a loaded oven.",
    "rate laws in time": "Every rate law, alone on a straight rise of temperature and coupled with conduction; errors of degrees "
    "(of temperatures over 200 K). The explicit scheme of fits.",
    "section solver in space": "Sections: triangles on even and skewed grids and on meshes of the solver's own, plane and "
    "axisymmetric. Errors as root of the mean square over nodes or area, unless said.",
    "section solver in time": "SDIRK2, of order 2, with equal steps; rows and crossings inside steps.",
}


def studies() -> list[Study]:
    """All of them, in the order of the groups."""
    found: list[Study] = []
    for module in (space_modes, space_curved, time_layered, time_laws, section_space, section_meshes, section_time):
        found += module.studies()
    order = list(GROUPS)
    return sorted(found, key=lambda study: order.index(study.group))
