"""The reference that follows from the declarations: explain, the page, the JSON Schema, the starting cases."""

# ruff: noqa: RUF009 (``key`` makes a dataclass field)

from __future__ import annotations

import copy
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from thermokit.case import KINDS, explain, json_schema, parse_case, reference_page, resolved_text, template
from thermokit.case.common import Case
from thermokit.case.declare import Section, key
from thermokit.case.kinds import case_class
from thermokit.case.structure import Sub
from thermokit.case.values import Choice, Quantity
from thermokit.case.walk import declared_paths
from thermokit.errors import CaseError

TEXTS = Path(__file__).parent / "case_texts"
EXAMPLES = {kind: (TEXTS / f"{kind}.toml").read_text(encoding="utf-8") for kind in KINDS}


@pytest.mark.parametrize("kind", KINDS)
def test_every_key_is_declared_in_full(kind: str) -> None:
    for path, declaration, section in declared_paths(case_class(kind)):
        assert issubclass(section, Section)
        assert section.meaning, section
        assert declaration.meaning.strip(), path
        assert declaration.meaning.endswith("."), path
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
    ("word", "says"),
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
def test_explain(word: str, says: str) -> None:
    assert says in explain(word)


@pytest.mark.parametrize(
    ("word", "says"), [("thicknes", "thickness"), ("", "explain"), ("qqqqq", "explain"), ("a.b.c", "")]
)
def test_explain_what_is_not_there(word: str, says: str) -> None:
    with pytest.raises(CaseError) as caught:
        explain(word)
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


@dataclass(frozen=True, kw_only=True, eq=False)
class SoakSection(Section):
    meaning = "a soak"

    time: float = key(Quantity("time", above=0.0, high=1e5, example="5 min"), "How long.")


@dataclass(frozen=True, kw_only=True, eq=False)
class SoakCase(Case):
    meaning = "a kind made up for this test"

    process: str = key(Choice(("soak",)), "Kind of case.", default="soak", stated=True)
    soak: SoakSection = key(Sub(SoakSection), "The soak.")


TEMPLATE = 'process = "soak"\n[soak]\ntime = "5 min"\n'


def test_a_new_kind_needs_a_file_and_a_line(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(KINDS, "soak", (__name__, "SoakCase"))
    case = parse_case(template("soak"))
    assert case.value("soak.time") == 300.0
    assert parse_case(resolved_text(case)) == case
    assert "How long." in explain("soak.time")
    assert '`process = "soak"`' in reference_page()
    assert "soak" in json_schema("soak")["properties"]
