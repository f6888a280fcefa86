"""A result: the history of a run, judged. What the file holds, what is printed and what is drawn all come from it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from thermokit.conduction.section_history import SectionHistory
from thermokit.errors import DataError

if TYPE_CHECKING:
    from thermokit.conduction.history import History

SECTION = "section"  # the ``shape`` of what is no layered body


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
class Axis:
    """An axis of a :class:`Field`: name, unit and the values along it (numbers in the shop unit, or words)."""

    name: str
    unit: str
    values: Any
    meaning: str


@dataclass(frozen=True)
class Field:
    """What a run leaves beside its rows: a map over the sheet, a tool's temperature by shot, a companion's history.

    name : ``group/name`` (``map/coldest_point``), fields of a group share axes of the same name; values : numbers in
    ``unit`` (shop unit: degC, K, s, ...), shape as the axes; NaN where there is nothing.
    """

    name: str
    axes: tuple[Axis, ...]
    unit: str
    values: Any
    meaning: str


@dataclass(frozen=True)
class Result:
    """What a run or a study leaves behind.

    history : of a layered body, or of a section (then ``shape`` is ``section``, ``layer_names`` are its regions, and there
    are no ``layer_edges``); shape : plane, cylinder or sphere; inner_radius [m]; span_names : one a span; layer_names and
    layer_edges [m] (layers + 1) place the layers; probes : name -> (rows,) [K]; study : extra block of the JSON
    (``{"dwell": {...}}``); fields : what is not a row; remarks : what the outcomes mean at the machine, in sentences.
    """

    provenance: Provenance
    history: History | SectionHistory
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
    remarks: tuple[str, ...] = ()
    study: dict[str, Any] = field(default_factory=dict)
    fields: tuple[Field, ...] = ()

    @property
    def status(self) -> str:
        """How the run ended, in one word (``finished`` when all went well)."""
        return self.history.ending.status

    def to_xarray(self) -> Any:
        """Rows, outcomes, margins and fields as an ``xarray.Dataset``; DataError where xarray is not installed."""
        from thermokit.results.objects import result_dataset

        return result_dataset(self)


def layered(result: Result) -> History:
    """The history of a layered body. Raises DataError, in plain words, where the result is of a section."""
    if isinstance(result.history, SectionHistory):
        raise DataError(
            f"{result.provenance.title or 'the result'} is the result of a section: it has no depth through layers; use what "
            "goes over the section instead"
        )
    return result.history


def section_of(result: Result) -> SectionHistory:
    """The history of a section. Raises DataError, in plain words, where the result is of a layered body."""
    if not isinstance(result.history, SectionHistory):
        raise DataError(f"{result.provenance.title or 'the result'} is the result of a layered body, not of a section")
    return result.history
