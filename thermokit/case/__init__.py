"""What may be written in a case file, and reading it: TOML to frozen dataclasses, SI and kelvin inside.

Each key is declared once (``declare.py``); the kinds of case are registered in ``kinds.py``.
"""

from __future__ import annotations

from thermokit.case.common import Case, CaseSource
from thermokit.case.kinds import KINDS, template
from thermokit.case.paths import dimension_of, numeric_paths, sought_path, value, with_values
from thermokit.case.reading import load_case, parse_case
from thermokit.case.reference import explain, json_schema, reference_page
from thermokit.case.tables import Find
from thermokit.case.writing import resolved_text

__all__ = [
    "KINDS",
    "Case",
    "CaseSource",
    "Find",
    "dimension_of",
    "explain",
    "json_schema",
    "load_case",
    "numeric_paths",
    "parse_case",
    "reference_page",
    "resolved_text",
    "sought_path",
    "template",
    "value",
    "with_values",
]
