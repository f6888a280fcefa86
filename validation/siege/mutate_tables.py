"""Case files wrong in their structure: keys removed, doubled, renamed; other types, units and paths; odd numbers and dates."""

from __future__ import annotations

import copy
import json
from random import Random
from typing import Any


class Raw(str):
    """TOML as it is to stand in the file."""

    __slots__ = ()


#: what a key that names a file may be given
PATHS = (
    "/etc/passwd", "../../../../etc/passwd", "/dev/zero", "/dev/null", "/dev/stdin", "fifo", "loop", "folder", "folder/", ".",
    "..",
    "/", "", " ", "a\0b", "x" * 300, "x" * 900, "~", "~root/x", "$HOME", "$(touch hurt)", "`touch hurt`", "%s", "{0}",
    "file:///etc/passwd",
    "http://127.0.0.1:9/x", "\\\\server\\share\\x", "C:\\x", "CON", "case.toml", "earlier.h5", "./folder/../earlier.h5",
    "broken.h5",
    "half.h5", "empty", "logged_run_abs_tray.csv", "how_evenly_does_a_drawn_dish_cool.dxf", "|ls", "a\nb", "\x1b[31mred",
    "é" * 100,
    "/proc/self/mem", "/proc/self/environ", "link_out",
)  # fmt: skip

#: texts that something that prints, draws or runs them could stumble over
HOSTILE = (
    "../../x", "/nowhere/x", "$(touch hurt)", "`touch hurt`", "{{7*7}}", "{x}", "<script>alert(1)</script>", "%s%n", "%(x)s",
    "a\nb", "\x1b[31mred\x1b[0m", "\x1b]0;title\x07", "=cmd()", "@SUM(1)", "+1", "-1", "$\\frac{1}{0}$", "$", "\\input{x}",
    "__import__('os')",
    "x/y", "a.b", "0", "1", "", " ", "\u202egnp", "\u200b", "💥", "é" * 60, "x" * 200, "x" * 201, "None", "nan", "end", "time",
    "\ud7ff",
    "constructor", "temperature", "a|b", "a,b", 'a"b', "a'b", "a\tb", "\u0661", "core", "upper_face", "sheet",
)  # fmt: skip

VALUES: tuple[Any, ...] = (
    *map(Raw, (
        "nan", "-nan", "inf", "-inf", "1e308", "-1e308", "1e309", "1e-320", "0.0", "-0.0", "0", "-1", "1", "9" * 25, "9" * 400,
        "0x10",
        "0o7", "0b1", "1_0", "1.5", "true", "false", "1979-05-27", "07:32:00", "1979-05-27T07:32:00Z", "[]", "{}", "[[]]",
        "[1, 2]",
        '["1 s", "2 s"]', "[1, 'a', [2], {b = 1}]", "{ find = [] }", '{ find = ["1 s", "1 s"] }', '{ find = ["2 s", "1 s"] }',
        '{ find = "1 s" }', '{ time = ["0 s", "1 s"], value = ["20 degC", "30 degC"] }', '{ time = [], value = [] }',
        '{ time = ["1 s", "0 s"], value = [1, 2] }', '{ temperature = ["20 degC", "20 degC"], value = ["1 W/m/K", "2 W/m/K"] }',
        '{ upper = ["1 mm"] }', "{ a.b.c = 1 }", '[{ name = "a" }, { name = "a" }]',
    )),
    "", " ", "find", "nan mm", "inf degC", "-inf s", "1e308 km", "1e-308 um", "1e309 s", "0 s", "-5 s", "-300 degC", "4 mm",
    "180 s",
    "20 degC", "20 K", "20 degF", "1 W", "1 kW/m2", "8 W/m2/K", "0.2 W/m/K", "1000 kg/m3", "1500 J/kg/K", "50 %", "150 %",
    "-3 %", "± 3 %",
    "± 0 %", "+- 1 mm", "1,5 mm", "٣ mm", "３ mm", "0x10 mm", "1_000 mm", "1 1 mm", "1mm", "1  mm", "mm", "1 parsec", "1 mm mm",
    "1e3mm",
    "−5 degC", "5\u00a0mm", "1/0 s", "1 s/0", "1 " + "m" * 300, "9" * 400 + " mm",
)  # fmt: skip


def text_of(raw: dict[str, Any]) -> str:
    """TOML of a table, whatever it holds."""
    lines: list[str] = []
    _table(raw, (), lines)
    return "\n".join(lines) + "\n"


def _table(raw: dict[str, Any], path: tuple[str, ...], lines: list[str]) -> None:
    below = []
    for key, entry in raw.items():
        if isinstance(entry, dict) or (isinstance(entry, list) and entry and all(isinstance(e, dict) for e in entry)):
            below.append((key, entry))
        else:
            lines.append(f"{_key(key)} = {_value(entry)}")
    for key, entry in below:
        inner = (*path, key)
        heading = ".".join(map(_key, inner))
        for one in entry if isinstance(entry, list) else [entry]:
            lines.append(f"[[{heading}]]" if isinstance(entry, list) else f"[{heading}]")
            _table(one, inner, lines)


def _key(key: str) -> str:
    return key if key and key.isascii() and key.replace("_", "a").replace("-", "a").isalnum() else quoted(key)


def quoted(text: str) -> str:
    """A text as a basic string of TOML."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _value(value: Any) -> str:
    if isinstance(value, Raw):
        return str(value)
    if isinstance(value, str):
        return quoted(value)
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{_key(key)} = {_value(entry)}" for key, entry in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(map(_value, value)) + "]"
    return str(value)


def places(raw: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Every path inside a table."""
    found = [path] if path else []
    entries = raw.items() if isinstance(raw, dict) else enumerate(raw) if isinstance(raw, list) else ()
    for name, inner in entries:
        found += places(inner, (*path, name))
    return found


def at(raw: Any, path: tuple[Any, ...]) -> Any:
    """What stands at a path."""
    for step in path:
        raw = raw[step]
    return raw


def _removed(raw: dict[str, Any], random: Random) -> None:
    path = random.choice(places(raw))
    del at(raw, path[:-1])[path[-1]]


def _renamed(raw: dict[str, Any], random: Random) -> None:
    path = random.choice(places(raw))
    holder = at(raw, path[:-1])
    if not isinstance(holder, dict):
        return
    others = [step for place in places(raw) for step in place[-1:] if isinstance(step, str)]
    name = random.choice(
        (path[-1][:-1], path[-1] + "s", path[-1].upper(), random.choice(others), random.choice(HOSTILE))
    )
    holder[name] = holder.pop(path[-1])


def _replaced(raw: dict[str, Any], random: Random) -> None:
    path = random.choice(places(raw))
    at(raw, path[:-1])[path[-1]] = random.choice(VALUES)


def _worded(raw: dict[str, Any], random: Random) -> None:
    texts = [path for path in places(raw) if isinstance(at(raw, path), str)]
    path = random.choice(texts) if texts else ("title",)
    at(raw, path[:-1])[path[-1]] = random.choice(HOSTILE)


def _wrapped(raw: dict[str, Any], random: Random) -> None:
    path = random.choice(places(raw))
    holder, inner = at(raw, path[:-1]), at(raw, path)
    # copies each time: what stands twice as one and the same could be put into itself later
    again = [copy.deepcopy(inner) for _ in range(random.choice((1, 2, 100)))]
    holder[path[-1]] = random.choice((again, again, {"value": inner}, [[inner]]))


def _added(raw: dict[str, Any], random: Random) -> None:
    path = random.choice([(), *places(raw)])
    holder = at(raw, path)
    if isinstance(holder, dict):
        holder[random.choice(HOSTILE)] = random.choice(VALUES)
    elif isinstance(holder, list):
        holder.append(random.choice(VALUES))


def _exchanged(raw: dict[str, Any], random: Random) -> None:
    one, two = random.choice(places(raw)), random.choice(places(raw))
    if one[: len(two)] == two or two[: len(one)] == one:
        return
    first, second = at(raw, one), at(raw, two)
    at(raw, one[:-1])[one[-1]], at(raw, two[:-1])[two[-1]] = second, first


def _repeated(raw: dict[str, Any], random: Random) -> None:
    lists = [path for path in places(raw) if isinstance(at(raw, path), list) and at(raw, path)]
    if lists:
        holder = at(raw, random.choice(lists))
        one = random.choice(holder)
        holder.extend([copy.deepcopy(one) for _ in range(random.choice((1, 2, 100)))])


def _emptied(raw: dict[str, Any], random: Random) -> None:
    holders = [path for path in places(raw) if isinstance(at(raw, path), (list, dict))]
    if holders:
        at(raw, random.choice(holders)).clear()


def _filed(raw: dict[str, Any], random: Random) -> None:
    name = random.choice(PATHS)
    where = random.choice(("start_from", "drawing", "log", "rows"))
    if where == "log":
        fit = raw.get("fit")
        raw["fit"] = (fit if isinstance(fit, dict) else {}) | {"log": name}
    elif where == "rows":
        raw["sweep"] = {"plan": "file", "file": name}
    else:
        raw[where] = name


CHANGES = (
    _removed, _removed, _renamed, _replaced, _replaced, _replaced, _worded, _wrapped, _added, _exchanged, _repeated, _emptied,
    _filed,
)  # fmt: skip


def mutated_table(raw: dict[str, Any], random: Random) -> bytes:
    """A case with one to four changes to its structure, or with lines of it doubled, moved and taken out."""
    out = copy.deepcopy(raw)
    for _ in range(random.choice((1, 1, 1, 2, 2, 4))):
        if places(out):
            random.choice(CHANGES)(out, random)
    lines = text_of(out).split("\n")
    if random.random() < 0.2:
        first = random.randrange(len(lines))
        change = random.randrange(3)
        if change == 0:
            lines[first:first] = lines[first : first + random.choice((1, 1, 8))]
        elif change == 1:
            del lines[first]
        else:
            lines.insert(random.randrange(len(lines)), lines.pop(first))
    return "\n".join(lines).encode("utf-8", "surrogatepass")
