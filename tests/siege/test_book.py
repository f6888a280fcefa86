"""The page of the siege is what the measured numbers and the list of finds give."""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from validation.siege import __main__ as command
from validation.siege import book, counting

ROOT = Path(__file__).parents[2]


def test_the_page_is_up_to_date() -> None:
    assert book.PAGE.read_text(encoding="utf-8") == book.page(), "python -m validation.siege"


def test_every_test_that_it_names_is_there() -> None:
    import re

    named = set(re.findall(r"`(?:tests/siege/)?(test_\w+\.py)`", book.page()))
    assert len(named) > 5
    assert not [name for name in named if not (ROOT / "tests" / "siege" / name).exists()]


@pytest.fixture
def elsewhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A book of its own, with nothing measured."""
    (tmp_path / "finds.md").write_text("- a fault\n", encoding="utf-8")
    (tmp_path / "measured").mkdir()
    monkeypatch.setattr(book, "HERE", tmp_path)
    monkeypatch.setattr(book, "PAGE", tmp_path / "README.md")
    return tmp_path


def test_what_was_not_run_is_told(elsewhere: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert command.main([]) == 0
    text = (elsewhere / "README.md").read_text(encoding="utf-8")
    assert text.count("Not run yet.") == 3 and "- a fault" in text
    assert "README.md" in capsys.readouterr().out


def test_numbers_come_from_the_measured_files(elsewhere: Path) -> None:
    told: dict[str, Any] = {
        "date": "2020-01-02", "versions": {"numpy": "9.9"}, "seed": 5, "files": 12345, "cpu_s": 100,
        "counts": {"bytes refused": 12300, "bytes run": 40, "log accepted": 5}, "kinds": {"sheet refused": 7},
        "statuses": {"check 2": 12300, "run 1": 3, "run 0": 37}, "slowest": [[3.21, 77, "run"]],
        "finds": [{"file": 8, "words": ["check"], "what": "IndexError: it"}],
        "memory_mb": {"first": [1000, 90.0], "largest": [5000, 120.4], "last": [12000, 110.0], "grown": 20.0},
    }  # fmt: skip
    (elsewhere / "measured" / "fuzz.json").write_text(json.dumps(told), encoding="utf-8")
    told = {"date": "2020-01-02", "versions": {}, "cases": {"properties_body heat_is_kept": 1234}}
    (elsewhere / "measured" / "properties.json").write_text(json.dumps(told), encoding="utf-8")
    text = book.page()
    for words in (
        "12 345 files, seed 5, 2020-01-02, numpy 9.9: 100 s of CPU, 8.1 ms each",
        "| 12 340 | 12 300 | 40 | 40 |", "| sheet | 7 | 7 | 0 | 0 |", "| check | 0 | 0 | 12 300 |", "| run | 37 | 3 | 0 |",
        "120 after 5 000 files (largest)", "3.2 s (file 77, run)", "- file 8, check: IndexError: it",
        "| body | heat is kept | 1 234 |",
    ):  # fmt: skip
        assert words in text, words


def test_cases_of_properties_are_counted_where_they_end(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from hypothesis import assume, given, settings
    from hypothesis import strategies as st

    monkeypatch.setattr(counting, "COUNTS", Counter())
    seen = []

    @settings(max_examples=30, database=None)
    @given(st.integers(0, 1000))
    def test_even(number: int) -> None:
        assume(number % 2 == 0)
        seen.append(number)

    counting.counted(test_even)()
    name = "book even"
    assert counting.COUNTS[name] == len(seen) >= 20
    whole = 0
    for _ in range(2):  # two sessions add up
        counting.COUNTS[name] = 7
        whole += 7
        counting.keep(tmp_path / "measured" / "properties.json")
        assert json.loads((tmp_path / "measured" / "properties.json").read_text())["cases"] == {name: whole}
