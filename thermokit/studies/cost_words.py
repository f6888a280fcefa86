"""Cost and bottleneck in words and as JSON."""

from __future__ import annotations

import math
import textwrap
from typing import TYPE_CHECKING, Any

from thermokit.case.cost import IN_TURN
from thermokit.results.digits import number
from thermokit.results.plain import plain
from thermokit.studies.bottleneck import LEAST, cost_of

if TYPE_CHECKING:
    from thermokit.studies.bottleneck import Bottleneck, Step
    from thermokit.studies.cost import PartCost

WIDTH = 100
BAR = 30  # characters of the longest stretch


def cost_text(found: PartCost) -> str:
    """The printed answer of `thermokit cost`."""
    lines = [*textwrap.wrap(found.case.title or "Cost of a part", WIDTH), ""]
    of = f"cycle {number(found.cycle)} s for {found.parts} part{'s' * (found.parts != 1)}"
    scrap = f"; {100 * found.scrap:.3g} % scrap is carried by the good ones" if found.scrap else ""
    lines += [*_filled(f"Of one good part, {of}{scrap}", "", ""), "", "Energy"]
    rows = [(e.name, f"{number(e.kwh)} kWh", e.source) for e in found.energies]
    rows.append(("drawn in all", f"{number(found.drawn)} kWh", ""))
    lines += _table(rows)
    if found.money:
        lines += ["", "Money"]
        money = [(m.name, _money(m.amount, found.currency), m.words) for m in found.money]
        lines += _table([*money, ("of a part", _money(found.total or 0.0, found.currency), "")])
    if found.missing:
        lines += ["", "Not in it"]
        lines += [line for text in found.missing for line in _filled(text, "  - ", "    ")]
    lines += [line for text in found.notes for line in _filled(f"At {text}.")] if not found.missing else [
        "", *[line for text in found.notes for line in _filled(f"At {text}.")]
    ]  # fmt: skip
    return "\n".join(lines).rstrip()


def cost_json(found: PartCost) -> dict[str, Any]:
    """The JSON object of `thermokit cost`."""
    own = found.case
    block = {
        "cycle": {"value": found.cycle, "unit": "s"},
        "parts": found.parts,
        "scrap": found.scrap,
        "mass": None if found.mass is None else {"value": found.mass, "unit": "kg"},
        "energy": [
            {"name": e.name, "value": e.kwh, "unit": "kWh", "drawn": e.drawn, "source": e.source}
            for e in found.energies
        ],
        "drawn": {"value": found.drawn, "unit": "kWh"},
        "currency": found.currency,
        "money": [{"name": m.name, "value": m.amount, "words": m.words} for m in found.money],
        "total": found.total,
        "missing": list(found.missing),
        "notes": list(found.notes),
    }
    told: dict[str, Any] = plain(
        {"title": own.title, "process": own.process, "case_sha256": own.source.sha256, "cost": block}
    )
    return told


def bottleneck_text(found: Bottleneck) -> str:
    """The printed answer of `thermokit bottleneck`."""
    lines = [*textwrap.wrap(found.case.title or "Cycle", WIDTH), ""]
    how = "one after another" if found.arrangement == IN_TURN else "side by side"
    of = f"for {found.parts} part{'s' * (found.parts != 1)}"
    lines += _filled(
        f"Cycle {number(found.cycle)} s {of}, stations {how}: {number(found.per_hour)} parts an hour", "", ""
    )
    lines.append("")
    longest = max(step.seconds for step in found.steps)
    wide = max(len(step.name) for step in found.steps)
    for step in found.steps:
        bar = ("#" if step.rules else "-") * max(1, round(BAR * step.seconds / longest))
        lines.append(f"  {step.name:<{wide}}  {number(step.seconds):>7} s  {bar:<{BAR}}  {spare_words(step)}".rstrip())
    lines += ["", *_filled(verdict(found))]
    if found.broken:
        lines += _filled(
            f"As it stands {', '.join(found.broken)} is not met: no time can be taken off before that is put right."
        )
    lines += [line for text in found.notes for line in _filled(f"At {text}.")]
    return "\n".join(lines)


def spare_words(step: Step) -> str:
    """How far a stretch can be shortened, in words."""
    if step.spare is None:
        return "not asked"
    if not step.limit:
        return f"no limit down to {100 * LEAST:.0f} % of it"
    return (
        f"{number(step.spare, digits=3)} s to spare, then {step.limit}"
        if step.spare > 0.0
        else f"none to spare: {step.limit}"
    )


def verdict(found: Bottleneck) -> str:
    """Which time rules, and what a second is worth."""
    ruling = found.ruling
    rules = f"{ruling.name} rules: {number(ruling.seconds)} s of {number(found.cycle)} s"
    gain = f"One second less gives {number(found.gain, digits=3)} parts an hour more"
    if found.saved_per_part is not None and found.saved_per_hour is not None:
        currency = cost_of(found.case).currency
        each, hourly = (_money(saved, currency) for saved in (found.saved_per_part, found.saved_per_hour))
        gain += f" and saves {each} on each part, {hourly} an hour"
    parts = [rules, gain]
    easiest = found.easiest
    if easiest is not None and easiest.limit:
        parts.append(
            f"Most can be taken from {easiest.name}: {number(easiest.spare or 0.0, digits=3)} s before {easiest.limit}"
        )
    elif easiest is not None:
        parts.append(f"Nothing but the machine limits {easiest.name}")
    if math.isfinite(found.slack):
        parts.append(
            f"After {number(found.slack, digits=3)} s less another station rules; time taken from the others gains nothing"
        )
    return ". ".join(parts) + "."


def bottleneck_json(found: Bottleneck) -> dict[str, Any]:
    """The JSON object of `thermokit bottleneck`."""
    own = found.case
    block = {
        "cycle": {"value": found.cycle, "unit": "s"},
        "parts": found.parts,
        "parts_per_hour": found.per_hour,
        "stations": found.arrangement,
        "steps": [
            {
                "name": s.name, "path": s.path or None, "seconds": s.seconds, "rules": s.rules, "spare": s.spare,
                "limit": s.limit or None,
            }
            for s in found.steps
        ],
        "rules": found.ruling.name,
        "gain_per_second": {"value": found.gain, "unit": "1/h"},
        "saved_per_part": found.saved_per_part,
        "saved_per_hour": found.saved_per_hour,
        "currency": cost_of(own).currency,
        "until_another_rules": found.slack,
        "broken": list(found.broken),
        "words": verdict(found),
        "notes": list(found.notes),
    }  # fmt: skip
    told: dict[str, Any] = plain(
        {"title": own.title, "process": own.process, "case_sha256": own.source.sha256, "bottleneck": block}
    )
    return told


def _money(amount: float, currency: str) -> str:
    return f"{amount:.3g} {currency}".strip() if abs(amount) < 0.1 else f"{amount:.2f} {currency}".strip()


def _table(rows: list[tuple[str, str, str]]) -> list[str]:
    wide = max(len(name) for name, _, _ in rows)
    right = max(len(value) for _, value, _ in rows)
    return [f"  {name:<{wide}}  {value:>{right}}  {words}".rstrip() for name, value, words in rows]


def _filled(text: str, first: str = "  ", rest: str = "  ") -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False)
