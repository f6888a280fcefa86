"""Cautions that the numbers of a run call for; each stands before those of the process, with the number that called it.

Every rule takes what the run gave and answers with its texts, none where its trigger is not met.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.section_history import SectionHistory
from thermokit.processes import cautions as of
from thermokit.processes.cautions_kinds import hottest_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from thermokit.results.model import Result

ZERO = 273.15
NEAR_PANEL = 50.0  # mm, from a sagged sheet to the lower panel; common practice, no source
CLAMP_SHARE = 0.6  # of the rating; common practice, no source
STYRENE_BOILS = 418.15  # K, at the pressure of the air
IGNITES = 623.15  # K, lowest at which common plastics take fire by themselves (about 350 to 500 degC): from memory
NOT_CURED = 0.85  # degree of cure in the middle, below which a hot charge blisters; common practice, no source


@dataclass(frozen=True)
class Ran:
    """A run and the process that it came from; numbers of it by name."""

    process: Any
    result: Result

    @property
    def kind(self) -> str:
        """Kind of case."""
        return str(self.process.case.process)

    def outcome(self, name: str) -> float | None:
        """An outcome in its shown unit, None where there is none or it was not reached."""
        return next((o.value for o in self.result.outcomes if o.name == name), None)

    def limit(self, name: str) -> float | None:
        """What a limit asks for in its shown unit: what was found less the margin (at most), or what it was put at."""
        for check in self.result.limits:
            if check.name == name and check.found is not None and check.margin is not None:
                over = check.required.startswith("at most")
                return check.found + check.margin if over else check.found - check.margin
        return None


def complete(process: Any, result: Result) -> Result:
    """The result with the cautions that its own numbers call for before those of the process; none twice."""
    extra = called_for(process, result)
    return replace(result, cautions=tuple(dict.fromkeys((*extra, *result.cautions)))) if extra else result


def called_for(process: Any, result: Result) -> list[str]:
    """Texts of all rules whose trigger the run meets."""
    ran = Ran(process, result)
    return [text for rule in RULES for text in rule(ran)]


def _runaway(ran: Ran) -> list[str]:
    """A charge that the run forbids: too hot, or too near to it."""
    if ran.kind != "charge":
        return []
    found: list[str] = []
    limit = ran.limit("hottest")
    for name, words in (("hottest_temperature", ""), ("hottest_if_faster", " where it reacts 30 % faster")):
        value = ran.outcome(name)
        if value is not None and limit is not None and value > limit:
            found = found or [f"{value:.0f} degC{words}, above {limit:.0f} degC"]
    if found:
        return [
            f"RUNAWAY: this charge reaches {found[0]}. Do not run it: thinner section, less exotherm, or step-cure. Do not "
            "open the press on hot uncured charge; never stockpile preheated charge."
        ]
    if "stop" in ran.result.study:
        return ["Do not run this charge: the reason stands under STOP. Nobody in front of the press (EN 289)."]
    return []


def _opened_uncured(ran: Ran) -> list[str]:
    """A middle that is hot and not firm when the press opens."""
    degree, core = ran.outcome("core_degree"), ran.outcome("core_at_opening_temperature")
    if ran.kind != "charge" or degree is None or core is None:
        return []
    if degree >= NOT_CURED or core <= of.BOILS - ZERO:
        return []
    return [
        f"When the press opens the middle has {core:.0f} degC and a degree of cure of {degree:.2f} only: it can burst and "
        "spit. Cure longer, stand aside, shield between."
    ]


def _styrene(ran: Ran) -> list[str]:
    """Polyester that gets hotter than styrene boils."""
    hottest = _hottest(ran)
    if ran.kind not in ("charge", "body") or hottest is None or hottest <= STYRENE_BOILS or not _polyester(ran):
        return []
    return [
        f"The charge reaches {hottest - ZERO:.0f} degC, styrene boils at about 145 degC: hold the pressure until all of it has "
        "gelled; vapour burns and harms: local exhaust, exposure limits by law."
    ]


def _hydrogen_chloride(ran: Ran) -> list[str]:
    """PVC too hot, or too long hot."""
    if not any("pvc" in name.lower() for name in (ran.process.case.title, *ran.process.stuff.names())):
        return []
    hottest, dose = _hottest(ran), ran.outcome("heat_dose")
    why = []
    if hottest is not None and hottest > of.HYDROGEN_CHLORIDE_FROM:
        why.append(f"it reaches {hottest - ZERO:.0f} degC (205 degC)")
    if dose is not None and dose > of.DOSE:
        why.append(f"{dose:.2f} of its heat life is used up ({of.DOSE:g})")
    if not why:
        return []
    return [
        f"PVC: {' and '.join(why)}: it gives off hydrogen chloride. Extraction on, emergency purge at hand, no acetal on the same "
        "machine."
    ]


def _scorching(ran: Ran) -> list[str]:
    """A face of a sheet above what its material stands."""
    face, limit = ran.outcome("hottest_face"), ran.limit("hottest_face")
    if ran.kind != "sheet" or face is None or limit is None or face <= limit:
        return []
    return [
        f"A face reaches {face:.0f} degC, above its limit of {limit:.0f} degC: it smokes before it burns. More exhaust, "
        "panels off at the first smoke, extinguisher at hand (IEC 60519-1, IEC 60519-12)."
    ]


def _panels_ignite(ran: Ran) -> list[str]:
    """Panels hotter than a sheet that falls on them needs to take fire."""
    if ran.kind != "sheet":
        return []
    sides = [side for s in ran.process.case.stations if s.kind == "panels" for side in (s.upper, s.lower)]
    zones = [o.value + ZERO for o in ran.result.outcomes if o.name.endswith("_hottest_zone") and o.value is not None]
    hottest = max(hottest_of([side.temperature for side in sides if side is not None]), max(zones, default=0.0))
    if hottest <= IGNITES:
        return []
    return [
        f"A panel has {hottest - ZERO:.0f} degC: plastic that falls on it takes fire by itself (common plastics from about "
        f"{IGNITES - ZERO:.0f} degC, from memory): mesh over the elements, retraction by an interlock, extinguisher at hand."
    ]


def _sagging(ran: Ran) -> list[str]:
    """A sheet that sags towards the panel."""
    gap = ran.outcome("clearance")
    if gap is None or gap >= NEAR_PANEL:
        return []
    words = "lies on the lower panel" if gap <= 0.0 else f"comes within {gap:.0f} mm of the lower panel"
    return [
        f"FIRE: the sagging sheet {words} (keep {NEAR_PANEL:.0f} mm): larger gap, shorter dwell or support, and "
        "panels that retract."
    ]


def _line_stop(ran: Ran) -> list[str]:
    """What stands on a stopped line passes its limit."""
    worst: tuple[float, str, float] | None = None
    fields = {field.name: field for field in ran.result.fields}
    for name, field in fields.items():
        bound = fields.get(name.replace("/value", "/limit"))
        if not name.endswith("/value") or bound is None or field.axes[0].meaning != "time since it stands":
            continue
        above = np.asarray(field.values) > np.asarray(bound.values)
        if above.any():
            when = float(np.asarray(field.axes[0].values)[int(np.argmax(above))])
            found = (when, field.meaning.rpartition(": ")[2], float(np.max(field.values)))
            worst = found if worst is None or found[0] < worst[0] else worst
    if worst is None:
        return []
    when, where, most = worst
    how = "at once" if when <= 0.1 else f"within {when:.1f} s"
    return [
        f"FIRE AT A LINE STOP: what stands in {where} passes its limit {how} and gets to {most:.0f} degC: shutter, retraction or "
        "lifting off by an interlock with the drive, tested at every start (IEC 60519-1, IEC 60519-12)."
    ]


def _tonnes(ran: Ran) -> list[str]:
    """Pressure times area of this part, and what is stored."""
    force, share = ran.outcome("clamp_force"), ran.outcome("clamp_share")
    if (
        ran.kind not in ("sheet", "charge")
        or force is None
        or (ran.kind == "charge" and (share is None or share <= 1.0))
    ):
        return []
    stored = ran.outcome("stored_energy")
    text = f"Pressure times area is {force:.3g} kN ({force / 9.80665:.2g} t)"
    text += "" if stored is None else f", and {stored:.2g} kJ are stored"
    if share is not None and share > CLAMP_SHARE:
        return [f"{text}: {100 * share:.0f} % of what the clamp is rated for. Do not run it so: at most 60 %."]
    return [f"{text}: nobody within reach before it is let off."]


def _quenched(ran: Ran) -> list[str]:
    """Metal hotter than boiling water that goes into water."""
    history = ran.result.history
    if ran.kind != "dip" or isinstance(history, SectionHistory):
        return []
    for i, station in enumerate(ran.process.case.stations[: len(history.ends) + 1]):
        if station.kind == "quench" and 0 < i <= len(history.ends):
            hot = float(np.nanmax(history.ends[i - 1].temperature))
            if hot > of.BOILS:
                return [
                    f"The former goes into the water with {hot - ZERO:.0f} degC: water on metal above 100 degC flashes to "
                    "steam. Lower slowly, shield the face."
                ]
    return []


def _hot_plastic(ran: Ran) -> list[str]:
    """A part that leaves hotter than plastic may be touched."""
    name, hot = _leaves_with(ran)
    if hot is None or hot <= of.HOT_PLASTIC:
        return []
    return [_touch(f"{name} with up to {hot - ZERO:.0f} degC", of.HOT_PLASTIC, "plastic")]


def _hot_metal(ran: Ran) -> list[str]:
    """Tools, rolls, moulds and barrels within reach."""
    name, hot = _metal(ran)
    if hot <= of.HOT:
        return []
    return [_touch(f"{name} has up to {hot - ZERO:.0f} degC", of.HOT, "metal")]


def _touch(words: str, bound: float, what: str) -> str:
    return (
        f"{words}: {what} above {bound - ZERO:.0f} degC that can be reached is to be assessed by ISO 13732-1 "
        "(thresholds, no limits). A rule of thumb, not official: a serious burn in about 10 s at 57 degC, in about 1 s at 68 degC."
    )


def _warmed_through(ran: Ran) -> list[str]:
    """A body or section that gets hot although nothing so hot is named: by its own heat."""
    hottest = _hottest(ran)
    known = of.HOT_SURFACE in ran.result.cautions
    return [of.HOT_SURFACE] if ran.kind in ("body", "section") and not known and (hottest or 0.0) > of.HOT else []


#: in the order in which they are printed
RULES: tuple[Callable[[Ran], list[str]], ...] = (
    _runaway, _opened_uncured, _line_stop, _sagging, _panels_ignite, _scorching, _hydrogen_chloride, _styrene, _tonnes, _quenched,
    _hot_plastic, _hot_metal, _warmed_through,
)  # fmt: skip


def _hottest(ran: Ran) -> float | None:
    """Hottest place at any time [K]."""
    extreme = ran.result.history.hottest
    value = None if extreme is None else float(extreme.value)
    return value if value is not None and np.isfinite(value) else None


def _leaves_with(ran: Ran) -> tuple[str, float | None]:
    """(words, hottest face [K]) of what leaves the last station."""
    history = ran.result.history
    if ran.kind in ("mill", "cylinder", "section") or ran.result.status != "finished" or not history.ends:
        return "", None  # stock, melt and bare sections are no parts in somebody's hand
    if ran.kind == "mould":
        value = ran.outcome("hottest_at_ejection")
        return "The part leaves the mould", None if value is None else value + ZERO
    if isinstance(history, SectionHistory):
        return "", None
    last = history.ends[-1]
    faces = [float(x) for x in np.ravel([last.inner_face, last.outer_face]) if np.isfinite(x)]
    word = {"line": "The product leaves the line", "dip": "Former and article leave"}.get(ran.kind, "The part leaves")
    return word, max(faces, default=None)


def _metal(ran: Ran) -> tuple[str, float]:
    """(words, highest temperature [K]) of metal that people work beside."""
    case = ran.process.case
    if ran.kind == "sheet":
        own = [getattr(tool, word) for tool in case.tools.values() for word in ("temperature", "start")]
        settled = [o.value + ZERO for o in ran.result.outcomes if _is_tool_face(o.name) and o.value is not None]
        return "The tool", max(hottest_of(own), max(settled, default=0.0))
    if ran.kind == "charge":
        halves = [half for half in (case.mould.upper, case.mould.lower) if half is not None]
        return "The mould", hottest_of([getattr(half, word) for half in halves for word in ("temperature", "start")])
    if ran.kind == "mould":
        faces = [o.value + ZERO for o in ran.result.outcomes if o.name.endswith("_face_at_ejection") and o.value]
        return "The mould's face", max(faces, default=0.0)
    if ran.kind == "line":
        from thermokit.case.line_stations import ROLLS  # here: other kinds need nothing of lines

        own = [s.temperature for s in case.stations if s.kind in ROLLS]
        own += [side for s in case.stations if s.kind == "nip" for side in (s.face, s.back)]
        return "A roll", hottest_of(own)
    if ran.kind == "mill":
        return "A roll", hottest_of([case.rolls.front, case.rolls.back])
    if ran.kind == "cylinder":
        return "The barrel", hottest_of([zone.temperature for zone in case.zones])
    return "", 0.0


def _is_tool_face(name: str) -> bool:
    return name.startswith("settled_") and name.endswith("_temperature")


def _polyester(ran: Ran) -> bool:
    """Whether a material or kinetics set is an unsaturated polyester's, by its name."""
    return any(name.lower().startswith("up_") or "polyester" in name.lower() for name in ran.process.stuff.names())
