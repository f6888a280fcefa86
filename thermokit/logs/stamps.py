"""Stamps of a logger as seconds: elapsed times, clocks with and without a date, AM and PM, day numbers of a spreadsheet.

Cells that could be read in two ways that differ (day or month first, hours or minutes first, a number without its unit) are
refused with what to write; where both ways give the same times (a log of one day), nothing is asked.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

import numpy as np

from thermokit.logs.text import number
from thermokit.units import UnitError, find_unit, from_unit

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Array = NDArray[np.float64]

DAY = 86400.0
DATES = ("day first", "month first", "year first")
CLOCKS = ("hh:mm", "mm:ss")
SHEET_DAYS = (20_000.0, 80_000.0)  # day numbers from 1954 to 2119, counted from 30 December 1899
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_OTHER_MONTHS = {"mai": 5, "okt": 10, "dez": 12, "mrz": 3, "mär": 3, "maj": 5}
_CLOCK = re.compile(r"(\d{1,4}):(\d{2})(?::(\d{2}(?:[.,]\d+)?))?\s*([AaPp]\.?[Mm]\.?)?")
_ZONE = re.compile(r"\s*(Z|UTC|GMT|[+-]\d{2}:?\d{2})$")
_NUMERIC_DATE = re.compile(r"(\d{1,4})([-/.])(\d{1,2})\2(\d{1,4})\.?")
_NAMED_DATE = re.compile(
    r"(\d{1,2})[-/. ]+([A-Za-zäé]{3,10})\.?[-/., ]+(\d{2,4})|([A-Za-z]{3,10})\.? (\d{1,2}),? (\d{4})"
)


class StampError(ValueError):
    """Stamps that cannot be read, or not in one way only: the message says what, and what to write."""


@dataclass(frozen=True)
class Stamp:
    """One cell taken apart: numbers of its date as written (None: no date) and seconds of its clock (None: no clock).

    parts : of the clock, 2 or 3; order : ``year first`` or ``named`` where the date says it itself; suffix : am or pm.
    """

    date: tuple[int, int, int] | None
    seconds: float | None
    parts: int = 0
    order: str = ""
    mark: str = ""
    first: int = 0
    suffix: bool = False
    years: int = 4


@dataclass(frozen=True)
class Times:
    """Seconds of every row: as written where these are bare numbers of elapsed time, else from the first row on.

    clock : seconds of the day at 0 s, None where it is not known.
    """

    seconds: Array
    clock: float | None
    notes: tuple[str, ...]


def looks_like_stamp(cell: str) -> bool:
    """Whether a cell is a date, a clock or both (a bare number is none).

    >>> looks_like_stamp("05.03.2024 14:00:01"), looks_like_stamp("2:15 PM"), looks_like_stamp("23.5")
    (True, True, False)
    """
    return _taken_apart(cell) is not None


def _taken_apart(cell: str) -> Stamp | None:
    """A cell as date and clock, None where it is neither."""
    text = _ZONE.sub("", cell.strip().strip("'\""))
    split_second = re.fullmatch(r"(\d{1,4}):(\d{2}[.,]\d+)", text)
    if split_second:  # minutes, seconds and their decimals: no hours have decimals
        return Stamp(None, 60.0 * int(split_second[1]) + float(split_second[2].replace(",", ".")), 3)
    offset = _offset(cell.strip())
    clock = next(iter(_CLOCK.finditer(text)), None)
    day = text if clock is None else (text[: clock.start()] + text[clock.end() :])
    day = day.strip().rstrip("T,;").strip()
    found = _date(day) if day else None
    if (day and found is None) or (clock is None and found is None):
        return None
    if clock is None:
        assert found is not None
        return Stamp(found[0], None, order=found[1], mark=found[2], years=found[3])
    first, middle, last, suffix = clock.groups()
    seconds = 60.0 * float(middle) + (float(last.replace(",", ".")) if last else 0.0)
    hours = int(first)
    if suffix:
        if not 1 <= hours <= 12:
            return None
        hours = hours % 12 + (12 if suffix[0] in "Pp" else 0)
    if int(middle) > 59 or (last and float(last.replace(",", ".")) >= 60.0):
        return None
    seconds += 3600.0 * hours - offset
    of_date = (found[0], found[1], found[2], found[3]) if found else (None, "", "", 4)
    return Stamp(of_date[0], seconds, 3 if last else 2, of_date[1], of_date[2], hours, bool(suffix), of_date[3])


def _offset(text: str) -> float:
    """Seconds by which a zone written behind a stamp is ahead of Greenwich."""
    match = re.search(r"([+-])(\d{2}):?(\d{2})$", text)
    if not match or ":" not in text[: match.start()]:
        return 0.0
    return (1.0 if match[1] == "+" else -1.0) * (3600.0 * int(match[2]) + 60.0 * int(match[3]))


def _date(text: str) -> tuple[tuple[int, int, int], str, str, int] | None:
    """(three numbers as written, order where it is clear, mark between them, digits of the year)."""
    match = _NUMERIC_DATE.fullmatch(text)
    if match:
        one, mark, two, three = match.groups()
        if len(one) == 4:
            return (int(one), int(two), int(three)), "year first", mark, 4
        if len(three) not in (2, 4) or len(one) > 2:
            return None
        return (int(one), int(two), int(three)), "", mark, len(three)
    match = _NAMED_DATE.fullmatch(text)
    if match is None:
        return None
    day, name, year = (match[1], match[2], match[3]) if match[1] else (match[5], match[4], match[6])
    month = _OTHER_MONTHS.get(name[:3].lower()) or next(
        (i + 1 for i, known in enumerate(_MONTHS) if name.lower().startswith(known)), None
    )
    if month is None:
        return None
    return (int(year) + (2000 if len(year) == 2 else 0), month, int(day)), "named", "", 4


def numbers_as_times(values: Array, unit: str | None, heading: str) -> Times:
    """Bare numbers as seconds; day numbers of a spreadsheet count from the first row.

    unit : of time, None where neither heading nor case gives one: then only day numbers of a spreadsheet are recognised.
    Raises StampError where the unit is not known.
    """
    finite = values[np.isfinite(values)]
    if unit is None:
        low, high = (float(finite.min()), float(finite.max())) if len(finite) else (0.0, 0.0)
        if SHEET_DAYS[0] < low <= high < SHEET_DAYS[1] and high - low < 400.0 and np.any(finite % 1.0):
            clock = float(finite[0] % 1.0) * DAY
            words = (
                f"{heading}: read as day numbers of a spreadsheet ({finite[0]:.5f} is {_day_words(float(finite[0]))})"
            )
            return Times((values - finite[0]) * DAY, clock, (words,))
        raise StampError(
            f'the column {heading} of times has no unit; write time_unit = "s" (or "min", "h") under [fit.reading], or name '
            f'the column "{heading.split("[")[0].strip() or "time"} [s]"'
        )
    try:
        return Times(np.asarray(from_unit(values, unit, "time")), None, ())
    except UnitError as wrong:
        raise StampError(f"the column {heading} of times: {wrong}") from None


def _day_words(number_: float) -> str:
    day = date.fromordinal(date(1899, 12, 30).toordinal() + int(number_))
    minutes = round(number_ % 1.0 * 1440.0)
    return f"{day.isoformat()} {minutes // 60 % 24:02d}:{minutes % 60:02d}"


def stamps_as_times(
    cells: Sequence[str], heading: str, dates: str | None = None, clock: str | None = None
) -> Times:  # fmt: skip
    """Stamps as seconds from the first row that has one; NaN where a cell is no stamp.

    dates : one of DATES, clock : one of CLOCKS, where the case says them. Raises StampError where both are needed to read
    the cells and not given.
    """
    parts = [_taken_apart(cell) for cell in cells]
    there = [stamp for stamp in parts if stamp is not None]
    if not there:
        raise StampError(f"the column {heading} holds no times")
    notes: list[str] = []
    days = _days(there, heading, dates, notes)
    seconds = _seconds(there, heading, clock, notes)
    found = np.full(len(parts), np.nan)
    rows = np.flatnonzero([stamp is not None for stamp in parts])
    if days is None:
        seconds = _past_midnight(seconds, there, notes)
        total = seconds
    else:
        total = (days - days[0]) * DAY + seconds
    found[rows] = total - total[0]
    longest = float(np.max(seconds))
    told = (
        float(seconds[0]) if (days is not None or longest < DAY) and any(s.seconds is not None for s in there) else None
    )
    return Times(found, told, tuple(notes))


def _seconds(stamps: Sequence[Stamp], heading: str, clock: str | None, notes: list[str]) -> Array:
    """Seconds of the clocks; two-part ones as hours and minutes, or minutes and seconds."""
    seconds = np.array([stamp.seconds if stamp.seconds is not None else 0.0 for stamp in stamps])
    two = [stamp for stamp in stamps if stamp.parts == 2]
    if not two or stamps[0].date is not None or any(stamp.suffix for stamp in two):
        return seconds
    words = clock or next((known for known in CLOCKS if known in heading.lower()), None)
    if words is None and any(stamp.first > 23 for stamp in two):
        words = "mm:ss"
        notes.append(f"{heading}: read as minutes and seconds, since a first part is above 23")
    if words is None:
        raise StampError(
            f"the column {heading} holds times of two parts; hours and minutes, or minutes and seconds? Write "
            'clock = "hh:mm" or clock = "mm:ss" under [fit.reading]'
        )
    if words == "mm:ss":
        seconds = np.array([s / 60.0 if stamp.parts == 2 else s for s, stamp in zip(seconds, stamps, strict=True)])
    return seconds


def _past_midnight(seconds: Array, stamps: Sequence[Stamp], notes: list[str]) -> Array:
    """Clocks without a date that fall back by more than half a day have passed midnight."""
    if max(seconds) >= DAY:
        return seconds  # elapsed hours, beyond 24
    turns = np.concatenate([[0.0], np.cumsum(np.diff(seconds) < -DAY / 2.0)])
    if turns[-1]:
        words = "once" if turns[-1] == 1 else f"{turns[-1]:.0f} times"
        notes.append(f"the clock goes past midnight {words}")
    return seconds + DAY * turns


def _days(stamps: Sequence[Stamp], heading: str, dates: str | None, notes: list[str]) -> Array | None:
    """Day numbers of the dates, None where there are none."""
    written = [stamp.date for stamp in stamps]
    if all(day is None for day in written):
        return None
    if any(day is None for day in written):
        raise StampError(f"the column {heading} holds a date in some rows and none in others")
    if any(stamp.order for stamp in stamps):
        return _numbers(written, "year first", heading)  # type: ignore[arg-type]
    wanted = dates
    if wanted is None:
        possible = []
        for order in DATES if all(stamp.years == 2 for stamp in stamps) else DATES[:2]:
            try:
                possible.append((order, _numbers(written, order, heading)))  # type: ignore[arg-type]
            except StampError:
                continue
        if not possible:
            raise StampError(f"the column {heading} holds dates that do not exist, such as {_text(stamps[0])}")
        alike = all(np.array_equal(np.diff(days), np.diff(possible[0][1])) for _, days in possible)
        if alike:
            if len(set(written)) > 1:
                notes.append(f"{heading}: dates read as {possible[0][0]}")
            return possible[0][1]
        if stamps[0].mark == ".":
            notes.append(f"{heading}: dates with points read as day first")
            return dict(possible)["day first"]
        choices = " or ".join(f'dates = "{order}"' for order, _ in possible)
        raise StampError(
            f"the column {heading}: is {_text(stamps[0])} written day first or month first? Write {choices} under "
            "[fit.reading]"
        )
    return _numbers(written, wanted, heading)  # type: ignore[arg-type]


def _text(stamp: Stamp) -> str:
    assert stamp.date is not None
    return stamp.mark.join(f"{part:02d}" for part in stamp.date)


def _numbers(written: Sequence[tuple[int, int, int]], order: str, heading: str) -> Array:
    """Dates as day numbers."""
    found = []
    for one, two, three in written:
        year, month, day = {
            "year first": (one, two, three), "day first": (three, two, one), "month first": (three, one, two)
        }[order]  # fmt: skip
        try:
            found.append(date(year + (2000 if year < 100 else 0), month, day).toordinal())
        except ValueError:
            raise StampError(f"the column {heading}: {one:02d}, {two:02d}, {three:02d} is no date {order}") from None
    return np.array(found, float)


def clock_of(text: str) -> float | None:
    """Seconds of the day of a clock such as ``14:03:20``, None where the text is none.

    >>> clock_of("14:03:20"), clock_of("2:05 PM"), clock_of("20 s")
    (50600.0, 50700.0, None)
    """
    stamp = _taken_apart(text)
    return stamp.seconds if stamp is not None and stamp.date is None else None


def time_unit_of(text: str) -> str | None:
    """A unit of time as in ``units``, None where a text is none.

    >>> time_unit_of("sec"), time_unit_of("degC")
    ('s', None)
    """
    try:
        return find_unit({"Min": "min", "M": "min", "H": "h", "S": "s"}.get(text.strip(), text), "time")
    except UnitError:
        return None


def plain_numbers(cells: Sequence[str], comma: bool) -> Array:
    """Cells as numbers, NaN where they are none."""
    found = [number(cell, comma) for cell in cells]
    return np.array([np.nan if value is None else value for value in found])
