"""Heating cylinders of all sorts: any bore and spreader, zones, stuff, regrind, friction of injection."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

from .generated_body import kinetics, materials
from .writing import Amount, amount, amounts, temperatures

LIBRARY = ("ps", "hdpe", "pp", "abs", "pa6", "pvc_plasticised")


@st.composite
def cylinders(
    draw: Any, *, friction: bool = True, reacts: bool = True, melts: bool = True, own: bool = False
) -> dict[str, Any]:
    """A cylinder case; arguments as for mills."""
    bore = draw(amounts("length", 10.0, 150.0))
    spreader = Amount(bore.number * draw(st.integers(0, 90)) / 100, "length")
    machine: dict[str, Any] = {
        "bore": bore, "spreader": spreader, "contact": draw(amounts("heat_transfer_coefficient", 20.0, 5000.0))
    }  # fmt: skip
    if spreader.number > 0 and draw(st.booleans()):
        machine["spreader_contact"] = draw(amounts("heat_transfer_coefficient", 20.0, 5000.0))
        machine["spreader_below"] = amount(draw(st.integers(0, 40)), "temperature_difference")
    zones = []
    for _ in range(draw(st.integers(1, 4))):
        zones.append({"length": draw(amounts("length", 20.0, 600.0)), "temperature": draw(temperatures(100.0, 290.0))})
    shot: dict[str, Any] = {
        "material": "stuff" if own or draw(st.booleans()) else draw(st.sampled_from(LIBRARY)),
        "mass": draw(amounts("mass", 2.0, 800.0)), "cycle": draw(amounts("time", 3.0, 300.0)),
        "start": draw(temperatures(0.0, 80.0)),
    }  # fmt: skip
    if draw(st.booleans()):
        shot["density"] = draw(amounts("density", 400.0, 2000.0))
    if friction and draw(st.booleans()):
        shot["pressure_loss"] = draw(amounts("pressure", 1.0, 120.0))
    tree: dict[str, Any] = {
        "title": "generated", "process": "cylinder", "machine": machine, "shot": shot,
        "materials": {"stuff": draw(materials(melts))},
    }  # fmt: skip
    if reacts and draw(st.booleans()):
        tree["kinetics"] = {"resin": draw(kinetics(draw(st.sampled_from(["gel", "cure"]))))}
        shot["kinetics"] = ["resin"]
    if reacts and draw(st.booleans()):
        shot["dose"] = {
            "energy": amount(draw(st.integers(50, 200)), "molar_energy"), "reference": draw(temperatures(150.0, 240.0)),
            "time": draw(amounts("time", 60.0, 9000.0)),
        }  # fmt: skip
    if draw(st.booleans()):
        tree["regrind"] = {"share": amount(draw(st.integers(0, 99)) / 100, "fraction")}
    return tree | {"zones": zones, "accuracy": {"temperature": draw(st.sampled_from(["0.5 K", "2 K", "0.2 K"]))}}


def zone_cut(tree: dict[str, Any], which: int, tenths: int) -> dict[str, Any]:
    """A zone cut in two of the same temperature."""
    zones = list(tree["zones"])
    at = which % len(zones)
    length = zones[at]["length"].number
    parts = [zones[at] | {"length": Amount(length * share / 10, "length")} for share in (tenths, 10 - tenths)]
    return tree | {"zones": [*zones[:at], *parts, *zones[at + 1 :]]}
