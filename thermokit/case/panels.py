"""A heater panel on one side of the sheet: zones, setting by temperature or power, size and place, warm-up."""

# ruff: noqa: RUF009 (``key`` makes a dataclass field)

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.common import DURATION
from thermokit.case.declare import Section, key, known
from thermokit.case.structure import ListOf
from thermokit.case.stuff import TEMPERATURE
from thermokit.case.values import Quantity, Whole, share
from thermokit.case.zoned import MOST_ZONES, Zoned
from thermokit.conduction.problem import Series

if TYPE_CHECKING:
    from thermokit.case.mistakes import At
    from thermokit.conduction.problem import Number
    from thermokit.conduction.problem import Varying as Changing

SIDE = Quantity("length", above=0.0, high=100.0, example="600 mm")
VOLTAGE = Quantity("voltage", above=0.0, high=1e5, example="400 V")
_SHIFT = Quantity("temperature_difference", low=-1_000.0, high=1_000.0, example="5 K")
_GEOMETRY = ("size", "gap")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class PanelEntry(Section):
    """A heater panel on one side; the exchange factor is given, or follows from the panel's size and gap."""

    meaning = "a heater panel on one side of the sheet"

    temperature: Changing | tuple[tuple[Number, ...], ...] | None = key(
        Zoned(TEMPERATURE, times=True, instead="{}.trim is an input: it shifts the temperature of every zone"),
        "Temperature of the panel's face, one value or one for each zone.", default=None,
        default_words="power is given",
    )  # fmt: skip
    power: Number | tuple[tuple[Number, ...], ...] | None = key(
        Zoned(share(), instead="{}.installed is an input: every zone's power goes with it"),
        "Power as a share of what is installed, one value or one for each zone; the temperature of the face follows.",
        default=None, default_words="temperature is given",
    )  # fmt: skip
    installed: Number | None = key(
        Quantity("heat_flux", above=0.0, high=1e8, example="25 kW/m2"),
        "Installed power by area of the panel: needed with power; with temperature, what a zone can hold is bounded by it.",
        default=None, default_words="a panel set by temperature always holds it",
    )  # fmt: skip
    rows: int | None = key(
        Whole(1, MOST_ZONES), "Zones across the width.", default=None, default_words="those of the table of zones, else 1",
        physical=False,
    )  # fmt: skip
    columns: int | None = key(
        Whole(1, MOST_ZONES), "Zones along the length.", default=None, default_words="those of the table of zones, else 1",
        physical=False,
    )  # fmt: skip
    dead: tuple[tuple[int, int], ...] = key(
        ListOf(ListOf(Whole(1, MOST_ZONES), least=2, most=2), most=MOST_ZONES**2),
        "Zones without power, each as [row, column], counted from 1.", default=(), physical=False,
    )  # fmt: skip
    trim: Number = key(
        _SHIFT,
        "Added to the temperature of every zone: for tolerances and for trials with the whole panel.",
        default=0.0,
    )
    emissivity: Number = key(share(above=0.0), "Emissivity of the panel's face.", default=0.9)
    exchange: Number | None = key(
        share(), "Exchange factor between panel and sheet: share of sigma (panel^4 - sheet^4) that reaches the sheet.",
        default=None, default_words="from size and gap (view factor at the middle of the sheet) and both emissivities",
    )  # fmt: skip
    size: tuple[Number, ...] | None = key(
        ListOf(SIDE, least=2, most=2), "Length and width of the panel, along those of the sheet.", default=None,
        default_words="exchange is given",
    )  # fmt: skip
    gap: Number | None = key(
        Quantity("length", above=0.0, high=100.0, example="150 mm"), "Distance between panel and sheet.", default=None,
        default_words="exchange is given",
    )  # fmt: skip
    offset: tuple[Number, ...] = key(
        ListOf(Quantity("length", low=-100.0, high=100.0, example="20 mm"), least=2, most=2),
        "Place of the panel's middle from the sheet's middle, along its length and width.", default=(0.0, 0.0),
        default_words="middle over middle",
    )  # fmt: skip
    initial: Number | None = key(
        TEMPERATURE, "Temperature of the panel's face when the station begins (warm-up, after-glow).", default=None,
        default_words="its setting",
    )  # fmt: skip
    time_constant: Number | None = key(
        DURATION, "The face goes from initial to its setting as exp(-time/time_constant).", default=None,
        default_words="at its setting at once",
    )  # fmt: skip
    back_loss: Number = key(share(high=0.9), "Share of the panel's power that is lost at its back.", default=0.0)

    @property
    def set_by(self) -> str:
        """What the panel is set by: ``temperature`` or ``power``."""
        return "temperature" if self.power is None else "power"

    @property
    def _table(self) -> Any:
        """The setting, one value or one for each zone."""
        return self.temperature if self.power is None else self.power

    @property
    def shape(self) -> tuple[int, int]:
        """Rows (across the width) and columns (along the length) of zones."""
        table = self._table
        if isinstance(table, tuple):
            return len(table), len(table[0])
        # a single number may have taken the place of a table whose dead zones are still named
        return (
            self.rows or max((zone[0] for zone in self.dead), default=1),
            self.columns or max((zone[1] for zone in self.dead), default=1),
        )

    @property
    def zoned(self) -> bool:
        """Whether there is more than one zone."""
        return self.shape != (1, 1)

    @property
    def geometric(self) -> bool:
        """Whether the panel's size and gap are given, so that each spot of the sheet sees it in its own way."""
        return self.size is not None and self.gap is not None

    @property
    def alive(self) -> list[list[bool]]:
        """Rows of zones: whether each has power."""
        rows, columns = self.shape
        return [[(i + 1, j + 1) not in self.dead for j in range(columns)] for i in range(rows)]

    def zones(self, setting: str) -> list[list[Any]]:
        """Rows of zones with the value of ``temperature`` [K] or ``power`` [-] of each, dead ones as if alive.

        Neither trim nor mains are counted in; one value for the whole panel stands in every zone.
        """
        value = getattr(self, setting)
        if isinstance(value, tuple):
            return [list(row) for row in value]
        rows, columns = self.shape
        return [[value] * columns for _ in range(rows)]

    def unwritten(self) -> frozenset[str]:
        """A panel set by power has no trim, one of a given exchange factor no place."""
        trim = {"trim"} if self.set_by == "power" else set()
        return frozenset(trim if self.geometric else trim | {"offset"})

    def check(self, at: At, given: frozenset[str]) -> None:
        """Set in one way, zones that fit each other, an exchange factor from one place."""
        self._check_setting(at, given)
        if known(self.temperature, self.power, self.rows, self.columns, self.dead) and known(*self.dead):
            self._check_zones(at, given)
        self._check_place(at, given)

    def _check_setting(self, at: At, given: frozenset[str]) -> None:
        if {"temperature", "power"} <= given:
            (at / "power").mistake("stands together with temperature", "temperature, or power with installed")
        elif not {"temperature", "power"} & given:
            (at / "temperature").mistake(
                "missing: neither temperature nor power is given", "temperature, or power with installed"
            )
        elif "power" in given:
            if "installed" not in given:
                (at / "installed").mistake(
                    "missing: power is a share of it", 'installed power by area, such as "25 kW/m2"'
                )
            if "trim" in given:
                (at / "trim").mistake(
                    "stands together with power",
                    "trim with temperature only",
                    "change power, installed or mains.actual",
                )
        if "trim" in given and known(self.temperature, self.trim) and self.temperature is not None:
            values: Any = self.temperature.value if isinstance(self.temperature, Series) else self.temperature
            if np.min(values) + self.trim < 0.0:
                (at / "trim").mistake(
                    "takes the panel below absolute zero", "a difference of temperature, such as -5 K"
                )
        if isinstance(self.temperature, Series) and "installed" in given:
            (at / "installed").mistake(
                "stands together with a table of times", "installed with one temperature or a table of zones",
                "a table of times is what the panel's face has done",
            )  # fmt: skip
        for one, other in (("initial", "time_constant"), ("time_constant", "initial")):
            if one in given and other not in given:
                (at / other).mistake(f"missing: {one} is given", "initial and time_constant together, or neither")
        if isinstance(self.temperature, Series) and "initial" in given:
            (at / "initial").mistake(
                "stands together with a table of times", "initial with one temperature or a table of zones",
                "let the table of times itself begin there",
            )  # fmt: skip

    def _check_zones(self, at: At, given: frozenset[str]) -> None:
        table = self._table
        word = self.set_by
        for i, side in enumerate(("rows", "columns")):
            count = getattr(self, side)
            if isinstance(table, tuple) and count is not None and count != self.shape[i]:
                (at / side).mistake(
                    f"{count}, but the table of {word} has {self.shape[0]} rows of {self.shape[1]} zones",
                    f"{self.shape[i]}, or left out",
                )
        counted = [isinstance(table, tuple) or getattr(self, side) is not None for side in ("rows", "columns")]
        rows, columns = (self.shape[i] if counted[i] else 1 for i in (0, 1))
        for i, zone in enumerate(self.dead):
            if not known(*zone):
                continue
            if zone[0] > rows or zone[1] > columns:
                (at / "dead" / i).mistake(
                    f"row {zone[0]}, column {zone[1]} is no zone of the panel", f"rows 1 to {rows}, columns 1 to {columns}",
                    "" if all(counted) else "give rows and columns of the panel",
                )  # fmt: skip
            elif zone in self.dead[:i]:
                (at / "dead" / i).mistake("the same zone stands twice", "each zone once")
        if (rows, columns) == (1, 1):
            return
        if isinstance(table, Series):
            (at / "temperature").mistake(
                "a table of times stands together with zones", "one temperature, or a table of zones",
                "several stations one after another hold a panel whose zones change",
            )  # fmt: skip
        if "exchange" in given:
            (at / "exchange").mistake(
                "stands together with zones", "size and gap", "each zone sees the sheet in its own way"
            )

    def _check_place(self, at: At, given: frozenset[str]) -> None:
        if "exchange" in given and {*_GEOMETRY} & given:
            (at / "exchange").mistake("stands together with size or gap", "exchange, or size and gap")
        elif "exchange" in given and "offset" in given:
            (at / "offset").mistake("stands together with exchange", "offset with size and gap only")
        elif "exchange" not in given and not {*_GEOMETRY} <= given:
            missing = [name for name in _GEOMETRY if name not in given]
            if len(missing) == len(_GEOMETRY):
                (at / "exchange").mistake(
                    "missing: neither exchange nor size and gap are given", "exchange, or size and gap"
                )
            else:
                (at / missing[0]).mistake("missing", "size and gap together, or exchange")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class MainsEntry(Section):
    """Voltage of the mains: the power of every panel of the station goes with (actual/rated)^2."""

    meaning = "voltage of the mains; power goes with (actual/rated)^2"

    rated: Number = key(VOLTAGE, "Voltage at which the panels give their installed power.")
    actual: Number = key(VOLTAGE, "Voltage that there is.")
