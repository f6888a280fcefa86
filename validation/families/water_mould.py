"""Part cooling in a mould: F01 and F02 by the single wall between two halves, and as a gate; the settled shot."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Any

from validation.checks import Bound, Check, Quantity, Tolerance
from validation.references import convective_series as series
from validation.references import plane_series
from validation.references.water_wall import Cycle, Tool

ZERO = 273.15
HALF_PER_CENT = Tolerance(share=0.005)
FORMULA = "first term of the Fourier series, printed widely in the moulding trade; targets: the full series"
#: thickness [m], diffusivity [m2/s], melt, wall, ejection [degC]; recorded time of middle and mean [s]
SLABS = {
    "a": (0.003, 1.0e-7, 230.0, 50.0, 90.0, 15.91834, 11.80044),
    "b": (0.002, 0.9e-7, 280.0, 90.0, 130.0, 8.104384, 6.070844),
}


def _medium(a: float) -> Any:
    from thermokit.conduction.problem import Medium

    return Medium(1000.0, 0.20, 0.20 / (1000.0 * a))


def _held_side(wall: float, contact: float) -> Any:
    """A half of a mould whose face cannot leave its coolant's temperature."""
    from thermokit.processes.mould_wall import MouldSide

    T = wall + ZERO
    return MouldSide(1e5, 7800.0, 460.0, 0.010, 0.015, 0.030, 1e6, T, contact, contact, air=T)


@lru_cache(maxsize=8)
def _between_halves(name: str, criterion: str, contact: float) -> float:
    """Time [s] from filling to the ejection temperature, settled."""
    from thermokit.processes.mould_cycle import settled_cycle
    from thermokit.processes.mould_wall import MouldWall

    s, a, melt, wall, ejection, *_ = SLABS[name]
    side = _held_side(wall, contact)
    own = MouldWall(_medium(a), s, melt + ZERO, ejection + ZERO, 0.2, 10.0, side, side, criterion)
    return float(settled_cycle(own).shut[0])


def _as_gate(name: str, criterion: str, contact: float) -> float:
    """The same of a gate of this thickness in a mould of given face temperature."""
    from thermokit.processes.mould_gate import Piece, time_until

    s, a, melt, wall, ejection, *_ = SLABS[name]
    piece = Piece(_medium(a), "plane", s, melt + ZERO, wall + ZERO, contact)
    return float(time_until(piece, ejection + ZERO, criterion)[0])


def _exact(name: str, criterion: str, contact: float) -> float:
    s, a, melt, wall, ejection, *_ = SLABS[name]
    biot = math.inf if contact >= 1e6 else contact * s / 2 / 0.20
    where = 0.0 if criterion == "hottest" else "mean"
    return series.fourier_to_reach("plane", biot, (ejection - wall) / (melt - wall), where) * (s / 2) ** 2 / a


_PLACES = {"hottest": "centre", "mean": "mean"}
_WAYS = {"between two halves": _between_halves, "as a gate": _as_gate}


def _slab(name: str, contact: float, recorded: tuple[float | None, float | None]) -> tuple[Quantity, ...]:
    return tuple(
        Quantity(
            f"({name}) {place}, {way}",
            "s",
            lambda criterion=criterion: _exact(name, criterion, contact),
            HALF_PER_CENT,
            lambda ways, way=way, criterion=criterion: ways[way](name, criterion, contact),
            number,
        )
        for (criterion, place), number in zip(_PLACES.items(), recorded, strict=True)
        for way in _WAYS
    )


SLAB = Check(
    "F01",
    "moulding between cold walls, by the single wall of a mould",
    FORMULA,
    "computed",
    lambda: _WAYS,
    (*_slab("a", 1e6, SLABS["a"][5:]), *_slab("b", 1e6, SLABS["b"][5:])),
)

#: by hand: middle and mean [s], None where the formula says nothing
BY_HAND = {"a": (15.91835, 11.8004), "b": (8.104385, 6.070834), "c": (3.865377, None)}
SLABS_BY_HAND = SLABS | {"c": (0.003, 1.0e-7, 230.0, 50.0, 200.0, 3.751679, 0.4908739)}


def _hand(name: str, criterion: str) -> float:
    from thermokit.processes.mould_gate import Piece

    s, a, melt, wall, ejection, *_ = SLABS_BY_HAND[name]
    piece = Piece(_medium(a), "plane", s, melt + ZERO, wall + ZERO, math.inf)
    return float(piece.by_hand(ejection + ZERO, criterion))


def _hand_exact(name: str, criterion: str) -> float:
    s, a, melt, wall, ejection, *_ = SLABS_BY_HAND[name]
    return plane_series.cooling_time_one_term(s, a, melt, wall, ejection, criterion == "mean")


HAND = Check(
    "F01",
    "moulding between cold walls, by the hand formula of a gate",
    "first term of the Fourier series, printed widely in the moulding trade",
    "computed",
    lambda: _hand,
    (
        *(
            Quantity(
                f"({name}) {place}, by hand",
                "s",
                lambda name=name, criterion=criterion: _hand_exact(name, criterion),
                HALF_PER_CENT,
                lambda hand, name=name, criterion=criterion: hand(name, criterion),
                number,
            )
            for name, numbers in BY_HAND.items()
            for (criterion, place), number in zip(_PLACES.items(), numbers, strict=True)
            if number is not None
        ),
        Bound(
            "(c) mean, by hand: says nothing (1: so it is)",
            "",
            1.0,
            1.0,
            lambda hand: float(math.isnan(hand("c", "mean"))),
            "the formula itself gives a negative time, -0.25 s",
        ),
    ),
)

CONTACT = Check(
    "F02",
    "cooling through a contact conductance, by the single wall of a mould",
    "Robin series",
    "computed",
    lambda: _WAYS,
    _slab("a", 1000.0, (20.22601, None)),
)

_SHOT = (4.0, 6.0)  # hold, open [s]


@lru_cache(maxsize=1)
def _settled() -> Any:
    """A 3 mm polypropylene-like wall between steel halves, one colder than the other."""
    from dataclasses import replace

    from thermokit.conduction.problem import Medium
    from thermokit.processes.mould_cycle import settled_cycle
    from thermokit.processes.mould_wall import MouldSide, MouldWall

    cavity = MouldSide(
        30.0, 7800.0, 460.0, 0.010, 0.015, 0.035, 5000.0, ZERO + 20.0, 2000.0, 1000.0, 0.06, ZERO + 25.0, 10.0
    )
    core = replace(cavity, coolant=ZERO + 35.0)
    wall = MouldWall(Medium(900.0, 0.2, 2200.0), 0.003, ZERO + 230.0, ZERO + 90.0, *_SHOT, cavity, core)
    return wall, settled_cycle(wall)


@lru_cache(maxsize=1)
def _linear() -> Any:
    """(reference, its temperatures at opening) with the cooling time that was found."""
    wall, found = _settled()
    tools = []
    for side in (wall.cavity, wall.core):
        steel, film = (float(r) for r in side.resistance())
        tools.append(
            Tool(steel * 30.0, 30.0, 7800.0 * 460.0, 1.0 / film, side.coolant - ZERO, 10.0, 25.0, 2000.0, 1000.0)
        )
    cycle = Cycle(0.003, 0.2, 900.0 * 2200.0, 230.0, *tools)
    return cycle, cycle.settled(_SHOT[0], float(found.cooling[0]), _SHOT[1])


SETTLED = Check(
    "F02",
    "a mould shot after shot: the settled state",
    "linear stages by their eigenvalues on fine cells, the settled state by one solve",
    "computed",
    _settled,
    (
        Quantity(
            "hottest place when it is opened",
            "degC",
            lambda: float(_linear()[1][120:240].max()),
            Tolerance(absolute=0.4),
            lambda o: float(o[1].hottest[0]) - ZERO,
        ),
        *(
            Quantity(
                f"face of the {name} when the melt comes",
                "degC",
                lambda cell=cell: float(_linear()[0].touch[cell]),
                Tolerance(absolute=0.1),
                lambda o, name=name: float(getattr(o[1], name).at_touch[0]) - ZERO,
            )
            for name, cell in (("cavity", 119), ("core", 240))
        ),
    ),
)

CHECKS = (SLAB, HAND, CONTACT, SETTLED)
