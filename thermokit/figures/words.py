"""Words and scales of the figures: units that suit the size, names of faces, text that is safe to draw."""

from __future__ import annotations

from typing import TYPE_CHECKING

from thermokit.results.digits import number

if TYPE_CHECKING:
    from collections.abc import Sequence

    from thermokit.results.model import Result

NO_BREAK = "\N{NO-BREAK SPACE}"
UNITS = {"degC": "°C", "degF": "°F", "um": "µm"}


def time_unit(longest: float) -> tuple[float, str]:
    """Seconds in the unit that suits a run of that length [s], and its name.

    >>> time_unit(86.0), time_unit(3600.0), time_unit(172800.0)
    ((1.0, 's'), (60.0, 'min'), (3600.0, 'h'))
    """
    if longest <= 600:
        return 1.0, "s"
    return (60.0, "min") if longest <= 6 * 3600 else (3600.0, "h")


def length_unit(longest: float) -> tuple[float, str]:
    """Metres in the unit that suits a body of that thickness [m], and its name.

    >>> length_unit(0.004)
    (0.001, 'mm')
    """
    if longest < 2e-4:
        return 1e-6, "µm"
    return (1e-3, "mm") if longest < 2 else (1.0, "m")


def face_names(result: Result) -> tuple[str, str]:
    """What the inner and the outer face are called: sheets and charges have an upper and a lower one, a solid body an axis."""
    if result.provenance.process in ("sheet", "charge"):
        return "upper face", "lower face"
    if result.shape != "plane" and result.inner_radius == 0:
        return ("axis" if result.shape == "cylinder" else "centre"), "surface"
    return "inner face", "outer face"


def spoken(text: str) -> str:
    """A text or a name in snake_case as it is drawn: spaces instead of underscores, no control characters.

    >>> spoken("coldest_point")
    'coldest point'
    """
    return " ".join("".join(c if c.isprintable() else " " for c in text.replace("_", " ")).split())


def quantity(value: float, unit: str) -> str:
    """A number with its unit, as it is drawn: the space between them does not break.

    >>> quantity(127.04, "degC")
    '127.0\\xa0°C'
    """
    return f"{number(value, unit)}{NO_BREAK}{UNITS.get(unit, unit)}"


def together(names: Sequence[str]) -> str:
    """Several names as one: commas, and the last with ``and``.

    >>> together(["upper face", "lower face", "half depth"])
    'upper face, lower face and half depth'
    """
    return " and ".join(part for part in (", ".join(names[:-1]), names[-1]) if part)
