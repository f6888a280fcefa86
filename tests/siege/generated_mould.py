"""Valid cases of kind ``mould``: flat walls with and without ribs, channels near and far, inserts, contacts.

Lengths are whole hundredths of a millimetre, times whole milliseconds, temperatures whole degrees Celsius.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from hypothesis import strategies as st

from tests.siege.generated_drawing import millimetres
from tests.siege.writing import case_text


@dataclass(frozen=True)
class Rib:
    position: int
    thickness: int
    height: int
    side: str


@dataclass(frozen=True)
class Row:
    """A circuit of parallel or series channels in a row."""

    side: str
    celsius: int
    flow: float  # L/min
    diameter: int
    depth: int
    pitch: int
    count: int
    connected: str = "parallel"


@dataclass(frozen=True)
class Mould:
    thickness: int
    length: int
    melt: int
    rows: tuple[Row, ...]
    ribs: tuple[Rib, ...] = ()
    insert: tuple[int, int, int, int] | None = None  # corner and size
    contacts: tuple[float, float] = (5000.0, 1000.0)
    hold: int = 3000  # ms
    cooling: int | None = 15_000  # ms; None: to be found
    conductivity: float = 0.2
    latent: bool = False
    metal: str = "steel_p20"
    ejection: int = 90
    air: int = 23

    def tree(self) -> dict[str, Any]:
        mm = lambda value: f"{millimetres(value)} mm"  # noqa: E731
        reach = {side: max([0, *(r.height for r in self.ribs if r.side == side)]) for side in ("cavity", "core")}
        reach["core"] += self.thickness
        height = {
            side: max(
                [
                    reach[side] + 1500,
                    *(r.depth + r.diameter + 1500 + reach["core"] for r in self.rows if r.side == side),
                ]
            )
            for side in ("cavity", "core")
        }
        widest = max([self.length + 2000, *((r.count - 1) * r.pitch + r.diameter + 1000 for r in self.rows)])
        stuff: dict[str, Any] = {
            "conductivity": f"{self.conductivity} W/m/K",
            "density": "950 kg/m3",
            "specific_heat": "2100 J/kg/K",
        }
        if self.latent:
            stuff["crystallising"] = {"heat": "90 kJ/kg", "from": "85 degC", "peak": "116 degC", "to": "128 degC"}
            stuff["melting"] = {"heat": "90 kJ/kg", "from": "120 degC", "peak": "163 degC", "to": "170 degC"}
        mould: dict[str, Any] = {
            "width": mm(widest),
            "packed_contact": f"{self.contacts[0]} W/m2/K",
            "shrunk_contact": f"{self.contacts[1]} W/m2/K",
            "cavity": {"height": mm(height["cavity"]), "material": self.metal},
            "core": {"height": mm(height["core"]), "material": self.metal},
        }
        if self.insert is not None:
            x, y, w, h = self.insert
            mould["inserts"] = [
                {"name": "plug", "material": "aluminium_plate", "corner": [mm(x), mm(y)], "size": [mm(w), mm(h)]}
            ]
        part: dict[str, Any] = {
            "material": "stuff",
            "melt": f"{self.melt} degC",
            "thickness": mm(self.thickness),
            "length": mm(self.length),
            "width": "100 mm",
        }
        if self.ribs:
            part["ribs"] = [
                {"position": mm(r.position), "thickness": mm(r.thickness), "height": mm(r.height), "side": r.side}
                for r in self.ribs
            ]
        cooling: Any = {"find": ["0.5 s", "600 s"]} if self.cooling is None else f"{self.cooling} ms"
        return {
            "process": "mould",
            "part": part,
            "mould": mould,
            "circuits": [
                {
                    "name": f"water_{k}",
                    "side": r.side,
                    "temperature": f"{r.celsius} degC",
                    "flow": f"{r.flow} L/min",
                    "connected": r.connected,
                    "diameter": mm(r.diameter),
                    "depth": mm(r.depth),
                    "length": "100 mm",
                    "count": r.count,
                }
                | ({"pitch": mm(r.pitch)} if r.count > 1 else {})
                for k, r in enumerate(self.rows)
            ],
            "cycle": {"hold": f"{self.hold} ms", "cooling": cooling, "open": "5 s"},
            "air": {"temperature": f"{self.air} degC"},
            "limits": {"ejection_centre": f"{self.ejection} degC"},
            "accuracy": {"temperature": "0.3 K"},
            "materials": {"stuff": stuff},
        }

    def text(self) -> str:
        return case_text(self.tree())

    def mirrored(self) -> Mould:
        """Left for right."""
        insert = self.insert and (self.length - self.insert[0] - self.insert[2], *self.insert[1:])
        return replace(
            self, ribs=tuple(replace(r, position=self.length - r.position) for r in self.ribs), insert=insert
        )


@st.composite
def moulds(draw: st.DrawFn, ribs: bool = True, inserts: bool = True, latent: bool = True) -> Mould:
    """A mould that has both halves cooled, or only one of them."""
    thickness, length = draw(st.integers(60, 600)), draw(st.integers(2000, 15_000))
    celsius = draw(st.integers(5, 60))
    rows = []
    tall = draw(st.integers(200, 1200)) if ribs and draw(st.booleans()) else 0
    for side in draw(st.sampled_from([("cavity", "core"), ("cavity", "core"), ("core",), ("cavity",)])):
        diameter = draw(st.integers(400, 1400))
        near = draw(st.sampled_from([60, 100, 180, 300]))  # per cent of a diameter between the wall and the channel
        depth = diameter // 2 + diameter * near // 100 + (tall if side == "core" else 0)
        pitch = diameter * draw(st.sampled_from([110, 180, 250, 500])) // 100
        count = draw(st.integers(1, 4))
        flow = float(draw(st.sampled_from([1, 4, 8, 20])))
        rows.append(
            Row(side, celsius, flow, diameter, depth, pitch, count, draw(st.sampled_from(["series", "parallel"])))
        )
    standing: tuple[Rib, ...] = ()
    if tall:
        root = draw(st.integers(40, max(41, thickness)))
        standing = (Rib(draw(st.integers(length // 4, length // 2)), root, tall, "core"),)
    deepest = max([0, *(r.depth + r.diameter for r in rows if r.side == "cavity")])
    insert = None
    if inserts and not deepest and draw(st.booleans()):
        insert = (length // 4, -1200, length // 3, 800)
    melt = draw(st.integers(180, 280))
    return Mould(
        thickness, length, melt, tuple(rows), standing, insert,
        (float(draw(st.sampled_from([1000, 5000, 20_000]))), float(draw(st.sampled_from([300, 1000, 5000])))),
        draw(st.sampled_from([500, 3000, 12_000])), draw(st.sampled_from([2000, 15_000, 90_000])),
        draw(st.sampled_from([0.12, 0.2, 0.5])), latent and draw(st.booleans()),
        draw(st.sampled_from(["steel_p20", "steel_h13", "aluminium_plate"])), draw(st.integers(70, 120)), draw(st.integers(10, 35)),
    )  # fmt: skip
