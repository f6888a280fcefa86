"""The sheet itself: what it is made of, how it takes in radiation, its frame, its sagging, its heat history."""

# ruff: noqa: RUF009 (``key`` makes a dataclass field)

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from thermokit.case.common import DURATION
from thermokit.case.declare import Section, key, known
from thermokit.case.panels import SIDE
from thermokit.case.structure import ListOf, Sub
from thermokit.case.stuff import TEMPERATURE
from thermokit.case.values import Choice, Flag, LibraryName, Number, Quantity, Whole, share
from thermokit.units import format_

if TYPE_CHECKING:
    from thermokit.case.mistakes import At
    from thermokit.conduction.problem import Number as Numeric

MOST_SPOTS = 200  # along either side of the map
_WAVELENGTH = Quantity("length", above=0.0, high=1e-2, example="1.6 um")
_LENGTH = Quantity("length", above=0.0, high=100.0, example="400 mm")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class BandEntry(Section):
    """Absorption in one band of wavelengths, or (without from and to) in all of them."""

    meaning = "absorption in a band of wavelengths"

    low: Numeric | None = key(
        _WAVELENGTH,
        "Shortest wavelength of the band.",
        word="from",
        default=None,
        default_words="grey: all wavelengths",
    )
    high: Numeric | None = key(
        _WAVELENGTH, "Longest wavelength of the band.", word="to", default=None, default_words="grey: all wavelengths"
    )
    coefficient: Numeric = key(
        Quantity("absorption", low=0.0, high=1e9, example="35 1/m"),
        "Absorption coefficient: radiation falls by 1/e over its reciprocal.",
    )
    reflectance: Numeric = key(share(high=0.95), "Reflectance of one face.")

    def check(self, at: At, given: frozenset[str]) -> None:
        """A band has two ends in order."""
        for one, other, word in (("low", "high", "to"), ("high", "low", "from")):
            if one in given and other not in given:
                (at / word).mistake("missing: the band has one end only", "from and to, or neither for grey")
        if known(self.low, self.high) and self.low is not None and self.high is not None and self.low >= self.high:
            (at / "to").mistake("does not lie above the beginning of the band", "from below to")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class FrameEntry(Section):
    """The clamp frame all round, which cools the edge of the sheet."""

    meaning = "the clamp frame all round, which cools the edge"

    temperature: Numeric = key(TEMPERATURE, "Temperature of the frame.")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class SagEntry(Section):
    """Sagging: the sag number is the integral of exp[rate (T - softening)] dt, times span^2/thickness [m s]."""

    meaning = "sagging of the hot sheet: integral of exp[rate (T - softening)] dt x span^2/thickness, in m s"

    softening: Numeric = key(TEMPERATURE, "Temperature from which the sheet softens.")
    rate: Numeric = key(
        Quantity("inverse_temperature", above=0.0, high=10.0, example="0.05 1/K"),
        "How fast it softens: the creep rate grows by e for 1/rate.",
    )
    span: Numeric | None = key(_LENGTH, "Free span of the sheet.", default=None, default_words="the shorter side")
    known_good: Numeric | None = key(
        Number(above=0.0, high=1e12), "Sag number, in m s, of a run known to be good: gives the sag index.", default=None,
        default_words="none: no sag index",
    )  # fmt: skip
    known_good_sag: Numeric | None = key(
        _LENGTH, "Sag measured in that run: gives the sag, and the clearance to the lower panel.", default=None,
        default_words="not measured",
    )  # fmt: skip

    def check(self, at: At, given: frozenset[str]) -> None:
        """A measured sag belongs to a run."""
        if "known_good_sag" in given and "known_good" not in given:
            (at / "known_good").mistake("missing: known_good_sag was measured in that run", "the sag number of the run")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class DoseEntry(Section):
    """Heat history of the hottest place: D = integral exp[-E/R (1/T - 1/Tref)] dt / time."""

    meaning = "heat history of the hottest place: integral of exp[-energy/R (1/T - 1/reference)] dt / time"

    energy: Numeric = key(
        Quantity("molar_energy", above=0.0, high=1e7, example="120 kJ/mol"), "Activation energy of the damage."
    )
    reference: Numeric = key(
        Quantity("temperature", above=0.0, high=20_273.15, example="200 degC"), "Temperature at which time is borne."
    )
    time: Numeric = key(DURATION, "Time that is borne at the reference temperature: dose 1.")


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class SheetSection(Section):
    """The sheet."""

    meaning = "the sheet"

    material: str = key(LibraryName("materials"), "What it is made of.")
    thickness: Numeric = key(Quantity("length", above=0.0, high=1.0, example="4 mm"), "Its thickness.")
    start: Numeric = key(
        TEMPERATURE,
        "Temperature of the stock.",
        default=None,
        default_words="must be given, unless start_from gives it",
    )
    length: Numeric | None = key(
        SIDE, "Length of the blank, for heat and mass of a part and for the map.", default=None,
        default_words="heat per m2 only, no map",
    )  # fmt: skip
    width: Numeric | None = key(SIDE, "Width of the blank.", default=None, default_words="heat per m2 only, no map")
    emissivity: Numeric | None = key(
        share(above=0.0), "Emissivity of the sheet's faces.", default=None, default_words="the material's"
    )
    absorption: str = key(
        Choice(("at_face", "in_depth")),
        "Where radiation is taken in: at the face (opaque, pigmented) or in the depth, by wavelength (clear, lightly tinted).",
        default="at_face",
    )
    path: Numeric = key(
        Number(low=1.0, high=2.0), "Mean length of a ray in the sheet over its depth; in_depth only.", default=1.0
    )
    spots: tuple[int, int] | None = key(
        ListOf(Whole(1, MOST_SPOTS), least=2, most=2), "Spots of the map, along the length and along the width.",
        default=None, default_words="[15, 10] where a panel has size and gap and the sheet length and width, else no map",
        physical=False,
    )  # fmt: skip
    dried: bool | None = key(
        Flag(), "Whether the sheet was dried before.", default=None, default_words="not known", physical=False
    )
    bands: tuple[BandEntry, ...] = key(
        ListOf(Sub(BandEntry), most=200), "Its absorption by bands of wavelength; one without from and to is grey.",
        default=(), default_words="the material's",
    )  # fmt: skip
    frame: FrameEntry | None = key(Sub(FrameEntry), "The clamp frame.", default=None, default_words="no cooled edge")
    sag: SagEntry | None = key(Sub(SagEntry), "Sagging.", default=None, default_words="not followed")
    dose: DoseEntry | None = key(Sub(DoseEntry), "Heat history.", default=None, default_words="not followed")

    def unwritten(self) -> frozenset[str]:
        """An opaque sheet has no rays in it."""
        return frozenset({"path"}) if self.absorption == "at_face" else frozenset()

    def check(self, at: At, given: frozenset[str]) -> None:
        """Length and width go together, and what needs them; bands and path belong to absorption in depth."""
        if "start" not in given and not at.report.starts_from:
            (at / "start").mistake("missing", TEMPERATURE.words())
        sides = {"length", "width"} & given
        if len(sides) == 1:
            missing = "width" if "length" in given else "length"
            (at / missing).mistake("missing: only one side of the blank is given", "both length and width, or neither")
        elif not sides:
            for word in ("spots", "frame"):
                if word in given:
                    (at / word).mistake(
                        "the size of the sheet is missing", f"{word} with length and width of the sheet"
                    )
            if self.sag is not None and known(self.sag) and self.sag.span is None:
                (at / "sag" / "span").mistake(
                    "missing: neither the span nor length and width of the sheet are given", _LENGTH.words()
                )
        if self.absorption == "at_face":
            for word in ("bands", "path"):
                if word in given:
                    (at / word).mistake("nothing is absorbed in the depth", f'{word} with absorption = "in_depth"')
        if known(self.bands) and known(*self.bands):
            self._check_bands(at / "bands")

    def _check_bands(self, at: At) -> None:
        """A grey band stands alone; others do not overlap."""
        ends: list[tuple[Any, Any, int]] = [(band.low, band.high, i) for i, band in enumerate(self.bands)]
        for low, high, i in ends:
            if low is None and high is None and len(ends) > 1:
                (at / i).mistake("a grey band stands together with others", "one grey band, or bands with from and to")
        whole: list[tuple[Any, Any, int]] = sorted(end for end in ends if known(*end[:2]) and None not in end[:2])
        for (_, before, first), (low, _, i) in pairwise(whole):
            if low < before * (1.0 - 1e-9):
                (at / i / "from").mistake(
                    f"{format_(low, 'length', 'um', 6)} lies within entry {first}, which goes up to "
                    f"{format_(before, 'length', 'um', 6)}",
                    "bands that do not overlap",
                )
