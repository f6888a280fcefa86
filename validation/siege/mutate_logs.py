"""Files of loggers and calorimeters: every delimiter, decimal mark, stamp and unit, then rows, cells and bytes made wrong."""

from __future__ import annotations

from datetime import datetime, timedelta
from random import Random

from validation.siege.mutate_bytes import mutated_bytes
from validation.siege.seeds import measured_files

STAMPS = (
    "s", "s", "min", "h", "ms", "day", "sheet", "%H:%M:%S", "%H:%M", "%M:%S", "%M:%S.%f", "%Y-%m-%d %H:%M:%S",
    "%Y-%m-%dT%H:%M:%SZ",
    "%Y-%m-%dT%H:%M:%S+02:00", "%d.%m.%Y %H:%M:%S", "%d/%m/%Y %H:%M", "%m/%d/%Y %I:%M:%S %p", "%d-%b-%y %H:%M:%S",
    "%b %d, %Y %H:%M:%S",
    "%d/%m/%y %H:%M:%S", "%Y%m%d %H%M%S", "%d.%m.%Y;%H:%M:%S", "%I:%M %p", "%s", "%d.%m.%Y", "%H.%M.%S",
)  # fmt: skip
HEADS = ("T1 [degC]", "T1 (°C)", "Skin", "Core [K]", "Core / degF", "Kern in °C", "T1 [mV]", "T1 [bar]", "", "=cmd()",
"\x1b[31mT1", "T1", "T" * 3000,
         "<b>", "$x$", "T1 [degC] [K]", "temperature", "time", "elapsed", "Heat flow [W/g]", "heat flow [mW]", "conversion",
         "DSC/(mW/mg)", "alpha [%]",
         "T1 []", "[degC]", "T1 [°C", "Température", "T\u00a01 [°C]", "heat flow [W/g/K]", "'T1", '"T1')  # fmt: skip
CELLS = (
    "", " ", "-", "--", "OL", "nan", "inf", "-inf", "9999", "-9999", "1e308", "-1e308", "1e-320", "1e999", "1d5", "1D400",
    "21.4 C", "21.4 degC",
    "21.4 degF", "300 K", "-300", "-274", "text", '"', '"21,4', "'21.4'", "1,234.5", "1.234,5", "1 234,5", "21,4", "21.4", "٣",
    "−5", "#N/A",
    "1/2", "12:30", "25:61:61", "2024-02-30", "31.02.2024", "0", "-0", "21.4.5", "+", ".", "e5", "0x10", "1_0", "=1+1", "\x00",
    "\t", ";", ",",
    "true", "99999999999999999999", "4" * 5000, "12" * 100 + ":30", "1:99", "13:00 PM", "0:00 AM", "29.02.2023", "00.00.0000",
    "1.1.1 1:1",
)  # fmt: skip


def logged(random: Random) -> tuple[str, bytes]:
    """(name, bytes) of a measured file: made anew or one of the examples', right or wrong."""
    if random.random() < 0.3:
        name, data = random.choice(sorted(measured_files().items()))
        if random.random() < 0.9:
            data = b"\n".join(data.split(b"\n")[:40])
        if random.random() < 0.5:
            data = _cells(data.decode("cp1252"), random).encode("cp1252", "replace")
    else:
        dsc = random.random() < 0.35
        name = "run_dsc.csv" if dsc else "run_log.csv"
        text = _made(random, dsc)
        data = text.encode(
            random.choice(("utf-8",) * 6 + ("utf-8-sig", "utf-16", "cp1252", "utf-16-le", "utf-16-be")), "replace"
        )
    if random.random() < 0.45:
        data = mutated_bytes(data, random)
    return name, data


def _made(random: Random, dsc: bool) -> str:
    rows = random.choice((0, 1, 2, 3, 5, 12, 14, 14, 20, 30, 30, 60))
    many = random.random()
    if many < 0.02:
        rows = 1_000_000 if many < 0.00005 else 500
    delimiter = random.choice((";", ",", "\t", "|", " ", ";", ",", "; ", "  "))
    comma = random.random() < 0.25
    stamp = random.choice(STAMPS)
    step = random.choice((1.0, 1.0, 0.1, 10.0, 0.0, 3600.0, 86400.0, 1e-9, 1e6, -1.0))
    count = random.choice((1, 2, 2, 3, 12))
    begin = random.choice(
        (datetime(2024, 3, 5, 14, 6), datetime(2024, 3, 31, 1, 59, 30), datetime(2024, 10, 27, 2, 59), datetime(2023, 12, 31,
        23, 59, 50),
         datetime(2024, 2, 29, 12), datetime(1, 1, 1), datetime(9998, 12, 31, 23, 59), datetime(2024, 5, 12, 0, 0))
    )  # fmt: skip
    lines: list[str] = []
    for _ in range(random.choice((0, 0, 1, 3))):
        lines.append(random.choice(("# note", "sep=;", "Logger;4 channels", "mass: 8.2 mg", "# mass: 8.2 mg",
        "# heating rate: 10 K/min",
                                    "# temperature: 120 degC", "", "% x", '"open', "# mass: nan mg", "# mass: 0 mg",
                                    "# heating rate: 0 K/min")))  # fmt: skip
    unit = random.choice((f" [{stamp}]", f" ({stamp})", "", f" / {stamp}", " [hh:mm]", " [s]", " [parsec]"))
    heads = [random.choice(HEADS) for _ in range(count)]
    if dsc and random.random() < 0.8:
        heads = [
            "temperature [degC]",
            random.choice(("heat flow [W/g]", "heat flow [mW]", "conversion", "conversion [%]")),
        ]
    if random.random() < 0.85:
        lines.append(
            delimiter.join([random.choice(("time", "Time", "Zeit", "elapsed", "t", "", "Date")) + unit, *heads])
        )
    if random.random() < 0.15:
        lines.append(delimiter.join(["s", *["degC"] * len(heads)]))
    for i in range(rows):
        values = [21.4 + 0.7 * i + 3.0 * j for j in range(len(heads))]
        if dsc and len(values) == 2:
            values[1] = 1.0 / (1.0 + ((i - rows / 2) / (0.1 * rows + 1.0)) ** 2)
        cells = [f"{value:.4g}".replace(".", "," if comma else ".") for value in values]
        lines.append(delimiter.join([_stamp(stamp, begin, i * step, comma), *cells]))
    text = "\n".join(lines)
    return _cells(text, random) if random.random() < 0.6 else text


def _stamp(form: str, begin: datetime, seconds: float, comma: bool) -> str:
    size = {"s": 1.0, "min": 60.0, "h": 3600.0, "ms": 1e-3, "day": 86400.0, "sheet": 86400.0}.get(form)
    if size is not None:
        number = f"{seconds / size + (45356.25 if form == 'sheet' else 0.0):.8g}"
        return number.replace(".", ",") if comma else number
    try:
        return (begin + timedelta(seconds=seconds)).strftime(form if form != "%s" else "%y%j")
    except (OverflowError, ValueError):
        return "00:00:00"


def _cells(text: str, random: Random) -> str:
    """A table with cells, rows and columns made wrong, and times that stand still or go back."""
    lines = text.split("\n")
    for _ in range(random.choice((1, 1, 2, 5, 20))):
        i = random.randrange(len(lines))
        mark = next((m for m in ";,\t| " if m in lines[i]), ";")
        cells = lines[i].split(mark)
        which = random.randrange(9)
        if which <= 3:
            cells[random.randrange(len(cells))] = random.choice(CELLS)
        elif which == 4:
            del cells[random.randrange(len(cells))]
        elif which == 5:
            cells.insert(random.randrange(len(cells) + 1), random.choice(CELLS))
        elif which == 6:
            lines.insert(i, lines[random.randrange(len(lines))])
        elif which == 7:
            j = random.randrange(len(lines))
            lines[i], lines[j] = lines[j], lines[i]
            continue
        else:
            del lines[i + random.randrange(2) : i + random.choice((1, 3, 40))]
            lines = lines or [""]
            continue
        lines[i] = mark.join(cells)
    return "\n".join(lines)
