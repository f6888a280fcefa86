"""The end of an earlier run that a case begins from: ``start_from = "RESULT.h5"``, read once, when the case is read.

Only what a body goes on with is taken: temperature and states of each layer at the end of the last station. The file is
opened for reading and never written. Its names are those that the writer of results uses; a test holds the two together.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.mistakes import nearest, shown
from thermokit.case.traps import BROKEN, content, refuse_traps

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from thermokit.case.common import StartKey
    from thermokit.case.mistakes import At

    Array = NDArray[np.float64]

LAYOUT = "thermokit layered result"
LAYOUT_VERSION = 1  # the newest that can be read
#: what else thermokit writes: its layout -> what it is, and what to do
OTHERS = {
    "thermokit section result": (
        "is the result of a section or a mould, which has no layers that a case could go on from",
        "begin from the result of a layered body (sheet, charge, dip, body), or give a start temperature",
    ),
    "thermokit sweep table": (
        "is the table of a sweep: it keeps answers, not how a body ended",
        "run the row that is meant as a case of its own with `thermokit run`, and begin from that",
    ),
}
CRYSTALLINE = "crystalline_share"
POWERS = {"plane": 1, "cylinder": 2, "sphere": 3}  # of the radius, that a volume goes with
HOTTEST = 1e6  # K; no run that finishes comes near
SLACK = 1e-6  # by which a degree may have passed its ends
ALLOWED = "the result file of a run that finished, by a path from the case's own folder"


@dataclass(frozen=True, eq=False)
class EarlierLayer:
    """A layer at the end of an earlier run: edges (cells + 1,) [m] from the body's inner face, temperature (cells,) [K].

    inner, outer : temperature of its faces [K] where they are faces of the body, else None; states : name -> (cells,),
    those that it had (degrees, heat dose, crystalline share).
    """

    name: str
    edges: Array
    temperature: Array
    inner: float | None
    outer: float | None
    states: Mapping[str, Array]

    @property
    def thickness(self) -> float:
        """Its thickness [m]."""
        return float(self.edges[-1] - self.edges[0])


@dataclass(frozen=True, eq=False)
class Earlier:
    """An earlier run at its end.

    file : as the case names it; sha256 : of the file's bytes; title, process, case_sha256 : of the case that it is the
    result of; shape, inner_radius [m]; layers : as it had them; taken : layer of this case -> the layer that it goes on from.
    """

    file: str
    sha256: str
    title: str
    process: str
    case_sha256: str
    shape: str
    inner_radius: float
    layers: tuple[EarlierLayer, ...]
    taken: Mapping[str, EarlierLayer]

    def mean(self, layer: str) -> float:
        """Mean temperature with which a layer of this case begins [K], by volume."""
        own = self.taken[layer]
        power = POWERS[self.shape]
        radius = own.edges + (self.inner_radius if power > 1 else 0.0)
        return float(np.average(own.temperature, weights=np.diff(radius**power)))


class _Unfit(Exception):
    """Why a file cannot be begun from: what, advice."""


def read_earlier(name: str, case_file: str, starts: Sequence[StartKey] | None, at: At) -> Earlier | None:
    """The end of the run in a file, matched to the layers of a case; None after a mistake, which ``at`` is told.

    name : as the case has it, a path from the folder of ``case_file``; starts : the layers that the case begins with, each
    with the key of its own start, None where mistakes hide them (then only the file is looked at). Layers are matched by
    name, or in their order where no name is alike and there are as many.
    """
    path = Path(case_file).parent / name if case_file else Path(name)
    try:
        found = _read(path, name)
    except _Unfit as wrong:
        what, advice = wrong.args
        at.mistake(f"{shown(name)}: {what}", ALLOWED, advice)
        return None
    if starts is None:
        return None
    if not starts:
        at.mistake(
            "this kind of case cannot begin from an earlier run", "", "leave it out, or use another kind of case"
        )
        return None
    own = [start.layer for start in starts]
    theirs = {layer.name: layer for layer in found.layers}
    taken = {layer: theirs[layer] for layer in own if layer in theirs}
    if not taken and len(own) == len(found.layers):
        taken = dict(zip(own, found.layers, strict=True))
    if not taken:
        near = next((words for layer in own if (words := nearest(layer, theirs))), "")
        at.mistake(
            f"its layers ({_listed(list(theirs))}) are not those of this case ({_listed(own)})",
            "layers of the same names, or as many layers, which are then taken in their order",
            near and f"for a name of the earlier run: {near}",
        )
        return None
    for start in starts:
        held = taken.get(start.layer)
        place = at.root
        for step in start.path:
            place = place / step
        if held is None:
            if start.own is None and start.default is None:
                place.mistake(
                    f"missing: the result of start_from holds no layer {shown(start.layer)}", "its temperature"
                )
        elif start.own is not None:
            place.mistake(
                "stands beside start_from, whose result holds this layer", "one of the two", "leave this start out"
            )
        elif not np.all(np.isfinite(held.temperature)):
            at.mistake(f"{shown(name)}: layer {shown(held.name)} was not there at its end", ALLOWED)
            return None
    return Earlier(**{**vars(found), "taken": taken})


def _listed(names: list[str]) -> str:
    few = ", ".join(shown(name)[1:-1] for name in names[:6])
    return few + (f" and {len(names) - 6} more" if len(names) > 6 else "")


def _read(path: Path, name: str) -> Earlier:
    """The end of the run in a file, with nothing matched yet."""
    try:
        if not path.exists():
            raise _Unfit("there is no such file", "`thermokit run` writes one")
        if not path.is_file():
            raise _Unfit("that is no file", "")
        held = content(path)
        if held is None:
            raise _Unfit("is not a result file (not HDF5)", "`thermokit run` writes one")
    except MemoryError:
        raise _Unfit("cannot be read: it is larger than the memory", "") from None
    except (OSError, ValueError) as wrong:
        raise _Unfit(f"cannot be read: {getattr(wrong, 'strerror', None) or wrong}", "") from None
    import h5py

    try:
        # from memory: whoever else has the file open is not disturbed, and nothing can be written to it
        with h5py.File(h5py.h5f.open_file_image(held)) as file:
            refuse_traps(file)
            return _end(file, name, hashlib.sha256(held).hexdigest())
    except BROKEN:
        raise _Unfit("the file is damaged or cut short", "run that case again") from None


def _end(file: Any, name: str, sha256: str) -> Earlier:
    """What an open file says of the end of its run."""
    facts = file.attrs
    if (own := facts.get("layout")) in OTHERS:
        raise _Unfit(*OTHERS[str(own)])
    if own != LAYOUT:
        raise _Unfit("is not the result of a thermokit run", "`thermokit run` writes one")
    if int(facts["layout_version"]) > LAYOUT_VERSION:
        raise _Unfit("was written by a newer thermokit", "update thermokit")
    if str(facts["status"]) != "finished":
        raise _Unfit(
            f"that run did not finish (it ended at {float(facts['ending_time_s']):.4g} s)",
            "run that case to its end first",
        )
    edges = np.asarray(file["depth_edge"][()], float)
    group = file["station_ends"]
    last = {key: np.asarray(value[()], float)[-1] for key, value in group.items() if key != "end"}
    states = {str(group[key].attrs["state"]): last[key] for key in group if "state" in group[key].attrs}
    temperature = last["temperature"] + 273.15
    bounds = np.asarray(file["layers/edge"][()], float)
    names = [str(text) for text in file["layers/name"].asstr()[()]]
    _refuse_nonsense(edges, temperature, states, str(facts["body_shape"]), float(facts["inner_radius_m"]))
    cuts = [int(np.argmin(np.abs(edges - bound))) for bound in bounds]
    if len(cuts) != len(names) + 1 or np.any(np.diff(cuts) <= 0) or cuts[0] != 0 or cuts[-1] != len(edges) - 1:
        raise ValueError("layers that do not fit the cells")
    layers = []
    for i, layer in enumerate(names):
        here = slice(cuts[i], cuts[i + 1])
        own = {state: value[here] for state, value in states.items() if np.all(np.isfinite(value[here]))}
        layers.append(
            EarlierLayer(
                name=layer,
                edges=edges[cuts[i] : cuts[i + 1] + 1],
                temperature=temperature[here],
                inner=float(last["inner_face_temperature"]) + 273.15 if i == 0 else None,
                outer=float(last["outer_face_temperature"]) + 273.15 if i == len(names) - 1 else None,
                states=own,
            )
        )
    provenance = file["provenance"].attrs
    return Earlier(
        file=name,
        sha256=sha256,
        title=str(facts["title"]),
        process=str(facts["process"]),
        case_sha256=str(provenance["case_sha256"]),
        shape=str(facts["body_shape"]),
        inner_radius=float(facts["inner_radius_m"]),
        layers=tuple(layers),
        taken={},
    )


def _refuse_nonsense(edges: Array, temperature: Array, states: Mapping[str, Array], shape: str, radius: float) -> None:
    """Raise ValueError where the numbers cannot be those of a body; NaN are those of a layer that was not there."""
    if edges.ndim != 1 or len(edges) < 2 or not np.all(np.isfinite(edges)) or np.any(np.diff(edges) <= 0.0):
        raise ValueError("edges of no cells")
    if shape not in POWERS or not 0.0 <= radius < np.inf:
        raise ValueError("no shape of a body")
    for name, values in (("temperature", temperature), *states.items()):
        share = name.endswith("_degree") or name == CRYSTALLINE
        most = 1.0 + SLACK if share else HOTTEST if name == "temperature" else np.inf
        if values.shape != (len(edges) - 1,) or not np.all(np.isnan(values) | ((values >= -SLACK) & (values <= most))):
            raise ValueError(f"{name} out of range")
