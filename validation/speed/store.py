"""What was measured, one JSON file a part: what a part found, when, on which machine and how quiet that was."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from thermokit.results.whole import write_whole

Measured = dict[str, dict[str, Any]]  # part: what it found


def _plain(value: Any) -> Any:
    """numpy's numbers as Python's, floats to six digits (more would only change from run to run)."""
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if isinstance(value, bool | int | str) or value is None:
        return value
    return float(f"{float(value):.6g}")


def keep(folder: Path, part: str, found: dict[str, Any]) -> None:
    """Write a part's file, whole or not at all."""
    folder.mkdir(parents=True, exist_ok=True)
    text = json.dumps(_plain(found), indent=1, ensure_ascii=False, allow_nan=False) + "\n"
    write_whole(folder / f"{part}.json", text.encode())


def kept(folder: Path) -> Measured:
    """All parts that there are."""
    return {file.stem: json.loads(file.read_text(encoding="utf-8")) for file in sorted(folder.glob("*.json"))}
