"""One share of a part in a process of its own, so that whatever it does ends no other.

    python -m tests.campaign.share PART COUNT STATE FILE

Its rows are written to FILE, with the processor time that it and its programs took.
"""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import asdict, dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.campaign.parts import PARTS
from tests.campaign.rows import Row, processor_s, told

LONGEST_S = 1500.0


@dataclass(frozen=True, slots=True)
class Share:
    """So much of a part, from a random state."""

    part: str
    count: int
    seed: int


def rows_of(share: Share) -> list[Row]:
    """Run a share here; a part that fails is a row that says so."""
    part = next(one for one in PARTS if one.name == share.part)
    begun = processor_s()
    try:
        rows = part.run(share.count, share.seed)
    except Exception as error:
        rows = [_failed(share, told(error))]
    rows[0].seconds += processor_s() - begun - sum(row.seconds for row in rows)
    return rows


def in_a_process(share: Share) -> list[Row]:
    """Run a share in a process; one that dies or hangs is a row that says so."""
    with TemporaryDirectory(prefix="campaign-") as folder:
        file = Path(folder) / "rows.json"
        words = [share.part, str(share.count), str(share.seed), str(file)]
        try:
            run = subprocess.run(
                [sys.executable, "-m", "tests.campaign.share", *words],
                capture_output=True,
                text=True,
                timeout=LONGEST_S,
                check=False,
            )
        except subprocess.TimeoutExpired:
            return [_failed(share, f"it did not end within {LONGEST_S:.0f} s")]
        if run.returncode or not file.exists():
            return [_failed(share, f"it ended with {run.returncode}: {run.stderr[-500:]}")]
        return [Row(**row) for row in json.loads(file.read_text("utf-8"))]


def _failed(share: Share, words: str) -> Row:
    row = Row(share.part, "the whole part", share.seed, times=1)
    row.escape(words)
    return row


def main() -> None:
    """Run a share, and write its rows."""
    part, count, seed, file = sys.argv[1:]
    rows = rows_of(Share(part, int(count), int(seed)))
    Path(file).write_text(json.dumps([asdict(row) for row in rows]), "utf-8")


if __name__ == "__main__":
    main()
