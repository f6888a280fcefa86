"""How many cases each property gets: few and the same every time in CI, thousands and new ones with the profile ``siege``.

    python -m pytest tests/siege --hypothesis-profile=siege --hypothesis-show-statistics

``THERMOKIT_SIEGE`` says how many each property then gets (2000 where it is not set). A find is printed as it was made; the
profile ``siege_shrink`` makes it small, which takes minutes. What was tried is added to validation/siege/measured/properties.json.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from typing import Any

from hypothesis import HealthCheck, Phase, settings

from validation.siege.counting import counted

_SLOW = (
    HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.filter_too_much, HealthCheck.large_base_example,
    HealthCheck.function_scoped_fixture,
)  # fmt: skip
_PHASES = (Phase.explicit, Phase.reuse, Phase.generate)
_MOST = int(os.environ.get("THERMOKIT_SIEGE", "2000"))

settings.register_profile(
    "siege_ci", max_examples=5, derandomize=True, deadline=None, database=None, suppress_health_check=_SLOW,
    phases=_PHASES,
)  # fmt: skip
for name, phases in (("siege", _PHASES), ("siege_shrink", (*_PHASES, Phase.shrink))):
    settings.register_profile(
        name, max_examples=_MOST, deadline=None, print_blob=True, suppress_health_check=_SLOW, phases=phases
    )


def sieged(few: int) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """A property with so few cases in CI, with those of the profile ``siege`` where it was asked for; these are counted."""
    asked = settings.get_current_profile_name()
    if asked.startswith("siege"):
        profile = settings.get_profile(asked)
        return lambda test: counted(profile(test))
    return settings(settings.get_profile("siege_ci"), max_examples=few)
