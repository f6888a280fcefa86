"""A setting sheet as one page of HTML that needs nothing else: no network, no script; for a phone, a screen and A4 or Letter."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

from thermokit.sheets.drawing import svg
from thermokit.sheets.pdf import composed

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from thermokit.sheets.page import Entry, Grid, Sheet

POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"
PAPERS = {"a4": "A4", "letter": "letter"}

INK, SOFT, PAPER, SHADE = "#000000", "#3a3a3a", "#ffffff", "#ededed"
SMALLER = 0.95  # letters in print beside those of the PDF: a browser's letters and lines are not known

_STYLE = """
*{box-sizing:border-box}
body{margin:0 auto;padding:12px;max-width:60rem;background:PAPER;color:INK;font:16px/1.3 Arial,Helvetica,sans-serif}
h1{font-size:1.35em;margin:0}h2{font-size:1em;margin:.7em 0 .15em;border-bottom:1px solid INK}
p{margin:.15em 0}ul{margin:.1em 0;padding-left:1.1em}li{margin:.05em 0}
table{border-collapse:collapse;width:100%}th,td{text-align:left;vertical-align:top;padding:.05em .5em .05em 0;font-weight:normal}
thead th{font-weight:bold;border-bottom:1px solid SOFT}tbody tr{border-bottom:1px solid SHADE}
.note{color:SOFT}.kind{color:SOFT;margin:0 0 .3em}.wide{overflow-x:auto}
.job{display:grid;grid-template-columns:repeat(auto-fill,minmax(9.5em,1fr));gap:0 .8em;border:1px solid INK;padding:.25em .5em}
.job div{border-bottom:1px dotted SOFT;min-height:1.45em;overflow-wrap:anywhere}.job span{color:SOFT;font-size:.85em}
.stop{border:4px double INK;padding:.3em .6em;margin:.5em 0;font-weight:bold}.stop b{font-size:1.25em}
.box{border:3px solid INK;padding:.3em .6em;margin-top:.5em}.box h2{border:0;margin:.1em 0 0}
.main{font-size:1.7em;font-weight:bold;margin:.05em 0}.edges{border-top:1px solid INK;margin-top:.2em}
.set td{font-weight:bold}.blocks{columns:15em auto;column-gap:1.2em}.blocks div{break-inside:avoid}
.figures{display:flex;flex-wrap:wrap;gap:0 1em}figure{margin:.4em 0 0;flex:1 1 20em;max-width:26em}
figure svg{width:100%;height:auto;display:block}
figcaption{font-size:.85em;color:SOFT}svg *{stroke-linejoin:round;stroke-linecap:butt}
.blank td:last-child{min-width:6em;border:1px solid INK}.care{font-size:.92em}.care ul{columns:18em auto;column-gap:1.4em}
.sign{display:grid;grid-template-columns:repeat(auto-fit,minmax(11em,1fr));gap:1em;margin-top:1em}
.sign div{border-top:1px solid INK;padding-top:.1em;margin-top:1.3em}
footer{font-size:.78em;color:SOFT;margin-top:.5em;overflow-wrap:anywhere}
.two{display:grid;grid-template-columns:minmax(0,1fr);gap:0 1.2em}.two>div{min-width:0}
@media (max-width:30rem){body{font-size:14px;padding:8px}}
@media (min-width:46rem){.two{grid-template-columns:1fr 1fr}}
@media print{@page{size:SIZE;margin:8mm 10mm}body{font-size:POINTSpt;line-height:1.18;padding:0;max-width:none}
.two{grid-template-columns:1fr 1fr}h2{margin:.45em 0 .1em}.figures{flex-wrap:nowrap}figure{flex:1 1 0;max-width:50%}
.job{grid-template-columns:repeat(6,1fr)}
.wide{overflow:visible}
.sign{grid-template-columns:repeat(3,1fr);margin-top:.6em}.sign div{margin-top:.9em}
.care ul{columns:2}section,table,figure{break-inside:avoid}}
"""


def page(sheet: Sheet, paper: str = "a4") -> str:
    """The sheet as a page; paper : ``a4`` or ``letter``. Whatever the case says stands as text."""
    style, laid = _STYLE, composed(sheet, paper)
    for name, value in (("PAPER", PAPER), ("INK", INK), ("SOFT", SOFT), ("SHADE", SHADE), ("SIZE", PAPERS[paper]),
                        ("POINTS", f"{SMALLER * laid.size:.1f}")):  # fmt: skip
        style = style.replace(name, value)
    title = escape(sheet.title)
    return (
        '<!DOCTYPE html>\n<html lang="en-GB">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>Setting sheet: {title}</title>\n<style>{style}</style>\n</head>\n"
        f"<body>\n{_body(sheet, laid.share)}\n</body>\n</html>\n"
    )


def _body(sheet: Sheet, share: float) -> str:
    parts = [
        f"<h1>Setting sheet: {escape(sheet.title)}</h1>",
        f'<p class="kind">{escape(sheet.kind)}</p>',
        _job(sheet.job),
    ]
    if sheet.stop:
        lines = "".join(f"<p>{escape(text)}</p>" for text in sheet.stop)
        parts.append(f'<section class="stop"><b>DO NOT RUN WITH THESE SETTINGS</b>{lines}</section>')
    parts.append(_settings(sheet))
    left = [_grid(sheet.limits), _grid(sheet.causes)]
    right = [_entries("What the run foretells", sheet.expected), _list("Start-up", sheet.start_up)]
    (right if sheet.inputs_right else left).append(_entries("What it rests on", sheet.inputs))
    parts.append(f'<div class="two"><div>{"".join(left)}</div><div>{"".join(right)}</div></div>')
    parts += [_grid(grid) for grid in sheet.grids]
    parts.append(_figures(sheet, share))
    parts += [_list("Warnings of the run", sheet.warnings), _list("Remarks", sheet.remarks)]
    parts.append(_checks(sheet.checks))
    care = "".join(f"<li>{escape(text)}</li>" for text in sheet.cautions)
    parts.append(
        f'<section class="care"><h2>Cautions</h2><ul>{care}</ul><p><b>{escape(sheet.deference)}</b></p></section>'
    )
    parts.append(
        '<div class="sign"><div>set by, date</div><div>released by, date</div><div>first-off accepted by, date</div></div>'
    )
    parts.append(
        f"<footer>{escape(sheet.model)}. thermokit {escape(sheet.version)}; "
        f"SHA-256 of the case file {escape(sheet.sha256)}</footer>"
    )
    return "\n".join(part for part in parts if part)


def _job(entries: Sequence[Entry]) -> str:
    cells = "".join(f"<div><span>{escape(e.label)}</span> {escape(e.value)}</div>" for e in entries)
    return f'<section class="job">{cells}</section>'


def _settings(sheet: Sheet) -> str:
    """The box of settings: what was found, its window, then all that is set."""
    parts = ["<h2>Settings</h2>"]
    if sheet.main is not None:
        parts.append(f'<p class="main">{escape(sheet.main.label)}: {escape(sheet.main.value)}</p>')
    blocks = "".join(f"<div><b>{escape(b.head)}</b>{_rows(b.entries, 'set')}</div>" for b in sheet.settings)
    parts.append(f'<div class="blocks">{blocks}</div>')
    if sheet.window:
        edges = "; ".join(
            f"{escape(e.label)} <b>{escape(e.value)}</b>" + (f" ({escape(e.note)})" if e.note else "")
            for e in sheet.window
        )
        parts.append(f'<p class="edges">Window: {edges}.</p>')
    parts += [f"<p>{escape(text)}</p>" for text in sheet.margin]
    return f'<section class="box">{"".join(parts)}</section>'


def _rows(entries: Iterable[Entry], kind: str = "") -> str:
    rows = "".join(
        f'<tr><th scope="row">{escape(e.label)}</th><td>{escape(e.value)}'
        + (f' <span class="note">{escape(e.note)}</span>' if e.note and kind == "" else "")
        + "</td></tr>"
        for e in entries
    )
    return f'<table class="{kind}"><tbody>{rows}</tbody></table>' if kind else f"<table><tbody>{rows}</tbody></table>"


def _entries(head: str, entries: Sequence[Entry]) -> str:
    """Lines under a heading; of what is foretold the label says enough, of inputs the note says where they come from."""
    if not entries:
        return ""
    return f"<section><h2>{escape(head)}</h2>{_rows(entries, 'plain' if head.startswith('What the run') else '')}</section>"


def _grid(grid: Grid | None) -> str:
    if grid is None:
        return ""
    head = "".join(f'<th scope="col">{escape(column)}</th>' for column in grid.columns)
    body = "".join("<tr>" + "".join(_cell(cell) for cell in row) + "</tr>" for row in grid.rows)
    table = f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"
    return f'<section><h2>{escape(grid.head)}</h2><div class="wide">{table}</div></section>'


def _cell(text: str) -> str:
    return f"<td><b>{escape(text)}</b></td>" if text == "NOT MET" else f"<td>{escape(text)}</td>"


def _list(head: str, texts: Sequence[str]) -> str:
    if not texts:
        return ""
    items = "".join(f"<li>{escape(text)}</li>" for text in texts)
    return f"<section><h2>{escape(head)}</h2><ul>{items}</ul></section>"


def _figures(sheet: Sheet, share: float) -> str:
    if not sheet.pictures:
        return ""
    found = []
    for i, picture in enumerate(sheet.pictures, start=1):
        caption = escape(picture.caption)
        drawing = svg(picture, f"p{i}-", share).replace("<svg", f'<svg role="img" aria-label="{caption}"', 1)
        found.append(f"<figure>{drawing}<figcaption>{caption}</figcaption></figure>")
    return f'<div class="figures">{"".join(found)}</div>'


def _checks(entries: Sequence[Entry]) -> str:
    """Blank boxes for what is measured on the first pieces, in two columns where there is room."""
    if not entries:
        return ""
    half = -(-len(entries) // 2)
    tables = "".join(_blank(part) for part in (entries[:half], entries[half:]) if part)
    return f'<section><h2>First-off checks</h2><div class="two">{tables}</div></section>'


def _blank(entries: Sequence[Entry]) -> str:
    head = "".join(f'<th scope="col">{text}</th>' for text in ("what", "expected", "measured"))
    rows = "".join(
        f'<tr><th scope="row">{escape(e.label)}</th><td>{escape(e.value)}'
        + (f" ({escape(e.note)})" if e.note else "")
        + "</td><td></td></tr>"
        for e in entries
    )
    return f'<table class="blank"><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>'
