"""The machinery of the speed book with tiny settings: it measures, keeps, renders and stops; no time is judged."""

from __future__ import annotations

import signal
from contextlib import suppress
from importlib import import_module
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from thermokit.case.kinds import KINDS
from validation.speed import book, commands, machine, page, singles, store, tables
from validation.speed.clock import ratio, turns
from validation.speed.curves import survey

PART = "starts"
TABLE = tables.table(["command", "CPU"], [["`thermokit --help`", {"s": 0.05, "x": [4.0, 3.5, 4.5]}]])


def found(quick: bool) -> dict[str, Any]:
    return {"tables": {"starts": TABLE}}


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A book of its own, where every part finds one table at once."""
    monkeypatch.setattr(machine, "yardsticks", lambda repeats=5: {"lu": 0.02, "additions": 0.008})
    monkeypatch.setattr(book.Part, "measure", lambda self, quick: found(quick))
    return tmp_path


def test_ratios_are_formed_within_a_turn() -> None:
    # 2/1, 9/3, 8/2: the ratio of the medians (8/2 = 4) would be another number than their median when the pace changes
    assert ratio([2.0, 9.0, 8.0], [1.0, 3.0, 2.0]) == [3.0, 2.0, 4.0]
    assert ratio([2.0], [1.0], 10.0) == [20.0, 20.0, 20.0]


def test_contenders_take_turns_and_the_first_turn_does_not_count() -> None:
    order: list[str] = []
    taken = turns({"a": lambda: order.append("a"), "b": lambda: order.append("b")}, 2)
    assert order == ["a", "b"] * 3
    assert [len(values) for values in taken.values()] == [2, 2]


def test_a_partial_run_leaves_what_other_parts_measured(folder: Path) -> None:
    store.keep(folder / "measured", "memory", {"tables": {}, "machine": machine.Witness().says() | {"quick": False}})
    before = (folder / "measured" / "memory.json").read_bytes()
    assert book.main([PART, "--into", str(folder)]) == 0
    assert (folder / "measured" / "memory.json").read_bytes() == before
    text = (folder / "README.md").read_text(encoding="utf-8")
    assert "| `thermokit --help` | 50 ms, ×4 (3.5 to 4.5) |" in text
    assert "Not measured yet: `python -m validation.speed singles`." in text
    assert "{{" not in text


def test_render_measures_nothing_and_gives_the_same_page(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert book.main([PART, "--into", str(folder)]) == 0
    before = (folder / "README.md").read_text(encoding="utf-8")
    (folder / "README.md").unlink()
    monkeypatch.setattr(book, "run", lambda *_: pytest.fail("measured"))
    assert book.main(["--render", "--into", str(folder)]) == 0
    assert (folder / "README.md").read_text(encoding="utf-8") == before


def test_interrupting_keeps_the_parts_that_are_done(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def stopping(self: book.Part, quick: bool) -> dict[str, Any]:
        if self is book.PARTS["memory"]:
            raise KeyboardInterrupt
        return found(quick)

    monkeypatch.setattr(book.Part, "measure", stopping)
    assert book.main(["starts", "memory", "rows", "--into", str(folder)]) == 130
    assert [file.name for file in (folder / "measured").iterdir()] == ["starts.json"]
    assert "not measured" in (folder / "README.md").read_text(encoding="utf-8")


def test_an_interruption_that_a_solver_swallows_still_stops(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def swallowing(self: book.Part, quick: bool) -> dict[str, Any]:
        def solver() -> None:
            with suppress(KeyboardInterrupt):
                signal.raise_signal(signal.SIGINT)

        turns({"solver": solver}, 3)
        pytest.fail("went on")

    before = signal.getsignal(signal.SIGINT)
    monkeypatch.setattr(book.Part, "measure", swallowing)
    assert book.main(["starts", "--into", str(folder)]) == 130
    assert signal.getsignal(signal.SIGINT) is before
    assert not (folder / "measured").exists()


def test_a_part_that_fails_does_not_stop_the_others(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def failing(self: book.Part, quick: bool) -> dict[str, Any]:
        if self is book.PARTS["starts"]:
            raise ImportError("no such peer")
        return found(quick)

    monkeypatch.setattr(book.Part, "measure", failing)
    assert book.main(["starts", "memory", "--into", str(folder)]) == 1
    assert [file.name for file in (folder / "measured").iterdir()] == ["memory.json"]


def test_quick_keeps_nothing(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(store, "keep", lambda *_: pytest.fail("kept"))
    monkeypatch.setattr(page, "render", lambda *_: pytest.fail("rendered"))
    assert book.main([PART, "--quick"]) == 0


def test_an_unknown_part_is_a_plain_mistake(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as end:
        book.main(["singels"])
    assert end.value.code == 2
    assert "no such part: singels" in capsys.readouterr().err


def test_one_run_is_measured_within_its_error() -> None:
    pytest.importorskip("sksundae")
    rows = singles.measured(("P1",), 1, 0)["tables"]["singles"]["rows"]
    assert {row[0] for row in rows} >= {"thermokit", "VODE", "CVODE", "LSODA", "BDF, sparse", "Radau, dense"}
    for title, cell in rows:
        assert 0.0 < cell["K"] <= 0.1, title


def test_the_survey_keeps_the_settings_within_each_error() -> None:
    exact = np.zeros(3)
    runs = {f"{error:g}": (lambda e=error: np.full(3, e)) for error in (0.5, 0.05, 0.005)}
    kept = survey(runs, exact, (1.0, 0.1, 0.01))
    assert kept["0.005"] == 0.005  # only that one is within 0.01
    assert set(kept) <= set(runs)
    assert survey(runs, exact, (0.001,)) == {}


def test_every_part_has_its_measure_and_its_place_on_the_page() -> None:
    template = page.TEMPLATE.read_text(encoding="utf-8")
    for name, part in book.PARTS.items():
        module, function = part.place.split(":")
        assert callable(getattr(import_module(f"validation.speed.{module}"), function)), name
        assert template.count("{{" + name + "}}") == 1
    assert book.parts_of("mould") == ["mould", "mould_curves"]
    assert book.parts_of("curves") == ["curves_P1", "curves_P2", "curves_P3"]


def test_every_kind_of_case_has_its_command() -> None:
    assert set(commands.EXAMPLES) == set(KINDS)
    for command, name in commands.EXAMPLES.values():
        file = commands.ROOT / "cases" / f"{name}.toml"
        assert command in ("run", "dwell") and file.exists()


def test_the_page_in_the_tree_is_what_its_numbers_give() -> None:
    assert (book.HOME / "README.md").read_text(encoding="utf-8") == page.page(store.kept(book.HOME / "measured"))
