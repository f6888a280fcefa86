"""`thermokit check`, `explain` and `new`, called as commands."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from thermokit.case import KINDS, load_case, parse_case, reference_page, template
from thermokit.cli import check, explain, new
from thermokit.errors import CaseError, DataError


def run(module: object, *arguments: str) -> Result:
    return CliRunner().invoke(module.command, list(arguments), catch_exceptions=False)  # type: ignore[attr-defined]


@pytest.mark.parametrize("kind", KINDS)
def test_new_then_check(kind: str, tmp_path: Path) -> None:
    file = tmp_path / "mine.toml"
    assert run(new, kind, "-o", str(file)).exit_code == 0
    assert file.read_text(encoding="utf-8") == template(kind) == run(new, kind).stdout
    checked = run(check, str(file))
    assert checked.exit_code == 0
    assert parse_case(checked.stdout) == load_case(file)
    report = json.loads(run(check, str(file), "--json").stdout)
    assert report["process"] == kind
    assert report["case_sha256"] == load_case(file).source.sha256
    paths = run(check, str(file), "--paths").stdout.splitlines()
    assert len(paths) == len(report["inputs"])


def test_new_never_overwrites(tmp_path: Path) -> None:
    file = tmp_path / "mine.toml"
    file.write_text("kept")
    with pytest.raises(CaseError, match="exists already"):
        run(new, "body", "-o", str(file))
    assert file.read_text() == "kept"
    with pytest.raises(DataError, match="there is no such folder"):
        run(new, "body", "-o", str(tmp_path / "none" / "x.toml"))


def test_wrong_words() -> None:
    with pytest.raises(CaseError, match="did you mean sheet"):
        run(new, "shet")
    with pytest.raises(CaseError, match="no such file"):
        run(check, "none.toml")
    with pytest.raises(CaseError, match="did you mean"):
        run(explain, "thiknes")
    with pytest.raises(CaseError, match="no kind of case"):
        run(explain, "--schema", "shet")


def test_explain() -> None:
    assert "body.layers.thickness" in run(explain, "thickness").stdout
    assert run(explain).stdout == reference_page()
    assert json.loads(run(explain, "--schema").stdout)["$schema"].endswith("2020-12/schema")
    assert "sheet" in json.loads(run(explain, "--schema", "sheet").stdout)["properties"]
