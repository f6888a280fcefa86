"""What the README shows is what the commands say: same words, numbers within 3 %; its two commands are the ones that work."""

from __future__ import annotations

import re
import shlex
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from calling import CASES, ROOT, call

from thermokit.cli import COMMANDS

TEXT = (ROOT / "README.md").read_text(encoding="utf-8")
SHOWN = re.findall(r"^```console\n\$ thermokit (.+)\n((?:.*\n)*?)```$", TEXT, re.M)
NUMBER = re.compile(r"[-+]?\d+(?:\.\d+)?(?:e[-+]?\d+)?")
TRAY = "how_long_to_heat_a_4mm_abs_tray.toml"


def test_enough_is_shown() -> None:
    commands = [shlex.split(line)[0] for line, _ in SHOWN]
    assert {"dwell", "run", "check", "explain", "materials"} <= set(commands) <= set(COMMANDS)
    assert TEXT.count("```console") == len(SHOWN)


@pytest.mark.parametrize(
    ("line", "shown"), SHOWN, ids=[line.split(" ", 1)[0] + str(i) for i, (line, _) in enumerate(SHOWN)]
)
def test_shown_output_is_real(
    line: str, shown: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    wrong = (CASES / TRAY).read_text(encoding="utf-8").replace('"4 mm"', '"4,0 mm"').replace('"60 degC"', '"60 mm"')
    (tmp_path / "mistakes.toml").write_text(wrong.replace("\nthickness", "\nthicknes"), encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    said = call(capsys, *(word.replace("cases/", f"{CASES}/") for word in shlex.split(line)))
    real = (said.out + said.err).splitlines()
    at = 0
    for piece in shown.split("[...]\n"):
        rows = piece.splitlines()
        start = next((i for i in range(at, len(real)) if rows and alike(rows[0], real[i])), at)
        for wanted, got in zip(rows, real[start : start + len(rows)], strict=True):
            assert alike(wanted, got), f"README: {wanted!r}\n  real: {got!r}"
        at = start + len(rows)


def alike(wanted: str, got: str) -> bool:
    """Same words in the same places, numbers within 3 % or one unit of the last place shown."""
    if NUMBER.sub("#", wanted).split() != NUMBER.sub("#", got).split():
        return False
    return all(near(a, b) for a, b in zip(NUMBER.findall(wanted), NUMBER.findall(got), strict=True))


def near(wanted: str, got: str) -> bool:
    """Whether two printed numbers say the same."""
    a, b = float(wanted), float(got)
    if "e" in wanted:  # a mismatch of the heat balance: round-off
        return max(abs(a), abs(b)) < 1e-9
    last_place = 10.0 ** -len(wanted.partition(".")[2])
    return abs(a - b) <= max(0.03 * max(abs(a), abs(b)), 1.01 * last_place)


def test_the_two_commands() -> None:
    blocks = re.findall(r"```sh\n(.+)\n```", TEXT)
    assert len(blocks) == 2
    job, tests = blocks
    assert job.startswith("python3 -m venv .venv && ") and job.endswith(f"thermokit dwell cases/{TRAY}")
    assert tests.startswith("python3 -m venv .venv && ") and "pytest" in tests
    assert re.search(r"<!-- test command.*-->\n```sh\n" + re.escape(tests), TEXT), ".ci/run finds it by the comment"


def test_links_and_files_exist() -> None:
    for name in ("README.md", "DEVELOPERS.md"):
        text = (ROOT / name).read_text(encoding="utf-8")
        for target in re.findall(r"\]\(([^)#]+)\)", text):
            assert (ROOT / target).exists(), f"{name}: {target}"
        for path in re.findall(r"`((?:cases|tests|validation|thermokit)/[\w./]+)`", text):
            assert (ROOT / path).exists(), f"{name}: {path}"
