"""The reference that follows from the declarations: explain, the page, the JSON Schema, the starting cases."""

from __future__ import annotations

import copy
import tomllib
from typing import Any

import jsonschema
import pytest
from test_case_reading import BODY, SHEET

from thermokit.case import KINDS, explain, json_schema, parse_case, reference_page, resolved_text, template
from thermokit.case.declare import Section
from thermokit.case.kinds import case_class
from thermokit.case.walk import declared_paths
from thermokit.errors import CaseError

EXAMPLES = {"body": BODY, "sheet": SHEET}


@pytest.mark.parametrize("kind", KINDS)
def test_every_key_is_declared_in_full(kind: str) -> None:
    for path, declaration, section in declared_paths(case_class(kind)):
        assert issubclass(section, Section)
        assert section.meaning, section
        assert declaration.meaning.strip(), path
        assert declaration.meaning[-1] in ".`" or declaration.meaning.endswith("."), path
        assert declaration.kind.words(), path
        # a default of None says in words what happens then
        assert declaration.required or declaration.default is not None or declaration.default_words, path


@pytest.mark.parametrize("kind", KINDS)
def test_every_key_is_explained_and_on_the_page(kind: str) -> None:
    page = reference_page()
    for path, declaration, _ in declared_paths(case_class(kind)):
        assert declaration.meaning in explain(".".join(path))
        assert f"| `{path[-1]}` |" in page


@pytest.mark.parametrize(
    ("key", "says"),
    [
        ("thickness", "body.layers.thickness"),
        ("thickness", "sheet.thickness"),
        ("body.layers.0.thickness", "Its thickness."),
        ("stations.heat.upper.exchange", "Exchange factor"),
        ("stations.outer.convection", "coefficient"),
        ("materials.tray.melting.from", "begins"),
        ("duration", '"find"'),
        ("cells", "a mesh that meets the accuracy"),
        ("view", "Left out: 1"),
    ],
)
def test_explain(key: str, says: str) -> None:
    assert says in explain(key)


@pytest.mark.parametrize(
    ("key", "says"), [("thicknes", "thickness"), ("", "explain"), ("qqqqq", "explain"), ("a.b.c", "")]
)
def test_explain_what_is_not_there(key: str, says: str) -> None:
    with pytest.raises(CaseError) as caught:
        explain(key)
    assert says in str(caught.value)


@pytest.mark.parametrize("kind", KINDS)
def test_schema_accepts_what_loads(kind: str) -> None:
    schema = json_schema(kind)
    jsonschema.Draft202012Validator.check_schema(schema)
    check = jsonschema.Draft202012Validator(schema)
    every = jsonschema.Draft202012Validator(json_schema())
    texts = [template(kind), resolved_text(parse_case(template(kind))), EXAMPLES[kind]]
    for text in texts:
        raw = tomllib.loads(text)
        check.validate(raw)
        every.validate(raw)


def _with(raw: dict[str, Any], path: list[Any], new: Any) -> dict[str, Any]:
    out = copy.deepcopy(raw)
    inner: Any = out
    for step in path[:-1]:
        inner = inner[step]
    inner[path[-1]] = new
    return out


@pytest.mark.parametrize(
    ("kind", "path", "new"),
    [
        ("body", ["body", "layers", 0, "thickness"], 6),
        ("body", ["body", "layers", 0, "thickness"], "1,5 mm"),
        ("body", ["body", "layers", 0, "cells"], 0),
        ("body", ["body", "layers"], []),
        ("body", ["body", "shape"], "plan"),
        ("body", ["body", "strat"], "20 degC"),
        ("body", ["stations", 0, "outer", "radiation", "emissivity"], 1.2),
        ("body", ["kinetics", "resin", "m"], "0.5"),
        ("body", ["process"], "sheet"),
        ("sheet", ["stations", 0, "kind"], "panel"),
        ("sheet", ["stations", 0, "upper", "exchange"], 2),
        ("sheet", ["sheet", "thickness"], None),
    ],
)
def test_schema_refuses(kind: str, path: list[Any], new: Any) -> None:
    raw = tomllib.loads(EXAMPLES[kind])
    check = jsonschema.Draft202012Validator(json_schema(kind))
    assert check.is_valid(raw)
    assert not check.is_valid(_with(raw, path, new))


def test_unknown_kind() -> None:
    with pytest.raises(CaseError) as caught:
        template("shet")
    assert "did you mean sheet?" in str(caught.value)


@pytest.mark.parametrize("kind", KINDS)
def test_starting_case_is_commented(kind: str) -> None:
    text = template(kind)
    assert sum("#" in line for line in text.splitlines()) >= 8
    assert parse_case(text).process == kind
