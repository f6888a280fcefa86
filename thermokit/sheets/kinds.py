"""What each kind of case puts on its sheet: the settings, the stock, what the run foretells, what is measured on first pieces.

A kind is one :class:`Listing`; what a run does not have is left out. ``*`` in a path is any one step, ``a|b`` either; the
name of an outcome is a regular expression whose groups are told behind the label.
"""

from __future__ import annotations

from dataclasses import dataclass, field

MEASURED = True  # to be measured on the first pieces


@dataclass(frozen=True)
class Wanted:
    """An outcome to list: its label on the sheet, its name, and whether it can be measured on the first pieces.

    told : it stands among what the run foretells; False where a table of the sheet has it already.
    """

    label: str
    name: str
    measured: bool = False
    told: bool = True


@dataclass(frozen=True)
class Listing:
    """What a kind lists. spoken : the kind in words; by_hand : checks that the model foretells nothing for; worked_out : settings
    that the run works out where the case gives none, each (block, label, outcome)."""

    spoken: str
    settings: tuple[tuple[str, ...], ...] = ()
    stock: tuple[tuple[str, ...], ...] = ()
    expected: tuple[Wanted, ...] = ()
    by_hand: tuple[str, ...] = field(default=())
    worked_out: tuple[tuple[str, str, str], ...] = ()


def listing(kind: str, with_tool: bool = False) -> Listing:
    """What a kind lists; with_tool : a sheet that is cooled on a tool. A kind without a listing of its own has that of a body."""
    if kind == "sheet":
        return _cooled_sheet() if with_tool else _sheet()
    found = {
        "charge": _charge, "dip": _dip, "mill": _mill, "cylinder": _cylinder, "mould": _mould, "line": _line,
        "section": _section,
    }.get(kind, _body)  # fmt: skip
    return found()


_HEATER = ("stations", "*", "upper|lower", "temperature|power|gap|trim|tool")
_SHEET_SETTINGS = (
    ("stations", "*", "duration|ends_at|draw_ratio"),
    _HEATER,
    ("tools", "*", "temperature"),
    ("shaping", "method|pressure|vacuum|depth|stop|jet|margin"),
)
_SHEET_STOCK = (
    ("sheet", "material|thickness|start|length|width|dried"),
    ("stations", "*", "air", "temperature|coefficient"),
    ("shaping", "greatest_draw|shrinkage"),
)
_PART = (
    Wanted("heat taken up by the blank", "heat_taken"),
    Wanted("mass of the blank", "blank_mass"),
    Wanted("drawn by the panels, one sheet", "heater_energy"),
    Wanted("power of the panels, mean of a cycle", "heater_power"),
    Wanted("hottest zone", "(upper|lower)_hottest_zone"),
    Wanted("coldest zone", "(upper|lower)_coldest_zone"),
)
_SHAPED = (
    Wanted("time in which the draw must be done", "working_time"),
    Wanted("set when released after", "setting_time"),
    Wanted("hold on the tool or under pressure", "holding_time"),
    Wanted("thickness of the drawn sheet", "drawn_thickness", MEASURED),
    Wanted("least thickness", "least_thickness", MEASURED),
    Wanted("height of the dome", "dome_height", MEASURED),
    Wanted("pressure for that height", "blowing_pressure"),
    Wanted("pressure at which it bursts", "bursting_pressure"),
    Wanted("pressure for the detail", "detail_pressure"),
    Wanted("pressure on the sheet", "shaping_pressure"),
    Wanted("clamp force", "clamp_force"),
)


def _sheet() -> Listing:
    """A sheet that is heated."""
    return Listing(
        "sheet heating",
        _SHEET_SETTINGS,
        _SHEET_STOCK,
        (
            Wanted("upper face at the end of heating", "upper_face", MEASURED),
            Wanted("half depth", "middle"),
            Wanted("lower face", "lower_face", MEASURED),
            Wanted("coldest point", "coldest_point"),
            Wanted("hottest face at any time", "hottest_face"),
            Wanted("face to core", "face_core_difference"),
            Wanted("mean through the thickness", "mean_temperature"),
            Wanted("spread over the sheet", "map_spread", MEASURED),
            Wanted("sag", "sag", MEASURED),
            Wanted("sag over that of the known-good run", "sag_index"),
            Wanted("clear of the lower panel", "clearance", MEASURED),
            Wanted("heat life used", "heat_dose"),
            *_SHAPED,
            *_PART,
        ),
        ("pyrometer: band and emissivity used", "transfer time, panel to tool"),
    )


def _cooled_sheet() -> Listing:
    """A formed sheet that is cooled on its tool."""
    return Listing(
        "formed sheet, cooling on its tool",
        _SHEET_SETTINGS,
        _SHEET_STOCK,
        (
            Wanted("released after, from the first station's start", "release_time", MEASURED),
            Wanted("hottest plane at release", "release_temperature"),
            Wanted("upper face at release", "upper_face_at_release", MEASURED),
            Wanted("lower face at release", "lower_face_at_release", MEASURED),
            Wanted("faces differ at release by", "release_difference"),
            *_SHAPED,
            Wanted("face of the settled tool", "settled_(.+)_temperature", MEASURED),
            Wanted("shots until the tools are settled", "shots_until_settled"),
            Wanted("coldest point at touch", "coldest_point"),
            Wanted("hottest face at any time", "hottest_face"),
            Wanted("spread over the sheet at touch", "map_spread"),
            *_PART,
        ),
        ("fan setting", "part flat after 24 h"),
    )


def _charge() -> Listing:
    """A thermoset that is cured in a press."""
    return Listing(
        "charge, cured in a press",
        (("stations", "*", "duration"), ("mould", "upper|lower", "temperature"), ("charge", "pressure"),
         ("mould", "*", "platen", "temperature"), ("stations", "*", "air", "temperature")),
        (("charge", "material|thickness|mass|start|kinetics|area|volume|flash"),
         ("charge", "layers", "*", "material|thickness|mass|start")),
        (
            Wanted("load to close, at most", "load_to_close_most", MEASURED),
            Wanted("press opens after", "opening_time"),
            Wanted("lowest degree of cure", "cure_degree"),
            Wanted("where, below the upper face", "cure_degree_depth"),
            Wanted("peak", "hottest_temperature"),
            Wanted("peak after", "hottest_time"),
            Wanted("peak, below the upper face", "hottest_depth"),
            Wanted("peak with the rate of cure 30 % up", "hottest_if_faster"),
            Wanted("peak above the mould", "overshoot"),
            Wanted("core when the press opens", "core_at_opening_temperature", MEASURED),
            Wanted("spread when the press opens", "temperature_spread"),
            Wanted("cure differs by", "degree_spread"),
            Wanted("faces gel after", "(upper|lower)_face_gel_time"),
            Wanted("core gels after", "core_gel_time"),
            Wanted("cure at the very end", "final_cure_degree"),
            Wanted("mass of the charge, with flash", "charge_mass", MEASURED),
            Wanted("clamp force", "clamp_force"),
            Wanted("of what the press is rated for", "clamp_share"),
        ),
        ("faces of the mould, touch probe", "hardness or boiling test"),
    )  # fmt: skip


def _dip() -> Listing:
    """A former dipped into paste, gelled and fused."""
    return Listing(
        "dipping and fusing",
        (("stations", "*", "duration|temperature|withdrawal|immersion|speed|turning|oven"),
         ("ovens", "*", "temperature|count"), ("paste", "temperature")),
        (("paste", "material"), ("former", "layers", "*", "material|thickness|mass"), ("former", "start|inner_radius|length"),
         ("former", "fabric", "material|thickness")),
        (
            Wanted("former as it goes in", "former_at_dip(?:_(\\d+))?", MEASURED),
            Wanted("former as it comes out", "former_after_dip(?:_(\\d+))?"),
            Wanted("gelled in the dwell", "gelled(?:_(\\d+))?"),
            Wanted("liquid that clings after draining", "clinging(?:_(\\d+))?"),
            Wanted("wall, middle", "wall", MEASURED),
            Wanted("wall", "wall_(top|bottom)", MEASURED),
            Wanted("wall on the ball", "cap_wall", MEASURED),
            Wanted("coat on one former", "article_mass", MEASURED),
            Wanted("lowest degree of fusion", "fusion_degree"),
            Wanted("coat on the former, hottest", "interface"),
            Wanted("above 175 °C there for", "interface_hot_time"),
            Wanted("skin, hottest", "skin", MEASURED),
            Wanted("heat life used", "heat_dose"),
            Wanted("coat on the former at stripping", "strip_temperature", MEASURED),
            Wanted("former at stripping", "former_at_strip"),
            Wanted("bath at the end of the shift", "bath", MEASURED),
            Wanted("no thicker than, however long the dwell", "gel_limit(?:_(\\d+))?"),
        ),
        ("racks in the oven", "solvent test of the fused coat"),
    )  # fmt: skip


def _mill() -> Listing:
    """A band milled between rolls."""
    return Listing(
        "milling",
        (("rolls", "front|back|speed|friction"), ("rolls", "front|back", "*"), ("stations", "*", "duration|folds")),
        (("band", "material|thickness|start|width"), ("rolls", "diameter")),
        (
            Wanted("sheet off after", "sheet_off_time"),
            Wanted("mean of the band then", "mean_temperature", MEASURED),
            Wanted("open face", "open_face", MEASURED),
            Wanted("face on the front roll", "roll_face"),
            Wanted("hottest place at any time", "hottest"),
            Wanted("lowest degree of gelation", "gel_degree"),
            Wanted("lowest degree of fusion", "fusion_degree"),
            Wanted("heat life used", "heat_dose"),
            Wanted("heat life left", "heat_life_left"),
            Wanted("would still stand", "heat_life_left_time"),
            Wanted("friction heat", "friction_power"),
            Wanted("mass of the band", "band_mass", MEASURED),
            Wanted("one turn of the front roll", "turn", MEASURED),
        ),
        ("roll gap",),
    )


def _cylinder() -> Listing:
    """A heating cylinder."""
    return Listing(
        "heating cylinder",
        (("zones", "*", "temperature"), ("shot", "cycle|mass"), ("regrind", "share")),
        (("shot", "material|density|start|pressure_loss"), ("machine", "bore|spreader"), ("regrind", "oldest")),
        (
            Wanted("mean of the melt that leaves", "melt_mean", MEASURED),
            Wanted("coldest place of it", "melt_coldest"),
            Wanted("spread of it", "melt_spread"),
            Wanted("hottest place at any time", "hottest"),
            Wanted("from hopper to nozzle", "time_in_cylinder"),
            Wanted("shots that the cylinder holds", "shots_in_cylinder"),
            Wanted("material in the cylinder", "content"),
            Wanted("moulded", "throughput", MEASURED),
            Wanted("heat that the barrel gives", "heat_power"),
            Wanted("heat life used in a pass, worst place", "heat_dose_once"),
            Wanted("used by the oldest regrind", "heat_dose_oldest"),
            Wanted("share of the mix overheated", "share_overheated"),
            Wanted("used by what hangs back", "hold_up_dose"),
        ),
        ("purged melt, needle probe, moved about",),
    )


def _mould() -> Listing:
    """A mould with channels."""
    return Listing(
        "mould with channels",
        (
            ("cycle", "fill|hold|cooling|open"),
            ("circuits", "*", "temperature|flow|coolant|connected"),
            ("part", "melt"),
        ),
        (("part", "material|thickness|length|width"), ("mould", "cavity|core", "material")),
        (
            Wanted("fill, hold, cooling and open", "cycle_time", MEASURED),
            Wanted("hold", "hold_time"),
            Wanted("gate freezes after", "gate_freeze", MEASURED),
            Wanted("parts of one cavity", "parts_per_hour"),
            Wanted("hottest of the part at ejection", "hottest_at_ejection"),
            Wanted("mean of the part at ejection", "mean_at_ejection", MEASURED),
            Wanted("faces of the part differ by", "face_difference"),
            Wanted("bow, at most", "bow", MEASURED),
            Wanted("mould face at ejection", "(cavity|core)_face_at_ejection", MEASURED),
            Wanted("swing of the face in a shot", "(cavity|core)_face_swing"),
            Wanted("hottest place over the mean", "(cavity|core)_face_hot_spot"),
            Wanted("shots until settled", "shots_to_settle"),
            Wanted("heat to the coolant", "heat_to_coolant"),
            Wanted("dew point of the shop's air", "dew_point"),
        ),
        ("part weighed against the hold",),
        (("Cycle", "hold", "hold_time"),),
    )


def _line() -> Listing:
    """A continuous line."""
    return Listing(
        "continuous line",
        (("line", "speed|tension|start"),
         ("stations", "*", "length|temperature|setting|gauge|gap|water|wrap|flow|ratio|draw|shutter|state|pressed"),
         ("stations", "*", "opening", "gap|bore|pin"), ("stations", "*", "zones", "*", "power|setting")),
        (("line", "product|width|diameter"), ("line", "layers", "*", "material|thickness|mass"),
         ("line", "conductor", "material|diameter|start"), ("stations", "*", "layers", "*", "material|thickness|mass|start")),
        (
            Wanted("line speed", "speed", MEASURED),
            Wanted("speed behind the last draw", "speed_behind"),
            Wanted("made", "throughput", MEASURED),
            Wanted("from beginning to end", "time"),
            Wanted("over a length of", "length"),
            Wanted("hottest place", "hottest"),
            Wanted("skin freezes after", "skin_freezes"),
            Wanted("skin freezes at", "skin_freezes_at"),
            Wanted("mean of the wall then", "mean_when_skin_freezes"),
            Wanted("inside freezes after", "bore_freezes"),
            Wanted("inside freezes at", "bore_freezes_at"),
            Wanted("face of the roll", "(.+)_roll_face", MEASURED),
            Wanted("swing of the roll's face in a turn", "(.+)_swing"),
            Wanted("change of its oil or water", "(.+)_flow"),
            Wanted("gap", "(.+)_gap", MEASURED),
            Wanted("force that parts the bowls", "(.+)_force"),
            Wanted("friction", "(.+)_friction"),
            Wanted("face or skin at its end", "(.+)_face", MEASURED, told=False),
            Wanted("frozen shell at its end", "(.+)_shell"),
            Wanted("rise of its water", "(.+)_rise", MEASURED),
            Wanted("lowest degree of gelation", "gel_degree"),
            Wanted("lowest degree of fusion", "fusion_degree"),
            Wanted("held hot for", "held_time"),
            Wanted("heat life used", "heat_dose"),
        ),
        ("stop tested: shutter, retraction, interlock",),
    )  # fmt: skip


def _section() -> Listing:
    """A section through a tool or a part."""
    return Listing(
        "section",
        (("stations", "*", "duration"), ("stations", "*", "faces", "*", "temperature|heating"),
         ("stations", "*", "faces", "*", "convection|contact", "*")),
        (("section", "regions", "*", "material|start|heat"), ("section", "start")),
        (
            Wanted("hottest place at any time", "hottest_temperature"),
            Wanted("hottest place at the end", "hottest_final_temperature"),
            Wanted("coldest place at the end", "coldest_temperature"),
            Wanted("mean at the end", "mean_temperature"),
            Wanted("spread at the end", "final_spread"),
            Wanted("temperature", "(.+_(?:hottest|coldest|mean|hottest_final))_temperature"),
            Wanted("temperature", "(.+)_temperature", MEASURED),
        ),
    )  # fmt: skip


def _body() -> Listing:
    """A layered body that passes through stations."""
    return Listing(
        "layered body",
        (("stations", "*", "duration"), ("stations", "*", "inner|outer", "temperature|heating"),
         ("stations", "*", "inner|outer", "convection|contact|radiation", "air|coefficient|temperature|surround")),
        (("body", "layers", "*", "material|thickness|start"), ("body", "start")),
        (
            Wanted("inner face at the end", "inner_face_temperature", MEASURED),
            Wanted("outer face at the end", "outer_face_temperature", MEASURED),
            Wanted("mean at the end", "mean_temperature"),
            Wanted("hottest place at any time", "hottest_temperature"),
            Wanted("after", "hottest_time"),
            Wanted("hottest place at the end", "hottest_final_temperature"),
            Wanted("coldest place at the end", "coldest_temperature"),
            Wanted("spread at the end", "final_spread"),
            Wanted("lowest degree of cure", "cure_degree"),
            Wanted("lowest degree of gelation", "gel_degree"),
            Wanted("lowest degree of fusion", "fusion_degree"),
            Wanted("heat life used", "heat_dose"),
            Wanted("temperature at the end", "(.+)_temperature", MEASURED),
        ),
    )  # fmt: skip
