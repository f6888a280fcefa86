"""A result: the history of a run, judged. What the file holds, what is printed and what is drawn all come from it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from thermokit.conduction.history import History


@dataclass(frozen=True)
class Outcome:
    """One answer of a run: ``value`` in ``unit`` (shop unit: degC, s, ...), None when it was not reached."""

    name: str
    value: float | None
    unit: str
    meaning: str


@dataclass(frozen=True)
class LimitCheck:
    """One limit held against what was found.

    required : in words with unit (``at least 127 degC``); found and margin in ``unit`` (margin > 0: met, a difference);
    where : the place in words; when : time [s].
    """

    name: str
    required: str
    found: float | None
    unit: str
    margin: float | None
    met: bool
    where: str = ""
    when: float | None = None


@dataclass(frozen=True)
class Provenance:
    """Where a result comes from: the case as given and as resolved, its SHA-256, and the versions used."""

    title: str
    process: str
    case_text: str
    resolved_text: str
    case_sha256: str
    version: str
    versions: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Result:
    """What a run or a study leaves behind.

    shape : plane, cylinder or sphere; inner_radius [m]; span_names : one a span; layer_names and layer_edges [m]
    (layers + 1) place the layers; probes : name -> (rows,) [K]; study : extra block of the JSON (``{"dwell": {...}}``).
    """

    provenance: Provenance
    history: History
    shape: str
    inner_radius: float
    span_names: tuple[str, ...]
    layer_names: tuple[str, ...]
    layer_edges: tuple[float, ...]
    outcomes: tuple[Outcome, ...]
    limits: tuple[LimitCheck, ...] = ()
    probes: dict[str, Any] = field(default_factory=dict)
    warnings: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    study: dict[str, Any] = field(default_factory=dict)

    @property
    def status(self) -> str:
        """How the run ended, in one word (``finished`` when all went well)."""
        return self.history.ending.status
