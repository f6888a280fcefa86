"""The small figures of a sheet as SVG that can stand inside a page: ids of their own, nothing fetched from anywhere."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from thermokit.figures.style import drawn, house_style

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from thermokit.sheets.page import Picture

WIDE, HIGH = 3.6, 2.15  # inches: half a page, as wide as a phone
#: axes in that figure, as shares: with names at the right, and without
BOX, WIDE_BOX = (0.125, 0.165, 0.565, 0.785), (0.125, 0.165, 0.82, 0.785)


def box_of(picture: Picture, share: float = 1.0) -> tuple[float, float, float, float]:
    """Where the axes of a picture stand in its figure: left, bottom, width, height as shares.

    share : of the full height that the figure has; the room for the numbers below the axes stays as it is.
    """
    left, bottom, width, height = WIDE_BOX if picture.wide else BOX
    return left, bottom / share, width, bottom + height - bottom / share


def svg(picture: Picture, prefix: str, share: float = 1.0) -> str:
    """A picture as an ``<svg>`` element without namespaces, styles of the whole page, or ids that another may have.

    share : of its height, where a page is crowded.
    """
    from matplotlib.figure import Figure

    with house_style():
        figure = Figure(figsize=(WIDE, share * HIGH))
        axes: Axes = figure.add_axes(box_of(picture, share))
        picture.draw(axes)
        text = drawn(figure, "svg").decode()
    return _inline(text, prefix)


def _inline(text: str, prefix: str) -> str:
    """The element alone, its ids and what points at them with a prefix, its size left to the page.

    >>> _inline('<?xml version="1.0"?><svg width="9pt" height="9pt" xmlns="http://a"><g id="a"/><use href="#a"/></svg>', "p1-")
    '<svg><g id="p1-a"/><use href="#p1-a"/></svg>'
    """
    text = text[text.index("<svg") :]
    text = re.sub(r"<metadata>.*?</metadata>", "", text, flags=re.DOTALL)
    text = re.sub(r"<style[^>]*>.*?</style>", "", text, flags=re.DOTALL)
    text = re.sub(r'\s(?:xmlns(?::\w+)?|version)="[^"]*"', "", text)
    text = re.sub(r"<!--.*?-->", "", text, flags=re.DOTALL)
    head, end, rest = text.partition(">")
    head = re.sub(r'\s(?:width|height)="[^"]*"', "", head)
    text = head + end + rest
    text = re.sub(r'\bid="', f'id="{prefix}', text)
    text = re.sub(r'href="#', f'href="#{prefix}', text)
    return text.replace("url(#", f"url(#{prefix}").strip()
