"""A compound in words: its properties with their spread and sources, the weigh sheet, warnings and cautions."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.materials.describe import aligned, numbers_of, spoken, wrapped
from thermokit.materials.material import ZERO_CELSIUS
from thermokit.materials.mix import NODES, RESIN, component, recipe_record

if TYPE_CHECKING:
    from collections.abc import Sequence

    from thermokit.materials.mix import Compound
    from thermokit.materials.weigh import Weighed

SHOWN = np.array([20.0, 60.0, 100.0, 150.0, 190.0])  # degC
UNITS = {"density": "kg/m3", "specific_heat": "J/kg/K", "conductivity": "W/m/K"}
HALF_WIDTH = 20.0  # K, of the glass transition of a plasticised compound, as its step of specific heat is laid


def warnings(compound: Compound, name: str = "recipe") -> list[str]:
    """Where a recipe leaves what the rules were made for, in words; empty where it does not."""
    rules, found = recipe_record(), []
    for role, (low, high) in ((k, v) for k, v in rules["ranges"].items() if isinstance(v, list)):
        parts = np.atleast_1d(np.asarray(compound.parts_of(role), float))
        if parts.max() > high:
            found.append(
                f"{name}: {parts.max():.4g} parts of {spoken(role)}; the mixing rules were made for {low:g} to {high:g}"
            )
    volume = float(np.max(compound.filler_volume()))
    if volume > rules["ranges"]["filler_by_volume"]:
        found.append(
            f"{name}: {100 * volume:.0f} % of the volume is filler and pigment; the rule of its conductivity holds up to "
            f"{100 * rules['ranges']['filler_by_volume']:.0f} %"
        )
    share = np.atleast_1d(np.asarray(compound.plasticiser_share, float))
    if np.any((share > 0.0) & (share < rules["resin_step"]["broad_from"])):
        found.append(
            f"{name}: {100 * share[share > 0].min():.0f} % plasticiser: below about "
            f"{100 * rules['resin_step']['broad_from']:.0f} % it makes PVC stiffer first, and the glass transition is stated "
            "too low"
        )
    return [*found, *_stabiliser_warnings(compound, name)]


def _stabiliser_warnings(compound: Compound, name: str) -> list[str]:
    """What the heat life rests on."""
    if compound.heat_life.measured:
        return []
    rule = recipe_record()["heat_life"]
    parts = np.atleast_1d(np.asarray(compound.parts_of("stabiliser"), float))
    low, high = rule["parts"]
    if parts.min() == 0.0:
        return [f"{name}: no stabiliser: it yellows within minutes of hot work"]
    if parts.min() < low or parts.max() > high:
        off = parts.min() if parts.min() < low else parts.max()
        return [
            f"{name}: {off:.4g} parts of stabiliser; the rule of the heat life is known for {low:g} to {high:g}: measure "
            "the stability time (ISO 182 or ISO 305) and give it as heat_life"
        ]
    return []


def gel_warnings(compound: Compound, name: str = "recipe") -> list[str]:
    """Where the shift of gelation and fusion is held beyond the parts it is known for."""
    low, high = recipe_record()["gel_shift"]["parts"]
    parts = np.atleast_1d(np.asarray(compound.parts_of("plasticiser"), float))
    if parts.min() >= low and parts.max() <= high:
        return []
    off = parts.min() if parts.min() < low else parts.max()
    return [
        f"{name}: {off:.4g} parts of plasticiser; gelation and fusion are those of pastes of {low:g} to {high:g} parts, "
        "held beyond"
    ]


def told(compound: Compound, name: str) -> list[str]:
    """All warnings of a compound that is looked at by itself; those of gelation where it can gel."""
    gels = np.any(np.asarray(compound.parts_of("plasticiser")) > 0.0)
    return [*warnings(compound, name), *(gel_warnings(compound, name) if gels else [])]


def cautions(compound: Compound) -> list[str]:
    """What to take care of with what is in it."""
    texts = recipe_record()["cautions"]
    used = {
        word for item in compound.ingredients if np.any(np.asarray(item.parts) > 0.0) for word in (item.role, item.kind)
    }
    return [*texts["always"], *(text for word, text in texts.items() if word in used)]


def as_record(compound: Compound, lines: Sequence[Weighed] = (), batch: float | None = None) -> dict[str, Any]:
    """The compound as plain data, temperatures in degC, for JSON; lines and batch [kg] of the weigh sheet."""
    rules = recipe_record()["rules"]
    life = compound.heat_life
    content: dict[str, Any] = {
        "parts_unit": "parts per hundred resin by mass",
        "ingredients": [
            {
                "role": item.role,
                "kind": item.kind,
                "name": item.component.name,
                "parts": float(item.parts),
                "share": float(share),
                "confidence": item.component.confidence,
                "sources": list(item.component.sources),
            }
            for item, share in zip(compound.ingredients, compound.shares, strict=True)
        ],
        "temperature": {"unit": "degC", "values": [round(float(t) - ZERO_CELSIUS, 6) for t in NODES]},
    }
    for name, unit in UNITS.items():
        values = getattr(compound, f"{name}_at")(NODES)
        content[name] = {
            "unit": unit,
            "values": [float(v) for v in values],
            "uncertainty": rules["expected_error"][name],
            "confidence": "computed",
            "rule": rules[name],
        }
    content |= {
        "glass_transition": {"unit": "degC", "value": float(compound.glass_transition) - ZERO_CELSIUS, "rule": "Fox"},
        "gel_shift": {"unit": "K", "value": float(compound.gel_shift)},
        "heat_life": {
            "unit": "s",
            "value": float(life.time),
            "low": None if life.low is None else float(life.low),
            "high": None if life.high is None else float(life.high),
            "at": float(life.temperature) - ZERO_CELSIUS,
            "at_unit": "degC",
            "energy": float(life.energy) / 1e3,
            "energy_unit": "kJ/mol",
            "measured": life.measured,
        },
        "warnings": [
            *warnings(compound),
            *(gel_warnings(compound) if np.any(compound.parts_of("plasticiser")) else []),
        ],
        "cautions": cautions(compound),
    }
    if batch is not None:
        content["batch"] = {
            "unit": "kg",
            "mass": batch,
            "to_weigh": sum(line.to_weigh for line in lines),
            "lines": [
                {
                    "role": line.role,
                    "kind": line.kind,
                    "mass": line.mass,
                    "to_weigh": line.to_weigh,
                    "share": line.share,
                }
                for line in lines
            ],
        }
    return content


def describe(compound: Compound, lines: Sequence[Weighed] = (), batch: float | None = None, name: str = "") -> str:
    """The compound in words: what it holds, properties with spread, heat life, warnings, cautions, sources."""
    record, references = recipe_record(), recipe_record()["references"]
    out = [f"{name}: PVC compound from its recipe" if name else "PVC compound from its recipe", ""]
    out += _ingredients(compound, lines, batch, references)
    out += ["", "properties by the mixing rules (computed)"]
    rows = [["degC", *(f"{t:g}" for t in SHOWN), ""]]
    for key, unit in UNITS.items():
        values = getattr(compound, f"{key}_at")(SHOWN + ZERO_CELSIUS)
        digits = {"density": ".0f", "specific_heat": ".0f", "conductivity": ".4f"}[key]
        sure = f"± {record['rules']['expected_error'][key]}"
        rows.append([f"{spoken(key)} [{unit}]", *(f"{v:{digits}}" for v in values), sure])
    out += aligned(rows)
    glass = float(compound.glass_transition) - ZERO_CELSIUS
    resin = component(RESIN).glass_transition
    assert resin is not None
    wide = (
        " (the resin's own)"
        if abs(glass + ZERO_CELSIUS - resin) < 0.05
        else f", some {2 * HALF_WIDTH:.0f} to 60 K wide"
    )
    out += wrapped(f"glass transition {glass:.0f} degC{wide}", "    ")
    out.append(f"    from {_all_sources(record['rules']['sources'])}; ingredients as above")
    out += _gel(compound, record)
    out += _life(compound, record)
    for head, texts in (("WARNING", told(compound, name or "recipe")), ("CAUTION", cautions(compound))):
        out += [""] if texts else []
        for text in texts:
            out += wrapped(f"{head} {text}", "", "        ")
    out += ["", *_used_references(out, references)]
    return "\n".join(out) + "\n"


def _ingredients(
    compound: Compound, lines: Sequence[Weighed], batch: float | None, references: Sequence[str]
) -> list[str]:
    """What is in it: parts, share, and how much to weigh."""
    head = ["parts", "share %", *(["weigh kg"] if batch is not None else [])]
    rows = [head]
    words = ["ingredient"]
    for i, (item, share) in enumerate(zip(compound.ingredients, compound.shares, strict=True)):
        weighed = [f"{lines[i].to_weigh:.10g}"] if batch is not None else []
        rows.append([f"{float(item.parts):g}", f"{100 * float(share):.2f}", *weighed])
        what = item.component
        words.append(f"{what.name} ({what.confidence}) {numbers_of(what.sources, references)}")
    total = [f"{sum(line.to_weigh for line in lines):.10g}"] if batch is not None else []
    rows.append([f"{float(compound.total):g}", "100.00", *total])
    words.append("together")
    return [f"{row}  {word}" for row, word in zip(aligned(rows), words, strict=True)]


def _gel(compound: Compound, record: Any) -> list[str]:
    """Gelation and fusion against those of the library's sets."""
    if not np.any(np.asarray(compound.parts_of("plasticiser")) > 0.0):
        return []
    shift = float(compound.gel_shift)
    words = (
        "as in the library's sets" if abs(shift) < 0.05 else f"{abs(shift):.1f} K {'hotter' if shift > 0 else 'cooler'}"
    )
    rule = record["gel_shift"]
    return [
        *wrapped(f"gelation and fusion {words} ({rule['confidence']})", "    "),
        f"    from {_all_sources(rule['sources'])}",
    ]


def _life(compound: Compound, record: Any) -> list[str]:
    """Heat life at its reference and at what a shop works at."""
    life, rule = compound.heat_life, record["heat_life"]
    at = float(life.temperature) - ZERO_CELSIUS
    spread = (
        ""
        if life.low is None or life.high is None
        else f", {life.low / 60:.0f} to {life.high / 60:.0f} min by the spread"
    )
    sure = "measured, as given" if life.measured else rule["confidence"]
    others = ", ".join(f"{life.at(t + ZERO_CELSIUS) / 60:.0f} min at {t:g} degC" for t in (160.0, 175.0, 205.0))
    text = f"heat life {life.time / 60:.0f} min at {at:.0f} degC{spread} ({sure}); so {others} at {life.energy / 1e3:.4g} kJ/mol"
    out = wrapped(text, "    ")
    out += wrapped("keep half of it in hand; the test is ISO 182 or ISO 305", "    ")
    return [
        *out,
        f"    from {_all_sources([*rule['sources'], 15])}" if not life.measured else "    from the recipe [15]",
    ]


def _used_references(lines: Sequence[str], references: Sequence[str]) -> list[str]:
    """The sources that lines point to, under their numbers."""
    text = "\n".join(lines)
    return [
        "sources",
        *(
            line
            for number, source in enumerate(references, start=1)
            if f"[{number}]" in text
            for line in wrapped(f"[{number}] {source}", "    ", "        ")
        ),
    ]


def _all_sources(numbers: Sequence[int]) -> str:
    return " ".join(f"[{number}]" for number in dict.fromkeys(numbers))
