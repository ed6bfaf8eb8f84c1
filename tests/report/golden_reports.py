"""Reports of every format that there was, each as it was written: read for ever.

As a script it writes that of the format of today anew, which is right only before the first
release of a format; afterwards a change of the format is another number, and another file:

    python -m tests.report.golden_reports
"""

from __future__ import annotations

import os
from pathlib import Path
from tempfile import TemporaryDirectory

from commission.report.document import FORMAT
from tests.report import small
from tests.report.sealing import countersigned

FOLDER = Path(__file__).with_name("golden")


def golden(number: int) -> Path:
    """Where the report of one format lies."""
    return FOLDER / f"format-{number}.toml"


def main() -> None:
    """Write the report of today's format: with a fail, a defect, an inspection, all invented."""
    with TemporaryDirectory() as folder:
        os.environ["COMMISSION_HOME"] = folder
        content = countersigned(small.troubled())
    golden(FORMAT).write_bytes(content)
    print(f"{golden(FORMAT)}: {len(content)} bytes")


if __name__ == "__main__":
    main()
