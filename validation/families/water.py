"""Water in the channels of a mould: its properties, friction, heat transfer, and what a row of channels is worth."""

from __future__ import annotations

import math
from typing import Any

from validation.checks import Check, Quantity, Tolerance
from validation.references import water as exact

HALF_PER_CENT = Tolerance(share=0.005)
CORRELATION = Tolerance(share=0.001)
OFFICIAL = Tolerance(share=1e-6)
FIT = Tolerance(share=0.003)
SHAPE = Tolerance(share=0.01)


def _flow() -> Any:
    from thermokit.exchange import channel_flow

    return channel_flow


def _row() -> Any:
    from thermokit.exchange import channel_row

    return channel_row


_TUBE_RE = 4 * (10e-3 / 60) / (math.pi * 0.03 * 0.658e-6)
_TUBE_HEAT = 992.1 * (10e-3 / 60) * 4170 * 50.0
_TUBE_FLUX = _TUBE_HEAT / (math.pi * 0.03 * 5.0)
_DUCT_RE = 0.15 / 0.2**2 * 0.2 / 2.097e-5
_DUCT_STREAM = 0.9994 * 0.15 * 1008  # W/K


def _duct_exit(nusselt: float) -> float:
    conductance = nusselt * 0.02953 / 0.2 * 4 * 0.2 * 8.0
    return 60.0 + 20.0 * math.exp(-conductance / _DUCT_STREAM)


def _found_exit(flow: Any) -> float:
    from thermokit.exchange.channel_circuit import along_given_wall

    conductance = float(flow.nusselt_dittus_boelter(_DUCT_RE, 0.7154, heated=False)) * 0.02953 / 0.2 * 4 * 0.2 * 8.0
    return float(along_given_wall(80.0, 60.0, conductance, 1.0, 1.0 / _DUCT_STREAM))


def _heated_tube() -> Any:
    """The tube with the library's own water at 40 degC."""
    from thermokit.exchange.channel_circuit import Bore, bore_flow

    return bore_flow(Bore(0.03, 5.0), 10e-3 / 60, temperature=313.15)


OWN_WATER = Check(
    "E07",
    "flow in a heated tube: its Reynolds number and power with the library's water",
    "Cengel, Example 8-5, as transcribed in a public textbook companion",
    "verified",
    _heated_tube,
    (
        Quantity(
            "(a) power",
            "kW",
            lambda: _TUBE_HEAT / 1e3,
            HALF_PER_CENT,
            lambda b: 50.0 / float(b.rise_per_watt) / 1e3,
            34.47548,
            34.47548,
        ),
        Quantity("(a) Re", "", lambda: _TUBE_RE, HALF_PER_CENT, lambda b: float(b.reynolds), 10750.08),
    ),
)

TUBE = Check(
    "E07",
    "turbulent flow in a heated tube, and air in a duct: the hand formula",
    "Cengel, Examples 8-5 and 8-6",
    "verified",
    _flow,
    (
        Quantity(
            "(a) Nu",
            "",
            lambda: exact.dittus_boelter(_TUBE_RE, 4.32, 0.4),
            HALF_PER_CENT,
            lambda f: float(f.nusselt_dittus_boelter(_TUBE_RE, 4.32)),
            69.35068,
            69.35068,
        ),
        Quantity(
            "(a) wall at the exit",
            "degC",
            lambda: 65 + _TUBE_FLUX / (exact.dittus_boelter(_TUBE_RE, 4.32, 0.4) * 0.631 / 0.03),
            HALF_PER_CENT,
            lambda f: 65 + _TUBE_FLUX / (float(f.nusselt_dittus_boelter(_TUBE_RE, 4.32)) * 0.631 / 0.03),
            115.1545,
            115.0,
        ),
        Quantity(
            "(b) air at the exit",
            "degC",
            lambda: _duct_exit(exact.dittus_boelter(_DUCT_RE, 0.7154, 0.3)),
            HALF_PER_CENT,
            _found_exit,
            71.29402,
            71.29402,
        ),
        Quantity(
            "(b) heat lost",
            "W",
            lambda: _DUCT_STREAM * (80 - _duct_exit(exact.dittus_boelter(_DUCT_RE, 0.7154, 0.3))),
            HALF_PER_CENT,
            lambda f: _DUCT_STREAM * (80 - _found_exit(f)),
            1315.555,
            1316.0,
        ),
    ),
)

TURBULENT = Check(
    "E08",
    "Petukhov friction and Gnielinski Nusselt numbers",
    "Petukhov (1970), Gnielinski (1976), as in Incropera et al., eqs. 8.21 and 8.62",
    "from memory (formulas); (b) is documented with the library ht",
    _flow,
    (
        *(
            Quantity(
                f"f at Re {re:g}",
                "",
                lambda re=re: exact.petukhov(re),
                CORRELATION,
                lambda f, re=re: float(f.friction_petukhov(re)),
                recorded,
            )
            for re, recorded in ((5e3, 0.03861947), (1e4, 0.0314798), (5e4, 0.02095765), (1e5, 0.01799203))
        ),
        Quantity(
            "(b) Nu at Re 1e5, Pr 1.2, f 0.0185",
            "",
            lambda: exact.gnielinski(1e5, 1.2, 0.0185),
            CORRELATION,
            lambda f: float(f.nusselt_gnielinski(1e5, 1.2, 0.0185)),
            254.6268,
            254.6268,
        ),
        *(
            Quantity(
                f"(c) Nu at Re {re:g}, Pr {pr:g}",
                "",
                lambda re=re, pr=pr: exact.gnielinski(re, pr, exact.petukhov(re)),
                CORRELATION,
                lambda f, re=re, pr=pr: float(f.nusselt(re, pr)),
                recorded,
            )
            for re, pr, recorded in ((5e3, 7, 40.39028), (1e4, 7, 79.49265), (2e4, 4.3, 121.7303), (5e4, 3, 226.2505))
        ),
    ),
)

_LINE = (999.1, 1.138e-3, 0.05, 60.0, 5.5e-3, 0.002e-3)  # density, viscosity, diameter, length, flow, roughness


def _line_drop(friction: float) -> float:
    rho, _, d, length, flow, _ = _LINE
    return friction * length / d * rho * (flow / (math.pi / 4 * d**2)) ** 2 / 2


_LINE_RE = 4 * _LINE[0] * _LINE[4] / (math.pi * _LINE[2] * _LINE[1])


def _bore() -> Any:
    """The water line as a bore, with the library's own water at 15 degC."""
    from thermokit.exchange.channel_circuit import Bore, bore_flow

    return bore_flow(Bore(_LINE[2], _LINE[3], _LINE[5]), _LINE[4], temperature=288.15)


LINE = Check(
    "E10",
    "pressure drop of a water line",
    "Cengel, Example 8-4 (the printed pumping power is another example's)",
    "verified (data); f = 0.0174 from memory",
    _bore,
    (
        Quantity(
            "friction factor",
            "",
            lambda: exact.colebrook(_LINE_RE, _LINE[5] / _LINE[2]),
            HALF_PER_CENT,
            lambda b: float(b.friction),
            0.0174786,
            0.0174,
        ),
        Quantity(
            "pressure drop",
            "kPa",
            lambda: _line_drop(exact.colebrook(_LINE_RE, _LINE[5] / _LINE[2])) / 1e3,
            HALF_PER_CENT,
            lambda b: float(b.pressure_drop) / 1e3,
            82.21146,
        ),
        Quantity("Re", "", lambda: _LINE_RE, HALF_PER_CENT, lambda b: float(b.reynolds), 122961.6, 122961.6),
        Quantity(
            "pumping power",
            "W",
            lambda: _line_drop(exact.colebrook(_LINE_RE, _LINE[5] / _LINE[2])) * _LINE[4],
            HALF_PER_CENT,
            lambda b: float(b.pumping),
            452.1631,
            6512.73,
            "the transcription prints another example's variable",
        ),
    ),
)


def _formulation() -> Any:
    from thermokit.exchange import water_formulation

    return water_formulation


WATER = Check(
    "E11",
    "water: verification values of the formulations",
    "IAPWS R7-97(2012) table 5, R12-08 table 4, R15-11 table 4",
    "verified",
    _formulation,
    tuple(
        Quantity(name, unit, lambda official=official: official, OFFICIAL, find, official, official)
        for name, unit, official, find in (
            ("volume at 300 K, 3 MPa", "m3/kg", 0.00100215168, lambda w: 1 / float(w.density_and_specific_heat(300, 3e6)[0])),
            ("specific heat there", "J/kg/K", 4173.01218, lambda w: float(w.density_and_specific_heat(300, 3e6)[1])),
            ("viscosity at 298.15 K, 998 kg/m3", "uPa s", 889.7351, lambda w: 1e6 * float(w.viscosity(298.15, 998))),
            ("viscosity at 373.15 K, 1000 kg/m3", "uPa s", 307.883622, lambda w: 1e6 * float(w.viscosity(373.15, 1000))),
            ("conductivity at 298.15 K, 998 kg/m3", "mW/m/K", 607.712868, lambda w: 1e3 * float(w.conductivity(298.15, 998))),
        )
    ),
)  # fmt: skip


def _liquid() -> Any:
    from thermokit.exchange.coolants import liquid

    return lambda celsius: liquid("water", celsius + 273.15)


_COLUMNS = (
    ("density", "kg/m3", 0),
    ("specific_heat", "J/kg/K", 1),
    ("viscosity", "Pa s", 2),
    ("conductivity", "W/m/K", 3),
    ("prandtl", "", 4),
)
#: Cengel, table A-9, from memory: density, specific heat, viscosity, conductivity, Prandtl number
_PRINTED: dict[int, tuple[float | None, ...]] = {
    20: (998.0, 4182.0, 1.002e-3, 0.598, 7.01),
    40: (992.1, 4179.0, 0.653e-3, 0.631, 4.32),
    80: (971.8, 4197.0, 0.355e-3, 0.670, 2.22),
}
_RECORDED_PRANDTL = {10: 9.465568, 20: 7.007764, 40: 4.34063, 60: 2.995905, 80: 2.2277}


def _liquid_exact(row: tuple[float, ...], column: int) -> float:
    """A property of the table; the Prandtl number from specific heat, viscosity and conductivity."""
    return row[1] * row[2] / row[3] if column == 4 else row[column]


AT_ONE_ATMOSPHERE = Check(
    "E13",
    "liquid water at one atmosphere",
    "IAPWS-95, R12-08, R15-11 by an open library of fluid properties",
    "computed",
    _liquid,
    tuple(
        Quantity(
            f"{name.replace('_', ' ')} at {celsius} degC",
            unit,
            lambda row=row, column=column: _liquid_exact(row, column),
            FIT,
            lambda at, name=name, celsius=celsius: float(getattr(at(celsius), name)),
            _RECORDED_PRANDTL[celsius] if name == "prandtl" else row[column],
            _PRINTED.get(celsius, 5 * (None,))[column],
            "rounded in the book's table" if celsius in _PRINTED else "",
        )
        for celsius, row in exact.AT_ONE_ATMOSPHERE.items()
        for name, unit, column in _COLUMNS
    ),
)

_AIR_RE = 4 * 0.05 / (math.pi * 0.15 * 20.82e-6)


def _air_h(nusselt: float) -> float:
    return nusselt * 0.030 / 0.15


AIR_DUCT = Check(
    "E14",
    "warm air in an uninsulated duct",
    "Incropera et al., Example 8.6",
    "verified",
    _flow,
    (
        Quantity(
            "(a) coefficient inside",
            "W/m2/K",
            lambda: _air_h(exact.dittus_boelter(_AIR_RE, 0.70, 0.3)),
            HALF_PER_CENT,
            lambda f: _air_h(float(f.nusselt_dittus_boelter(_AIR_RE, 0.70, heated=False))),
            11.58067,
        ),
        Quantity(
            "(a) flux at the exit",
            "W/m2",
            lambda: 77.0 / (1 / _air_h(exact.dittus_boelter(_AIR_RE, 0.70, 0.3)) + 1 / 6.0),
            HALF_PER_CENT,
            lambda f: 77.0 / (1 / _air_h(float(f.nusselt_dittus_boelter(_AIR_RE, 0.70, heated=False))) + 1 / 6.0),
            304.3268,
            304.3,
        ),
        Quantity(
            "(a) wall at the exit",
            "degC",
            lambda: 77.0 / (1 / _air_h(exact.dittus_boelter(_AIR_RE, 0.70, 0.3)) + 1 / 6.0) / 6.0,
            HALF_PER_CENT,
            lambda f: 77.0 / (1 / _air_h(float(f.nusselt_dittus_boelter(_AIR_RE, 0.70, heated=False))) + 1 / 6.0) / 6.0,
            50.72114,
            50.7,
        ),
    ),
)

SINGLE = Check(
    "B06",
    "a cylinder under a plane of one temperature, as a row of channels far apart",
    "2 pi/acosh(2 z/D): Incropera et al., table 4.1",
    "verified (formula)",
    _row,
    (
        Quantity(
            "(a) depth of two diameters",
            "",
            lambda: 2 * math.pi / math.acosh(4.0),
            SHAPE,
            lambda r: float(r.channel_row(1.0, 1.0, 2.0, 100.0, face="temperature").shape_factor),
            3.045009,
        ),
    ),
)

ROW = Check(
    "B08",
    "a row of channels under a mould face: exact shape factor",
    "line sources inside the channels; the printed number is the thin-wire formula of handbooks",
    "computed",
    _row,
    (
        *(
            Quantity(
                f"D {d:g}, z {z:g}, w {w:g}",
                "",
                lambda d=d, z=z, w=w: exact.row_shape_factor(d, z, w),
                SHAPE,
                lambda r, d=d, z=z, w=w: float(r.channel_row(1.0, d, z, w, face="temperature").shape_factor),
                recorded,
                formula,
                "thin wires only",
            )
            for d, z, w, recorded, formula in (
                (1.0, 2.0, 3.0, 1.616561, 1.516783),
                (0.5, 2.0, 3.0, 1.317712, 1.299363),
                (1.0, 1.5, 2.0, 1.685395, 1.474675),
            )
        ),
        Quantity(
            "heat of a channel in steel",
            "W/m",
            lambda: 30.0 * 40.0 * exact.row_shape_factor(0.010, 0.020, 0.030),
            SHAPE,
            lambda r: 40.0 * 0.030 / float(r.channel_row(30.0, 0.010, 0.020, 0.030, face="temperature").resistance),
            1939.873,
        ),
    ),
)

CHECKS = (OWN_WATER, TUBE, TURBULENT, LINE, WATER, AT_ONE_ATMOSPHERE, AIR_DUCT, SINGLE, ROW)
