"""What the answers of a shaped sheet mean at the machine, in sentences."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.shaping import BLOWN, VACUUM
from thermokit.errors import DataError
from thermokit.processes import shaping_judgement as judged
from thermokit.processes import shaping_plan
from thermokit.processes.shaping_outcomes import (
    LONGEST,
    blank_sides,
    left_oven,
    marks,
    quantities,
    setting,
    working_time,
)
from thermokit.shaping import caps, clamp

if TYPE_CHECKING:
    from thermokit.processes.base import Facts
    from thermokit.processes.sheet import SheetProcess

STRESSED = 15.0  # K, faces against core when it sets; common practice 10 to 15 K
EVEN = 5.0  # K, regions of a dome against each other; common practice
SHARP = 2.0  # detail radii below this times the thickness left are no membrane


def remarks(places: SheetProcess, process: SheetProcess, facts: Facts) -> list[str]:
    """What a technologist would say of the draw."""
    plan, case = process.plan, process.case
    assert plan is not None and case.shaping is not None and case.part is not None
    shaping = case.shaping
    found = [_force_words(process, facts)]
    time = working_time(process, facts)
    waits: Any = case.stations[left_oven(process) + 1 : plan.at]
    before = sum(float(np.ravel(s.duration)[0]) for s in waits)
    if time is not None:
        word = "LATE: it is drawn too cold" if time < before else "in time"
        more = "and more " if time >= LONGEST else ""
        found.append(
            f"working time after the oven {time:.0f} s {more}in the air; the draw begins {before:.3g} s after it: {word}"
        )
    worst = int(np.argmax(plan.final))
    left = 1.0 / plan.final[worst]
    where = f"the {plan.names[worst]} keeps {100 * left:.0f} % of the blank"
    found.append(
        where
        + (
            ""
            if left >= shaping.least_thickness
            else f", less than {100 * shaping.least_thickness:.0f} %: it is weak there"
        )
    )
    found += _by_hand(process, facts) + _frozen(process)
    marked = marks(places, process, facts)
    found += [f"the {side} face, where the tool touches it: {words}" for side, (_, words) in marked.items()]
    if not marked:
        found.append("no tool touches either face: both stay as clear as the sheet was")
    found += _weight(process, facts) + _detail(process, facts)
    found += _blank(process)
    apart = float(quantities(places, facts)["crown_difference"][0])
    if plan.dome is not None and not marked and apart > EVEN:
        found.append(
            f"the regions are {apart:.0f} K apart at release: the thin crown sets before the ring, which draws it flat or wavy; "
            f"{EVEN:g} K are usual: less air on the crown, a wider diffuser, slower cooling"
        )
    set_ = setting(process, facts)
    if set_ is not None and set_[1] > STRESSED:
        found.append(
            f"it sets with {set_[1]:.0f} K between faces and core ({STRESSED:g} K are usual at most): it may spring back, warp or "
            "craze; a warmer tool or slower air, or anneal it"
        )
    if shaping.blanking:
        found.append(
            "the same stroke cuts the part out: cut before it has set through, and keep the knife out of the hold"
        )
    return found


def _force_words(process: SheetProcess, facts: Facts) -> str:
    shaping = process.case.shaping
    assert shaping is not None
    own, what = judged.pressure(process, facts)
    area = judged.opening(process)
    if own is None:
        return (
            "no air pressure is known: what the press gives times the opening, "
            f"{1e4 * area:.0f} cm2, is what opens the frame (1 bar on it makes {area * 1e5 / 1e3:.3g} kN)"
        )
    force = float(clamp.clamp_force(own, area))
    said = (
        f"{own / 1e5:.3g} bar ({what}) on {area:.3g} m2 make {force / 1e3:.3g} kN, {float(clamp.tonnes(force)):.3g} t"
    )
    if shaping.method == "snap_back":
        said += "; throttle the pump and stop by depth, the whole of it would tear the bubble"
    if shaping.method in VACUUM:
        return f"{said}; it presses on every wall of the vacuum box"
    if shaping.clamp is None:
        return f"{said}; the rating of the clamp is not given (clamp in [shaping]): it must be at least {force / 600.0:.3g} kN"
    return f"{said}, {100 * force / shaping.clamp:.0f} % of the clamp's rating"


def _weight(process: SheetProcess, facts: Facts) -> list[str]:
    """Said where a sheet is to drape by its own weight and cannot be drawn by it."""
    shaping = process.case.shaping
    assert shaping is not None
    force = judged.drawing_force(process, judged.sheet_temperature(process, facts))
    if shaping.method != "drape" or force is None or shaping.pressure is not None:
        return []
    weight, wanted = judged.weight_pressure(process), force / judged.opening(process)
    if wanted <= weight:
        return []
    return [
        f"its own weight, {weight:.0f} Pa, does NOT draw it so far: that takes about {wanted / 1e3:.2g} kPa, "
        f"{force / 9.81:.2g} kgf in all; it bends and hangs by itself, what is drawn must be pulled by hand, pegs or a frame"
    ]


def _by_hand(process: SheetProcess, facts: Facts) -> list[str]:
    """A dome by the spherical cap of its height."""
    plan = process.plan
    assert plan is not None
    if plan.dome is None:
        return []
    ring, height = plan.dome.ring_radius, plan.dome.height
    blank = shaping_plan.blank(process)
    ratio = float(caps.cap_draw_ratio(ring, height))
    words = (
        f"by hand, as a spherical cap: area 1 + (H/a)^2 = {ratio:.3g} times the ring's, {1e3 * blank / ratio:.2g} mm on average, "
        f"{1e3 * blank * float(caps.cap_pole_thickness(ring, height)):.2g} mm at the pole"
    )
    own = shaping_plan.modulus(process, judged.sheet_temperature(process, facts))
    if own is not None:
        words += f", p = 2 sigma t/r = {float(caps.cap_pressure(ring, height, blank, own)) / 1e5:.2g} bar"
    thinnest = 1e3 * float(plan.dome.thickness[0])
    return [f"{words}; the rubber membrane gives {1e3 * plan.dome.mean_thickness:.2g} and {thinnest:.2g} mm"]


def _frozen(process: SheetProcess) -> list[str]:
    """The corner by the model in which the sheet freezes where it touches, beside the usual bands."""
    from thermokit.shaping.freeze import frozen_draw

    part, shaping = process.case.part, process.case.shaping
    assert part is not None and shaping is not None
    if part.shape != "tray" or shaping.method not in ("vacuum_female", "blow_into_mould"):
        return []
    try:
        drawn = frozen_draw(min(part.length, part.width) / 2, part.depth, np.pi / 2, part.corner, trough=True)  # type: ignore[type-var, operator, arg-type]
    except DataError:
        return []
    blank = 1e3 * shaping_plan.blank(process)
    return [
        f"by the model in which the sheet sets where it touches, the edge of the long side keeps {blank * drawn.corner:.2g} mm "
        f"({100 * drawn.corner:.0f} % of the blank); corners where three faces meet less"
    ]


def _detail(process: SheetProcess, facts: Facts) -> list[str]:
    """Whether the detail comes out, and whether air can get away."""
    shaping, plan = process.case.shaping, process.plan
    assert shaping is not None and plan is not None
    found = []
    temperature = judged.sheet_temperature(process, facts)
    own, radius = judged.pressure(process, facts)[0], judged.detail(process)
    wanted, modulus = judged.pressure_for_detail(process, temperature), shaping_plan.modulus(process, temperature)
    pressed = shaping.pressure is not None or shaping.method in (*BLOWN, *VACUUM)
    if pressed and own is not None and radius is not None and wanted is not None and modulus is not None:
        ratio = max(shaping_plan.mean_draw(process, plan), 1.05)
        gives = float(caps.detail_radius(own, shaping_plan.blank(process), ratio, modulus))
        word = "it comes out" if gives <= radius else "it stays ROUND"
        found.append(
            f"a radius of {1e3 * radius:.3g} mm takes {wanted / 1e5:.2g} bar hot, {own / 1e5:.3g} bar press down to "
            f"{1e3 * gives:.2g} mm: {word}; the modulus of hot sheet is known to a "
            "factor of 2 or so, and a chilled skin asks for more (close detail takes about 3.5 bar, 50 lbf/in2: fact of the trade)"
        )
        if radius < SHARP * shaping_plan.blank(process) / ratio:
            found.append("the detail is no larger than the sheet is thick: several bar, whatever the formula says")
    if shaping.method in ("blow_into_mould", "vacuum_female", "vacuum_plug"):
        if shaping.vents is False:
            found.append(
                f"no vents: air is trapped in the {plan.names[0]}, where the sheet arrives last; contact there is taken as "
                f"{100 * shaping_plan.TRAPPED:.0f} % (assumed) and detail will be lost; vent with holes or slots up to 0.5 mm"
            )
        elif shaping.vents is None:
            found.append("vents are not known (vents in [shaping]): trapped air delays the touch and spoils detail")
    return found


def _blank(process: SheetProcess) -> list[str]:
    """Said where the sheet of the case is too small."""
    sheet = process.case.sheet
    given = [float(np.ravel(s)[0]) for s in (sheet.length, sheet.width) if s is not None]
    if len(given) != 2:
        return []
    sides = [cut for _, _, cut in blank_sides(process)]
    sides = sorted(sides * 2 if len(sides) == 1 else sides)
    if all(have >= need * (1.0 - 1e-9) for have, need in zip(sorted(given), sides, strict=True)):
        return []
    words = " x ".join(f"{1e3 * side:.0f}" for side in sides)
    return [
        f"the sheet of {' x '.join(f'{1e3 * x:.0f}' for x in sorted(given))} mm is TOO SMALL: the blank is {words} mm"
    ]
