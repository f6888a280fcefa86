"""Figures of a line: temperatures along it in metres and seconds, what follows an event."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

from thermokit.case import parse_case
from thermokit.figures.line import drawings
from thermokit.figures.style import drawn
from thermokit.results.read import read
from thermokit.results.write import write
from thermokit.studies.run import run

TEXT = (Path(__file__).parent / "case_texts" / "line.toml").read_text(encoding="utf-8")


@cache
def result() -> Any:
    return run(parse_case(TEXT))


def words(kind: str, of: Any) -> str:
    return " ".join(drawn(drawings(of)[kind](of), "svg").decode().split())


def test_both_are_drawn_from_the_file(tmp_path: Path) -> None:
    file = tmp_path / "line.h5"
    write(result(), file)
    again = read(file)
    assert set(drawings(again)) == {"along", "events"}
    assert words("along", again) == words("along", result())


def test_they_say_what_they_show() -> None:
    along, events = words("along", result()), words("events", result())
    for text in (
        "temperature [°C]",
        "ends of stations [m]",
        "lamps",
        "chill",
        "back:",
        "mean over the thickness:",
        "10.1 s",
    ):
        assert text in along, text
    for text in ("time since it happened [s]", "stop [°C]", "lamps out [°C]", "faster [°C]", "limit"):
        assert text in events, text


def test_a_line_without_events_has_one_figure() -> None:
    bare = parse_case(TEXT.split("[[events]]")[0] + '[accuracy]\ntemperature = "1 K"\n')
    assert set(drawings(run(bare))) == {"along"}
