"""Whatever a case file holds, reading gives a case or a CaseError with a message, nothing else."""

from __future__ import annotations

import copy
import math
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from thermokit.case import KINDS, numeric_paths, parse_case, resolved_text, template
from thermokit.case.common import Case
from thermokit.case.reading import load_case
from thermokit.case.writing import toml_text
from thermokit.errors import CaseError

MODEST = settings(derandomize=True, deadline=None, max_examples=150)

ODD = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(min_value=-(10**30), max_value=10**30),
    st.floats(),
    st.sampled_from(
        ["", "find", "nan mm", "inf degC", "-5 degC", "1e308 km", "1,5 mm", "0 s", "4 mm", "180 s", "20 degC", "± 3 %"]
        + ["8 W/m2/K", "-1e400 W/m2", "٣ mm", "0x10 mm", "1_000 mm", "a" * 1000, "\x7f", "core", "0", "abs", "resin"]
    ),
    st.text(max_size=10),
    st.just([]),
    st.just({}),
    st.just({"find": ["1 s", "0 s"]}),
    st.just({"time": ["0 s", "1 s"], "value": ["20 degC"]}),
    st.just({"time": ["0 s"], "value": [{}]}),
    st.just([[[]]]),
    st.just({"a": {"b": {"c": {}}}}),
    st.just([{}, 3, "x"]),
)


def outcome(text: str) -> Case | None:
    """The case, or None where a CaseError with a message was raised; anything else fails the test."""
    try:
        case = parse_case(text, "fuzz.toml")
    except CaseError as wrong:
        assert wrong.mistakes
        assert str(wrong).startswith("fuzz.toml: ")
        assert len(str(wrong)) < 200_000
        return None
    # what was accepted is whole: it can be written, read again, and holds finite numbers
    assert parse_case(resolved_text(case)) == case
    assert all(math.isfinite(number) for number, _ in numeric_paths(case).values())
    return case


def places(raw: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Every path inside a parsed TOML text."""
    found = [path] if path else []
    entries = raw.items() if isinstance(raw, dict) else enumerate(raw) if isinstance(raw, list) else ()
    for name, inner in entries:
        found += places(inner, (*path, name))
    return found


def mutated(raw: Any, path: tuple[Any, ...], new: Any) -> Any:
    """A copy with something else, or (None) nothing, at a path; unchanged where the path is gone already."""
    out = copy.deepcopy(raw)
    inner = out
    try:
        for step in path[:-1]:
            inner = inner[step]
        if new is None:
            del inner[path[-1]]
        else:
            inner[path[-1]] = new
    except (KeyError, IndexError, TypeError):
        return raw
    return out


@pytest.mark.parametrize("kind", KINDS)
@given(data=st.data())
@MODEST
def test_values_of_every_type_anywhere(kind: str, data: st.DataObject) -> None:
    raw = tomllib.loads(template(kind))
    for _ in range(data.draw(st.integers(1, 4))):
        path = data.draw(st.sampled_from(places(raw)))
        raw = mutated(raw, path, data.draw(ODD))
    outcome(_toml(raw))


@pytest.mark.parametrize("kind", KINDS)
@given(data=st.data())
@MODEST
def test_unknown_keys_anywhere(kind: str, data: st.DataObject) -> None:
    raw = tomllib.loads(template(kind))
    path = (*data.draw(st.sampled_from(places(raw))), data.draw(st.text(min_size=1, max_size=8)))
    outcome(_toml(mutated(raw, path, data.draw(ODD))))


@pytest.mark.parametrize("kind", KINDS)
@given(data=st.data())
@MODEST
def test_text_cut_and_spliced(kind: str, data: st.DataObject) -> None:
    text = template(kind)
    for _ in range(data.draw(st.integers(1, 3))):
        start = data.draw(st.integers(0, len(text)))
        end = data.draw(st.integers(start, min(len(text), start + 60)))
        text = text[:start] + data.draw(st.text(max_size=12)) + text[end:]
    outcome(text)


@given(st.text(max_size=300))
@MODEST
def test_any_text(text: str) -> None:
    assert outcome(text) is None


@given(text=st.text(alphabet=st.characters(exclude_categories=()), max_size=50))
@MODEST
def test_any_characters_in_a_string(text: str) -> None:
    outcome(template("body").replace("Two-layer wall warmed from inside", text))


@given(data=st.binary(max_size=300))
@MODEST
def test_any_bytes(data: bytes, tmp_path_factory: pytest.TempPathFactory) -> None:
    file = tmp_path_factory.mktemp("fuzz") / "case.toml"
    file.write_bytes(data)
    with pytest.raises(CaseError):
        load_case(file)


DEEP = [
    "a = " + "[" * 100_000,
    "a = " + "[" * 900 + "]" * 900,
    "a = " + '{"b" = ' * 3000,
    "a" + ".a" * 20_000 + " = 1",
    'process = "body"\n[body' + ".body" * 5000 + "]\nx = 1",
    'process = "body"\n[tolerances]\na' + ".a" * 5000 + ' = "± 3 %"',
    'process = "body"\ntolerances = ' + "[" * 400 + "]" * 400,
    'process = "sheet"\n[limits' + ".a" * 900 + "]",
    'process = "body"\n' + "".join(f"k{i} = 1\n" for i in range(30_000)),
    'process = "body"\n' + "".join(f"[[stations]]\nduration = {i}\n" for i in range(3000)),
    'process = "body"\nbody = ' + "9" * 4000,
    'process = "body"\nbody = ' + "9" * 40_000,
    'process = "body"\nbody = 0x' + "f" * 40_000,
    'process = "' + "b" * 1_000_000 + '"',
    "x" * 10_000_000,
    "\n" * 3_000_000,
    "# " + "é" * 5_000_000,
]


@pytest.mark.parametrize("text", DEEP, ids=range(len(DEEP)))
def test_deep_and_long_texts(text: str) -> None:
    assert outcome(text) is None


def test_templates_pass_the_fuzz_machinery(tmp_path: Path) -> None:
    for kind in KINDS:
        assert outcome(_toml(tomllib.loads(template(kind)))) is not None


def _toml(raw: Any) -> str:
    """TOML of a mutated table; an entry that TOML cannot hold is left out."""
    return toml_text({name: entry for name, entry in _storable(raw).items() if entry is not None})


def _storable(value: Any) -> Any:
    if isinstance(value, dict):
        inner = {name: _storable(entry) for name, entry in value.items()}
        return {name: entry for name, entry in inner.items() if entry is not None}
    if isinstance(value, list):
        return [entry for entry in map(_storable, value) if entry is not None]
    return value
