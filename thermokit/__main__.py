"""``python -m thermokit``: the same as the command ``thermokit``."""

from __future__ import annotations

from thermokit.cli import main

if __name__ == "__main__":
    main()
