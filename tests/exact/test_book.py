"""The book of the checks (``validation/README.md``, ``not_validated.md``) is what ``python -m validation`` would write."""

from __future__ import annotations

import re
import subprocess
import sys
from functools import cache

import pytest

from validation import __main__ as command
from validation import report, running
from validation.book import outcomes, pages, reading
from validation.checks import KINDS, Bound, Quantity, Tolerance, judge, registry

CHECKS = registry()


@cache
def text() -> str:
    return pages.README.read_text(encoding="utf-8")


@cache
def results():
    return reading.results(CHECKS, text())


def test_says_that_it_is_made() -> None:
    assert text().splitlines()[0] == pages.MADE
    assert pages.NOT_VALIDATED.read_text(encoding="utf-8").splitlines()[0] == pages.MADE


def test_holds_the_checks_of_the_registry_in_their_order() -> None:
    assert [(entry.id, entry.title) for entry in reading.printed(text())] == [(c.id, c.title) for c in CHECKS]


@pytest.mark.parametrize("check", [pytest.param(check, id=f"{check.id} {check.title}") for check in CHECKS])
def test_prints_what_the_registry_says(check) -> None:
    (entry,) = [e for e in reading.printed(text()) if (e.id, e.title) == (check.id, check.title)]
    for quantity, cells in zip(check.quantities, entry.rows, strict=True):
        unit = f" [{quantity.unit}]" if quantity.unit else ""
        assert cells[0] == quantity.name + unit
        assert cells[1] == report.number(quantity.published)
        assert cells[5] == quantity.words
        assert cells[7] == quantity.note
        if isinstance(quantity, Quantity):
            exact = quantity.exact()
            assert float(cells[2]) == pytest.approx(exact, rel=0, abs=1e-3 * quantity.allowed(exact)), cells[0]
        else:
            assert cells[2] == "–"


def test_every_byte_follows_from_the_registry_and_the_numbers() -> None:
    """Prose, summary, tables and deviations: nothing can be edited by hand but a number found, which test_checks holds."""
    assert pages.book(results()) == text()
    written = pages.not_validated(results(), outcomes.named())
    assert pages.NOT_VALIDATED.read_text(encoding="utf-8") == written


def test_an_edit_by_hand_shows() -> None:
    edited = re.sub(r"(\| 42\.9 \| )43\.0\d*", r"\g<1>42.9", text(), count=1)
    assert edited != text()
    assert pages.book(reading.results(CHECKS, edited)) != edited


def test_published_numbers_that_are_off_have_a_reason() -> None:
    bare = [f"{c.id} {r.name}" for c, o in results() for r in o.rows if pages.is_off(r) and not r.note]
    assert bare == []
    off = sum(pages.is_off(r) for _, o in results() for r in o.rows)
    section = text().split("## Published numbers that are off")[1].split("\n## ")[0]
    assert section.count("\n| [") == off > 0


def test_numbers_outside_have_a_reason_and_a_place() -> None:
    check = next(c for c in CHECKS if c.id == "A02")
    quantity = check.quantities[0]
    row = judge(
        Quantity(quantity.name, "degC", lambda: 1.0, Tolerance(absolute=0.1), lambda _: 2.0, reason="a trial"), None
    )
    assert not row.passed
    changed = [(c, o if c is not check else type(o)((row, *o.rows[1:]), o.cases)) for c, o in results()]
    page = pages.book(changed)
    assert "**1 outside their tolerance**" in page
    assert "a trial" in page.split("## Numbers outside their tolerance")[1].split("\n## ")[0]
    assert "None." in text().split("## Numbers outside their tolerance")[1].split("\n## ")[0]


def test_every_check_says_what_it_solves() -> None:
    titles = [(c.id, c.title) for c in CHECKS]
    assert len(set(titles)) == len(titles)
    names = [(c.id, c.title, q.name) for c in CHECKS for q in c.quantities]
    assert len(set(names)) == len(names)
    for check, outcome in results():
        assert outcome.cases or len(check.statement) > 20, f"{check.id} {check.title}"
        assert set(check.parts) <= set(KINDS)
        assert {kind for kind, *_ in outcome.cases} <= set(KINDS)
        for cell in (check.title, check.source, *(q.name + q.note + q.reason for q in check.quantities)):
            assert "|" not in cell and "\n" not in cell


def test_links_of_the_book_lead_somewhere() -> None:
    for page in (pages.README, pages.NOT_VALIDATED, pages.README.parent / "theory.md"):
        words = page.read_text(encoding="utf-8")
        for target in re.findall(r"\]\(([^)]+)\)", words):
            file, _, anchor = target.partition("#")
            if file:
                assert (page.parent / file).exists(), target
            elif f'<a id="{anchor}"></a>' not in words:
                headings = [
                    re.sub(r"[^\w -]", "", h.lower()).replace(" ", "-") for h in re.findall(r"^#+ (.*)$", words, re.M)
                ]
                assert anchor in headings, target


def test_what_is_held_is_an_outcome_and_a_check() -> None:
    known, named = {check.id for check in CHECKS}, outcomes.named()
    assert tuple(named) == KINDS == tuple(outcomes.HELD) == tuple(outcomes.SECOND) or set(named) == set(KINDS)
    for kind, held in outcomes.HELD.items():
        assert set(held) <= set(named[kind]), kind
        for words in held.values():
            ids = re.findall(r"\b[A-Z]\d\d\b", words)
            assert ids and set(ids) <= known, words


@pytest.mark.parametrize("kind", KINDS)
def test_outcomes_are_read_from_the_code(kind: str) -> None:
    """A name of each kind that its documentation has; names that nobody could print are not there."""
    sample = {
        "body": "mean_temperature", "section": "*_heat_flow", "sheet": "coldest_point", "charge": "gel_lag", "dip": "gelled*",
        "mill": "friction_heat", "cylinder": "melt_mean", "mould": "cooling_time", "line": "skin_freezes",
    }  # fmt: skip
    names = outcomes.named()[kind]
    assert sample[kind] in names
    assert all(re.fullmatch(r"[a-z_0-9*]+", name) for name in names)


def test_steps_and_digits() -> None:
    row = judge(Quantity("a", "", lambda: 43.01624, Tolerance(absolute=0.1), lambda _: 43.015781234), None)
    assert (row.step, row.found) == (1e-4, 43.0158)
    assert report.cells(row)[2:5] == ("43.01624", "43.0158", "-0.0004")
    same = judge(Quantity("a", "", lambda: 2.0, Tolerance(share=0.01), lambda _: 2.0 + 1e-13), None)
    assert report.cells(same)[2:5] == ("2", "2", "0")
    assert judge(Bound("b", "s", 0.0, 10.0, lambda _: 3.307893), None).found == 3.31


def run(*arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "validation", *arguments], cwd=pages.ROOT, capture_output=True, text=True, check=False
    )


def test_some_checks_write_nothing_and_do_not_depend_on_the_jobs() -> None:
    before = pages.README.stat().st_mtime_ns
    one, two = run("A14", "H02", "--jobs", "1"), run("A14", "H02", "--jobs", "2")
    assert one.returncode == two.returncode == 0, one.stderr
    table = one.stdout.split("\n\n")[0]
    assert table == two.stdout.split("\n\n")[0]
    assert table.count("\n") == sum(len(c.quantities) for c in CHECKS if c.id in ("A14", "H02"))
    assert "3/3" in one.stderr
    assert pages.README.stat().st_mtime_ns == before


def test_mistakes_on_the_command_line(capsys: pytest.CaptureFixture[str]) -> None:
    for arguments, words in ((["Z99"], "no such check"), (["--jobs", "0"], "from 1 up"), (["--write"], "--write")):
        with pytest.raises(SystemExit) as stop:
            command.main(arguments)
        assert stop.value.code == 2
        assert words in capsys.readouterr().err


def test_a_check_that_cannot_run_fails_with_the_reason(monkeypatch: pytest.MonkeyPatch) -> None:
    from dataclasses import replace

    broken = replace(CHECKS[0], run=lambda: 1 / 0)
    monkeypatch.setattr(running, "checks", lambda: (broken,))
    done = running.run(0)
    assert "ZeroDivisionError" in done.trouble
    assert [row.passed for row in done.outcome.rows] == [False] * len(broken.quantities)
