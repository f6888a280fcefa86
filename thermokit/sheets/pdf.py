"""A setting sheet as one page of PDF, laid out in columns; whatever there is to say, the letters are made as small as it takes.

Lengths are points (1/72 inch), from the upper left corner of the page.
"""

from __future__ import annotations

import io
import warnings
from typing import TYPE_CHECKING, Any

from thermokit.figures.style import house_style
from thermokit.sheets.canvas import GAP, MARGIN, Canvas, Measure
from thermokit.sheets.drawing import HIGH, WIDE, box_of

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from matplotlib.figure import Figure

    from thermokit.sheets.page import Block, Entry, Grid, Picture, Sheet

PAPERS = {"a4": (595.3, 841.9), "letter": (612.0, 792.0)}
#: (size of letters, share of their height that pictures get) in the order in which they are tried: the first that fits is taken
TRIED = tuple(
    [(8.0 - 0.2 * i, 1.0) for i in range(6)]
    + [(7.0 - 0.2 * i, 0.85) for i in range(4)]
    + [(6.6 - 0.2 * i, 0.72) for i in range(10)]
)


def composed(sheet: Sheet, paper: str) -> Canvas:
    """The sheet on one page, in letters as large as that allows; pictures grow less tall before letters are tiny."""
    wide, high = PAPERS[paper]
    measure = Measure()
    canvas = Canvas(measure, TRIED[0][0], wide - 2 * MARGIN)
    for size, share in TRIED:
        canvas = Canvas(measure, size, wide - 2 * MARGIN, share)
        _compose(canvas, sheet)
        if canvas.y <= high - MARGIN:
            break
    return canvas


def document(sheet: Sheet, paper: str = "a4") -> bytes:
    """The sheet as a PDF of one page; paper : ``a4`` or ``letter``."""
    from matplotlib.figure import Figure

    wide, high = PAPERS[paper]
    canvas = composed(sheet, paper)
    high = max(high, canvas.y + MARGIN)  # a page that is too long to be legible on this paper grows: nothing is cut off
    content = io.BytesIO()
    with house_style(), warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph")
        import matplotlib

        matplotlib.rcParams["pdf.fonttype"] = 42  # letters stay letters
        figure = Figure(figsize=(wide / 72, high / 72))
        _draw(figure, canvas, wide, high)
        info = {"Title": f"Setting sheet: {sheet.title}", "Creator": f"thermokit {sheet.version}", "CreationDate": None}
        figure.savefig(content, format="pdf", metadata=info)
    return content.getvalue()


def _compose(canvas: Canvas, sheet: Sheet) -> None:
    """Everything on the sheet, from the top downwards."""
    x, wide = MARGIN, canvas.wide
    canvas.put(x, wide, f"Setting sheet: {sheet.title}", size=1.5 * canvas.size, bold=True)
    canvas.put(x, wide, sheet.kind, soft=True)
    _job(canvas, sheet.job, x, wide)
    if sheet.stop:
        top = canvas.y
        canvas.y += 2.0
        canvas.put(x + 5, wide - 10, "DO NOT RUN WITH THESE SETTINGS", size=1.3 * canvas.size, bold=True)
        for text in sheet.stop:
            canvas.put(x + 5, wide - 10, text, bold=True)
        canvas.box(x, top, wide, 2.0)
    _settings(canvas, sheet, x, wide)
    half: list[Callable[[float, float], None]] = [
        lambda x, wide: _left(canvas, sheet, x, wide),
        lambda x, wide: _right(canvas, sheet, x, wide),
    ]
    canvas.columns(half, x, wide)
    for grid in sheet.grids:
        _grid(canvas, grid, x, wide)
    _pictures(canvas, sheet.pictures, x, wide)
    _list(canvas, "Warnings of the run", sheet.warnings, x, wide)
    _list(canvas, "Remarks", sheet.remarks, x, wide)
    _checks(canvas, sheet.checks, x, wide)
    _care(canvas, sheet, x, wide)
    canvas.y += 2.2 * canvas.size
    third: list[Callable[[float, float], None]] = []
    for words in ("set by, date", "released by, date", "first-off accepted by, date"):

        def sign(x: float, wide: float, words: str = words) -> None:
            canvas.rule(x, wide)
            canvas.put(x, wide, words)

        third.append(sign)
    canvas.columns(third, x, wide)
    told = f"{sheet.model}. thermokit {sheet.version}; SHA-256 of the case file {sheet.sha256}"
    canvas.put(x, wide, told, size=0.82 * canvas.size, soft=True)


def _job(canvas: Canvas, entries: Sequence[Entry], x: float, wide: float) -> None:
    """Whose job it is, in rows of four, blank where the case does not say."""
    top = canvas.y
    canvas.y += 1.0
    each = (wide - 8) / 4
    for i in range(0, len(entries), 4):
        start, low = canvas.y, canvas.y
        for j, entry in enumerate(entries[i : i + 4]):
            canvas.y = start
            label = canvas.measure.width(f"{entry.label} ", canvas.size)
            canvas.put(x + 4 + j * each, each - 4, entry.label, soft=True)
            canvas.y = start
            canvas.put(x + 4 + j * each + label, each - 6 - label, entry.value, bold=True)
            low = max(low, canvas.y)
        canvas.y = low
    canvas.box(x, top, wide, 0.6)


def _settings(canvas: Canvas, sheet: Sheet, x: float, wide: float) -> None:
    """The box of settings: what was found, all that is set in bold, the window, the margin."""
    top = canvas.y
    x, wide = x + 5, wide - 10
    canvas.y += 2.0
    if sheet.main is not None:
        canvas.put(x, wide, f"{sheet.main.label}: {sheet.main.value}", size=1.8 * canvas.size, bold=True)
    if sheet.settings:
        lots = _balanced(sheet.settings, 3 if len(sheet.settings) > 2 else 2)
        canvas.columns([_blocks(canvas, lot) for lot in lots], x, wide)
    if sheet.window:
        canvas.rule(x, wide)
        edges = "; ".join(f"{e.label} {e.value}" + (f" ({e.note})" if e.note else "") for e in sheet.window)
        canvas.put(x, wide, f"Window: {edges}.", bold=True)
    for text in sheet.margin:
        canvas.put(x, wide, text)
    canvas.box(x - 5, top, wide + 10, 2.0)


def _balanced(blocks: Sequence[Block], most: int) -> list[list[Block]]:
    """Blocks in columns of about one length, in their order."""
    whole = sum(len(b.entries) + 1 for b in blocks)
    lots: list[list[Block]] = [[]]
    run = 0
    for block in blocks:
        if lots[-1] and len(lots) < most and run + (len(block.entries) + 1) / 2 > whole * len(lots) / most:
            lots.append([])
        lots[-1].append(block)
        run += len(block.entries) + 1
    return lots + [[] for _ in range(most - len(lots))]


def _blocks(canvas: Canvas, blocks: Sequence[Block]) -> Callable[[float, float], None]:
    def part(x: float, wide: float) -> None:
        for block in blocks:
            canvas.put(x, wide, block.head, bold=True)
            for entry in block.entries:
                canvas.cells(x + 4, (0.5 * wide, 0.5 * wide), (entry.label, entry.value), (False, True))

    return part


def _left(canvas: Canvas, sheet: Sheet, x: float, wide: float) -> None:
    for grid in (sheet.limits, sheet.causes):
        if grid is not None:
            _grid(canvas, grid, x, wide)
    if not sheet.inputs_right:
        _inputs(canvas, sheet, x, wide)


def _right(canvas: Canvas, sheet: Sheet, x: float, wide: float) -> None:
    if sheet.expected:
        canvas.head(x, wide, "What the run foretells")
        for entry in sheet.expected:
            canvas.cells(x, (0.62 * wide, 0.38 * wide), (entry.label, entry.value), (False, False))
    _list(canvas, "Start-up", sheet.start_up, x, wide)
    if sheet.inputs_right:
        _inputs(canvas, sheet, x, wide)


def _inputs(canvas: Canvas, sheet: Sheet, x: float, wide: float) -> None:
    """What the answer rests on, each with where it comes from."""
    if sheet.inputs:
        canvas.head(x, wide, "What it rests on")
        for entry in sheet.inputs:
            canvas.cells(
                x, (0.42 * wide, 0.36 * wide, 0.22 * wide), (entry.label, entry.value, entry.note), (False,) * 3
            )


def _grid(canvas: Canvas, grid: Grid, x: float, wide: float) -> None:
    """A table, its columns as wide as what stands in them wants."""
    canvas.head(x, wide, grid.head)
    columns = list(zip(grid.columns, *grid.rows, strict=True))
    wanted = [max(canvas.measure.width(text, canvas.size, True) for text in column) + 6.0 for column in columns]
    words = [max(canvas.measure.width(w, canvas.size) for text in c for w in text.split(" ")) + 6.0 for c in columns]
    widths = _shared(wanted, words, wide)
    canvas.cells(x, widths, grid.columns, (True,) * len(widths))
    for row in grid.rows:
        canvas.cells(x, widths, row, tuple(cell == "NOT MET" for cell in row))


def _shared(wanted: Sequence[float], least: Sequence[float], wide: float) -> list[float]:
    """Widths of columns: what they want, or those that want most cut alike, but not below their longest word, until all fit."""
    if sum(wanted) <= wide:
        return list(wanted)
    floors = [word * min(wide / sum(least), 1.0) for word in least]
    low, high = 0.0, max(wanted)
    for _ in range(40):
        cap = (low + high) / 2
        fits = sum(max(min(w, cap), f) for w, f in zip(wanted, floors, strict=True)) <= wide
        low, high = (cap, high) if fits else (low, cap)
    return [max(min(w, low), f) for w, f in zip(wanted, floors, strict=True)]


def _list(canvas: Canvas, head: str, texts: Sequence[str], x: float, wide: float) -> None:
    if not texts:
        return
    canvas.head(x, wide, head)
    _items(canvas, texts, x, wide)


def _items(canvas: Canvas, texts: Sequence[str], x: float, wide: float) -> None:
    for text in texts:
        canvas.texts.append((x, canvas.y + canvas.size, "•", canvas.size, False, "0.0"))
        canvas.put(x + 7, wide - 7, text)


def _pictures(canvas: Canvas, pictures: Sequence[Picture], x: float, wide: float) -> None:
    """Pictures side by side, as large as half the page is wide."""
    if not pictures:
        return
    each = (wide - GAP) / 2
    canvas.y += 4.0

    def part(picture: Picture) -> Callable[[float, float], None]:
        def draw(x: float, wide: float) -> None:
            canvas.pictures.append((x, canvas.y, each, picture))
            canvas.y += each * HIGH / WIDE * canvas.share
            canvas.put(x, wide, picture.caption, size=0.9 * canvas.size, soft=True)

        return draw

    canvas.columns([part(picture) for picture in pictures], x, wide if len(pictures) > 1 else each)


def _checks(canvas: Canvas, entries: Sequence[Entry], x: float, wide: float) -> None:
    """Blank boxes, in two columns."""
    if not entries:
        return
    canvas.head(x, wide, "First-off checks: write what was measured")
    half = -(-len(entries) // 2)

    def part(lot: Sequence[Entry]) -> Callable[[float, float], None]:
        def draw(x: float, wide: float) -> None:
            for entry in lot:
                top = canvas.y
                expected = entry.value + (f" ({entry.note})" if entry.note else "")
                canvas.cells(x, (0.42 * wide, 0.36 * wide), (entry.label, expected), (False, False))
                canvas.y = max(canvas.y, top + 1.35 * canvas.step)
                left = x + 0.79 * wide
                for line in ((left, top + 1, x + wide, top + 1), (left, canvas.y, x + wide, canvas.y),
                             (left, top + 1, left, canvas.y), (x + wide, top + 1, x + wide, canvas.y)):  # fmt: skip
                    canvas.lines.append((*line, 0.6))
                canvas.y += 1.0

        return draw

    canvas.columns([part(entries[:half]), part(entries[half:])], x, wide)


def _care(canvas: Canvas, sheet: Sheet, x: float, wide: float) -> None:
    """Cautions in two columns of about one length, and the text that defers to local codes."""
    canvas.head(x, wide, "Cautions")
    letters, half = 0, sum(map(len, sheet.cautions)) / 2
    cut = 0
    for text in sheet.cautions:
        if letters >= half:
            break
        letters += len(text)
        cut += 1
    parts: list[Callable[[float, float], None]] = [
        lambda x, wide: _items(canvas, sheet.cautions[:cut], x, wide),
        lambda x, wide: _items(canvas, sheet.cautions[cut:], x, wide),
    ]
    canvas.columns(parts, x, wide)
    canvas.put(x, wide, sheet.deference, bold=True)


def _draw(figure: Figure, canvas: Canvas, wide: float, high: float) -> None:
    """What was gathered, on the page."""
    from matplotlib.lines import Line2D

    for x, y, text, size, bold, grey in canvas.texts:
        if text:
            figure.text(x / wide, 1 - y / high, text, fontsize=size, weight="bold" if bold else "normal", color=grey)
    for x1, y1, x2, y2, thick in canvas.lines:
        figure.add_artist(
            Line2D([x1 / wide, x2 / wide], [1 - y1 / high, 1 - y2 / high], color="black", linewidth=thick)
        )
    for x, y, across, picture in canvas.pictures:
        tall = across * HIGH / WIDE * canvas.share
        left, bottom, width, height = box_of(picture, canvas.share)
        place: Any = (
            (x + left * across) / wide, 1 - (y + tall - bottom * tall) / high, width * across / wide, height * tall / high
        )  # fmt: skip
        picture.draw(figure.add_axes(place))
