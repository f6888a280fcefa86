"""The bath over a shift: every hot former leaves heat in it, fresh paste replaces what formers take away.

With formers dipped at a steady rate the bath of mass m and specific heat c follows

    m c dT/dt = n Q - G (T - T_room) - n c (m_coat) (T - T_fresh)

n [1/s] formers in a time, Q [J] heat that one leaves in the bath, G [W/K] losses, m_coat [kg] paste that one takes away; so T
approaches T_end = (n Q + G T_room + n c m_coat T_fresh)/(G + n c m_coat) with the time constant m c/(G + n c m_coat). Q is
taken at the bath's temperature at the beginning of the shift; a warmer bath takes a little less.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.processes.media import typical

if TYPE_CHECKING:
    from thermokit.conduction.problem import Array
    from thermokit.processes.base import Facts
    from thermokit.processes.dip import DipProcess


def heat_left(process: DipProcess, facts: Facts) -> Array:
    """Heat that one former leaves in the bath in all its dips, (cases,) [J/m2 of dipped area].

    What the former, its fabric and its coats lose in a dip, less what the new coat takes with it above the bath.
    """
    total: Any = np.zeros(facts.hottest.shape)
    radius = facts.edges + (np.asarray(process.inner_radius) if process.shape != "plane" else 0.0)
    power = {"plane": 1, "cylinder": 2, "sphere": 3}[process.shape]
    outer = np.asarray(process.outer_radius)
    volume = np.diff(radius**power / power, axis=0) / (outer ** (power - 1))  # m3 for each m2 of the bare former
    for i, number in enumerate(process.dips):
        if number + 1 > len(facts.stations) - 1:
            break
        end = facts.stations[number][1:-1]
        if number:
            before = facts.stations[number - 1][1:-1]
            # of two dips in turn the coat between them was still paste then: what it took is counted at the end of this one
            before = np.where(np.isnan(before), end, before)
        else:
            before = np.broadcast_to(np.asarray(process.case.former.start, float), end.shape)
        bath = process.bath_temperature(number)
        for name, _, medium, _ in process.layers():
            if name not in process.shown() or name in process.coats[i + 1 :]:
                continue
            cells = process.cells(name)
            heat = typical(medium.density) * typical(medium.specific_heat)
            if name == process.coats[i]:  # taken along, at about what it has a station later
                after = facts.stations[number + 1][1:-1]
                total = total - (heat * volume[cells] * (after[cells] - bath)).sum(axis=0)
            else:
                total = total + (heat * volume[cells] * (before[cells] - end[cells])).sum(axis=0)
    return np.asarray(np.maximum(total, 0.0))


def taken_away(process: DipProcess, facts: Facts) -> Array:
    """Paste that one former takes away, (cases,) [kg/m2 of dipped area]."""
    from thermokit.processes.dip_judgement import coat_volume

    return np.asarray(typical(process.paste_medium.density) * coat_volume(process, facts))


def settling(process: DipProcess, facts: Facts) -> tuple[Array, Array]:
    """(temperature that the bath approaches [K], time constant [s]), (cases,); infinite where it neither loses nor takes heat:
    it then stays at the temperature that it has."""
    bath = process.case.paste.bath
    assert bath is not None
    c = typical(process.paste_medium.specific_heat)
    area = np.asarray(process.area)
    heat = bath.dips * heat_left(process, facts) * area
    exchange = bath.dips * c * taken_away(process, facts) * area
    fresh = bath.fresh if bath.fresh is not None else bath.room
    total = bath.losses + exchange
    still = np.asarray(total) <= 0.0
    share = np.where(still, 1.0, total)
    end = np.where(still, process.case.paste.temperature, (heat + bath.losses * bath.room + exchange * fresh) / share)
    return end, np.where(still, np.inf, bath.mass * c / share)


def bath_at_end(process: DipProcess, facts: Facts) -> Array:
    """Temperature of the bath at the end of the shift, (cases,) [K]."""
    bath = process.case.paste.bath
    assert bath is not None
    end, constant = settling(process, facts)
    return np.asarray(end + (process.case.paste.temperature - end) * np.exp(-bath.shift / constant))


def time_until(process: DipProcess, facts: Facts, limit: float) -> Array:
    """Time until the bath reaches a temperature [K], (cases,) [s]; infinite where it never does."""
    end, constant = settling(process, facts)
    begin = np.asarray(process.case.paste.temperature, float)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = (end - limit) / (end - begin)
        found = np.where(begin >= limit, 0.0, -constant * np.log(share))
    return np.where((share > 0.0) & (share <= 1.0), found, np.where(begin >= limit, 0.0, np.inf))
