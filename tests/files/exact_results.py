"""Results made from exact solutions, so that files and figures can be tested without the solver."""

from __future__ import annotations

import hashlib

import numpy as np

from thermokit.conduction.history import Ending, Extreme, HeatBalance, History, SpanEnd
from thermokit.results.model import LimitCheck, Outcome, Provenance, Result

ZERO = 273.15
CASE = 'title = "Wie lange? – \\"ABS\\" 4 mm"\nprocess = "sheet"\n'


def slab(t, x, length=4e-3, diffusivity=1e-7, start=20.0 + ZERO, face=180.0 + ZERO):
    """Slab at ``start``, both faces put at ``face``: the sine series of Carslaw & Jaeger 1959, section 3.3 (8)."""
    n = np.arange(1, 400, 2)[:, None, None]
    t, x = np.atleast_1d(t)[None, :, None], np.atleast_1d(x)[None, None, :]
    terms = 4 / (n * np.pi) * np.sin(n * np.pi * x / length) * np.exp(-diffusivity * (n * np.pi / length) ** 2 * t)
    theta = np.where(t[0] > 0, terms.sum(axis=0), 1.0)
    return face + (start - face) * theta


def insulated(profile, t, x, length=4e-3, diffusivity=1e-7):
    """Slab with insulated faces from a profile (a function of depth): cosine series, same book, section 3.4 (10)."""
    grid = (np.arange(2000) + 0.5) * length / 2000
    values = profile(grid)
    n = np.arange(1, 60)
    weights = 2 * np.mean(values * np.cos(n[:, None] * np.pi * grid / length), axis=1)
    t, x = np.atleast_1d(t)[None, :, None], np.atleast_1d(x)[None, None, :]
    k = n[:, None, None] * np.pi / length
    return values.mean() + (weights[:, None, None] * np.cos(k * x) * np.exp(-diffusivity * k**2 * t)).sum(axis=0)


def provenance(process="sheet", title="How long to heat a 4 mm ABS tray"):
    return Provenance(
        title=title,
        process=process,
        case_text=CASE,
        resolved_text=CASE + "# resolved\n" * 8000,  # longer than the 64 kB that an attribute may hold
        case_sha256=hashlib.sha256(CASE.encode()).hexdigest(),
        version="0.1.0",
        versions={"numpy": "2.0", "python": "3.11"},
    )


def sheet_result(**changes):
    """A 4 mm sheet with both faces at 180 degC for 60 s, then 10 s insulated on the way to the mould."""
    length, cells, heat = 4e-3, 24, 60.0
    edges = length * (1 - np.cos(np.pi * np.arange(cells + 1) / cells)) / 2
    centres = (edges[1:] + edges[:-1]) / 2
    time = np.linspace(0, 70, 71)
    depths = np.concatenate([[0.0], centres, [length]])
    first, later = time <= heat, time > heat
    at_switch = lambda x: slab(heat, x)[0]  # noqa: E731
    whole = np.vstack([slab(time[first], depths), insulated(at_switch, time[later] - heat, depths)])
    whole[0, [0, -1]] = 180 + ZERO
    temperature, inner, outer = whole[:, 1:-1], whole[:, 0], whole[:, -1]
    middle = np.array([np.interp(length / 2, centres, row) for row in temperature])
    capacity = 1050 * 1905.0
    stored = capacity * float(((temperature[-1] - (20 + ZERO)) * np.diff(edges)).sum())
    rows = [int(heat), -1]
    hottest = Extreme(180 + ZERO, 0.0, 0.0)
    coldest = [Extreme(20 + ZERO, 0.0, length / 2), Extreme(float(middle[rows[0]]), heat, length / 2)]
    ends = tuple(
        SpanEnd(float(time[r]), temperature[r], float(inner[r]), float(outer[r]), {}, hottest, cold)
        for r, cold in zip(rows, coldest, strict=True)
    )
    history = History(
        time=time,
        span=later.astype(np.int64),
        edges=edges,
        centres=centres,
        temperature=temperature,
        inner_face=inner,
        outer_face=outer,
        states={},
        heat=HeatBalance(stored, 0.0, stored, 0.0, 3e-13, "J/m2"),
        hottest=hottest,
        coldest=coldest[0],
        ends=ends,
        ending=Ending("finished", 70.0),
        crossings={"core above 127 degC": 41.25, "never": None},
        warnings=("the solver's own",),
        accepted=210,
        rejected=3,
    )
    cold = float(temperature[-1].min()) - ZERO
    facts = {
        "provenance": provenance(),
        "history": history,
        "shape": "plane",
        "inner_radius": 0.0,
        "span_names": ("heat", "transfer"),
        "layer_names": ("sheet",),
        "layer_edges": (0.0, length),
        "outcomes": (
            Outcome("core_temperature", cold, "degC", "coldest point through the thickness at the end of the transfer"),
            Outcome("time_to_forming", 41.25, "s", "time at which the coldest point reaches 127 degC"),
            Outcome("time_to_burning", None, "s", "time at which the hottest face reaches 220 degC"),
        ),
        "limits": (
            LimitCheck("coldest_point", "at least 127 degC", cold, "degC", cold - 127, True, "2 mm deep", 70.0),
            LimitCheck("hottest_face", "at most 182 degC", 180.0, "degC", 2.0, True, "upper face", 0.0),
            LimitCheck("face_core_difference", "at most 15 K", 24.0, "K", -9.0, False, "", None),
        ),
        "probes": {"core": middle, "quarter": np.array([np.interp(1e-3, centres, r) for r in temperature])},
        "warnings": ("specific heat of abs: table covers 0-170 degC, the run reached 180 degC",),
        "cautions": ("Panel temperatures drift by 10 K and more over a shift: measure them hot.",),
        "study": {
            "dwell": {"station": "heat", "earliest": 41.25, "latest": None, "unit": "s", "margins": [{"value": 15.0}]}
        },
    }
    return Result(**(facts | changes))


def ball_result(**changes):
    """A solid ball at 20 degC put into 160 degC: Carslaw & Jaeger 1959, section 9.3 (5); its outer layer cures."""
    radius, cells, diffusivity = 10e-3, 20, 1.2e-7
    edges = np.linspace(0, radius, cells + 1)
    centres = (edges[1:] + edges[:-1]) / 2
    time = np.linspace(0, 900, 61)
    n = np.arange(1, 200)[:, None, None]
    r, t = centres[None, None, :], time[None, :, None]
    start, face = 20 + ZERO, 160 + ZERO
    terms = (-1.0) ** (n + 1) * np.sin(n * np.pi * r / radius) * np.exp(-diffusivity * (n * np.pi / radius) ** 2 * t)
    theta = 2 * radius / (np.pi * r[0]) * (terms / n).sum(axis=0)
    theta[0] = 1
    temperature = face + (start - face) * theta
    centre = (
        face
        + (start - face)
        * (2 * ((-1.0) ** (n + 1) * np.exp(-diffusivity * (n * np.pi / radius) ** 2 * t)).sum(axis=0))[:, 0]
    )
    centre[0] = start
    cure = np.where(centres > 6e-3, 1 - np.exp(-4e-3 * time[:, None]), np.nan)  # first order, at one temperature
    hottest, coldest = Extreme(face, 0.0, radius), Extreme(start, 0.0, 0.0)
    end = SpanEnd(900.0, temperature[-1], float(centre[-1]), face, {"cure_degree": cure[-1]}, hottest, coldest)
    history = History(
        time=time,
        span=np.zeros(61, dtype=np.int64),
        edges=edges,
        centres=centres,
        temperature=temperature,
        inner_face=centre,
        outer_face=np.full(61, face),
        states={"cure_degree": cure},
        heat=HeatBalance(1200.0, 0.0, 1300.0, 100.0, 2e-12, "J"),
        hottest=hottest,
        coldest=coldest,
        ends=(end,),
        ending=Ending("finished", 900.0),
    )
    facts = {
        "provenance": provenance("body", "Ball float, cured skin on a ready core"),
        "history": history,
        "shape": "sphere",
        "inner_radius": 0.0,
        "span_names": ("mould",),
        "layer_names": ("core", "skin"),
        "layer_edges": (0.0, 6e-3, 10e-3),
        "outcomes": (Outcome("cure_degree_lowest", 0.97, "1", "lowest degree of cure at the end"),),
    }
    return Result(**(facts | changes))


def same(a, b, path="result"):
    """Fail with the place of the first difference between two results; NaN equals NaN, arrays exactly."""
    if isinstance(a, np.ndarray):
        assert isinstance(b, np.ndarray), path
        assert a.shape == b.shape and a.dtype == b.dtype, path
        np.testing.assert_array_equal(a, b, err_msg=path)
    elif hasattr(a, "__dataclass_fields__"):
        assert type(a) is type(b), path
        for name in a.__dataclass_fields__:
            same(getattr(a, name), getattr(b, name), f"{path}.{name}")
    elif isinstance(a, dict):
        assert list(a) == list(b), path
        for key in a:
            same(a[key], b[key], f"{path}[{key!r}]")
    elif isinstance(a, tuple):
        assert isinstance(b, tuple) and len(a) == len(b), path
        for i, (x, y) in enumerate(zip(a, b, strict=True)):
            same(x, y, f"{path}[{i}]")
    else:
        assert a == b or (a != a and b != b), f"{path}: {a!r} is not {b!r}"
