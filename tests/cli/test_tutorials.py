"""What the tutorials show is what the commands say: each is followed from top to bottom in an empty folder, Python blocks too."""

from __future__ import annotations

import contextlib
import io
import re
import shlex
import sys
from pathlib import Path
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from calling import CASES, ROOT, call
from test_readme import alike

from thermokit.cli import COMMANDS

FOLDER = CASES / "tutorials"
USERS = ("technologist", "toolmaker", "researcher")
BLOCK = re.compile(r"^```(\w+)\n((?:.*\n)*?)```$", re.M)


@pytest.mark.parametrize("user", USERS)
def test_following_it_gives_what_it_shows(
    user: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    names: dict[str, Any] = {}
    printed: list[str] = []
    for kind, text in BLOCK.findall((FOLDER / f"{user}.md").read_text(encoding="utf-8")):
        if kind == "console":
            line, shown = text.removeprefix("$ thermokit ").split("\n", 1)
            said = call(capsys, *(word.replace("cases/", f"{CASES}/") for word in shlex.split(line)))
            assert said.status == 0, said.err
            compare(shown, (said.out + said.err).splitlines())
        elif kind == "python":
            with contextlib.redirect_stdout(io.StringIO()) as caught:
                exec(compile(text.replace('"cases/', f'"{CASES.as_posix()}/'), user, "exec"), names)
            printed = caught.getvalue().splitlines()
        else:
            assert kind == "text" and len(text.splitlines()) == len(printed)
            compare(text, printed)
    assert not any(path.suffix == ".toml" and path.name != "mine.toml" for path in tmp_path.iterdir())
    promised = set(re.findall(r"`((?:tray|lid|knob|map|mine)[\w]*\.\w+)`", (FOLDER / f"{user}.md").read_text("utf-8")))
    assert promised, "files are named"
    for name in promised:
        assert (tmp_path / name).stat().st_size > 0, name


def compare(shown: str, real: list[str]) -> None:
    """Every piece between ``[...]`` stands in what was printed, in this order; without ``[...]`` before it, it goes on there."""
    at = 0
    for number, piece in enumerate(shown.split("[...]\n")):
        rows = piece.splitlines()
        if rows and number:
            found = [i for i in range(at, len(real)) if alike(rows[0], real[i])]
            assert found, f"shown, but not printed: {rows[0]!r}"
            at = found[0]
        for wanted, got in zip(rows, real[at : at + len(rows)], strict=True):
            assert alike(wanted, got), f"shown: {wanted!r}\nreal:  {got!r}"
        at += len(rows)
    if not shown.endswith("[...]\n"):
        assert at == len(real), f"not shown: {real[at:]}"


@pytest.mark.parametrize("user", USERS)
def test_it_is_short_and_its_keys_are_known(user: str) -> None:
    text = (FOLDER / f"{user}.md").read_text(encoding="utf-8")
    assert len(text.splitlines()) <= 100
    assert {shlex.split(line)[0] for line in re.findall(r"^\$ thermokit (.+)$", text, re.M)} <= set(COMMANDS)
    assert set(re.findall(r"`thermokit (\w+)", text)) <= set(COMMANDS)
    assert f"cases/tutorials/{user}.md" in (ROOT / "README.md").read_text(encoding="utf-8")
