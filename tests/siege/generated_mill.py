"""Mill cases of all sorts: bands of any stuff, rolls with and without friction heat, folded, sheeted off into the air."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

from .generated_body import kinetics, materials, varying
from .writing import Amount, amount, amounts, temperatures

LIBRARY = ("pvc_plasticised", "pvc_rigid", "pvc_wire_covering")


@st.composite
def mills(
    draw: Any, *, tables: bool = True, friction: bool = True, reacts: bool = True, melts: bool = True, folds: int = 12,
    off: bool = True, own: bool = False,
) -> dict[str, Any]:  # fmt: skip
    """A mill case.

    friction : it may make heat in the nip; reacts : something may gel and age; melts : stuff may melt; folds : most of them;
    off : it may go on in the air; own : of material and kinetics of the case's own only.
    """
    stuff = draw(materials(melts))
    band: dict[str, Any] = {
        "material": "stuff" if own or draw(st.booleans()) else draw(st.sampled_from(LIBRARY)),
        "thickness": draw(amounts("length", 0.2, 15.0)), "start": draw(temperatures(0.0, 120.0)),
        "width": draw(amounts("length", 100.0, 2000.0)),
    }  # fmt: skip
    tree: dict[str, Any] = {"title": "generated", "process": "mill", "band": band, "materials": {"stuff": stuff}}
    if reacts and draw(st.booleans()):
        milling = {k: v for k, v in draw(kinetics("gel")).items() if k not in ("glass_transition", "vitrification")}
        if not friction:
            milling["heat"] = amount(0, "heat_per_mass")
        tree["kinetics"] = {"milling": milling}
        band["kinetics"] = ["milling", *(["pvc_heat_dose"] if draw(st.booleans()) else [])]
    tree["rolls"] = _rolls(draw, friction)
    kinds = ["mill"] * draw(st.integers(1, 2)) + ["air"] * (draw(st.integers(0, 2)) if off else 0)
    durations = [draw(amounts("time", 2.0, 3000.0)) for _ in kinds]
    last = float(max(d.number for d in durations))
    tree["stations"] = []
    for kind, duration in zip(kinds, durations, strict=True):
        h = amounts("heat_transfer_coefficient", 1.0, 60.0)
        station: dict[str, Any] = {"kind": kind, "duration": duration} | (
            {"folds": draw(st.integers(0, folds))} if kind == "mill" else {}
        )
        station["air"] = {
            "temperature": draw(varying(temperatures(0.0, 60.0), last, tables)),
            "coefficient": draw(varying(h, last, tables)),
        }
        tree["stations"].append(station)
    tree["accuracy"] = {"temperature": draw(st.sampled_from(["0.5 K", "2 K", "0.2 K"]))}
    return tree


def _rolls(draw: Any, friction: bool) -> dict[str, Any]:
    rolls: dict[str, Any] = {
        "diameter": draw(amounts("length", 100.0, 900.0)), "front": draw(temperatures(60.0, 200.0)),
        "back": draw(temperatures(60.0, 200.0)), "speed": f"{draw(st.integers(2, 60))} m/min",
        "friction": draw(st.integers(100, 160)) / 100,
        "contact": draw(amounts("heat_transfer_coefficient", 50.0, 2000.0)),
        "nip_contact": draw(amounts("heat_transfer_coefficient", 200.0, 8000.0)),
    }  # fmt: skip
    made = draw(st.sampled_from(["none", "heat", "power"])) if friction else "none"
    if made == "power":
        rolls["power"] = f"{draw(st.integers(1, 100)) / 10} kW"
    elif made == "heat":
        rolls["heat"] = {
            "viscosity": f"{draw(st.integers(1, 400)) * 100} Pa s", "reference": draw(temperatures(120.0, 190.0)),
            "softening": f"{draw(st.integers(0, 60)) / 1000} 1/K",
        }  # fmt: skip
    return rolls


def station_cut(tree: dict[str, Any], which: int, tenths: int) -> dict[str, Any]:
    """A station without folds cut in two that follow each other."""
    stations = list(tree["stations"])
    station = {k: v for k, v in stations[which].items() if k != "folds"}
    number = station["duration"].number
    parts = [station | {"duration": Amount(number * share / 10, "time")} for share in (tenths, 10 - tenths)]
    return tree | {"stations": [*stations[:which], *parts, *stations[which + 1 :]]}
