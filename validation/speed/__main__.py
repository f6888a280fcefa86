"""``python -m validation.speed [PARTS...] [--quick] [--render]``; one thread for linear algebra, set before numpy is imported."""

from __future__ import annotations

import os
import sys

for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[_name] = "1"

from validation.speed.book import main  # noqa: E402

if __name__ == "__main__":
    try:
        sys.exit(main())
    except KeyboardInterrupt:
        print("stopped", file=sys.stderr)
        sys.exit(130)
