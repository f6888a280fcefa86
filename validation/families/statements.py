"""What the checks solve that run no case file, in words, and which kinds of case use what they hold; by title."""

from __future__ import annotations

from collections.abc import Mapping

_D11 = "6 mm of acrylic, k 0.19 W/m/K, net flux 6000 W/m2 absorbed as exp(-400 x/m), by the layered solver with the sheet's own"
_F01 = "3 mm (a = 1e-7 m2/s, 230 to 90 degC, wall 50 degC) and 2 mm (0.9e-7, 280 to 130, wall 90)"
_G07 = "k T'' + rho H A exp((T - Tw)/scale) = 0 with a held surface, run until it is steady or runs away, by the layered solver"

#: title -> (statement, kinds of case that use it)
OF_TITLE: Mapping[str, tuple[str, tuple[str, ...]]] = {
    "a cylinder under a plane of one temperature, as a row of channels far apart": (
        "shape factor of one channel of a row by multipoles, 100 diameters apart",
        ("mould",),
    ),
    "a row of channels under a mould face: exact shape factor": (
        "shape factor of one channel (diameter D) of a row (pitch w) at depth z below a face of one temperature; steel 30 W/m/K,"
        " D 10, z 20, w 30 mm, 40 K",
        ("mould",),
    ),
    "share of black radiation below a wavelength": (
        "F(0 to lambda T), the wavelength of the peak, and the share of a 700 degC panel between 2 and 4 um",
        ("sheet", "line"),
    ),
    "rectangles at right angles": (
        "unit squares with a common edge, a floor and a wall of twice its height, and the closure of a cube",
        ("sheet",),
    ),
    "element to a parallel rectangle, the rectangle in zones": (
        "views of an element by a panel that is cut into zones, summed over them",
        ("sheet",),
    ),
    "wide grey plates, and a shield between them": (
        "800 K (emissivity 0.2) and 500 K (0.7), sigma 5.67e-8; a sheet of 0.1 on both faces between them",
        ("sheet",),
    ),
    "absorption in the depth of an acrylic sheet, steady": (
        f"{_D11} absorption, both faces 10 W/m2/K to 25 degC",
        ("sheet",),
    ),
    "plastic sheet cooled by air and radiation on a conveyor": (
        "1 mm, 1.2 m wide, at 95 degC and 9 m/min through 0.6 m of air of 25 degC at 3 m/s, emissivity 0.9, by the layered solver",
        ("line", "dip"),
    ),
    "flat plate: laminar, and laminar then turbulent": (
        "air at 10 m/s and 6000 Pa over 0.5 m; six strips of 50 mm at 230 degC in air of 60 m/s",
        ("dip", "line"),
    ),
    "cylinder in cross flow: Churchill and Bernstein, Zukauskas": (
        "Re 6071, Pr 0.7; 12.7 mm in air of 10 m/s; a former of 90 mm in air of 170 degC and 2 m/s",
        ("dip", "line"),
    ),
    "natural convection on a vertical plate: Churchill and Chu": (
        "a glass screen of 0.71 x 1.02 m at 232 degC in air of 23 degC",
        ("dip", "line"),
    ),
    "flow in a heated tube: its Reynolds number and power with the library's water": (
        "10 L/min of water in 30 mm, 15 to 65 degC, properties at 40 degC",
        ("mould",),
    ),
    "turbulent flow in a heated tube, and air in a duct: the hand formula": (
        "Nu = 0.023 Re^0.8 Pr^n: 10 L/min in 30 mm x 5 m; 0.15 m3/s of air of 80 degC through a duct of 0.2 m x 8 m at 60 degC",
        ("mould",),
    ),
    "Petukhov friction and Gnielinski Nusselt numbers": (
        "friction factor and Nusselt number at given Reynolds and Prandtl numbers",
        ("mould", "line"),
    ),
    "pressure drop of a water line": (
        "5.5 L/s of the library's water at 15 degC through 60 m of 50 mm pipe, roughness 2 um",
        ("mould",),
    ),
    "water: verification values of the formulations": (
        "IF97 region 1, viscosity and conductivity at the points that the releases print",
        ("mould", "line"),
    ),
    "liquid water at one atmosphere": ("properties of the coolant water at 101 325 Pa", ("mould", "line")),
    "copper ball cooled by air: Whitaker": (
        "10 mm of copper from 75 to 35 degC in air of 23 degC and 10 m/s, cooled by the layered solver",
        ("dip",),
    ),
    "warm air in an uninsulated duct": (
        "0.05 kg/s in 0.15 m, 77 degC at the exit, 6 W/m2/K to 0 degC outside",
        ("mould",),
    ),
    "moulding between cold walls, by the single wall of a mould": (
        f"{_F01}, times to ejection, settled shots",
        ("mould",),
    ),
    "moulding between cold walls, by the hand formula of a gate": (
        f"{_F01}, and (c) 3 mm from 230 to 200 degC, wall 50 degC, where one term fails and the mean has none",
        ("mould",),
    ),
    "cooling through a contact conductance, by the single wall of a mould": (
        "3 mm, a = 1e-7 m2/s, k 0.2 W/m/K, 230 to 90 degC, walls of 50 degC behind 1000 W/m2/K",
        ("mould",),
    ),
    "a mould shot after shot: the settled state": (
        "3 mm between steel halves with rows of channels at 20 and 35 degC, hold 4 s, open 6 s, until the shots repeat",
        ("mould",),
    ),
    "energies from the heat flow of four ramps, first order": (
        "E 80 kJ/mol, A 2e8 1/s, 2 to 20 K/min, read by what `thermokit kinetics` reads runs of a calorimeter with",
        ("charge",),
    ),
    "glass transition against degree of cure": ("-20 degC fresh, 220 degC cured, lambda 0.5", ("charge",)),
    "degree at which a network gels": ("stoichiometric A2 + B4 and A3 + B2", ("charge",)),
    "film drawn out of a bath: Landau and Levich, and with gravity": (
        "0.5 Pa s, 1 mm/s, 0.030 N/m, 1000 kg/m3; paste of 2 Pa s, 5 mm/s, 0.033 N/m, 1200 kg/m3; g = 9.80665 m/s2",
        ("dip",),
    ),
    "draining film and what a yield stress holds": (
        "2 Pa s, 1200 kg/m3, g = 9.80665 m/s2, on an upright plate",
        ("dip",),
    ),
    "slug of melt that runs along cold plates": (
        "plug flow between plates of one temperature, by the layered solver in the frame that moves along",
        ("line", "cylinder"),
    ),
    "slug of melt that runs along cold tube": (
        "plug flow in a tube of one temperature, by the layered solver in the frame that moves along",
        ("line", "cylinder"),
    ),
    "Graetz: laminar flow in a tube of even wall temperature": (
        "Nu far down and its mean from the entry",
        ("mould", "line"),
    ),
    "layer sheared between two walls": (
        "friction heat in a layer between walls of one temperature, viscosity constant or falling as exp(-b T);"
        " a law of the library that no kind of case uses yet",
        (),
    ),
    "nip of a calender, Newtonian melt, deep bank": (
        "rolls of 0.6 m, gap 1 mm, 0.5 m/s, 1e4 Pa s: gauge, exit, force and power",
        ("line",),
    ),
    "gauge behind a nip: melts that thin, shallow banks": (
        "gauge over gap of power-law melts, and of banks that are shallow",
        ("line",),
    ),
    "air film under a web on a roll": ("constant of h0 = 0.643 R [6 eta (U1 + U2)/T]^(2/3)", ("line",)),
    "moving face in still fluid": ("Nu/sqrt(Re) on a face that is drawn through fluid at rest", ("line",)),
    "covered copper wire in a trough": (
        "1.4 mm of copper under 0.9 mm of polymer, 200 degC, into water of 20 degC at 3000 W/m2/K, by the layered solver",
        ("line",),
    ),
    "latent heat in a round body: freezing about a line": (
        "a line takes 400 W/m from melt of 180 degC that freezes at 130 degC, 200 kJ/kg, by the layered solver",
        ("line",),
    ),
    "pipe wall of two layers, settled": (
        "radii 40, 45, 55 mm, k 0.4 and 0.25 W/m/K, contact 500 W/m2/K, water 90 degC inside and 10 degC outside, layered solver",
        ("line",),
    ),
    "Sobol indices of a function with inputs that act together": (
        "first and total indices of the Ishigami function from 8192 rows, by the code of `thermokit sensitivity`",
        ("body", "section", "sheet", "charge", "dip", "mill", "cylinder", "mould", "line"),
    ),
    "Sobol indices of a product of eight inputs": (
        "first and total indices of the g-function from 8192 rows, by the code of `thermokit sensitivity`",
        ("body", "section", "sheet", "charge", "dip", "mill", "cylinder", "mould", "line"),
    ),
    "share of good plates, thickness normal": (
        "a lumped plate heated to 60 to 80 degC, thickness ± 30 %, by the code of `thermokit tolerance`",
        ("body",),
    ),
    "dome of a clamped round rubber sheet": (
        "neo-Hookean and Mooney-Rivlin sheet blown to a height over its radius, against the least energy of straight elements",
        ("sheet",),
    ),
    "slightly blown sheet": ("neo-Hookean sheet blown to a two-hundredth of its radius", ("sheet",)),
    "sheet that becomes an exact spherical cap": ("energy G/2 (l1^2 + l2^2): thickness resists nothing", ("sheet",)),
    "sheet that freezes where it touches": ("wall of a 60 degree cone, and of a square edge", ("sheet",)),
    "facts of the trade": (
        "cast acrylic at 160 degC: a hemisphere of 8 inches, radii that a pressure fills",
        ("sheet",),
    ),
    "slow cooling of annealed acrylic": ("core less faces at the printed rate of each thickness", ("sheet",)),
    "acrylic is formed at about 150 to 180 degC": ("the forming window of the record `pmma_cast`", ("sheet",)),
    "usual heat transfer coefficients": (
        "air by correlation on a plate of 0.5 m and radiation of 0.9 to walls as the air; the starting case of a mould",
        ("sheet", "dip", "mould"),
    ),
    **{
        f"opposed equal rectangles, {label}": ("view factor, whole and by a panel of 2 x 3 zones", ("sheet",))
        for label in ("1 x 1 at 1", "0.1 x 0.1 at 0.05", "1 x 10 at 1", "0.6 x 0.4 at 0.15")
    },
    **{
        f"absorption in the depth of an acrylic sheet, {words}": (f"{_D11} absorption, faces insulated", ("sheet",))
        for words in ("lit on one face, 30 s", "lit on one face, 60 s", "lit on both faces, 60 s")
    },
    **{
        f"{words.format(shape)}{end}": (_G07, ("body", "charge"))
        for shape in ("plane", "cylinder", "sphere")
        for words, end in (
            ("critical size of a self-heating {}", ""),
            ("centre of a self-heating {} at its critical size", ""),
            ("self-heating {} below its critical size", ", delta 0.9 of the critical"),
            ("self-heating {} below its critical size", ", delta 0.5"),
            ("self-heating {} below its critical size", ", delta 0.8"),
        )
    },
}
