"""The line of a key in a TOML text."""

from __future__ import annotations

import tomllib

from thermokit.case.lines import line_numbers

TEXT = '''\
# a comment
title = "one"

[body]   # the body
start = "20 degC"
[[body.layers]]
name = "a"
"quoted key" = 1
[[body.layers]]
name = "b"
times = [
    1,
    2,
]
note = """
[not a heading]
x = 1
"""
inline = { a = 1, b = [{ c = 2 }, { c = 3 }] }
[body.layers.deeper]
z = 1
[[body.layers.inner]]
y = 1
[[body.layers.inner]]
y = 2
[a.b.c]
d.e = 5
'''


def test_lines_of_keys() -> None:
    tomllib.loads(TEXT)
    lines = line_numbers(TEXT)
    expected = {
        "title": 2,
        "body": 4,
        "body.start": 5,
        "body.layers.0": 6,
        "body.layers.0.quoted key": 8,
        "body.layers.1": 9,
        "body.layers.1.times": 11,
        "body.layers.1.times.1": 11,
        "body.layers.1.note": 15,
        "body.layers.1.inline.b.1.c": 19,
        "body.layers.1.deeper.z": 21,
        "body.layers.1.inner.0.y": 23,
        "body.layers.1.inner.1.y": 25,
        "a.b.c": 26,
        "a.b.c.d.e": 27,
    }
    found = {".".join(path): line for path, line in lines.items()}
    assert {path: found.get(path) for path in expected} == expected
    assert "body.layers.1.x" not in found


def test_long_or_deep_texts_do_not_hang() -> None:
    assert line_numbers("a = 1\n" * 30_000) == {}
    assert ("a",) in line_numbers("a" + ".a" * 3000 + " = 1")
    assert line_numbers("a = [" + "\n1," * 5000 + "]") == {}
