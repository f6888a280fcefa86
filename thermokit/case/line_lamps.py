"""Infrared lamps of a line, in rows."""

# ruff: noqa: RUF009 (``key`` makes a dataclass field)

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.declare import Section, key
from thermokit.case.line_rolls import LENGTH, LineStation, air_key, kind_key
from thermokit.case.structure import ListOf, Sub
from thermokit.case.stuff import TEMPERATURE
from thermokit.case.values import Choice, Quantity, share
from thermokit.exchange.lamps import LAMPS, TAKEN_IN, emitter_temperature, taken_in

if TYPE_CHECKING:
    from thermokit.case.mistakes import At
    from thermokit.conduction.problem import Number as Numeric

FLUX = Quantity("heat_flux", low=0.0, high=1e7, example="16 kW/m2")
TIME = Quantity("time", low=0.0, high=1e6, example="1 s")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class LampZone(Section):
    """A row of lamps along the line."""

    meaning = "a row of lamps along the line"

    length: Numeric = key(LENGTH, "Its length.")
    power: Numeric = key(FLUX, "Heat that its lamps send onto the side, all on, by area.")
    setting: Numeric = key(share(high=1.2), "Share of that it is set to.", default=1.0)


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class LampsStation(LineStation):
    """Infrared lamps over one side; the air moves by on both."""

    meaning = "infrared lamps over one side"

    kind: str = kind_key("lamps")
    zones: tuple[LampZone, ...] = key(ListOf(Sub(LampZone), least=1, most=50), "Rows of lamps, in order.")
    setting: Numeric = key(share(high=1.2), "Setting of all of them, on top of each one's.", default=1.0)
    lamp: str | None = key(
        Choice(tuple(LAMPS)), "Kind of lamp: power is then what is installed, of which it radiates its share.", default=None,
        default_words="power is what arrives", physical=False,
    )  # fmt: skip
    onto: str | None = key(
        Choice(tuple(TAKEN_IN)), "What they shine on, for the share that is taken in of this lamp's spectrum.", default=None,
        default_words="absorbed is given", physical=False,
    )  # fmt: skip
    absorbed: Numeric | None = key(
        share(above=0.0), "Share of what arrives that is taken in: by lamp and colour 0.25 to 0.95.", default=None,
        default_words="by lamp and onto, else all of it",
    )  # fmt: skip
    passes: Numeric = key(
        share(high=0.95), "Share of what is taken in that passes the outermost layer into the one below.", default=0.0
    )
    side: str = key(Choice(("face", "back")), "Which side they heat.", default="face")
    after_glow: Numeric | None = key(
        Quantity("time", above=0.0, high=1e4, example="2 s"),
        "Time in which their heat falls to 37 % once they are off: short wave 1, medium wave 15 to 60 s.", default=None,
        default_words="that of the lamp, else 5 s: assumed",
    )  # fmt: skip
    shutter: Numeric | None = key(
        TIME,
        "Time after which a shutter stands before them when the line stops.",
        default=None,
        default_words="no shutter",
    )
    temperature: Numeric | None = key(TEMPERATURE, "The air's temperature.", default=None,
                                      default_words="that of the line's air")  # fmt: skip
    coefficient: Numeric | None = air_key()

    @property
    def path(self) -> Any:
        """Length of all rows [m]."""
        return sum(zone.length for zone in self.zones)

    @property
    def glow(self) -> Any:
        """Time constant of the after-glow [s]."""
        if self.after_glow is not None:
            return self.after_glow
        return LAMPS[self.lamp].tau[1] if self.lamp is not None else 5.0

    def taken(self, zone: LampZone) -> Any:
        """Heat that a row puts into what runs, by area [W/m2]."""
        setting = zone.setting * self.setting
        arrives = zone.power * setting
        if self.lamp is None:
            return arrives * (1.0 if self.absorbed is None else self.absorbed)
        lamp = LAMPS[self.lamp]
        arrives = arrives * lamp.radiant
        if self.absorbed is not None or self.onto is None:
            return arrives * (1.0 if self.absorbed is None else self.absorbed)
        emitter = emitter_temperature(lamp.temperature[1], np.maximum(setting, 1e-3))
        return arrives * taken_in(self.onto, emitter)

    def check(self, at: At, given: frozenset[str]) -> None:
        """What is taken in is said in one way."""
        if {"absorbed", "onto"} <= given:
            (at / "onto").mistake("stands together with absorbed", "one of the two")
        elif "onto" in given and "lamp" not in given:
            (at / "lamp").mistake("missing: the share that is taken in goes by the lamp", " or ".join(LAMPS))
