"""`python -m commission`: the same as the command `commission`."""

from __future__ import annotations

import sys

from commission.cli import main

if __name__ == "__main__":
    sys.exit(main())
