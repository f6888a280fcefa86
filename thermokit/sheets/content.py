"""What a setting sheet says of a result, gathered once for the screen, the printer and the pocket."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.processes.cautions import DEFERENCE
from thermokit.results.summary import warnings
from thermokit.sheets import inputs, limits
from thermokit.sheets.grids import grids
from thermokit.sheets.kinds import Listing, Wanted, listing
from thermokit.sheets.page import Block, Entry, Grid, Sheet
from thermokit.sheets.pictures import pictures
from thermokit.sheets.words import Words, capital, spaced

if TYPE_CHECKING:
    from thermokit.results.model import Outcome, Result
    from thermokit.studies.tolerance_study import Scatter

JOB = (
    ("number", "Job"), ("date", "Date"), ("revision", "Revision"), ("machine", "Machine or oven"), ("part", "Part"),
    ("drawing", "Drawing"), ("grade", "Grade"), ("colour", "Colour"), ("lot", "Lot"), ("dried", "Dried"),
    ("author", "Author"), ("checker", "Checker"),
)  # fmt: skip
MOST_CAUSES = 5
_DEFERS = DEFERENCE.partition(".")[0]  # the text that defers to local codes has a place of its own
_START_UP = re.compile(r"start-up|reject|shots? until|first shots?", re.IGNORECASE)


def sheet_of(result: Result, fahrenheit: bool = False, scatter: Scatter | None = None) -> Sheet:
    """The setting sheet of a result; ``fahrenheit`` puts degF beside degC. What a result does not hold is left out.

    scatter : parts drawn over the tolerances of the case, for what their scatter comes from.
    """
    words = Words(fahrenheit)
    provenance = result.provenance
    table, given = inputs.table_of(provenance.resolved_text), inputs.table_of(provenance.case_text)
    kind = listing(provenance.process, any(o.name == "release_time" for o in result.outcomes))
    found = result.study.get("dwell")
    remarks = tuple(words.sentence(capital(_plain(text, result))) for text in result.remarks)
    starting = tuple(text for text in remarks if _START_UP.search(text))
    return Sheet(
        title=provenance.title or "(no title)",
        kind=kind.spoken,
        job=tuple(Entry(label, str(table.get("job", {}).get(key, ""))) for key, label in JOB),
        stop=_stop(result, found, words),
        main=_main(found, result, words),
        window=_window(found, words),
        margin=_margin(found, words),
        settings=_settings(inputs.blocks(table, kind.settings, words), result, kind, words),
        inputs=inputs.inputs(table, kind.stock, words),
        limits=limits.grid(result, given, words),
        causes=_causes(found, result, words),
        start_up=tuple(capital(text.removeprefix("Start-up: ")) for text in starting) or _settling(result, words),
        expected=_expected(result, kind, words),
        grids=(*_scatter(scatter), *grids(result, table, words)),
        remarks=tuple(text for text in remarks if text not in starting),
        warnings=tuple(words.sentence(capital(_plain(text, result))) for text in warnings(result)),
        cautions=tuple(words.sentence(t) for t in dict.fromkeys(result.cautions) if not t.startswith(_DEFERS)),
        deference=DEFERENCE,
        checks=_checks(result, kind, words),
        model=_model(result, table, words),
        sha256=provenance.case_sha256,
        version=provenance.version,
        pictures=pictures(result),
    )


def _settings(blocks: tuple[Block, ...], result: Result, kind: Listing, words: Words) -> tuple[Block, ...]:
    """The settings of the case, with those that the run worked out where the case gives none."""
    outcomes = {o.name: o for o in result.outcomes}
    for head, label, name in kind.worked_out:
        own = outcomes.get(name)
        if own is None or own.value is None:
            continue
        entry = Entry(label, words.quantity(own.value, own.unit))
        blocks = tuple(
            Block(b.head, (*b.entries, entry)) if b.head == head and all(e.label != label for e in b.entries) else b
            for b in blocks
        )
    return blocks


def _plain(text: str, result: Result) -> str:
    """A sentence with the names of limits spaced."""
    for name in sorted({check.name.partition(" at ")[0] for check in result.limits}, key=len, reverse=True):
        text = text.replace(name, spaced(name))
    return text


def _stop(result: Result, found: dict[str, Any] | None, words: Words) -> tuple[str, ...]:
    """Why the case must not be run as it stands: its process says so, it did not finish, nothing was found, a limit is broken."""
    told: list[str] = []
    stop = result.study.get("stop")
    if stop is not None:
        told += [str(stop["why"]), *map(str, stop["remedies"])]
    if result.status != "finished":
        told.append("The run did not finish: nothing on this sheet is a setting.")
    if found is not None and found.get("recommended") is None:
        told.append(capital(str(found.get("opens_with") or "there is no setting that meets every limit")))
    broken = [spaced(check.name) for check in result.limits if not check.met]
    if broken:
        told.append(f"Limits that are not met: {', '.join(broken)}.")
    return tuple(words.sentence(text) for text in told)


def _main(found: dict[str, Any] | None, result: Result, words: Words) -> Entry | None:
    """What was found, to be printed largest."""
    if found is None or found.get("recommended") is None:
        return None
    return Entry(_sought(found, result), words.quantity(found["recommended"], found["unit"]), "recommended")


def _sought(found: dict[str, Any], result: Result) -> str:
    """What was sought, in words: the station, or the last steps of its path."""
    path = inputs.sought(result.provenance.case_text)
    name = " ".join(path) if path is not None and path[0] != "stations" else str(found["station"])
    if path is not None and path[0] == "stations":
        name = " ".join(path[1:])
    return capital(spaced(name.replace(".", " ")))


def _window(found: dict[str, Any] | None, words: Words) -> tuple[Entry, ...]:
    """Edges of the window, each with the limit that makes it."""
    if found is None or found.get("recommended") is None:
        return ()
    first, last = {"s": ("Earliest", "Latest"), "m/min": ("Slowest", "Fastest")}.get(
        found["unit"], ("Smallest", "Largest")
    )
    out = []
    for label, edge, key in ((first, "earliest", "earliest_limit"), (last, "latest", "latest_limit")):
        limit = found.get(key)
        if found.get(edge) is None:
            out.append(Entry(label, "no end", "nothing limits it there"))
        else:
            by = spaced(str(limit)) if limit else "nothing limits it: the search ended there"
            out.append(Entry(label, words.quantity(found[edge], found["unit"]), by))
    return tuple(out)


def _margin(found: dict[str, Any] | None, words: Words) -> tuple[str, ...]:
    """How much room there is at the recommended value, and how many parts come out right."""
    if found is None:
        return ("Nothing is sought in this case: margins are those of the limits below.",)
    if found.get("recommended") is None:
        return ()
    told = []
    earliest, latest, unit = found.get("earliest"), found.get("latest"), found["unit"]
    if earliest is not None and latest is not None:
        share = 100.0 * (latest - earliest) / found["recommended"] if found["recommended"] else 0.0
        told.append(
            f"The window is {words.quantity(latest - earliest, unit)} wide, {share:.0f} % of the recommended value."
        )
    parts = found.get("parts")
    if parts is not None:
        causes = ", ".join(f"{100 * s:.0f} break {spaced(n)}" for n, s in parts["breaking"].items() if s >= 0.005)
        told.append(
            f"Within the tolerances of the case {100 * parts['inside']:.0f} parts in 100 meet every limit"
            + (f" ({causes})" if causes else "")
            + ". Not covered: moisture, draughts, colour change, and whatever has no tolerance in the case."
        )
    else:
        told.append("The case has no tolerances: how many parts come out right is not known.")
    return tuple(told)


def _causes(found: dict[str, Any] | None, result: Result, words: Words) -> Grid | None:
    """What moves the window most, the largest first."""
    shifts = list((found or {}).get("shifts") or [])
    if shifts and found is not None and found.get("recommended") is not None:
        unit = found["unit"]

        def size(shift: dict[str, Any]) -> float:
            moved = [
                abs(shift[e] - found[e]) for e in ("earliest", "latest") if None not in (shift.get(e), found.get(e))
            ]
            return max(moved, default=float("inf"))

        rows = []
        for shift in sorted(shifts, key=size, reverse=True)[:MOST_CAUSES]:
            if shift.get("earliest") is None:
                rows.append((words.sentence(shift["change"]), "no window", ""))
                continue
            last = "no end" if shift.get("latest") is None else words.quantity(shift["latest"], unit)
            rows.append((words.sentence(shift["change"]), words.quantity(shift["earliest"], unit), last))
        labels = tuple(entry.label.lower() for entry in _window(found, words))
        return Grid("What moves the window", ("change at the machine", *labels), tuple(rows))
    changes = result.study.get("changes")
    if isinstance(changes, dict) and changes.get("effects"):
        effects = [str(effect).partition(":") for effect in changes["effects"][:MOST_CAUSES]]
        told = tuple((words.sentence(change.strip()), words.sentence(then.strip())) for change, _, then in effects)
        return Grid("What moves it", ("change at the machine", spaced(str(changes.get("quantity", "")))), told)
    return None


def _scatter(found: Scatter | None) -> tuple[Grid, ...]:
    """Which tolerances the scatter of parts comes from, the largest first."""
    if found is None or not np.isfinite(found.causes.overall).any():
        return ()
    causes = found.causes
    rows = []
    for i in causes.ranked()[:MOST_CAUSES]:
        shares = [
            f"{100 * causes.shares[j, i]:.0f} % of {spaced(limit.name)}"
            for j, limit in enumerate(found.limits)
            if np.isfinite(causes.shares[j, i]) and causes.shares[j, i] >= 0.005
        ]
        rows.append((spaced(causes.names[i].replace(".", " ")), f"{100 * causes.overall[i]:.0f} %", ", ".join(shares)))
    head = "What the scatter of parts comes from (share of the variance)"
    return (Grid(head, ("tolerance", "overall", "of the margin of each limit"), tuple(rows)),)


def _settling(result: Result, words: Words) -> tuple[str, ...]:
    """How many of the first shots are no good, where the run tells."""
    for name in ("shots_until_settled", "shots_to_settle"):
        outcome = next((o for o in result.outcomes if o.name == name), None)
        if outcome is not None and outcome.value is not None:
            return (
                f"Tools settle within {words.quantity(outcome.value, '1')} shots: judge no part before; after a stop count again.",
            )
    return ()


def _matches(result: Result, kind: Listing) -> list[tuple[str, Outcome, Wanted]]:
    """(label, outcome, what was wanted), each outcome once, in the order of the listing."""
    found: list[tuple[str, Outcome, Wanted]] = []
    used: set[str] = set()
    for wanted in kind.expected:
        for outcome in result.outcomes:
            match = re.fullmatch(wanted.name, outcome.name)
            if match is None or outcome.name in used or outcome.value is None or _none_to_tell(outcome):
                continue
            used.add(outcome.name)
            which = " ".join(spaced(group) for group in match.groups() if group)
            label = wanted.label.strip()
            label = f"{label}, no. {which}" if which.isdecimal() else f"{which}: {label}" if which else label
            found.append((label, outcome, wanted))
    return found


def _none_to_tell(outcome: Outcome) -> bool:
    """Whether an outcome says nothing: the spread over a sheet that is solved at one place."""
    return outcome.name == "map_spread" and outcome.value == 0.0


def _expected(result: Result, kind: Listing, words: Words) -> tuple[Entry, ...]:
    """What the run foretells."""
    return tuple(
        Entry(label, words.quantity(o.value, o.unit), words.sentence(o.meaning))
        for label, o, wanted in _matches(result, kind)
        if wanted.told
    )


def _checks(result: Result, kind: Listing, words: Words) -> tuple[Entry, ...]:
    """What is to be measured on the first pieces: what is expected, and the limit where there is one of that name."""
    asked = {(check.name, check.unit): words.sentence(check.required) for check in result.limits}
    measured = [
        Entry(capital(label), words.quantity(o.value, o.unit), asked.get((o.name, o.unit), ""))
        for label, o, wanted in _matches(result, kind)
        if wanted.measured
    ]
    return (*measured, *(Entry(capital(text), "", "") for text in kind.by_hand))


def _model(result: Result, table: dict[str, Any], words: Words) -> str:
    """How it was reckoned: accuracy, heat balance, what was left out or switched."""
    parts = [f"{result.provenance.process} case"]
    accuracy = table.get("accuracy", {}).get("temperature")
    if accuracy is not None:
        parts.append(f"accuracy asked {words.given(accuracy)}")
    parts.append(f"heat balance closes to {result.history.heat.mismatch:.0e}")
    switches = [
        f"{spaced(path[-1])} {words.given(value)}"
        for path, value in inputs.values(table)
        if path[-1] in ("absorption", "symmetry", "steady", "settled", "path", "open_inside") and path[0] != "job"
    ]
    return "; ".join([*parts, *dict.fromkeys(switches)])
