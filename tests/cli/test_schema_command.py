"""`thermokit schema`: a valid JSON Schema that every example case keeps to."""

from __future__ import annotations

import sys
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

import jsonschema
import pytest

sys.path.insert(0, str(Path(__file__).parent))

from calling import call, one_object

from thermokit.case import KINDS, json_schema

Capsys = pytest.CaptureFixture[str]
EXAMPLES = sorted((Path(__file__).parents[2] / "cases").glob("*.toml"))


def checker(schema: dict[str, Any]) -> jsonschema.Draft202012Validator:
    """A validator of a schema that is itself valid."""
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema)


@cache
def of_kind(kind: str) -> jsonschema.Draft202012Validator:
    """The validator of a kind of case, made once."""
    return checker(json_schema(kind))


@pytest.mark.parametrize("kind", KINDS)
def test_the_schema_of_a_kind_is_valid_and_refuses_what_is_no_case(kind: str, capsys: Capsys) -> None:
    status, out, _ = call(capsys, "schema", kind)
    schema = one_object(out)
    assert status == 0
    assert kind in schema["title"]
    assert not checker(schema).is_valid({"process": kind, "no_such_key": 1})
    assert not checker(schema).is_valid([])


def test_without_a_kind_it_holds_them_all(capsys: Capsys) -> None:
    schema = one_object(call(capsys, "schema").out)
    checker(schema)
    assert len(schema["oneOf"]) == len(KINDS)


@pytest.mark.parametrize("file", EXAMPLES, ids=lambda file: file.stem)
def test_every_example_keeps_to_the_schema_of_its_kind(file: Path) -> None:
    table = tomllib.loads(file.read_text(encoding="utf-8"))
    kind = table["process"]
    another = next(other for other in KINDS if other != kind)
    assert not of_kind(another).is_valid(table)
    errors = [f"{'.'.join(map(str, e.path))}: {e.message[:200]}" for e in of_kind(kind).iter_errors(table)]
    assert errors == []


def test_a_kind_that_is_none(capsys: Capsys) -> None:
    status, out, err = call(capsys, "schema", "shete")
    assert status == 2
    assert "sheet" in err and "Traceback" not in out + err
