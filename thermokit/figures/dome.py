"""A blown dome: its profile in true proportion, and the thickness left from ring to pole."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.figures.style import LABEL_POINTS, colours, curve_look, house_style
from thermokit.figures.words import spoken

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from thermokit.shaping.dome import Dome


def draw_dome(dome: Dome, title: str = "Blown dome") -> Figure:
    """Draw a dome: left its profile with the spherical cap of the same height, right its thickness from ring to pole.

    The thickness is drawn over the way along the surface, counted from the ring, in millimetres; broken: the mean.
    """
    from matplotlib.figure import Figure

    with house_style():
        figure = Figure(figsize=(10.0, 4.6))
        left, right = figure.subplots(1, 2, width_ratios=(1.15, 1.0))
        figure.subplots_adjust(left=0.085, right=0.975, top=0.80, bottom=0.13, wspace=0.2)
        figure.text(0.085, 0.975, spoken(title), va="top", fontsize=11.5, weight="bold")
        figure.text(0.085, 0.915, _words(dome), va="top", fontsize=LABEL_POINTS, color="0.25", linespacing=1.3)
        _profile(left, dome)
        _thickness(right, dome)
    return figure


def _words(dome: Dome) -> str:
    """What stands above the panels."""
    if dome.limit is None:
        end = "pressure rises with height: it has no limit point"
    else:
        end = f"bursts at {dome.limit_pressure / 1e3:.3g} kPa, reached {1e3 * dome.limit_height:.3g} mm high"
    stays = "" if dome.stable else "; PAST ITS LIMIT POINT: only a stop or a shut valve holds it"
    return (
        f"ring {2e3 * dome.ring_radius:.4g} mm across, blank {1e3 * dome.blank_thickness:.3g} mm, "
        f"height {1e3 * dome.height:.4g} mm, held by {dome.pressure / 1e3:.3g} kPa\n{end}{stays}"
    )


def _profile(axes: Axes, dome: Dome) -> None:
    """The meridian on both sides of the axis, the ring, and the cap of the same height."""
    dark, light = colours(2)
    r, z = 1e3 * dome.r, 1e3 * dome.z
    axes.plot(np.concatenate([-r[::-1], r]), np.concatenate([z[::-1], z]), color=dark, linewidth=2.2)
    a, h = 1e3 * dome.ring_radius, 1e3 * dome.height
    sphere = (a**2 + h**2) / (2.0 * h)
    turn = 2.0 * np.arctan2(h, a)
    angle = np.linspace(-turn, turn, 161)
    axes.plot(
        sphere * np.sin(angle), h - sphere + sphere * np.cos(angle), color=light, linestyle=(0, (6, 2)), linewidth=1.2
    )
    axes.plot([-a, a], [0, 0], "s", color="0.2", markersize=7)
    axes.set_aspect("equal", adjustable="datalim")
    axes.set_xlabel("distance from the axis [mm]")
    axes.set_ylabel("height over the ring [mm]")
    words: dict[str, Any] = {"fontsize": LABEL_POINTS, "ha": "center", "va": "center"}
    axes.text(0, 0.55 * h, "full: the sheet\nbroken: spherical cap\nsquares: ring", **words)


def _thickness(axes: Axes, dome: Dome) -> None:
    """Thickness over the way along the surface from the ring."""
    steps = np.hypot(np.diff(dome.r), np.diff(dome.z))
    from_pole = np.concatenate([[0.0], np.cumsum(steps)])
    way, thickness = 1e3 * (from_pole[-1] - from_pole)[::-1], 1e3 * dome.thickness[::-1]
    dark, light = colours(2)
    look = curve_look(0, dark) | {"markevery": max(len(way) // 8, 1)}
    axes.plot(way, thickness, **look)
    mean, blank = 1e3 * dome.mean_thickness, 1e3 * dome.blank_thickness
    axes.axhline(mean, color=light, linestyle=(0, (6, 2)), linewidth=1.2)
    axes.axhline(blank, color="0.4", linestyle=(0, (1, 2)), linewidth=1.2)
    axes.set_xlim(0, way[-1])
    axes.set_ylim(0, 1.12 * blank)
    beside: dict[str, Any] = {"fontsize": LABEL_POINTS, "va": "bottom"}
    axes.text(0.01 * way[-1], blank, f"blank {blank:.3g} mm", **beside)
    axes.text(0.99 * way[-1], mean, f"mean {mean:.3g} mm", ha="right", **beside)
    below = thickness[-1] > 0.2 * blank  # else there is no room
    axes.annotate(
        f"pole {thickness[-1]:.3g} mm ({100 * thickness[-1] / blank:.0f} %)",
        (way[-1], thickness[-1]),
        xytext=(-6, -8 if below else 6),
        textcoords="offset points",
        ha="right",
        va="top" if below else "bottom",
        fontsize=LABEL_POINTS,
    )
    axes.annotate(
        f"ring {thickness[0]:.3g} mm ({100 * thickness[0] / blank:.0f} %)",
        (0, thickness[0]),
        xytext=(8, 4),
        textcoords="offset points",
        fontsize=LABEL_POINTS,
    )
    axes.set_xlabel("way along the sheet from the ring [mm]")
    axes.set_ylabel("thickness [mm]")
