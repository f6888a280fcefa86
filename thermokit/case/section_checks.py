"""What can only be seen on a whole section: names that lead nowhere, starts, durations, limits; and its geometry."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, cast

import numpy as np

from thermokit.case.common import DURATION
from thermokit.case.declare import known
from thermokit.case.mistakes import nearest, shown
from thermokit.case.section import OUTCOMES, REGION_OUTCOMES
from thermokit.case.stuff import TEMPERATURE
from thermokit.case.tables import Find
from thermokit.case.walk import leaves

if TYPE_CHECKING:
    from collections.abc import Iterable

    from thermokit.case.mistakes import At
    from thermokit.case.section import SectionCase
    from thermokit.conduction.section_problem import Channel, Region


def check_section(case: SectionCase, at: At) -> None:
    """Tell ``at`` of everything that does not hold; what was read with a mistake is passed over."""
    section = case.section
    if not known(section) or not known(section.regions, section.channels, section.edges, section.contacts):
        return
    regions = _names(section.regions)
    faces = [*_names(section.edges), *_names(section.channels)]
    inside = at / "section"
    _check_starts(case, inside)
    _check_face_names(case, inside)
    _check_contacts(case, regions, inside / "contacts")
    if known(case.stations) and known(*case.stations):
        _check_stations(case, regions, faces, at / "stations")
    _check_limits(case, regions, at)
    if at.report.found:
        return  # what holds mistakes cannot be drawn
    read = [leaf for part in (section, case.output) for leaf in leaves(part)]
    if all(known(leaf.value) and not np.ndim(leaf.value) for leaf in read):
        _check_geometry(case, at)


def _names(entries: Iterable[Any]) -> list[str]:
    return [entry.name for entry in entries if known(entry) and known(entry.name)]


def _check_starts(case: SectionCase, at: At) -> None:
    """Every region has a temperature to begin with; a steady state needs none."""
    section = case.section
    if section.steady is not False:
        return
    for i, region in enumerate(section.regions):
        if known(region) and section.start is None and region.start is None:
            (at / "regions" / str(i) / "start").mistake(
                "missing: neither the section nor the region has a start", TEMPERATURE.words()
            )


def _check_face_names(case: SectionCase, at: At) -> None:
    """A name stands for one face."""
    edges = _names(case.section.edges)
    for i, channel in enumerate(case.section.channels):
        if known(channel) and known(channel.name) and channel.name in edges:
            (at / "channels" / str(i) / "name").mistake(
                f"{shown(channel.name)} is already the name of an edge", "each face its own name"
            )


def _check_contacts(case: SectionCase, regions: list[str], at: At) -> None:
    """A contact lies between two regions that there are, each pair once."""
    seen: dict[frozenset[str], int] = {}
    for i, contact in enumerate(case.section.contacts):
        if not known(contact) or not known(contact.between) or not known(*contact.between):
            continue
        place = at / str(i) / "between"
        for j, name in enumerate(contact.between):
            if name not in regions:
                (place / str(j)).mistake(f"{shown(name)} is no region", ", ".join(regions), nearest(name, regions))
        pair = frozenset(contact.between)
        if len(pair) == 1:
            place.mistake("a region touches itself", "two different regions")
        elif pair in seen:
            place.mistake(f"the same two regions as contact {seen[pair]}", "each pair once")
        seen.setdefault(pair, i)


def _check_stations(case: SectionCase, regions: list[str], faces: list[str], at: At) -> None:
    """Durations are given, faces and absent regions exist, something is always there."""
    steady = case.section.steady
    for i, station in enumerate(case.stations):
        place = at / str(i)
        if steady is True and isinstance(station.duration, Find):
            (place / "duration").mistake("a steady state has no duration to be found", "left out")
        elif steady is False and station.duration is None:
            (place / "duration").mistake("missing", DURATION.words() + ', or "find"')
        if known(station.faces):
            for name in station.faces:
                if name not in faces:
                    allowed = ", ".join(faces) or "the section names no edges or channels yet: add [[section.edges]]"
                    (place / "faces" / name).mistake(
                        f"{shown(name)} is no edge or channel", allowed, nearest(name, faces)
                    )
        if not known(station.absent) or not known(*station.absent):
            continue
        for j, name in enumerate(station.absent):
            if name not in regions:
                (place / "absent" / str(j)).mistake(
                    f"{shown(name)} is no region", ", ".join(regions), nearest(name, regions)
                )
        if set(regions) <= set(station.absent):
            (place / "absent").mistake("no region is left", "at least one that is there")


def outcome_names(case: SectionCase, regions: list[str]) -> dict[str, str]:
    """Every outcome that a limit may be put on: name -> dimension."""
    probes = [f"{name}_temperature" for name in _names(case.output.probes)]
    of_regions = [f"{region}_{what}" for region in regions for what in REGION_OUTCOMES]
    return OUTCOMES | dict.fromkeys([*of_regions, *probes], "temperature")


def _check_limits(case: SectionCase, regions: list[str], at: At) -> None:
    """Limits are put on outcomes that there are; a probe's outcome is nobody else's."""
    if not known(case.output) or not known(case.output.probes):
        return
    taken = {*OUTCOMES, *(f"{region}_{what}" for region in regions for what in REGION_OUTCOMES)}
    for i, probe in enumerate(case.output.probes):
        if known(probe) and known(probe.name) and f"{probe.name}_temperature" in taken:
            (at / "output" / "probes" / str(i) / "name").mistake(
                f"{shown(probe.name + '_temperature')} is already an outcome", "another name"
            )
    if not known(case.limits):
        return
    names = outcome_names(case, regions)
    for name in case.limits:
        if name not in names:
            (at / "limits" / name).mistake("is no outcome of this case", ", ".join(names), nearest(name, names))


def _check_geometry(case: SectionCase, at: At) -> None:
    """Outlines, channels and edges make a section; probes lie in it."""
    from thermokit.conduction.section_geometry import mistakes_of
    from thermokit.conduction.section_problem import Channel, Edge, Region, Touch

    section, nothing = case.section, cast("Any", None)  # what fills a region does not matter to its shape
    regions = [Region(r.name, np.array(r.outline, float), nothing, nothing) for r in section.regions]
    channels = [Channel(c.name, _xy(c.centre), float(c.diameter)) for c in section.channels]
    edges = [Edge(e.name, _xy(e.start), _xy(e.end)) for e in section.edges]
    touches = [Touch((c.between[0], c.between[1]), 0.0) for c in section.contacts]
    found = mistakes_of(regions, channels, edges, touches, section.symmetry == "axis")
    tables: dict[str, Any] = {"region": section.regions, "channel": section.channels, "edge": section.edges}
    for finding in found:
        place = at / "section"
        if finding.kind in tables:
            names = [entry.name for entry in tables[finding.kind]]
            place = place / f"{finding.kind}s"
            place = place / str(names.index(finding.name)) if finding.name in names else place
        elif finding.kind == "touch":
            place = place / "contacts"
        place.mistake(str(finding))
    if not found:
        _check_probes(case, regions, channels, at / "output" / "probes")


def _check_probes(case: SectionCase, regions: list[Region], channels: list[Channel], at: At) -> None:
    """Every probe lies in a region or on its outline, and in no channel."""
    from thermokit.conduction.section_geometry_plain import (
        distance_to_segments,
        owner_of,
        size_of,
        tolerance_of,
    )

    slack = 10.0 * tolerance_of(size_of([region.outline for region in regions]))
    for i, probe in enumerate(case.output.probes):
        point = np.array([probe.at], float)
        inside = owner_of(point, regions)[0] >= 0
        for region in regions:
            start = np.asarray(region.outline)
            inside = inside or distance_to_segments(point, start, np.roll(start, -1, axis=0)).min() <= slack
        words = f"({1e3 * point[0, 0]:.6g} mm, {1e3 * point[0, 1]:.6g} mm)"
        hole = next((c for c in channels if np.hypot(*(point[0] - c.centre)) < c.diameter / 2 - slack), None)
        if not inside:
            (at / str(i) / "at").mistake(f"{words} lies in no region", "a place in the section, its edges included")
        elif hole is not None:
            (at / str(i) / "at").mistake(f"{words} lies in channel {shown(hole.name)}", "a place in the material")


def _xy(place: Any) -> tuple[float, float]:
    return float(place[0]), float(place[1])
