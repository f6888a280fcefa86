"""Answers of studies with their numbers as fields: what ``to_xarray`` gives, and the object of ``--json``.

Each class is the study's own answer with these two added; nothing is computed here.
"""

# ruff: noqa: D102 (``fields``, ``facts`` and ``as_json`` are documented once, at ``Tabled``)

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.results.model import Axis, Field
from thermokit.results.objects import Tabled, result_facts, result_fields, scalar
from thermokit.studies.bottleneck import Bottleneck
from thermokit.studies.chart import Chart
from thermokit.studies.compare import Comparison
from thermokit.studies.cost import PartCost
from thermokit.studies.fit import CaseFit
from thermokit.studies.found import Dwell
from thermokit.studies.methods import Methods
from thermokit.studies.scale_up import ScaleUp
from thermokit.studies.sensitivity import Sensitivity
from thermokit.studies.thermocouple import Couple
from thermokit.studies.tolerance_study import Scatter
from thermokit.studies.verify import Verification
from thermokit.studies.window_map import WindowMap
from thermokit.studies.zones import Zones

if TYPE_CHECKING:
    from pathlib import Path

    from thermokit.results.sweep_table import SweepTable


def tabled(found: Any) -> Any:
    """A study's answer with ``as_json`` and ``to_xarray``."""
    kind = next(own for base, own in OWN if type(found) is base)
    return kind(**{item.name: getattr(found, item.name) for item in dataclasses.fields(found)})


def words(name: str, values: Any, meaning: str) -> Axis:
    """An axis of words."""
    return Axis(name, "", tuple(values), meaning)


def case_facts(case: Any) -> dict[str, Any]:
    """What says which case it was."""
    from thermokit import __version__

    return {
        "title": case.title, "process": case.process, "case_sha256": case.source.sha256, "thermokit_version": __version__,
    }  # fmt: skip


class FoundDwell(Tabled, Dwell):
    """The window of what is sought."""

    def fields(self) -> tuple[Field, ...]:
        unit, shown = self.scale.unit, self.scale.shown
        found = [
            scalar("earliest", shown(self.earliest), unit, "from here on every limit is met"),
            scalar("latest", shown(self.latest), unit, "here the first limit is broken"),
            scalar("recommended", shown(self.recommended), unit, "where to set it"),
        ]
        inside = [m for m in self.margins if not m.edge]
        found += [scalar(f"margins/{m.limit}", m.value, m.unit, f"margin of {m.limit}") for m in inside]
        if self.shares is not None:
            at = Axis("setting", unit, np.array([shown(x) for x in self.shares.settings]), self.path)
            limit = words("limit", self.shares.names, "the limit that is broken")
            found.append(Field("good", (at,), "1", self.shares.good, "share of parts inside all limits"))
            found.append(Field("broken", (limit, at), "1", self.shares.broken, "share of parts that break the limit"))
        return tuple(found)

    def facts(self) -> dict[str, Any]:
        return {
            "path": self.path, "earliest_limit": self.earliest_limit, "latest_limit": self.latest_limit,
            "opens_with": self.opens_with,
        }  # fmt: skip


class FoundScatter(Tabled, Scatter):
    """Shares of parts within the tolerances."""

    def fields(self) -> tuple[Field, ...]:
        limit = words("limit", [one.name for one in self.limits], "name of the limit")
        cause = words("tolerance", self.causes.names, "name of the tolerance")
        shares = {one.limit: one.share for one in self.broken}
        broken = np.array([shares.get(name, 0.0) for name in limit.values])
        found = [
            scalar("inside", self.inside, "1", "share of parts inside all limits"),
            scalar("error", self.error, "1", "its standard error"),
            Field("broken", (limit,), "1", broken, "share of parts that break the limit"),
            Field("causes", (limit, cause), "1", self.causes.shares, "share of the variance of the margin"),
        ]
        if self.setting is not None:
            found.append(scalar("setting", self.scale.shown(self.setting), self.scale.unit, str(self.path)))
        if self.shares is not None:
            at = Axis("against", self.scale.unit, [self.scale.shown(x) for x in self.shares.settings], str(self.path))
            found.append(Field("good", (at,), "1", self.shares.good, "share of parts inside all limits"))
        return tuple(found)

    def facts(self) -> dict[str, Any]:
        return case_facts(self.case) | {"draws": self.draws, "seed": self.seed}

    def as_json(self) -> dict[str, Any]:
        from thermokit.studies.tolerance_words import scatter_json

        return scatter_json(self, [])


class FoundMap(Tabled, WindowMap):
    """A map over two settings."""

    def fields(self) -> tuple[Field, ...]:
        x = Axis("across", self.across.unit, self.across.shown(self.x), self.across.name)
        y = Axis("up", self.up.unit, self.up.shown(self.y), self.up.name)
        found = [
            Field(f"margins/{one.name}", (y, x), one.margin_unit if self.amounts else "s", margins, one.required)
            for one, margins in zip(self.limits, self.margins, strict=True)
        ]
        found.append(Field("met", (y, x), "1", np.asarray(self.met, np.int8), "1 where every limit is met"))
        return (*found, scalar("share", self.share, "1", "share of the map on which every limit is met"))

    def facts(self) -> dict[str, Any]:
        return case_facts(self.case)

    def as_json(self) -> dict[str, Any]:
        from thermokit.studies.window_map_words import map_json

        return map_json(self, [])


class FoundSensitivity(Tabled, Sensitivity):
    """Shares of the variance, input by input."""

    def fields(self) -> tuple[Field, ...]:
        output = words("output", [one.name for one in self.outputs], "margin or outcome")
        cause = words("input", self.inputs, "input, or what errs together")
        end = words("end", ("low", "high"), "ends of the interval of 95 in 100")
        return (
            Field("first", (output, cause), "1", self.indices.first, "share that the input explains alone"),
            Field("total", (output, cause), "1", self.indices.total, "share that goes where the input is known"),
            Field("first_range", (end, output, cause), "1", self.indices.first_range, "interval of first"),
            Field("total_range", (end, output, cause), "1", self.indices.total_range, "interval of total"),
            Field("alone", (end, output, cause), "", self.alone, "output with that input alone at its ends, as meant"),
        )

    def facts(self) -> dict[str, Any]:
        return case_facts(self.case) | {"over": self.over, "seed": self.seed}

    def as_json(self) -> dict[str, Any]:
        from thermokit.studies.sensitivity_words import sensitivity_json

        return sensitivity_json(self, [])


class FoundFit(Tabled, CaseFit):
    """Fitted inputs and channels beside the model."""

    def fields(self) -> tuple[Field, ...]:
        names = words("unknown", [v.variable.name for v in self.values], "what was fitted")
        other = words("other", names.values, "what was fitted")
        found: list[Field] = [
            Field("value", (names,), "", np.array([v.value for v in self.values]), "fitted value, in SI"),
            Field("low", (names,), "", _ends([v.low for v in self.values]), "low end of the interval of 95 in 100, SI"),
            Field("high", (names,), "", _ends([v.high for v in self.values]), "high end of it, in SI"),
            Field("correlation", (names, other), "1", self.correlation, "correlation of the unknowns"),
        ]
        for i, channel in enumerate(self.channels):
            time = Axis("time", "s", channel.time, "time of the case")
            found.append(Field(f"channel_{i}/rest", (time,), "K", channel.rest, "reading less model"))
        return tuple(found)

    def facts(self) -> dict[str, Any]:
        return case_facts(self.case) | {"rows": self.rows, "log": self.log}

    def as_json(self) -> dict[str, Any]:
        from thermokit.studies.fit_words import fit_json

        return fit_json(self)


class FoundComparison(Tabled, Comparison):
    """Designs side by side."""

    def fields(self) -> tuple[Field, ...]:
        design = words("design", [one.letter for one in self.designs], "letter of the design")
        rows = [row for row in self.rows if not any(isinstance(value, str) for value in row.values)]
        return tuple(
            Field(f"{row.kind}/{row.name}", (design,), row.unit, _ends(row.values), row.meaning) for row in rows
        )

    def facts(self) -> dict[str, Any]:
        return {f"design_{one.letter}": one.name for one in self.designs}


class FoundMethods(Tabled, Methods):
    """Methods side by side."""

    def fields(self) -> tuple[Field, ...]:
        method = words("method", [row.name for row in self.rows], "shaping method")
        units = {name: unit for row in self.rows for name, (_, unit) in row.figures.items()}
        can = np.array([row.can for row in self.rows], np.int8)
        found = [Field("can", (method,), "1", can, "1 where the method can make the part")]
        for name, unit in units.items():
            values = _ends([row.figures[name][0] if name in row.figures else None for row in self.rows])
            found.append(Field(f"figures/{name}", (method,), unit, values, name.replace("_", " ")))
        return tuple(found)

    def facts(self) -> dict[str, Any]:
        return case_facts(self.case)


class FoundVerification(Tabled, Verification):
    """How far apart the answers of three ways of solving are."""

    def fields(self) -> tuple[Field, ...]:
        each = words("comparison", [f"{c.what}: {c.quantity}" for c in self.comparisons], "what was held against what")
        return (
            Field("largest", (each,), "", _ends([c.largest for c in self.comparisons]), "largest difference"),
            Field("allowed", (each,), "", _ends([c.allowed for c in self.comparisons]), "difference that is allowed"),
        )

    def facts(self) -> dict[str, Any]:
        return {"title": self.title, "case_sha256": self.case_sha256, "units": "K, or 1 for degrees of a reaction"}


class FoundCost(Tabled, PartCost):
    """Energy and money of a part."""

    def fields(self) -> tuple[Field, ...]:
        energy = words("energy_item", [e.name for e in self.energies], "what takes or gives energy")
        money = words("money_item", [m.name for m in self.money], "what costs money")
        return (
            Field("energy", (energy,), "kWh", np.array([e.kwh for e in self.energies], float), "energy of a part"),
            Field("money", (money,), self.currency, np.array([m.amount for m in self.money], float), "money of a part"),
            scalar("drawn", self.drawn, "kWh", "energy of a part in the bill"),
            scalar("total", self.total, self.currency, "money of a part"),
            scalar("cycle", self.cycle, "s", "time of a cycle"),
        )

    def facts(self) -> dict[str, Any]:
        return case_facts(self.case) | {"parts": self.parts}

    def as_json(self) -> dict[str, Any]:
        from thermokit.studies.cost_words import cost_json

        return cost_json(self)


class FoundBottleneck(Tabled, Bottleneck):
    """The cycle, stretch by stretch."""

    def fields(self) -> tuple[Field, ...]:
        step = words("step", [s.name for s in self.steps], "stretch of the cycle")
        return (
            Field("seconds", (step,), "s", np.array([s.seconds for s in self.steps]), "how long it takes"),
            Field(
                "spare", (step,), "s", _ends([s.spare for s in self.steps]), "what can be taken off with all limits met"
            ),
            Field(
                "rules",
                (step,),
                "1",
                np.array([s.rules for s in self.steps], np.int8),
                "1 where the cycle goes with it",
            ),
            scalar("cycle", self.cycle, "s", "time of a cycle"),
            scalar("gain", self.gain, "1/h", "parts an hour more for a second less"),
        )

    def facts(self) -> dict[str, Any]:
        return case_facts(self.case) | {"parts": self.parts, "stations": self.arrangement}

    def as_json(self) -> dict[str, Any]:
        from thermokit.studies.cost_words import bottleneck_json

        return bottleneck_json(self)


class FoundCouple(Tabled, Couple):
    """What a couple tells at every place."""

    def fields(self) -> tuple[Field, ...]:
        spot = Axis("place", "", np.arange(len(self.left), dtype=np.int64), "number of the place")
        cause = words("unknown", self.names, "name of the tolerance")
        unit = "K" if self.unit == "degC" else self.unit
        found = [
            Field(
                "left", (spot,), unit, self.left, "standard deviation of the outcome once a couple there has been read"
            ),
            Field("told", (spot,), "1", self.told, "information on all unknowns, ln"),
            Field("weights", (cause,), unit, self.weights, "change of the outcome for one standard deviation"),
            scalar("spread", self.spread, unit, "standard deviation of the outcome by the tolerances"),
        ]
        names = ("depth",) if self.depths.shape[1] == 1 else ("x", "y")
        return (*found, *(Field(n, (spot,), "m", column, n) for n, column in zip(names, self.depths.T, strict=True)))

    def facts(self) -> dict[str, Any]:
        return case_facts(self.case) | {"of": self.of, "best": self.best.words}

    def as_json(self) -> dict[str, Any]:
        from thermokit.studies.thermocouple_words import thermocouple_json

        return thermocouple_json(self)


class FoundChart(Tabled, Chart):
    """Curves of what is sought over one input."""

    def fields(self) -> tuple[Field, ...]:
        across = Axis("against", self.across.unit, self.across.shown(self.at), self.across.name)
        values = [np.nan if c.value is None else self.family.shown(c.value) for c in self.curves if self.family] or [
            np.nan
        ]
        unit, name = (self.family.unit, self.family.name) if self.family is not None else ("", "the only curve")
        family = Axis("family", unit, np.array(values, float), name)
        return tuple(
            Field(
                word,
                (family, across),
                self.unit,
                np.array([getattr(c, word) for c in self.curves]),
                f"{word} {self.sought}",
            )
            for word in ("earliest", "latest", "recommended")
        )

    def facts(self) -> dict[str, Any]:
        return case_facts(self.case) | {"sought": self.sought}

    def as_json(self) -> dict[str, Any]:
        from thermokit.studies.chart import chart_json

        return chart_json(self, [])


class FoundScaleUp(Tabled, ScaleUp):
    """An answer at several sizes."""

    def fields(self) -> tuple[Field, ...]:
        factor = Axis("factor", "1", np.array([row.factor for row in self.sizes]), "on " + " + ".join(self.paths))
        return (
            Field("answer", (factor,), self.unit, _ends([row.answer for row in self.sizes]), self.of),
            Field("by_square", (factor,), self.unit, _ends([row.by_square for row in self.sizes]), "by t ~ L^2"),
            Field(
                "exponent", (factor,), "1", _ends([row.exponent for row in self.sizes]), "of the time, from 1 to here"
            ),
        )

    def facts(self) -> dict[str, Any]:
        return case_facts(self.case) | {"exponent": self.exponent, "regime": self.regime, "limit": self.limit}

    def as_json(self) -> dict[str, Any]:
        from thermokit.studies.scale_up_words import scale_up_json

        return scale_up_json(self)


class FoundZones(Tabled, Zones):
    """Settings of zones, with the run at them."""

    def fields(self) -> tuple[Field, ...]:
        return result_fields(self.result)

    def facts(self) -> dict[str, Any]:
        return result_facts(self.result)

    def as_json(self) -> dict[str, Any]:
        from thermokit.results.summary import as_json

        return as_json(self.result, None)


@dataclass(frozen=True)
class FoundTable(Tabled):
    """All rows of a sweep: ``table`` in ``file``; before : it was finished before."""

    table: SweepTable
    file: Path
    before: bool

    @property
    def columns(self) -> dict[str, Any]:
        """Name of each input, outcome and margin -> (rows,) in its unit; see ``table`` for units."""
        return {column.name: column.values for column in self.table.columns}

    def fields(self) -> tuple[Field, ...]:
        row = Axis("row", "", np.arange(self.table.rows, dtype=np.int64), "number of the row, from 0")
        found = [Field(c.name, (row,), c.unit, c.values, c.meaning) for c in self.table.columns]
        return (*found, Field("status", (row,), "1", self.table.status, "0 finished, 1 no window, 2 failed"))

    def facts(self) -> dict[str, Any]:
        own = self.table.provenance
        return {"title": own.title, "case_sha256": own.case_sha256, "identity": self.table.identity}

    def as_json(self) -> dict[str, Any]:
        from thermokit.studies.sweep_words import sweep_json

        return sweep_json(self.table, self.file, self.before)


def _ends(values: Any) -> Any:
    """Numbers with NaN for None."""
    return np.array([np.nan if value is None else value for value in values], float)


OWN: tuple[tuple[type, type], ...] = (
    (Dwell, FoundDwell), (Scatter, FoundScatter), (WindowMap, FoundMap), (Sensitivity, FoundSensitivity),
    (CaseFit, FoundFit), (Comparison, FoundComparison), (Methods, FoundMethods), (Verification, FoundVerification),
    (Zones, FoundZones), (ScaleUp, FoundScaleUp), (PartCost, FoundCost), (Bottleneck, FoundBottleneck),
    (Couple, FoundCouple), (Chart, FoundChart),
)  # fmt: skip
