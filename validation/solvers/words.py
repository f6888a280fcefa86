"""The table of solvers as text: for the terminal, and as ``validation/solvers/README.md`` in full."""

from __future__ import annotations

from collections.abc import Sequence

from validation.solvers.rows import Row

HEAD = (
    "kind",
    "case",
    "solver",
    "quantity",
    "unit",
    "thermokit",
    "other",
    "difference",
    "own error",
    "allowed",
    "pass",
)

INTRODUCTION = """\
# thermokit beside general-purpose solvers

Written by `python -m validation.solvers`; do not edit. `python -m validation.solvers body line` runs some kinds only and leaves
this file as it is.

Every case below is solved by thermokit at the accuracy that the case asks for, on the mesh that it finds for it, and once more
by solvers that share no solver code with it. They are given the data of the conduction problem (numbers, tables, parameters of
rate laws) and nothing else; meshes, time tables, faces, radiation, heat in depth, latent heat, rate laws and what happens
between two legs of a way (folding, drawing, withdrawing from paste, preheating) are written anew in this directory.

| solver | what it is |
|---|---|
| CVODE | scikit-sundae: lines, cells with a node at the middle of their mass, resistances in r^2/2, BDF to order 5 |
| IDA | scikit-sundae: the same as differential-algebraic equations: heat content, temperature, faces are unknowns |
| scikit-fem | quadratic elements, consistent masses, nodes doubled at contacts; implicit order 2, Newton, adaptive steps |
| FiPy (engine) | the engine of `thermokit verify`, with a mesh and state of its own; its rates are thermokit's |
| FiPy (plain) | FiPy by its manual, nothing of thermokit in it: implicit Euler, sweeps, drawn on to steps of no length |

IDA is left out where a plastic melts and crystallises on two curves: its corrector does not converge at their corners. FiPy
(plain) is for bodies of one layer without latent heat.

**What stands in a line.** Temperature and every state are compared at every cell and both faces of thermokit's mesh, tools too,
at about thirty times (FiPy: ten, since each is a step more) spread over all stations, each station's end among them; the line
gives the place and time where the two are furthest apart. The last line of a solver is the answer that a shop wants (a time
only where the rows are close enough to tell it). *Own error*: what halving its cells and steps (for adaptive steps: a quarter
of the error a step) changes in the other solver anywhere. *Allowed*: the accuracy that the case asks of thermokit plus that own
error. For a degree 1 K counts as in `thermokit verify` (0.03, more on a steep curve of crystallising); for a time it is what
the accuracy means at the speed with which the quantity moves there. Nothing of it is fitted to what came out. Where the two
differ by more than the other's own error the note says how much of that is thermokit's own: it was solved again with every cell
cut in four and a tenth of the error a step, read at the same place. What is then left in an answer is the other's: halving may
move one number by less than it is off, and the error of its whole field stands in its first line.

**Which kinds have a field.** All of them: the mill's band and the cylinder's plug are conduction through a thickness with heat
of friction in it, averaged over a turn (mill) and followed as a slug (cylinder), so all three solvers serve them. Sections and
moulds, where their lines stand below, have meshes and solvers of their own: `sections_peers.py` says which.

**What the comparison has found.** The pipe: on 48 cells thermokit was 1.1 K off where 1 K was asked for, a moment after its skin
met the sizing die. The error of a mesh was reckoned as a third of the change from half as many cells, which is right for order
2 only; a front of crystallising goes from cell to cell. Where anything melts or crystallises the whole change is now the error.
"""


def cells(row: Row) -> tuple[str, ...]:
    """A line's columns."""
    return (
        row.kind,
        row.case,
        row.solver,
        row.quantity,
        row.unit,
        f"{row.ours:.6g}",
        f"{row.theirs:.6g}",
        f"{row.difference:+.2g}",
        f"{row.own_error:.2g}",
        f"{row.allowed:.2g}",
        "yes" if row.passed else "NO",
    )


def note(row: Row) -> str:
    """Why the two differ, and where the other solver is itself further off than the accuracy asked for."""
    far = "the other's own error is larger than the accuracy asked for" if row.own_error > 0.5 * row.allowed else ""
    return "; ".join(words for words in (row.reason, far) if words)


def printed(rows: Sequence[Row], head: bool = True) -> str:
    """For a terminal."""
    widths = (8, 32, 14, 58, 5, 9, 9, 10, 9, 8, 4)
    lines: list[tuple[str, ...]] = [HEAD] if head else []
    lines += [cells(row) for row in rows]
    return "\n".join(
        "  ".join(text[:width].ljust(width) for text, width in zip(line, widths, strict=True)).rstrip()
        for line in lines
    )


def written(rows: Sequence[Row]) -> str:
    """The whole README."""
    passed = sum(row.passed for row in rows)
    cases = len(dict.fromkeys((row.kind, row.case) for row in rows))
    parts = [INTRODUCTION, f"{passed} of {len(rows)} lines of {cases} cases are within what is allowed.\n"]
    for kind in dict.fromkeys(row.kind for row in rows):
        parts.append(f"## {kind}\n")
        of_kind = [row for row in rows if row.kind == kind]
        for case in dict.fromkeys(row.case for row in of_kind):
            parts.append(f"### {case}\n")
            parts.append("| solver | quantity | thermokit | other | difference | own error | allowed | pass | note |")
            parts.append("|---|---|---|---|---|---|---|---|---|")
            for row in of_kind:
                if row.case == case:
                    _, _, solver, quantity, unit, *numbers = cells(row)
                    words = f"{quantity} [{unit}]" if unit != "1" else quantity
                    parts.append("| " + " | ".join([solver, words, *numbers, note(row)]) + " |")
            parts.append("")
    return "\n".join(parts)
