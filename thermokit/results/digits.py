"""How numbers are written for people: enough digits, no more, and never an exponent where plain digits will do."""

from __future__ import annotations

import math

_PREFIXES = ((1e9, "G"), (1e6, "M"), (1e3, "k"))


def number(value: float, unit: str = "", digits: int = 4) -> str:
    """A number as it is printed: temperatures to 0.1, others to four significant digits.

    >>> number(127.04, "degC"), number(86.0349), number(0.00012345), number(1234567.0)
    ('127.0', '86.03', '0.0001234', '1235000')
    """
    if not math.isfinite(value):
        return "not a number" if math.isnan(value) else "infinite"
    if unit in ("degC", "degF", "K"):
        return f"{value + 0.0:.1f}" if abs(value) >= 0.05 or value == 0 else f"{value:.2g}"
    if value == 0:
        return "0"
    exponent = math.floor(math.log10(abs(value)))
    if not -5 <= exponent <= 8:
        return f"{value:.{digits - 1}e}"
    rounded = round(value, digits - 1 - exponent)
    text = f"{rounded:.{max(digits - 1 - exponent, 0)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def difference_unit(unit: str) -> str:
    """Unit of a difference of two values in that unit: between temperatures in degC it is K.

    >>> difference_unit("degC"), difference_unit("s")
    ('K', 's')
    """
    return {"degC": "K", "degF": "delta_degF"}.get(unit, unit)


def scaled_heat(size: float, unit: str) -> tuple[float, str]:
    """Factor and unit that make an amount of heat easy to read.

    >>> scaled_heat(1.2e6, "J/m2")
    (1e-06, 'MJ/m2')
    """
    for factor, prefix in _PREFIXES:
        if abs(size) >= factor:
            return 1 / factor, prefix + unit
    return 1.0, unit
