"""Which outcomes each kind of case can give, read from the code, and the checks that hold the quantity behind them."""

from __future__ import annotations

import ast
from collections.abc import Iterator, Mapping
from importlib import import_module
from pathlib import Path

Outcomes = Mapping[str, tuple[str, ...]]

PROCESSES = Path(__file__).parents[2] / "thermokit" / "processes"
#: first words of the modules in which a kind makes its outcomes
OF_KIND: Mapping[str, tuple[str, ...]] = {
    "body": ("body",),
    "section": ("section",),
    "sheet": ("sheet", "shaping"),
    "charge": ("charge",),
    "dip": ("dip",),
    "mill": ("mill",),
    "cylinder": ("cylinder", "regrind"),
    "mould": ("mould",),
    "line": ("line",),
}
MAKERS = ("Outcome", "put", "_degrees")  # what makes an outcome: its name comes first

INTRODUCTION = """\
Read from the code: every outcome that a run of the kind can print (`*` stands for the name of a part, place or station), and the
checks of [README.md](README.md) that hold the quantity behind it, by whatever case it is run. An outcome that stands under "no
outside check" is computed from fields that the checks hold, or from the case itself, but its own number is compared with nothing
from outside; the unit tests hold its arithmetic at most."""

#: outcome -> checks that hold the quantity behind it; tests/exact/test_book.py holds both against the code and the registry
HELD: Mapping[str, Mapping[str, str]] = {
    "body": {
        "inner_face_temperature": "A02, A04, A06 to A09, A14, A15, A17, A20, D11, F01 to F03, H07",
        "outer_face_temperature": "A02, A05, A08, A12, A15, A19, D11, F03, H07, L06, L08",
        "hottest_temperature": "D11, G10",
        "hottest_time": "G10",
        "hottest_depth": "D11",
        "mean_temperature": "F01, T01",
        "*_temperature": "probes and joints: A06, A08, A09, A11, A12, A17, A18, C02, C03, F02, H07",
        "cure_degree": "G01 to G04, G06, G10",
        "gel_degree": "H05, H06 (front of a gel degree)",
    },
    "section": {
        "*_temperature": "probes: B01, B02, B05, B10, B12, F02",
        "*_heat_flow": "B02, B06, B08, B10",
        "*_hottest_temperature": "F01, F02",
        "*_mean_temperature": "F01, F02",
    },
    "sheet": {
        "coldest_point": "F03",
        "middle": "F03",
        "upper_face": "A07, F03",
        "*_view": "D03, D04",
        "*_exchange": "D07",
        "dome_height": "S01 to S03",
        "blowing_pressure": "S01 to S03, S05 (fact of the trade)",
        "thinnest_place": "S03, S04 (cone, cap)",
        "detail_pressure": "S05 (fact of the trade)",
    },
    "charge": {
        "cure_degree": "G01 to G03, G10, T01 (by a body)",
        "core_degree": "G10 (by a body)",
        "hottest_temperature": "G10 (by a body)",
        "hottest_time": "G10 (by a body)",
        "overshoot": "G10 (by a body)",
        "adiabatic_rise": "G06 (by a body)",
        "frank_kamenetskii": "G07 (its critical value)",
        "glass_transition": "G12 (the equation)",
    },
    "dip": {
        "gelled*": "H05, H06",
        "former_after_dip*": "H04",
        "drawn*": "H01 (plate)",
        "clinging*": "H02 (plate)",
    },
    "mill": {},
    "cylinder": {},
    "mould": {
        "cooling_time": "F01, F02",
        "hottest_at_ejection": "F01, F02",
        "mean_at_ejection": "F01, F02",
        "single_wall_cooling": "F01, F02",
        "gate_freeze": "F01, F02 (a gate as a slab)",
        "*_reynolds": "E07, E10",
        "*_rise": "E07",
        "*_pressure_drop": "E10",
        "*_pump_power": "E10",
    },
    "line": {
        "*_*": "temperatures at the end of a station: E01, L01, L06 to L08 (by the solver), T01 (fact of the trade)",
        "*_roll_face": "T01 (fact of the trade)",
        "speed": "T01 (fact of the trade)",
        "*_force": "L03 (Newtonian melt)",
        "*_gap": "L03 (gauge over gap)",
    },
}

_LAYERED = "`thermokit verify` solves such a case again by FiPy, leg by leg, on the same volumes."
#: second solvers, by what the tests hold
SECOND: Mapping[str, str] = {
    "body": f"{_LAYERED} `tests/cross` holds bodies against FiPy and SUNDIALS.",
    "section": "`thermokit verify` solves such a case again by FiPy on its control volumes; `tests/cross` holds sections against"
    " FiPy, a section without latent heat against finite elements too.",
    "sheet": f"{_LAYERED} `tests/cross` holds sheets against FiPy and against lines of its own; what is no temperature (sag,"
    " shaping, power of the heaters) has no second solver.",
    "charge": f"{_LAYERED} `tests/cross` holds a curing charge against FiPy; what is no field (shut and gel times, clamp force)"
    " has no second solver.",
    "dip": f"{_LAYERED} `tests/cross` holds growth and fusion of a film against lines of its own; draining, rack, bath and oven air"
    " have no second solver.",
    "mill": f"{_LAYERED} No test holds a mill against one: its rolls and its friction heat rest on the laws alone.",
    "cylinder": f"{_LAYERED} No test holds a heating cylinder against one: plug flow, pressure loss and regrind rest on the laws"
    " alone.",
    "mould": "`thermokit verify` solves its section again by FiPy; `tests/cross` holds a settled cycle against finite elements."
    " Water, gate, bow and balance of circuits have no second solver.",
    "line": f"{_LAYERED} `tests/cross` holds pipe and wire against FiPy and lines of its own; nip, rolls, steam and the air film"
    " under a web have no second solver.",
}


def named() -> Outcomes:
    """Kind of case -> names of the outcomes that it can give, sorted."""
    found = {kind: set(_of_case(kind)) for kind in OF_KIND}
    for file in sorted(PROCESSES.glob("*.py")):
        for kind, words in OF_KIND.items():
            if file.stem.split("_")[0] in words:
                found[kind] |= set(_in_module(file))
    for kind in found:
        if kind != "section":  # nothing ages in a section
            found[kind] |= set(_in_module(PROCESSES / "heat_life.py"))
    found["section"] -= {"*_*"}  # what that stands for is spelled out there
    return {kind: tuple(sorted(names)) for kind, names in found.items()}


def _of_case(kind: str) -> Iterator[str]:
    """Outcomes that the kind's case declares, and what its regions and probes add."""
    module = import_module(f"thermokit.case.{kind}")
    yield from getattr(module, "OUTCOMES", ())
    yield from (f"*_{what}" for what in getattr(module, "REGION_OUTCOMES", ()))
    if kind in ("body", "section"):
        yield "*_temperature"
    if kind == "section":
        yield "*_heat_flow"


def _in_module(file: Path) -> Iterator[str]:
    """First arguments of all calls that make an outcome: strings, constants of the module, names that run over a literal."""
    tree = ast.parse(file.read_text(encoding="utf-8"))
    constants = vars(import_module(f"thermokit.processes.{file.stem}"))
    for function in (node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef) and node.name != "limits"):
        over = dict(_run_over(function))
        for call in (node for node in ast.walk(function) if isinstance(node, ast.Call) and node.args):
            if getattr(call.func, "id", "") not in MAKERS:
                continue
            first = call.args[0]
            if isinstance(first, ast.Name) and first.id in over:
                yield from over[first.id]
            elif isinstance(first, ast.Name) and isinstance(constants.get(first.id), str):
                yield constants[first.id]
            else:
                yield from _words(first)


def _words(node: ast.expr) -> tuple[str, ...]:
    """The string that an expression is, * for what is put in; nothing for anything else."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return (node.value,)
    if isinstance(node, ast.JoinedStr):
        return ("".join(str(v.value) if isinstance(v, ast.Constant) else "*" for v in node.values),)
    return ()


def _run_over(function: ast.FunctionDef) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Names that a loop of a function runs over a literal with: the strings that they are."""
    dictionaries = {
        target.id: node.value
        for node in ast.walk(function)
        if isinstance(node, ast.Assign) and isinstance(node.value, ast.Dict)
        for target in node.targets
        if isinstance(target, ast.Name)
    }
    for loop in (node for node in ast.walk(function) if isinstance(node, (ast.For, ast.comprehension))):
        target = loop.target.elts[0] if isinstance(loop.target, ast.Tuple) else loop.target
        if not isinstance(target, ast.Name):
            continue
        source: ast.expr | None = loop.iter
        if isinstance(source, ast.Call) and isinstance(source.func, ast.Attribute) and source.func.attr == "items":
            source = source.func.value
        if isinstance(source, ast.Name):
            source = dictionaries.get(source.id)
        items: list[ast.expr] = []
        if isinstance(source, ast.Dict):
            items = [key for key in source.keys if key is not None]
        elif isinstance(source, (ast.Tuple, ast.List)):
            items = [item.elts[0] if isinstance(item, ast.Tuple) else item for item in source.elts]
        words = tuple(word for item in items for word in _words(item))
        if words:
            yield target.id, words
