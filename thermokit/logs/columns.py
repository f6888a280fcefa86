"""Which column of a logger's file is the time and which are channels, by heading, units row and the cells themselves."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from thermokit.logs.stamps import looks_like_stamp, time_unit_of
from thermokit.logs.text import NOTHING, number
from thermokit.units import UnitError, find_unit

if TYPE_CHECKING:
    from collections.abc import Sequence

#: what loggers write where a couple is broken or out of range
OPEN = frozenset(
    {
        "ol",
        "o.l",
        "-ol",
        "+ol",
        "o.l.",
        "over",
        "overload",
        "overflow",
        "overrange",
        "over range",
        "open",
        "open tc",
        "burnout",
    }
    | {
        "fail",
        "err",
        "error",
        "bad",
        "fault",
        "inf",
        "-inf",
        "+inf",
        "under",
        "underflow",
        "lo",
        "hi",
        "***",
        "****",
        "*****",
    }
    | {"invalid", "no data", "?", "x"}
)
GAP_NUMBERS = frozenset({9999.0, -9999.0, 99999.0, -99999.0, 999.9, -999.9, 9999.9, -9999.9, 32767.0, -32768.0, 3276.7})
LONGEST = 300  # characters of a heading: what is longer is not taken apart, which would need time with the square of it
HUGE = 1e30  # no channel measures that: loggers write 9.9E+37 for an open input
TIME_NAMES = frozenset(
    {"time", "elapsed", "elapsed time", "t", "zeit", "date", "datum", "date/time", "date time", "datetime", "timestamp"}
    | {
        "stamp",
        "time stamp",
        "clock",
        "uhrzeit",
        "seconds",
        "minutes",
        "hours",
        "sec",
        "min",
        "temps",
        "tiempo",
        "hora",
        "tid",
    }
    | {"date & time", "date and time", "date-time", "run time", "runtime", "rel. time", "relative time"}
)
_TEMPERATURES = {
    "c": "degC", "f": "degF", "k": "K", "deg c": "degC", "deg f": "degF", "celsius": "degC", "fahrenheit": "degF",
    "kelvin": "K", "deg. c": "degC", "degrees c": "degC", "degrees f": "degF", "ºc": "degC", "ºf": "degF", "ºC": "degC",
    "grad c": "degC", "degc": "degC", "degf": "degF",
}  # fmt: skip
#: units of what a logger may keep beside temperatures; mV of a bare couple needs its type and cold junction
_OTHER = {
    "mv": "mV",
    "v": "V",
    "uv": "uV",
    "µv": "uV",
    "ma": "mA",
    "a": "A",
    "ohm": "ohm",
    "bar": "bar",
    "%rh": "%RH",
    "%": "%",
}
_FORM = re.compile(r"-|[dmyhst]{1,4}([:./, -]+[dmyhst0a-z]{1,4})+")  # how a stamp is written: dd.mm.yyyy, hh:mm:ss.0
_WITH_UNIT = re.compile(r"\s*([+-]?[\d.,]+(?:[eE][+-]?\d+)?)\s*(°\s?[CF]|deg\s?[CF]|[CFK]|mV)\s*")


@dataclass(frozen=True)
class Column:
    """A column by its heading: name, unit as in ``units`` (``mV`` and the like too; None: none given), whether it is a time."""

    name: str
    unit: str | None = None
    time: bool = False


def column_of(heading: str) -> Column:
    """What a heading such as ``T1 [degC]``, ``Core (°F)``, ``Ch 3/°C`` or ``time_s`` says.

    >>> column_of("Core (°F)"), column_of("time_s")
    (Column(name='Core', unit='degF', time=False), Column(name='time', unit='s', time=True))
    """
    text = " ".join(heading.strip().strip('"').split())
    if len(text) > LONGEST:
        return Column(text[:60] + "...")
    for pattern in (
        r"(.*?)\s*[\[({](.+?)[\])}]\s*",
        r"(.+?)\s*/\s*(\S+(?: [CF])?)",
        r"(.+)[_ ](\S+)",
        r"(.+),\s*(\S+)",
    ):
        match = re.fullmatch(pattern, text)
        if not match:
            continue
        name, unit = match[1].strip(" _/"), match[2].strip()
        named_time = is_time_name(name)
        as_time = time_unit_of(unit) if named_time or not name else None
        if as_time is not None:
            return Column(name or "time", as_time, True)
        found = temperature_unit(unit) or _OTHER.get(unit.lower())
        # "probe c" and "T_1 K" are names: a letter alone is a unit in brackets, or behind a stroke
        alone = len(unit) == 1 and pattern.startswith((r"(.+)[", r"(.+),"))
        if found is not None and not named_time and not (alone and unit not in ("K",)):
            return Column(name or text, found)
        if named_time:
            return Column(name, None, True)
    lone = time_unit_of(text) if text.lower() in TIME_NAMES else None
    return Column(text, lone, is_time_name(text))


def is_time_name(name: str) -> bool:
    """Whether a column of that name holds times or dates."""
    lower = " ".join(name.lower().replace("_", " ").split()).strip(" .:")
    if name.strip() == "T":
        return False
    return lower in TIME_NAMES or bool(re.fullmatch(r"(elapsed|date|time)[ /&-].*|.* (time|stamp)", lower))


def temperature_unit(text: str) -> str | None:
    """A unit of temperature as in ``units``, None where a text is none.

    >>> temperature_unit("°C"), temperature_unit("mV")
    ('degC', None)
    """
    plain = text.strip().strip("[](){}")
    if plain.lower() in _TEMPERATURES:
        return _TEMPERATURES[plain.lower()]
    try:
        return find_unit(plain, "temperature")
    except UnitError:
        return None


def units_row(cells: Sequence[str]) -> list[str | None] | None:
    """Units of a row that holds nothing but units (of times and channels) and blanks, None where it is something else."""
    found: list[str | None] = []
    for cell in cells:
        text = cell.strip().strip("[](){}")
        if not text or _FORM.fullmatch(text.lower()):
            found.append(None)
            continue
        unit = temperature_unit(text) or time_unit_of(text) or _OTHER.get(text.lower())
        if unit is None:
            return None
        found.append(unit)
    return found if any(found) else None


def is_gap(cell: str) -> bool:
    """Whether a cell says that nothing was measured.

    >>> is_gap("OL"), is_gap(""), is_gap("23.4")
    (True, True, False)
    """
    lower = " ".join(cell.strip().strip('"').lower().split())
    return lower in NOTHING or lower in OPEN


def is_gap_number(value: float) -> bool:
    """Whether a number stands for nothing measured: 9999 and the like."""
    return value in GAP_NUMBERS or abs(value) > HUGE


def without_unit(cell: str) -> tuple[str, str | None]:
    """A cell such as ``23.4 °C`` as number and unit; other cells as they are, without.

    >>> without_unit("23.4 °C")
    ('23.4', 'degC')
    """
    match = _WITH_UNIT.fullmatch(cell)
    if match is None:
        return cell, None
    return match[1], temperature_unit(match[2]) or _OTHER.get(match[2].lower())


def is_measured(cell: str) -> bool:
    """Whether a cell may stand in a row of data: a number, a number with its unit, a stamp, or a gap."""
    if is_gap(cell) or looks_like_stamp(cell):
        return True
    text = without_unit(cell)[0]
    return number(text, False) is not None or number(text, True) is not None
