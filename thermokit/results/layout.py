"""What stands where in a result file: each variable declared once, for the writer and the reader alike.

The file is HDF5 in the form netCDF-4 readers expect::

    time(time) depth(depth) depth_edge(depth_edge)   dimension scales [s] [m] [m]; depth counts from the inner face
    radius(depth)                                    [m], cylinder and sphere only
    temperature(time, depth)                         [degC], cell values
    inner_face_temperature(time) ...                 [degC]
    station(time)                                    which entry of station_ends/... a row belongs to, from 0
    <probe>_temperature(time)                        [degC], one for each probe
    cure_degree(time, depth) ...                     [1], NaN where nothing reacts
    outcomes/<name>                                  one number and its unit; NaN where ``reached`` is 0
    limits/<name>                                    what was found; as attributes: required, margin, met, where, when
    heat_balance/in out stored released mismatch     integrated inside the time scheme
    extremes/hottest coldest                         [degC], over the whole run; as attributes: time, depth
    station_ends/...(end, depth)                     the body at the end of each station
    stations/name(station), layers/name(layer), layers/edge(layer_edge)
    crossings/<name>                                 [s], when a threshold was crossed
    notes/warning caution solver_warning             texts, one a row
    provenance/case_text resolved_text               and as attributes: SHA-256, versions
    study/json                                       what a study adds, as JSON text

What is not a row (``Result.fields``) stands in a group of its own, with its axes beside it::

    map/y(y) map/x(x)                                scales of the group: numbers, or words (names of regions)
    map/coldest_point(y, x) ...                      in the unit of the field, NaN where there is nothing; as attributes:
                                                     field (its full name), unit, order

Fields of one group share the axes of one name. A file without such groups has no fields.

A **section** (``layout`` is ``thermokit section result``) has nodes and triangles in place of depth and layers; what is not
named here is as above::

    time(time) node(node) cell(cell) corner(corner) region(region) face(face)    dimension scales
    x(node) y(node)                                  [m]; of an axisymmetric section x is the radius
    temperature(time, node)                          [degC], NaN where a region is absent; one row in the steady state
    cell_node(cell, corner) cell_region(cell)        nodes of each triangle, counter-clockwise; its region
    regions/name(region) hottest(time, region)       names; hottest place of each region [degC]
    faces/name(face)                                 edges and channels
    sides/node(side, end) region(side) face(side)    the outside and channel walls; face -1 has no name
    joints/node(joint, four) region(joint, two) face(joint)   nodes a1 a2 b1 b2 between two regions with doubled nodes
    station_ends/temperature(end, node) heat(end, face)       heat that went in through each face, in heat_balance's unit
    extremes/...                                     attributes: time, x, y, region
    VTKHDF/...                                       the same as an unstructured grid over time for a VTK reader: points,
                                                     triangles; temperature (point data) and region (cell data) point
                                                     at the variables above and take no room of their own
"""

from __future__ import annotations

from dataclasses import dataclass

LAYOUT = "thermokit layered result"
SECTION_LAYOUT = "thermokit section result"
SWEEP_LAYOUT = "thermokit sweep table"  # a table of many runs, in ``sweep_table.py``
LAYOUT_VERSION = 1
CONVENTIONS = "CF-1.8"


@dataclass(frozen=True)
class Variable:
    """One variable of the file: its name, axes, unit and meaning, and the field of the dataclass that it holds."""

    name: str
    axes: tuple[str, ...]
    unit: str
    long_name: str
    field: str


TIME = Variable("time", ("time",), "s", "time from the start of the first station", "time")
DEPTH = Variable("depth", ("depth",), "m", "depth of the cell centre from the inner face", "centres")
EDGE = Variable("depth_edge", ("depth_edge",), "m", "depth of the cell edges from the inner face", "edges")

# rows of a History
ROWS = (
    Variable("temperature", ("time", "depth"), "degC", "temperature", "temperature"),
    Variable("inner_face_temperature", ("time",), "degC", "temperature of the inner face", "inner_face"),
    Variable("outer_face_temperature", ("time",), "degC", "temperature of the outer face", "outer_face"),
)
STATION = Variable("station", ("time",), "1", "station that the row belongs to, counted from 0", "span")

# fields of a SpanEnd
ENDS = (
    Variable("time", ("end",), "s", "time at which the station ended", "time"),
    Variable("temperature", ("end", "depth"), "degC", "temperature at the end of the station", "temperature"),
    Variable("inner_face_temperature", ("end",), "degC", "inner face at the end of the station", "inner_face"),
    Variable("outer_face_temperature", ("end",), "degC", "outer face at the end of the station", "outer_face"),
)

# fields of an Extreme
EXTREME = (
    Variable("temperature", (), "degC", "temperature", "value"),
    Variable("time", (), "s", "time", "time"),
    Variable("depth", (), "m", "depth from the inner face", "depth"),
)
EXTREMES = {"hottest": "highest temperature anywhere", "coldest": "lowest temperature anywhere"}

# fields of a HeatBalance; the unit of all but the mismatch is the balance's own (J/m2, J/m, J or W)
HEAT = (
    Variable("in", (), "", "heat that entered through the faces and from sources", "entered"),
    Variable("out", (), "", "heat that left through the faces", "left"),
    Variable("stored", (), "", "rise of the sensible and latent heat", "stored"),
    Variable("released", (), "", "heat released by reactions", "released"),
    Variable("mismatch", (), "1", "|in - out + released - stored| / (in + |released| + |stored|)", "mismatch"),
)

# a section: scales and mesh
NODE = Variable("node", ("node",), "1", "node of the mesh, counted from 0", "")
CELL = Variable("cell", ("cell",), "1", "triangle of the mesh, counted from 0", "")
CORNER = Variable("corner", ("corner",), "1", "corner of a triangle, counter-clockwise", "")
NODE_X = Variable("x", ("node",), "m", "x of the node (the radius where the section is axisymmetric)", "x")
NODE_Y = Variable("y", ("node",), "m", "y of the node", "y")
NODE_TEMPERATURE = Variable("temperature", ("time", "node"), "degC", "temperature", "temperature")
CELL_NODE = Variable("cell_node", ("cell", "corner"), "1", "nodes of the triangle", "triangles")
CELL_REGION = Variable("cell_region", ("cell",), "1", "region of the triangle, counted from 0", "region")

# a section: groups of the mesh, field of the mesh -> (group, variable)
MESH_PARTS = (
    ("sides", Variable("node", ("side", "end"), "1", "nodes of the side, the material on the left", "sides")),
    ("sides", Variable("region", ("side",), "1", "region of the side", "side_region")),
    ("sides", Variable("face", ("side",), "1", "face of the side, -1 without a name", "side_face")),
    ("joints", Variable("node", ("joint", "four"), "1", "nodes a1, a2, b1, b2 of the joint", "joints")),
    ("joints", Variable("region", ("joint", "two"), "1", "regions a and b of the joint", "joint_regions")),
    ("joints", Variable("face", ("joint",), "1", "face while one region is absent, -1 without", "joint_face")),
)

# fields of a PlaceOfExtreme
PLACE = (
    Variable("temperature", (), "degC", "temperature", "value"),
    Variable("time", (), "s", "time", "time"),
    Variable("x", (), "m", "x", "x"),
    Variable("y", (), "m", "y", "y"),
)

# lists of texts, by the name of their variable and of their field in Result or History
NOTES = (
    Variable("warning", ("warning",), "1", "what the run warns of", "warnings"),
    Variable("caution", ("caution",), "1", "what the process always needs care with", "cautions"),
    Variable("remark", ("remark",), "1", "what the outcomes mean at the machine", "remarks"),
)
SOLVER_NOTES = Variable("solver_warning", ("solver_warning",), "1", "what the solver warns of", "warnings")

PROVENANCE = (
    Variable("case_text", (), "1", "the case as given", "case_text"),
    Variable("resolved_text", (), "1", "the case with every default filled in", "resolved_text"),
)
