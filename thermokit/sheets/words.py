"""How numbers and sentences stand on a sheet: degrees as a setter reads them, in degF beside them where that is asked for."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from thermokit.results.digits import number
from thermokit.units import PER_DEGF

NO_BREAK = "\N{NO-BREAK SPACE}"
LONG = 120.0  # s, from which a time is told in minutes and seconds as well
_DIGITS = 3
_SUPERSCRIPTS = str.maketrans({"2": "²", "3": "³"})
_TEMPERATURE = re.compile(r"(?<![\w.])(-?\d+(?:\.\d+)?)[  ]degC\b")
_DIFFERENCE = re.compile(r"(?<![\w.])([+-]?\d+(?:\.\d+)?)[  ]K\b(?!/)")
_QUANTITY = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(.*?)\s*")


def unit_words(unit: str) -> str:
    """A unit as it is printed.

    >>> unit_words("W/m2/K"), unit_words("degC"), unit_words("1")
    ('W/m²/K', '°C', '')
    """
    if unit == "1":
        return ""
    named = {"degC": "°C", "degF": "°F", "delta_degF": "°F", "um": "µm"}.get(unit)
    return named if named is not None else re.sub(r"(?<=[a-z])[23]", lambda m: m[0].translate(_SUPERSCRIPTS), unit)


@dataclass(frozen=True)
class Words:
    """Numbers and sentences for one sheet; ``fahrenheit`` puts degF beside degC."""

    fahrenheit: bool = False

    def quantity(self, value: float | None, unit: str) -> str:
        """A number with its unit; a long time in minutes and seconds too.

        >>> Words().quantity(76.656, "s"), Words(True).quantity(137.32, "degC")
        ('76.7\\xa0s', '137.3\\xa0°C (279.2\\xa0°F)')
        >>> Words().quantity(896.4, "s"), Words().quantity(None, "mm")
        ('896\\xa0s (14\\xa0min 56\\xa0s)', 'not reached')
        """
        if value is None or not math.isfinite(value):
            return "not reached"
        if unit == "s" and value >= LONG:
            minutes, seconds = divmod(round(value), 60)
            hours, minutes = divmod(minutes, 60)
            told = ((hours, "h"), (minutes, "min"), (seconds, "s"))
            parts = [f"{amount}{NO_BREAK}{name}" for amount, name in told if amount]
            return f"{value:.0f}{NO_BREAK}s ({' '.join(parts)})"
        text = number(value, unit, _DIGITS) + (NO_BREAK + unit_words(unit) if unit_words(unit) else "")
        if self.fahrenheit and unit == "degC":
            text += f" ({number(PER_DEGF * value + 32.0, 'degF')}{NO_BREAK}°F)"
        elif self.fahrenheit and unit == "K":
            text += f" ({number(PER_DEGF * value, 'degF')}{NO_BREAK}°F)"
        return text

    def given(self, raw: object) -> str:
        """A value of the resolved case as it is printed: quantities rounded, tables of time told by their ends.

        >>> Words().given("76.6569713498597 s"), Words().given(0.9), Words().given("abs_tray_stock"), Words().given(True)
        ('76.7\\xa0s', '0.9', 'abs_tray_stock', 'yes')
        """
        if isinstance(raw, bool):
            return "yes" if raw else "no"
        if isinstance(raw, int | float):
            return number(float(raw), "", _DIGITS)
        if isinstance(raw, dict):
            ends = raw.get("value", raw.get("values"))
            times = raw.get("time")
            if isinstance(ends, list) and isinstance(times, list) and ends and times:
                steps = [f"{self.given(v)} at {self.given(t)}" for t, v in zip(times, ends, strict=False)]
                return ", ".join(steps if len(steps) <= 4 else [steps[0], f"… ({len(steps)} steps)", steps[-1]])
            return ", ".join(f"{spaced(str(k))} {self.given(v)}" for k, v in raw.items())
        if isinstance(raw, list):
            return ", ".join(self.given(entry) for entry in raw)
        match = _QUANTITY.fullmatch(str(raw))
        if match is None or (match[2] and re.match(r"[A-Za-z%°1]", match[2]) is None):
            return str(raw)
        if match[2] and not re.fullmatch(r"[A-Za-z%°][\w/²³·%° ^]*|1/\w+", match[2]):
            return str(raw)
        return self.quantity(float(match[1]), match[2] or "1").replace(f".0{NO_BREAK}°", f"{NO_BREAK}°", 1)

    def sentence(self, text: str) -> str:
        """A sentence with its temperatures as they are printed.

        >>> Words(True).sentence("at least 127 degC, margin 10.3 K")
        'at least 127\\xa0°C (260.6\\xa0°F), margin 10.3\\xa0K (18.5\\xa0°F)'
        """

        def temperature(match: re.Match[str]) -> str:
            beside = f" ({number(PER_DEGF * float(match[1]) + 32.0, 'degF')}{NO_BREAK}°F)" if self.fahrenheit else ""
            return f"{match[1]}{NO_BREAK}°C{beside}"

        def difference(match: re.Match[str]) -> str:
            beside = f" ({number(PER_DEGF * float(match[1]), 'degF')}{NO_BREAK}°F)" if self.fahrenheit else ""
            return f"{match[1]}{NO_BREAK}K{beside}"

        return _DIFFERENCE.sub(difference, _TEMPERATURE.sub(temperature, text)).replace("degC", "°C")


def spaced(name: str) -> str:
    """A name in snake_case with spaces.

    >>> spaced("coldest_point")
    'coldest point'
    """
    return name.replace("_", " ")


def capital(text: str) -> str:
    """With a capital first letter, the rest as it is.

    >>> capital("start-up: 5 shots")
    'Start-up: 5 shots'
    """
    return text[:1].upper() + text[1:]
